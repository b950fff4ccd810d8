//! What each frame of a session is for, with the evidence: the photographer's word, the frame's own words, its
//! embedded picture, its settings and its place in the run. What cannot be told stays unknown.

use crate::session::kind_words::named;
use crate::session::rhythm::GAP_FROM_CADENCES;
use crate::terms::basis::Kind;
use crate::terms::picture::Look;
use crate::terms::records::SessionFrame;

/// A light of the night sky is exposed at least this long.
///
/// Source: common practice, no source.
const SHORTEST_LIGHT_S: f64 = 1.0;
/// A flat is not exposed longer than this: a longer even picture is a cloud.
///
/// Source: common practice, no source.
const LONGEST_FLAT_S: f64 = 5.0;
/// A black picture exposed no longer than this is a bias.
///
/// Source: common practice, no source: a bias is taken at the shortest exposure.
const LONGEST_BIAS_S: f64 = 0.002;
/// A frame behaves as a light only in a run of at least this many.
const SHORTEST_RUN: usize = 3;
/// A run of at least this many lights is what trial shots come before, and what a changed exposure goes on with.
const SURE_RUN: usize = 10;
/// Trial shots come in groups of at most this many.
const MOST_TRIALS: usize = 5;

/// What a picture shows at a glance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shows {
    /// Nothing: the cap was on.
    Black,
    /// An even field.
    Even,
    /// Anything else: a sky, a landscape, a torch.
    Something,
}

/// What a picture shows, by its brightness.
///
/// Source: limits are ours: a body's own JPEG of a capped frame keeps its noise below a twentieth of white, and a
/// flat exposed to a third of the scale spreads by the lens's shading only.
pub fn shows(look: Look) -> Shows {
    if look.median <= 0.04 && look.spread <= 0.06 {
        Shows::Black
    } else if look.median >= 0.2 && look.spread <= 0.25 && look.glint <= 0.0005 {
        Shows::Even
    } else {
        Shows::Something
    }
}

/// A frame's kind, and why.
pub type Settled = (Option<Kind>, Option<String>);

/// The exposure that most frames of a session have, the longer of two equally common ones.
pub fn usual_exposure(frames: &[&SessionFrame]) -> Option<f64> {
    let mut exposures: Vec<f64> = frames.iter().filter_map(|f| f.exposure_s).collect();
    exposures.sort_by(f64::total_cmp);
    exposures
        .chunk_by(|a, b| a.to_bits() == b.to_bits())
        .max_by_key(|run| run.len())
        .map(|run| run[0])
}

/// Where blocks of equal settings begin among a session's frames, and its length at the end.
pub fn blocks(frames: &[&SessionFrame]) -> Vec<usize> {
    let same = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= 0.01 * a.abs(),
        (None, None) => true,
        _ => false,
    };
    let mut found = vec![0];
    for (at, pair) in frames.windows(2).enumerate() {
        if !same(pair[0].exposure_s, pair[1].exposure_s) || !same(pair[0].iso, pair[1].iso) {
            found.push(at + 1);
        }
    }
    found.push(frames.len());
    found
}

/// Settles the kinds of a session's frames.
///
/// Takes: the frames in order, their starts, the cadence.
pub fn settle(frames: &[&SessionFrame], starts_ms: &[i64], cadence_s: Option<f64>) -> Vec<Settled> {
    let usual = usual_exposure(frames);
    let mut settled: Vec<Settled> = Vec::with_capacity(frames.len());
    let mut looked: Vec<Option<(Shows, &str)>> = Vec::with_capacity(frames.len());
    for block in blocks(frames).windows(2) {
        looked.extend(shown_in(&frames[block[0]..block[1]]));
    }
    let alike = |frame: &SessionFrame| {
        frame
            .exposure_s
            .zip(usual)
            .is_some_and(|(e, usual)| (e - usual).abs() <= 0.1 * usual)
    };
    let run = frames.iter().filter(|f| alike(f)).count();
    for (at, frame) in frames.iter().enumerate() {
        let exposure_s = frame.exposure_s.unwrap_or(0.0);
        let before = at
            .checked_sub(1)
            .and_then(|b| settled.get(b))
            .and_then(|s| s.0);
        let in_rhythm = at > 0
            && cadence_s.is_some_and(|cadence| {
                let step_s = (starts_ms[at] - starts_ms[at - 1]) as f64 / 1000.0;
                step_s <= cadence * GAP_FROM_CADENCES
            });
        let one = if let Some(kind) = frame.stated_kind {
            (Some(kind), Some("you said so".to_owned()))
        } else if let Some((kind, name)) = named(&frame.path) {
            (Some(kind), Some(format!("named so: {name}")))
        } else if let (Some((Shows::Black, of)), true) = (looked[at], frame.exposure_s.is_some()) {
            let kind = if exposure_s <= LONGEST_BIAS_S {
                Kind::Bias
            } else {
                Kind::Dark
            };
            (Some(kind), Some(format!("its picture is black{of}")))
        } else if let (Some((Shows::Even, of)), true, false) = (
            looked[at],
            exposure_s <= LONGEST_FLAT_S,
            alike(frame) && exposure_s >= SHORTEST_LIGHT_S,
        ) {
            (Some(Kind::Flat), Some(format!("its picture is even{of}")))
        } else if alike(frame) && exposure_s >= SHORTEST_LIGHT_S && run >= SHORTEST_RUN {
            (
                Some(Kind::Light),
                Some(format!("one of {run} of this exposure")),
            )
        } else if before == Some(Kind::Light)
            && in_rhythm
            && exposure_s >= SHORTEST_LIGHT_S
            && frames.len() >= SURE_RUN
        {
            (
                Some(Kind::Light),
                Some("goes on in the rhythm of the lights before".to_owned()),
            )
        } else {
            (None, None)
        };
        settled.push(one);
    }
    settled
}

