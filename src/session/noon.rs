//! Runs that cross a noon at which the Sun is down: the night that their frames belong to. Does not compute the Sun.

use std::collections::BTreeMap;

use crate::session::split::Framing;
use crate::session::split::LONGEST_PAUSE_S;
use crate::session::split::longest_pause_s;
use crate::session::split::seconds;
use crate::terms::records::SiteFrame;

/// The night of each frame of one site, as the day it is named after.
///
/// A run of one body and one framing that continues past a noon with the Sun down belongs to the night in which it
/// began, and so do runs of any body that begin while it lasts. Every other frame belongs to the night of its own noon.
///
/// Takes: frames in any order; whether the Sun is down at the noon at which the night of a day begins. Gives: a day for
/// each frame, in the order of the frames; the same whatever that order.
pub fn nights_of(frames: &[SiteFrame], sun_down: &mut dyn FnMut(i64) -> bool) -> Vec<i64> {
    let mut runs = runs(frames, sun_down);
    runs.sort_by_key(|run| (run.from_ms, run.to_ms, run.members[0]));
    let mut nights: Vec<i64> = frames.iter().map(|f| f.own_day).collect();
    let mut lasting: Option<(i64, i64)> = None;
    for run in &runs {
        let own_day = frames[run.members[0]].own_day;
        let (day, to_ms) = match lasting {
            Some((day, to_ms)) if run.from_ms <= to_ms => (day, to_ms.max(run.to_ms)),
            _ => (own_day, run.to_ms),
        };
        lasting = Some((day, to_ms));
        for at in &run.members {
            nights[*at] = day;
        }
    }
    nights
}

/// Frames of one body and framing without a long pause, in the order of their starts.
struct Run {
    from_ms: i64,
    to_ms: i64,
    members: Vec<usize>,
}

fn runs(frames: &[SiteFrame], sun_down: &mut dyn FnMut(i64) -> bool) -> Vec<Run> {
    let mut order: Vec<usize> = (0..frames.len()).collect();
    order.sort_by_key(|at| (frames[*at].start_ms, frames[*at].frame_id));
    let mut alike: BTreeMap<(Option<i64>, Framing<'_>), Vec<usize>> = BTreeMap::new();
    for at in order {
        let frame = &frames[at];
        let framing = Framing::new(None, frame.focal_mm, frame.lens.as_deref());
        alike
            .entry((frame.camera_id, framing))
            .or_default()
            .push(at);
    }
    let mut runs: Vec<Run> = Vec::new();
    for members in alike.values() {
        let mut before: Option<usize> = None;
        for of_day in members.chunk_by(|a, b| frames[*a].own_day == frames[*b].own_day) {
            let starts: Vec<i64> = of_day.iter().map(|at| frames[*at].start_ms).collect();
            let limit_s = longest_pause_s(&starts);
            for at in of_day {
                let goes_on = before.is_some_and(|before| {
                    let (before, now) = (&frames[before], &frames[*at]);
                    let pause_s = seconds(now.start_ms - before.start_ms);
                    if before.own_day == now.own_day {
                        pause_s <= limit_s
                    } else {
                        pause_s <= LONGEST_PAUSE_S && sun_down(now.own_day)
                    }
                });
                let start_ms = frames[*at].start_ms;
                match runs.last_mut().filter(|_| goes_on) {
                    Some(run) => {
                        run.to_ms = start_ms;
                        run.members.push(*at);
                    }
                    None => runs.push(Run {
                        from_ms: start_ms,
                        to_ms: start_ms,
                        members: vec![*at],
                    }),
                }
                before = Some(*at);
            }
        }
    }
    runs
}

#[cfg(test)]
#[path = "noon_tests.rs"]
mod tests;
