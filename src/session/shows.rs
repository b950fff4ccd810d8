//! Decides what each stretch of a night's frames shows: the cap, an even field, the sky or anything else. Each frame's
//! sample and settings are evidence; the most likely sequence over the night decides, and a change costs more the less
//! reason there is for one.

use std::ops::Range;

use crate::session::alike::difference;
use crate::session::alike::median_of;
use crate::session::alike::same_settings;
use crate::session::alike::step_of_level;
use crate::session::change::Looked;
use crate::session::change::costs;
use crate::session::change::series_of;
use crate::session::change::without_pause;
use crate::session::evidence::BLACK;
use crate::session::evidence::Body;
use crate::session::evidence::Odds;
use crate::session::evidence::STATES;
use crate::session::evidence::Series;
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

/// A picture that is brighter than its neighbours by more than this, in units of [`difference`], was lit.
const LAMP: f64 = 3.0;

/// A series that is likelier black than not by less than this is neither.
const DOUBT: f64 = 1.0;

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

/// What each frame shows. One without evidence of its own shows what a neighbour of equal settings does.
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
    let places: Vec<usize> = (0..looked.len()).filter(|i| !is_flash(i)).collect();
    let told: Vec<Looked<'_>> = places.iter().map(|i| looked[*i]).collect();
    // A lamp is seen by an open lens only. Hot pixels come and go, but brighten nothing.
    let is_lamp = |i: usize| {
        let [a, own] = [looked[i - 1].look, looked[i].look];
        own.level > a.level && step_of_level(a, own) > LAMP
    };
    let lamps: Vec<bool> = places
        .windows(2)
        .map(|two| (two[0] + 1..two[1]).any(is_lamp))
        .chain([false])
        .collect();
    let mut shown = vec![Shows::Unseen; night.len()];
    for (one, shows) in told.iter().zip(most_likely(&told, &lamps)) {
        shown[one.at] = shows;
    }
    let mut taken_over: Vec<(usize, usize)> = Vec::new();
    let told_at: Vec<usize> = told.iter().map(|one| one.at).collect();
    for at in 0..night.len() {
        if shown[at] != Shows::Unseen {
            continue;
        }
        let after = told_at.partition_point(|told| *told < at);
        let near = [after.checked_sub(1), Some(after)];
        let of = near
            .into_iter()
            .filter_map(|nth| told_at.get(nth?).copied())
            .filter(|told| alone_between(night, at, *told))
            .min_by_key(|told| night[*told].at_ms.abs_diff(night[at].at_ms));
        if let Some(of) = of {
            taken_over.push((at, of));
        }
    }
    for (at, of) in taken_over {
        shown[at] = shown[of];
    }
    shown
}

/// Whether all frames between two, and they, have equal settings.
fn alone_between(night: &[Taken<'_>], a: usize, b: usize) -> bool {
    let between = &night[a.min(b)..=a.max(b)];
    between
        .windows(2)
        .all(|pair| same_settings(pair[0].frame, pair[1].frame))
}

/// The most likely sequence of what frames show.
///
/// Takes: for each frame, whether a lamp lit a picture between it and the next.
///
/// Source: the method is Viterbi's (from memory).
fn most_likely(looked: &[Looked<'_>], lamps: &[bool]) -> Vec<Shows> {
    let pictures: Vec<_> = looked.iter().map(|one| (one.frame, one.look)).collect();
    let body = Body::of(&pictures);
    let costs = costs(looked);
    let mut series: Vec<Series> = Vec::with_capacity(looked.len());
    let looks: Vec<Look> = looked.iter().map(|one| one.look).collect();
    for range in series_of(&costs) {
        let lamp = lamps[range.start..range.end - 1].contains(&true);
        let around = &looks[without_pause(looked, &range)];
        let one = Series::of(&looks[range.clone()], around, lamp);
        series.extend(range.map(|_| one));
    }
    let odds: Vec<Odds> = (looked.iter().zip(&series))
        .map(|(one, series)| body.odds(one.frame, one.look, *series))
        .collect();
    let best_of = |of: Odds| (1..3).fold(0, |a, b| if of[b] > of[a] { b } else { a });
    let mut best: Odds = [0.0; 3];
    let mut came_from: Vec<[usize; 3]> = Vec::with_capacity(looked.len());
    for at in 0..looked.len() {
        let cost = costs[at];
        let odds = odds[at];
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
    for range in series_of(&costs) {
        let sum: f64 = odds[range.clone()].iter().map(|odds| odds[BLACK]).sum();
        if shown[range.start] == Shows::Black && sum < DOUBT * range.len() as f64 {
            shown[range].fill(Shows::Doubtful);
        }
    }
    shown
}
