//! Which clock fixes apply to a reading. Resets divide a body's clock into epochs, and a fix applies within its own;
//! within limits only the fixes with these limits apply. Knows no zones and computes no errors.

use crate::clock::steps::Steps;
use crate::clock::steps::Stretch;
use crate::terms::clock::Before;
use crate::terms::clock::ClockFix;
use crate::terms::clock::FixLimits;
use crate::terms::day::DAY_MS;
use crate::terms::day::DAY_S;
use crate::terms::time::WallTime;

/// Two fixes this close show nothing about the drift outside them, in milliseconds: one day.
///
/// Source: our choice: two comparisons, each good to a second, then give the drift no better than quartz clocks differ.
const DRIFT_BASE_MS: i64 = DAY_MS;

/// The fixes that apply to a reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Applying {
    /// None.
    None,
    /// One.
    One(ClockFix),
    /// Two of one epoch, the earlier reading first: the two on either side, or the two that give the drift beyond them.
    Two(ClockFix, ClockFix),
}

/// The epochs of one body's clock.
#[derive(Clone, Debug)]
pub struct Epochs {
    /// The fixes that apply to each reading.
    pub applying: Steps<Applying>,
    /// Every two neighbouring fixes of one epoch.
    pub neighbours: Vec<(ClockFix, ClockFix)>,
    /// The readings at which resets divide the clock, windows left out.
    pub resets: Vec<WallTime>,
}

impl Epochs {
    /// The epochs that follow from these fixes, sorted by reading.
    pub fn of(fixes: &[ClockFix]) -> Self {
        let (windowed, chain): (Vec<ClockFix>, Vec<ClockFix>) =
            fixes.iter().partition(|fix| fix.window().is_some());
        let resets = resets(&chain);
        let mut epochs = Self {
            applying: Steps::constant(Applying::None),
            neighbours: Vec::new(),
            resets,
        };
        epochs.add((None, None), &chain, &epochs.resets.clone());
        let mut windows: Vec<FixLimits> = windowed.iter().map(ClockFix::limits).collect();
        // Frames go before all readings of one window.
        windows.sort_by_key(|(from, until, frames)| (outermost_first(*from, *until), *frames));
        windows.dedup();
        for (from, until, frames) in windows {
            let inside: Vec<ClockFix> = windowed
                .iter()
                .filter(|fix| fix.limits() == (from, until, frames))
                .copied()
                .collect();
            let breaks: Vec<WallTime> = inside
                .windows(2)
                .filter(|two| two[1].before == Before::Reset)
                .filter_map(|two| middle(two[0].reading, two[1].reading))
                .collect();
            epochs.add((from, until), &inside, &breaks);
        }
        epochs
    }

    /// The last reset before a reading of a fix outside windows, as far as it is known.
    pub fn reset_before(&self, reading: WallTime) -> Option<WallTime> {
        self.resets.iter().rev().find(|at| **at <= reading).copied()
    }

    /// Adds fixes to a stretch, divided at these readings.
    fn add(&mut self, stretch: Stretch, fixes: &[ClockFix], breaks: &[WallTime]) {
        let mut inside = Steps::constant(Applying::None);
        let mut rest = fixes;
        let mut start = None;
        for end in breaks.iter().copied().map(Some).chain([None]) {
            let count = end.map_or(rest.len(), |end| rest.partition_point(|f| f.reading < end));
            let (epoch, later) = rest.split_at(count);
            inside = inside.with((start, end), &pieces(epoch));
            self.neighbours
                .extend(epoch.windows(2).map(|two| (two[0], two[1])));
            rest = later;
            start = end;
        }
        self.applying = self.applying.with(stretch, &inside);
    }
}

/// The order in which statements limited to stretches are applied: one that begins later, or begins together with
/// another and ends before it, takes precedence.
pub fn outermost_first(from: Option<WallTime>, until: Option<WallTime>) -> impl Ord {
    (from, std::cmp::Reverse((until.is_none(), until)))
}

/// The readings at which the clock was reset: those stated; otherwise half-way between a fix that was stated after a
/// reset and the fix before it; otherwise, with no fix before, at the last noon.
fn resets(chain: &[ClockFix]) -> Vec<WallTime> {
    let stated: Vec<WallTime> = chain
        .iter()
        .filter_map(|fix| fix.from.or(fix.until))
        .collect();
    let mut found = stated.clone();
    for (i, fix) in chain.iter().enumerate() {
        let before = i.checked_sub(1).map(|before| chain[before].reading);
        let is_stated = |at: &WallTime| *at <= fix.reading && before.is_none_or(|b| b < *at);
        if fix.before == Before::Reset && !stated.iter().any(is_stated) {
            found.extend(match before {
                Some(before) => middle(before, fix.reading),
                None => noon_before(fix.reading),
            });
        }
    }
    found.sort_unstable();
    found.dedup();
    found
}

fn middle(a: WallTime, b: WallTime) -> Option<WallTime> {
    a.plus_ms((b.reading_ms() - a.reading_ms()) / 2)
}

/// The last noon by the clock up to a reading.
fn noon_before(reading: WallTime) -> Option<WallTime> {
    let noon = DAY_S / 2;
    WallTime::from_seconds(
        (reading.seconds() - noon).div_euclid(DAY_S) * DAY_S + noon,
        "",
    )
}

/// The fixes of one epoch that apply to each of its readings.
fn pieces(fixes: &[ClockFix]) -> Steps<Applying> {
    let far = |a: &ClockFix, b: &ClockFix| {
        (a.reading.reading_ms() - b.reading.reading_ms()).abs() >= DRIFT_BASE_MS
    };
    let (Some(first), Some(last)) = (fixes.first(), fixes.last()) else {
        return Steps::constant(Applying::None);
    };
    let outside = |end: &ClockFix, other: Option<&ClockFix>| match other {
        Some(other) if other.reading < end.reading => Applying::Two(*other, *end),
        Some(other) => Applying::Two(*end, *other),
        None => Applying::One(*end),
    };
    let mut steps = Steps::constant(outside(first, fixes.iter().find(|f| far(f, first))));
    for two in fixes.windows(2) {
        let between = Steps::constant(Applying::Two(two[0], two[1]));
        steps = steps.with((Some(two[0].reading), None), &between);
    }
    let after = Steps::constant(outside(last, fixes.iter().rfind(|f| far(f, last))));
    steps.with((Some(last.reading), None), &after)
}
