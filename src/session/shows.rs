//! Decides what each stretch of a night's frames shows: the cap, an even field, the sky or anything else. Each frame's
//! sample and settings are evidence; the most likely sequence over the night decides, and a change costs more the less
//! reason there is for one.

use std::ops::Range;

use crate::session::evidence::BLACK;
use crate::session::evidence::Body;
use crate::session::evidence::Odds;
use crate::session::evidence::STATES;
use crate::session::evidence::Shows;
use crate::terms::picture::Look;
use crate::terms::records::SessionFrame;

/// A frame of a night, by its start.
#[derive(Clone, Copy, Debug)]
pub struct Taken<'f> {
    /// When its shutter opened, on the axis that orders the night.
    pub at_ms: i64,
    /// The frame.
    pub frame: &'f SessionFrame,
}

/// Consecutive frames of equal settings that show the same.
#[derive(Clone, Debug)]
pub struct Stretch {
    /// Their indices in the night's order.
    pub frames: Range<usize>,
    /// Medians of their samples.
    pub look: Option<Look>,
    /// What they show.
    pub shows: Shows,
}

/// The cost of deciding differently for neighbours of equal settings whose pictures differ: with no pause between them,
/// and with one.
///
/// Source: ours: three clear pictures outweigh two changes, one does not.
const CHANGE: (f64, f64) = (5.0, 2.0);

/// The cost if they are alike: nobody put a cap on or a panel up between them.
const NO_STEP: f64 = 1000.0;

/// The cost at the pace and settings of the preceding frames: nobody sets up a panel between two frames of a run.
const AT_PACE: f64 = 100.0;

/// A pause in which a cap can be put on or a panel set up lasts this long, and half as long as the exposure.
const PAUSE_S: f64 = 10.0;

/// Whether two frames have equal settings.
pub fn same_settings(a: &SessionFrame, b: &SessionFrame) -> bool {
    let same = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= 0.01 * a.abs(),
        (None, None) => true,
        _ => false,
    };
    same(a.exposure_s, b.exposure_s)
        && same(a.iso, b.iso)
        && same(a.f_number, b.f_number)
        && same(a.focal_mm, b.focal_mm)
}

/// The stretches of a body's night, each with what it shows.
pub fn stretches(night: &[Taken<'_>]) -> Vec<Stretch> {
    let shown = shown(night);
    let mut found = Vec::new();
    let mut from = 0;
    for at in 1..=night.len() {
        let ends = at == night.len()
            || shown[at] != shown[from]
            || !same_settings(night[at - 1].frame, night[at].frame);
        if ends {
            found.push(Stretch {
                frames: from..at,
                look: median_of(night[from..at].iter().filter_map(|t| t.frame.look)),
                shows: shown[from],
            });
            from = at;
        }
    }
    found
}

/// A frame whose picture was sampled.
#[derive(Clone, Copy)]
struct Looked<'f> {
    /// Its index in the night's order.
    at: usize,
    at_ms: i64,
    frame: &'f SessionFrame,
    look: Look,
}