/// What each frame of a block shows: looked at itself, or between two that show the same.
fn shown_in(block: &[&SessionFrame]) -> Vec<Option<(Shows, &'static str)>> {
    let own: Vec<Option<Shows>> = block.iter().map(|f| f.look.map(shows)).collect();
    let mut after: Vec<Option<Shows>> = own.clone();
    for at in (1..after.len()).rev() {
        after[at - 1] = after[at - 1].or(after[at]);
    }
    let mut before = None;
    own.iter()
        .zip(after)
        .map(|(own, after)| {
            before = own.or(before);
            if let Some(shows) = *own {
                return Some((shows, ""));
            }
            match (before, after) {
                (Some(a), Some(b)) if a == b => {
                    Some((a, ", as those looked at before and after it"))
                }
                // Towards the end of a block that reaches beyond the session.
                (Some(one), None) | (None, Some(one)) => {
                    Some((one, ", as those looked at beside it"))
                }
                _ => None,
            }
        })
        .collect()
}

/// At most so many frames between two that are looked at.
const LOOK_EVERY: usize = 128;

/// Which frames' pictures to look at next: both ends of every block of equal settings that no word settles, some in
/// between, and the middle wherever two neighbours looked at differ. `in_vain` are those that show nothing.
pub fn wants_look(frames: &[&SessionFrame], in_vain: &dyn Fn(&SessionFrame) -> bool) -> Vec<i64> {
    let mut wanted = Vec::new();
    for block in blocks(frames).windows(2) {
        let block = &frames[block[0]..block[1]];
        let open: Vec<&&SessionFrame> = block
            .iter()
            .filter(|f| f.stated_kind.is_none() && named(&f.path).is_none() && !in_vain(f))
            .collect();
        let mut ask = |frame: &SessionFrame| {
            if frame.look.is_none() {
                wanted.push(frame.frame_id);
            }
        };
        let (Some(first), Some(last)) = (open.first(), open.last()) else {
            continue;
        };
        ask(first);
        ask(last);
        for frame in open.iter().step_by(LOOK_EVERY) {
            ask(frame);
        }
        let seen: Vec<usize> = (0..open.len())
            .filter(|at| open[*at].look.is_some())
            .collect();
        for pair in seen.windows(2) {
            let show = |at: usize| open[at].look.map(shows);
            if show(pair[0]) != show(pair[1]) && pair[1] - pair[0] > 1 {
                ask(open[usize::midpoint(pair[0], pair[1])]);
            }
        }
    }
    wanted.sort_unstable();
    wanted.dedup();
    wanted
}

/// Names the trial shots of a night: few frames of unknown kind before a run of lights.
///
/// Takes: the kinds of each session of the night, sessions and frames in order.
pub fn settle_trials(sessions: &mut [Vec<Settled>]) {
    let mut lights_after = false;
    for session in sessions.iter_mut().rev() {
        let lights = session.iter().filter(|s| s.0 == Some(Kind::Light)).count();
        let head = session.iter().take_while(|s| s.0.is_none()).count();
        let followed = lights_after || lights >= SURE_RUN;
        if (1..=MOST_TRIALS).contains(&head) && followed && (head == session.len() || lights > 0) {
            for one in session.iter_mut().take(head) {
                *one = (
                    Some(Kind::Trial),
                    Some("one of a few with other settings before the run of lights".to_owned()),
                );
            }
        }
        lights_after |= lights >= SURE_RUN;
    }
}

#[cfg(test)]
#[path = "kind_tests.rs"]
mod tests;
