//! The kind of each frame of a night, with the evidence: the photographer's mark, the frame's own names, its embedded
//! picture, its settings and its position in the run. If nothing decides, the kind stays unknown, with the reason.

use std::collections::BTreeMap;
use std::ops::Range;

use crate::session::alike::same_settings;
use crate::session::evidence::Shows;
use crate::session::kind_words::named;
use crate::session::rhythm::GAP_FROM_CADENCES;
use crate::session::rhythm::cadence_s;
use crate::session::scene::exposure_value;
use crate::session::scene::scene_light;
use crate::session::shows::Stretch;
use crate::session::shows::Taken;
use crate::session::shows::stretches;
use crate::terms::basis::Kind;
use crate::terms::exposure::LONGEST_BIAS_S;
use crate::terms::records::SessionFrame;

/// A light of the night sky is exposed at least this long.
///
/// Source: common practice, no source.
const SHORTEST_LIGHT_S: f64 = 1.0;
/// Flats come in series of at least this many even frames in a night. A single one may be a picture of a wall.
const FEWEST_FLATS: usize = 3;
/// Darks also come in series.
const FEWEST_DARKS: usize = 3;
/// A frame behaves as a light only in a run of at least this many.
const SHORTEST_RUN: usize = 3;
/// A run of at least this many lights is what trial shots precede, and what a changed exposure can continue.
const SURE_RUN: usize = 10;
/// Trial shots come in groups of at most this many.
const MOST_TRIALS: usize = 5;
/// Trial shots show the sky of the run that follows: its light by exposure, sensitivity and aperture agrees within this
/// factor. That of a panel, or of a landscape by daylight, does not.
///
/// Source: ours: tone curves and the compression of highlights account for about three stops, a cloud over a town for
/// one more.
const SAME_SKY: f64 = 16.0;

/// From this level on a picture is white.
const WHITE: f64 = 0.98;

/// Intervals that differ by at most this are one pace: clocks of bodies show whole seconds.
const SAME_PACE_MS: u64 = 1_000;

/// Why a frame stays unknown whose picture is dark.
const DOUBTFUL: &str = "unknown: its picture is as dark as a capped one's and as a clouded sky's, and no bias or dark with its settings tells which";

/// A frame's kind, and why.
pub type Settled = (Option<Kind>, Option<String>);

/// Decides the kinds of a night's frames.
///
/// Takes: the frames of one body and night in order; the indices in it of each session's frames.
pub fn decide_kinds(night: &[Taken<'_>], sessions: &[Vec<usize>]) -> Vec<Settled> {
    let frames: Vec<&SessionFrame> = night.iter().map(|t| t.frame).collect();
    let mut settled: Vec<Settled> = frames.iter().map(|f| by_words(f)).collect();
    let stretches = stretches(night);
    let mut rest = Rest {
        night,
        frames: &frames,
        stretches: &stretches,
        settled: &mut settled,
    };
    rest.calibration();
    for members in sessions {
        rest.lights(members);
    }
    rest.trials(sessions);
    for (at, (kind, why)) in settled.iter_mut().enumerate() {
        if kind.is_none() && why.is_none() {
            *why = Some(why_unknown(frames[at]).to_owned());
        }
    }
    settled
}

/// Whether the photographer's mark or the frame's own names decide its kind.
pub fn is_settled_by_words(frame: &SessionFrame) -> bool {
    frame.stated_kind.is_some() || named(&frame.path).is_some()
}

fn by_words(frame: &SessionFrame) -> Settled {
    if let Some(kind) = frame.stated_kind {
        (Some(kind), Some("you said so".to_owned()))
    } else if let Some((kind, name)) = named(&frame.path) {
        (Some(kind), Some(format!("named so: {name}")))
    } else {
        (None, None)
    }
}

fn why_unknown(frame: &SessionFrame) -> &'static str {
    match (frame.exposure_s, frame.look) {
        (None, _) => "unknown: its exposure is unknown",
        (_, None) => "unknown: it has no readable small picture, and its exposure fits no run",
        (Some(s), Some(_)) if s < SHORTEST_LIGHT_S => {
            "unknown: too short for a light, and its picture is neither black nor one of several even ones"
        }
        _ => {
            "unknown: its picture is neither black nor one of several even ones, and it belongs to no run of lights"
        }
    }
}