/// What each frame shows. One without evidence of its own shows the same as a neighbour of equal settings.
fn shown(night: &[Taken<'_>]) -> Vec<Shows> {
    let looked: Vec<Looked<'_>> = (0..)
        .zip(night)
        .filter_map(|(at, taken)| {
            Some(Looked {
                at,
                at_ms: taken.at_ms,
                frame: taken.frame,
                look: taken.frame.look?,
            })
        })
        .collect();
    // A lamp or a hand in one picture does not change the scene: both neighbours differ from it by far more than from
    // each other.
    let is_flash = |i: &usize| match looked[i.saturating_sub(1)..].get(..3) {
        Some([a, own, b]) if *i > 0 && same_settings(a.frame, b.frame) => {
            let most = 3.0 * difference(a.look, b.look).max(1.0 / 3.0);
            let differs = |other: &Looked<'_>| difference(own.look, other.look) > most;
            same_settings(a.frame, own.frame) && differs(a) && differs(b)
        }
        _ => false,
    };
    let told: Vec<Looked<'_>> = (0..looked.len())
        .filter(|i| !is_flash(i))
        .map(|i| looked[i])
        .collect();
    let mut shown = vec![Shows::Unseen; night.len()];
    for (one, shows) in told.iter().zip(most_likely(&told)) {
        shown[one.at] = shows;
    }
    let mut take_over = |at: usize, from: usize| {
        if shown[at] == Shows::Unseen && same_settings(night[at].frame, night[from].frame) {
            shown[at] = shown[from];
        }
    };
    (1..night.len()).for_each(|at| take_over(at, at - 1));
    (1..night.len()).rev().for_each(|at| take_over(at - 1, at));
    shown
}

/// The most likely sequence of what frames show.
///
/// Source: the method is Viterbi's (from memory).
fn most_likely(looked: &[Looked<'_>]) -> Vec<Shows> {
    let pictures: Vec<_> = looked.iter().map(|one| (one.frame, one.look)).collect();
    let body = Body::of(&pictures);
    let best_of = |of: Odds| (1..3).fold(0, |a, b| if of[b] > of[a] { b } else { a });
    let mut best: Odds = [0.0; 3];
    let mut came_from: Vec<[usize; 3]> = Vec::with_capacity(looked.len());
    for at in 0..looked.len() {
        let cost = if is_gradual(looked, at) {
            Cost::both(NO_STEP)
        } else {
            cost_of_change(&looked[at.saturating_sub(2)..=at])
        };
        let odds = body.odds(looked[at].frame, looked[at].look);
        let coming_from = |to: usize| [0, 1, 2].map(|from| best[from] - cost.of(from, to));
        let from = [0, 1, 2].map(|to| best_of(coming_from(to)));
        came_from.push(from);
        best = [0, 1, 2].map(|to| coming_from(to)[from[to]] + odds[to]);
    }
    let mut state = best_of(best);
    let mut shown: Vec<Shows> = Vec::with_capacity(looked.len());
    for from in came_from.iter().rev() {
        shown.push(STATES[state]);
        state = from[state];
    }
    shown.reverse();
    shown
}

/// The cost of a change of what is shown.
#[derive(Clone, Copy)]
struct Cost {
    /// To or from black.
    of_cap: f64,
    /// Between a panel and the sky.
    of_scene: f64,
}

impl Cost {
    fn both(cost: f64) -> Self {
        Self {
            of_cap: cost,
            of_scene: cost,
        }
    }

    fn of(self, from: usize, to: usize) -> f64 {
        if from == to {
            0.0
        } else if [from, to].contains(&BLACK) {
            self.of_cap
        } else {
            self.of_scene
        }
    }
}

/// The cost of deciding differently for the last of these than for the one before. Takes: three at most.
fn cost_of_change(last: &[Looked<'_>]) -> Cost {
    let [.., before, own] = last else {
        return Cost::both(0.0);
    };
    let exposure_s = exposure_s(before);
    // At dusk and dawn the exposures change gradually, the interval does not.
    let at_pace = matches!(last, [first, _, _]
        if (step_s(first, before) - step_s(before, own)).abs() <= 1.0);
    let goes_on = at_pace
        && step_s(before, own) > PAUSE_S / 2.0
        && own
            .frame
            .exposure_s
            .is_some_and(|s| (exposure_s / 2.0..=exposure_s * 2.0).contains(&s));
    if is_same(before, own) {
        Cost::both(NO_STEP)
    } else if same_settings(before.frame, own.frame) {
        let cost = if idle_s(before, own) > PAUSE_S.max(exposure_s / 2.0) {
            CHANGE.1
        } else {
            CHANGE.0
        };
        // A cap removes all light: a frame as bright as the one before was not covered.
        let as_bright = step_of_level(before.look, own.look) <= 1.0;
        Cost {
            of_cap: if as_bright { NO_STEP } else { cost },
            of_scene: if at_pace { AT_PACE } else { cost },
        }
    } else if goes_on {
        Cost::both(4.0 * CHANGE.0)
    } else {
        Cost::both(0.0)
    }
}

fn step_s(from: &Looked<'_>, to: &Looked<'_>) -> f64 {
    (to.at_ms - from.at_ms) as f64 / 1000.0
}

fn exposure_s(of: &Looked<'_>) -> f64 {
    of.frame.exposure_s.unwrap_or(0.0)
}

/// From the end of one exposure to the beginning of the next.
fn idle_s(from: &Looked<'_>, to: &Looked<'_>) -> f64 {
    step_s(from, to) - exposure_s(from)
}

/// Whether a frame's level is one of three or more that rise or fall by similar steps: a cloud comes or goes. A cap or
/// a panel is there at once, or within the frame in which it came.
fn is_gradual(looked: &[Looked<'_>], at: usize) -> bool {
    let step = |at: usize| match looked.get(at.wrapping_sub(1)..=at) {
        Some([a, b])
            if same_settings(a.frame, b.frame) && idle_s(a, b) <= 2.0 * PAUSE_S + exposure_s(a) =>
        {
            b.look.level - a.look.level
        }
        _ => 0.0,
    };
    let own = step(at);
    let goes_on = |other: &f64| *other * own > 0.0;
    let before = (0..at).rev().map(step).take_while(goes_on);
    let after = (at + 1..looked.len()).map(step).take_while(goes_on);
    let steps: Vec<f64> = before.chain([own]).chain(after).map(f64::abs).collect();
    let third = steps.iter().copied().fold(0.0, f64::max) / 3.0;
    own != 0.0 && steps.iter().filter(|step| **step >= third).count() >= 3
}

/// Whether two frames show the same, as far as the samples show.
fn is_same(a: &Looked<'_>, b: &Looked<'_>) -> bool {
    same_settings(a.frame, b.frame) && !is_step(a.look, b.look)
}

/// Samples that differ by more than this show different things, even hours apart.
const FAR: f64 = 2.5;

/// The frames in the middle between two of these indices whose samples differ by a lot.
pub fn between_unlike(frames: &[SessionFrame], places: &[usize]) -> Vec<usize> {
    let looked: Vec<usize> = (0..places.len())
        .filter(|i| frames[places[*i]].look.is_some())
        .collect();
    looked
        .windows(2)
        .filter(|pair| pair[1] - pair[0] > 1)
        .filter(|pair| {
            let [a, b] = [pair[0], pair[1]].map(|i| &frames[places[i]]);
            a.look
                .zip(b.look)
                .is_some_and(|(a, b)| difference(a, b) > FAR)
                || !same_settings(a, b)
        })
        .map(|pair| places[usize::midpoint(pair[0], pair[1])])
        .collect()
}

/// Whether two samples differ by more than consecutive frames of one thing do.
fn is_step(a: Look, b: Look) -> bool {
    difference(a, b) > 1.0
}

/// How much two samples differ; less than 1 if the scene is the same and the sky turns.
fn difference(a: Look, b: Look) -> f64 {
    let parts = [
        step_of_level(a, b),
        (a.stars.sqrt() - b.stars.sqrt()).abs() / 2.0,
        (a.uneven_stops - b.uneven_stops).abs() / 0.06,
        (a.falloff_stops - b.falloff_stops).abs() / 0.3,
    ];
    parts.into_iter().fold(0.0, f64::max)
}

/// How much two levels differ, in units of [`difference`].
fn step_of_level(a: Look, b: Look) -> f64 {
    let brighter = a.level.max(b.level) * 255.0;
    (a.level - b.level).abs() * 255.0 / (0.8 + 0.03 * brighter)
}

fn median_of(looks: impl Iterator<Item = Look>) -> Option<Look> {
    let looks: Vec<Look> = looks.collect();
    let median = |part: fn(&Look) -> f64| {
        let mut values: Vec<f64> = looks.iter().map(part).collect();
        values.sort_unstable_by(f64::total_cmp);
        values.get(values.len() / 2).copied()
    };
    Some(Look {
        level: median(|l| l.level)?,
        floor: median(|l| l.floor)?,
        stars: median(|l| l.stars)?,
        edges: median(|l| l.edges)?,
        uneven_stops: median(|l| l.uneven_stops)?,
        falloff_stops: median(|l| l.falloff_stops)?,
        tilt_stops: median(|l| l.tilt_stops)?,
        measures: looks.iter().map(|l| l.measures).min()?,
    })
}
