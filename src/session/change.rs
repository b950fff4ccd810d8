//! What changes between the frames of a night: which of them follow each other without anything before the lens having changed, and
//! how far a cap or a panel explains the changes that there are.

use std::ops::Range;

use crate::session::alike::difference;
use crate::session::alike::is_step;
use crate::session::alike::median_of;
use crate::session::alike::same_settings;
use crate::session::alike::step_of_level;
use crate::session::evidence::BLACK;
use crate::terms::picture::Look;
use crate::terms::records::SessionFrame;

/// What it costs to take neighbours of equal settings for different things where their pictures differ: with no pause between
/// them, and with one.
///
/// Source: ours: three clear pictures outweigh two changes, one does not.
const CHANGE: (f64, f64) = (5.0, 2.0);

/// What it costs where they are alike: nobody put a cap on or a panel up between them.
const NO_STEP: f64 = 1000.0;

/// What it costs at the pace of the frames before and with their settings: a panel is not set up between two frames of a run.
const AT_PACE: f64 = 100.0;

/// A pause in which a cap can be put on or a panel set up lasts this long, and half as long as the exposure.
const PAUSE_S: f64 = 10.0;

/// A frame whose picture was looked at.
#[derive(Clone, Copy)]
pub struct Looked<'f> {
    /// Its place in the night's order.
    pub at: usize,
    /// When its shutter opened.
    pub at_ms: i64,
    /// The frame.
    pub frame: &'f SessionFrame,
    /// What its picture shows.
    pub look: Look,
}

/// What the change before each frame costs.
pub fn costs(looked: &[Looked<'_>]) -> Vec<Cost> {
    (0..looked.len())
        .map(|at| {
            if is_gradual(looked, at) {
                return Cost::both(NO_STEP);
            }
            let alike = alike(looked, at);
            let brighter = brighter(looked, at).filter(|_| alike == Alike::No);
            cost_of_change(&looked[at.saturating_sub(2)..=at], alike, brighter)
        })
        .collect()
}

/// The frames between which nothing can have changed before the lens.
pub fn series_of(costs: &[Cost]) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut from = 0;
    for at in 1..=costs.len() {
        if costs
            .get(at)
            .is_none_or(|cost| cost.of_scene.min(cost.of_cap) < NO_STEP)
        {
            found.push(from..at);
            from = at;
        }
    }
    found
}

/// The frames with equal settings and without a pause around these.
pub fn without_pause(looked: &[Looked<'_>], range: &Range<usize>) -> Range<usize> {
    let goes_on = |at: &usize| {
        let [a, b] = [&looked[*at - 1], &looked[*at]];
        same_settings(a.frame, b.frame) && idle_s(a, b) <= PAUSE_S.max(exposure_s(a) / 2.0)
    };
    let from = (1..=range.start).rev().find(|at| !goes_on(at)).unwrap_or(0);
    let to = (range.end..looked.len())
        .find(|at| !goes_on(at))
        .unwrap_or(looked.len());
    from..to
}

/// What a change of what is shown costs.
#[derive(Clone, Copy)]
pub struct Cost {
    /// To or from black.
    of_cap: f64,
    /// Between a panel and the sky.
    of_scene: f64,
    /// Which of the two is the brighter one of one and the same setting: it was not covered.
    brighter: Option<Side>,
}

/// One of two neighbours.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Side {
    Before,
    Own,
}

/// Whether two neighbours show the same.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Alike {
    Yes,
    No,
}

/// Medians of two sides of a pause that differ by more than this show another thing: they vary less than single frames.
const UNLIKE_SIDES: f64 = 0.5;

/// Two stretches that follow each other within this time were taken with a sensor of one temperature.
///
/// Source: ours; sensors take some ten minutes to warm (common practice, no source).
const ONE_TEMPERATURE_S: f64 = 900.0;

/// Levels of two sides, of 255, that differ by less than this are one: looks are kept in quarters.
const LEAST_STEP: f64 = 0.3;

/// So many frames before or after a change tell what is to be seen there.
const SIDE: usize = 9;