/// The frames that names and marks leave open.
struct Rest<'r> {
    night: &'r [Taken<'r>],
    frames: &'r [&'r SessionFrame],
    stretches: &'r [Stretch],
    settled: &'r mut [Settled],
}

impl Rest<'_> {
    fn exposure_s(&self, at: usize) -> f64 {
        self.frames[at].exposure_s.unwrap_or(0.0)
    }

    fn put(&mut self, frames: Range<usize>, kind: Kind, why: &str) {
        for at in frames {
            if self.settled[at] == (None, None) {
                self.settled[at] = (Some(kind), Some(why.to_owned()));
            }
        }
    }

    /// Black and even stretches.
    fn calibration(&mut self) {
        let is_even = |s: &&Stretch| s.shows == Shows::Even;
        let even: usize = self
            .stretches
            .iter()
            .filter(is_even)
            .map(|s| s.frames.len())
            .sum();
        for stretch in self.stretches {
            let Some(exposure_s) = self.frames[stretch.frames.start].exposure_s else {
                continue;
            };
            let frames = stretch.frames.clone();
            match stretch.shows {
                Shows::Black if exposure_s <= LONGEST_BIAS_S => {
                    self.put(
                        frames,
                        Kind::Bias,
                        "its picture is black and its exposure the shortest",
                    );
                }
                Shows::Black => self.put(frames, Kind::Dark, "its picture is black"),
                Shows::Doubtful => {
                    for at in frames {
                        if self.settled[at] == (None, None) {
                            self.settled[at].1 = Some(DOUBTFUL.to_owned());
                        }
                    }
                }
                Shows::Even if even >= FEWEST_FLATS => {
                    self.put(frames, Kind::Flat, "its picture is even");
                }
                _ => {}
            }
        }
    }

    /// The lights among a session's frames.
    fn lights(&mut self, members: &[usize]) {
        let starts: Vec<i64> = members.iter().map(|at| self.night[*at].at_ms).collect();
        let open: Vec<usize> = members
            .iter()
            .copied()
            .filter(|at| matches!(self.settled[*at].0, None | Some(Kind::Light)))
            .collect();
        let cadence = cadence_s(
            &open
                .iter()
                .map(|at| self.night[*at].at_ms)
                .collect::<Vec<_>>(),
        );
        let usual = usual_exposure(open.iter().map(|at| self.frames[*at]));
        let is_alike = |frame: &SessionFrame| {
            frame
                .exposure_s
                .zip(usual)
                .is_some_and(|(e, usual)| (e - usual).abs() <= 0.1 * usual)
        };
        let run = open.iter().filter(|at| is_alike(self.frames[**at])).count();
        let mut of_exposure: BTreeMap<u64, usize> = BTreeMap::new();
        for at in &open {
            *of_exposure
                .entry(self.exposure_s(*at).to_bits())
                .or_default() += 1;
        }
        // Of the preceding lights: a night's second run may have another pace.
        let mut latest: Vec<i64> = Vec::new();
        let mut before: Option<Kind> = None;
        for (place, at) in members.iter().enumerate() {
            let exposure_s = self.exposure_s(*at);
            let in_rhythm = before == Some(Kind::Light)
                && latest.last().is_some_and(|at_ms| {
                    let step_s = (starts[place] - at_ms) as f64 / 1000.0;
                    let pace = cadence_s(&latest[latest.len().saturating_sub(SURE_RUN)..]);
                    pace.or(cadence)
                        .is_some_and(|s| step_s <= s * GAP_FROM_CADENCES)
                });
            if self.settled[*at] == (None, None) && exposure_s >= SHORTEST_LIGHT_S {
                // A night's second run may have another exposure.
                let own = of_exposure.get(&exposure_s.to_bits()).copied().unwrap_or(0);
                let of = if is_alike(self.frames[*at]) { run } else { own };
                if of >= SURE_RUN || of == run && run >= SHORTEST_RUN {
                    let why = format!("one of {of} of this exposure");
                    self.settled[*at] = (Some(Kind::Light), Some(why));
                } else if in_rhythm && open.len() >= SURE_RUN {
                    let why = "continues the rhythm of the previous lights".to_owned();
                    self.settled[*at] = (Some(Kind::Light), Some(why));
                }
            }
            before = self.settled[*at].0;
            if before == Some(Kind::Light) {
                latest.push(starts[place]);
            }
        }
    }

    /// Trial shots: a few frames with other settings before a run of lights, under the same sky.
    fn trials(&mut self, sessions: &[Vec<usize>]) {
        let mut of = vec![0; self.frames.len()];
        for (number, members) in sessions.iter().enumerate() {
            for at in members {
                of[*at] = number;
            }
        }
        let groups = self.groups();
        let mut run_after: Option<usize> = None;
        for group in groups.into_iter().rev() {
            let first = group.start;
            let is_lights = self.settled[first].0 == Some(Kind::Light);
            let by_words = is_settled_by_words(self.frames[first]);
            if is_lights && group.len() >= SURE_RUN {
                run_after = Some(first);
                continue;
            }
            let Some(run) = run_after else { continue };
            let open = match self.settled[first].0 {
                None | Some(Kind::Light) => true,
                // Of a dim sky, or out of focus.
                Some(Kind::Dark) => group.len() < FEWEST_DARKS,
                Some(Kind::Flat) => group.len() <= MOST_TRIALS,
                _ => false,
            };
            if is_lights && self.goes_on(first) {
                continue;
            }
            let one_sky =
                self.one_sky(first, run) && !same_settings(self.frames[first], self.frames[run]);
            if open && !by_words && group.len() <= 2 * MOST_TRIALS && one_sky {
                for at in group {
                    let why =
                        "one of a few with other settings before the run of lights".to_owned();
                    self.settled[at] = (Some(Kind::Trial), Some(why));
                }
            }
        }
    }

    /// Whether a frame follows lights at their pace: at dusk and dawn the exposures change and the interval does not.
    /// Trial shots are taken by hand.
    fn goes_on(&self, at: usize) -> bool {
        let Some(before) = at.checked_sub(2) else {
            return false;
        };
        let starts = [0, 1, 2].map(|k| self.night[before + k].at_ms);
        let lights = (before..at).all(|at| self.settled[at].0 == Some(Kind::Light));
        lights && (starts[2] - starts[1]).abs_diff(starts[1] - starts[0]) <= SAME_PACE_MS
    }

    /// Runs of neighbours of one kind and equal settings.
    fn groups(&self) -> Vec<Range<usize>> {
        let mut found = Vec::new();
        let mut from = 0;
        for at in 1..=self.frames.len() {
            let ends = at == self.frames.len()
                || self.settled[at].0 != self.settled[from].0
                || !same_settings(self.frames[at - 1], self.frames[at]);
            if ends {
                found.push(from..at);
                from = at;
            }
        }
        found
    }

    /// Whether a frame's light by its settings agrees with a run's. If either was not sampled, its settings must. A white
    /// picture may be of any brighter light.
    fn one_sky(&self, at: usize, run: usize) -> bool {
        let look = |at: usize| self.stretches.iter().find(|s| s.frames.contains(&at))?.look;
        let looks = look(at).zip(look(run));
        let [one, other] = match looks {
            Some((a, b)) => [
                scene_light(self.frames[at], a),
                scene_light(self.frames[run], b),
            ],
            None => [at, run].map(|at| exposure_value(self.frames[at])),
        };
        let is_white = looks.is_some_and(|(look, _)| look.level >= WHITE);
        one.zip(other)
            .is_none_or(|(a, b)| a / b < SAME_SKY && (is_white || b / a < SAME_SKY))
    }
}

/// The most common exposure of these frames, the longer of two equally common ones.
pub fn usual_exposure<'f>(frames: impl Iterator<Item = &'f SessionFrame>) -> Option<f64> {
    let mut exposures: Vec<f64> = frames.filter_map(|f| f.exposure_s).collect();
    exposures.sort_by(f64::total_cmp);
    exposures
        .chunk_by(|a, b| a.to_bits() == b.to_bits())
        .max_by_key(|run| run.len())
        .map(|run| run[0])
}

#[cfg(test)]
#[path = "kind_tests.rs"]
mod tests;

#[cfg(test)]
#[path = "kind_evidence_tests.rs"]
mod evidence_tests;