/// The medians of the frames before and from this place on that show the same. None where they are fewer than three.
fn sides(looked: &[Looked<'_>], at: usize) -> Option<[Look; 2]> {
    let goes_on = |pair: &[Looked<'_>]| is_same(&pair[0], &pair[1]);
    let before = looked[..at]
        .windows(2)
        .rev()
        .take(SIDE - 1)
        .take_while(|p| goes_on(p))
        .count()
        + 1;
    let after = looked[at..]
        .windows(2)
        .take(SIDE - 1)
        .take_while(|p| goes_on(p))
        .count()
        + 1;
    if before.min(after) < 3 {
        return None;
    }
    let look = |range: Range<usize>| median_of(looked[range].iter().map(|one| one.look));
    Some([look(at - before..at)?, look(at..at + after)?])
}

/// Whether the medians of two sides show another thing. Stars do not count: they set, and hot pixels come and go.
fn is_unlike(a: Look, b: Look) -> bool {
    difference(
        Look {
            stars: b.stars,
            ..a
        },
        b,
    ) > UNLIKE_SIDES
}

/// Whether a frame shows what the one before it does.
fn alike(looked: &[Looked<'_>], at: usize) -> Alike {
    let Some([before, own]) = looked.get(at.wrapping_sub(1)..=at) else {
        return Alike::No;
    };
    let paused = idle_s(before, own) > PAUSE_S.max(exposure_s(before) / 2.0);
    let changed = paused && sides(looked, at).is_some_and(|[a, b]| is_unlike(a, b));
    if is_same(before, own) && !changed {
        Alike::Yes
    } else {
        Alike::No
    }
}

/// Which of two sides of a change is the brighter one at the same settings. With one temperature all darks look the same: it is none.
fn brighter(looked: &[Looked<'_>], at: usize) -> Option<Side> {
    let [before, own] = looked.get(at.checked_sub(1)?..=at)? else {
        return None;
    };
    if !same_settings(before.frame, own.frame) || idle_s(before, own) > ONE_TEMPERATURE_S {
        return None;
    }
    let [a, b] = sides(looked, at)?;
    let step = (b.level - a.level) * 255.0;
    (is_unlike(a, b) && step.abs() > LEAST_STEP).then_some(if step < 0.0 {
        Side::Before
    } else {
        Side::Own
    })
}

impl Cost {
    fn both(cost: f64) -> Self {
        Self {
            of_cap: cost,
            of_scene: cost,
            brighter: None,
        }
    }

    /// From one of the states to another, by their places among them.
    pub fn of(self, from: usize, to: usize) -> f64 {
        let uncovered = match self.brighter {
            Some(Side::Before) => from == BLACK,
            Some(Side::Own) => to == BLACK,
            None => false,
        };
        if uncovered {
            NO_STEP
        } else if from == to {
            0.0
        } else if [from, to].contains(&BLACK) {
            self.of_cap
        } else {
            self.of_scene
        }
    }
}

/// What it costs to take the last of these for another thing than the one before it. Takes: three at most.
fn cost_of_change(last: &[Looked<'_>], alike: Alike, brighter: Option<Side>) -> Cost {
    let [.., before, own] = last else {
        return Cost::both(0.0);
    };
    let exposure_s = exposure_s(before);
    // Dusk and dawn: the exposures change by degrees, the interval does not.
    let at_pace = matches!(last, [first, _, _]
        if (step_s(first, before) - step_s(before, own)).abs() <= 1.0);
    let goes_on = at_pace
        && step_s(before, own) > PAUSE_S / 2.0
        && own
            .frame
            .exposure_s
            .is_some_and(|s| (exposure_s / 2.0..=exposure_s * 2.0).contains(&s));
    if alike == Alike::Yes {
        Cost::both(NO_STEP)
    } else if same_settings(before.frame, own.frame) {
        let cost = if idle_s(before, own) > PAUSE_S.max(exposure_s / 2.0) {
            CHANGE.1
        } else {
            CHANGE.0
        };
        // A cap takes all light away: what is as bright as before was not covered.
        let as_bright = brighter.is_none() && step_of_level(before.look, own.look) <= 1.0;
        Cost {
            of_cap: if as_bright { NO_STEP } else { cost },
            of_scene: if at_pace { AT_PACE } else { cost },
            brighter,
        }
    } else if goes_on && before.frame.iso == own.frame.iso {
        Cost::both(AT_PACE)
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

/// From the end of one exposure to the begin of the next.
fn idle_s(from: &Looked<'_>, to: &Looked<'_>) -> f64 {
    step_s(from, to) - exposure_s(from)
}

/// Whether a frame's level is one of three or more that rise or fall by steps of one order: a cloud comes over or goes. A cap or a
/// panel is there at once, or within the frame in which it came.
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

/// Whether two frames show the same as far as looks tell.
fn is_same(a: &Looked<'_>, b: &Looked<'_>) -> bool {
    same_settings(a.frame, b.frame) && !is_step(a.look, b.look)
}
