//! Splits the frames of one body and one night into sessions: same site, same focal length, no gap too long.

use std::collections::BTreeMap;

use crate::session::kind::kind_by_words;
use crate::session::kind::settle_kind;
use crate::session::kind::usual_exposure;
use crate::terms::records::Session;
use crate::terms::records::SessionFrame;
use crate::terms::records::SessionMember;

/// A pause that always ends a session when the cadence cannot explain it.
///
/// Source: common practice, no source. A battery or card change takes minutes; half an hour is another framing.
pub const LONGEST_PAUSE_S: f64 = 1_800.0;

/// How many frames of a slow cadence may be missing before the session ends.
///
/// Source: our choice: an intervalometer set to one frame in ten minutes may miss ten of them.
pub const LONGEST_PAUSE_CADENCES: f64 = 10.0;

/// A gap counts as missing frames from this share of the cadence on.
///
/// Source: our choice: half a frame more than the cadence is more than the jitter of an intervalometer.
const MISSING_FROM_CADENCES: f64 = 1.5;

/// Groups the frames of one body and one night.
///
/// Takes: frames in any order. Those with neither UTC nor a clock reading are left out.
/// Gives: sessions in the order of their starts, without numbers; the same whatever the order of the frames.
pub fn split(frames: &[SessionFrame]) -> Vec<Session> {
    let axis = Axis::of(frames);
    let mut on_axis: Vec<Timed> = frames
        .iter()
        .filter_map(|frame| {
            Some(Timed {
                at_ms: axis.at_ms(frame)?,
                frame,
            })
        })
        .collect();
    on_axis.sort_by(|a, b| {
        (a.at_ms, &a.frame.path, a.frame.frame_id).cmp(&(b.at_ms, &b.frame.path, b.frame.frame_id))
    });
    let mut framings: BTreeMap<(Option<i64>, Option<u64>), Vec<usize>> = BTreeMap::new();
    for (i, timed) in on_axis.iter().enumerate() {
        framings
            .entry((timed.frame.site_id, timed.frame.focal_mm.map(focal_key)))
            .or_default()
            .push(i);
    }
    let mut sessions = Vec::new();
    for members in framings.values() {
        let limit_s = longest_pause_s(&starts(&on_axis, members));
        let mut from = 0;
        for i in 1..=members.len() {
            let ends = i == members.len()
                || seconds(on_axis[members[i]].at_ms - on_axis[members[i - 1]].at_ms) > limit_s;
            if ends {
                sessions.push(session(&on_axis, &members[from..i], axis));
                from = i;
            }
        }
    }
    sessions.sort_by_key(|(first, _)| *first);
    sessions.into_iter().map(|(_, session)| session).collect()
}

/// The axis that orders a night: UTC only when every frame has it, since the two differ by hours.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Axis {
    Utc,
    Reading,
}

impl Axis {
    fn of(frames: &[SessionFrame]) -> Self {
        if frames.iter().all(|f| f.start_utc.is_some()) {
            Self::Utc
        } else {
            Self::Reading
        }
    }

    fn at_ms(self, frame: &SessionFrame) -> Option<i64> {
        match self {
            Self::Utc => frame.start_utc.map(crate::terms::time::Utc::unix_ms),
            Self::Reading => frame
                .clock_local
                .map(crate::terms::time::WallTime::reading_ms),
        }
    }
}

struct Timed<'f> {
    at_ms: i64,
    frame: &'f SessionFrame,
}

/// Focal lengths that differ by less than a hundredth of a millimetre are one.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // positive and far below the bound
fn focal_key(focal_mm: f64) -> u64 {
    (focal_mm * 100.0).round() as u64
}

fn starts(on_axis: &[Timed], members: &[usize]) -> Vec<i64> {
    members.iter().map(|i| on_axis[*i].at_ms).collect()
}

fn seconds(ms: i64) -> f64 {
    ms as f64 / 1000.0
}

/// The median time from start to start. Frames started together (a burst within one second) do not count.
fn cadence_s(starts_ms: &[i64]) -> Option<f64> {
    let mut steps: Vec<i64> = starts_ms
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .filter(|step| *step > 0)
        .collect();
    steps.sort_unstable();
    let middle = steps.len() / 2;
    match steps.len() {
        0 => None,
        n if n % 2 == 1 => Some(seconds(steps[middle])),
        _ => Some(seconds(steps[middle - 1] + steps[middle]) / 2.0),
    }
}

/// The pause that ends a session. A cadence is believed from three steps on: two frames have no rhythm.
fn longest_pause_s(starts_ms: &[i64]) -> f64 {
    let believed = (starts_ms.len() >= 4)
        .then(|| cadence_s(starts_ms))
        .flatten();
    believed.map_or(LONGEST_PAUSE_S, |cadence| {
        LONGEST_PAUSE_S.max(cadence * LONGEST_PAUSE_CADENCES)
    })
}

fn session(on_axis: &[Timed], members: &[usize], axis: Axis) -> (usize, Session) {
    let frames: Vec<&SessionFrame> = members.iter().map(|i| on_axis[*i].frame).collect();
    let first = frames[0];
    let last = frames[frames.len() - 1];
    let cadence = cadence_s(&starts(on_axis, members));
    let mut missing = 0_u32;
    if let Some(cadence) = cadence {
        for pair in members.windows(2) {
            let step = seconds(on_axis[pair[1]].at_ms - on_axis[pair[0]].at_ms);
            // While the body worked on another framing, none of this one's frames is missing.
            let busy_elsewhere = pair[1] - pair[0] > 1;
            if step > cadence * MISSING_FROM_CADENCES && !busy_elsewhere {
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                // a night's seconds over at least a millisecond
                let skipped = ((step / cadence).round() - 1.0).clamp(0.0, 1e9) as u32;
                missing = missing.saturating_add(skipped);
            }
        }
    }
    let usual = usual_exposure(&frames);
    let end_utc = frames
        .iter()
        .filter_map(|f| f.start_utc?.plus_s(f.exposure_s.unwrap_or(0.0)))
        .max()
        .filter(|_| axis == Axis::Utc);
    let made = Session {
        continues: None,
        site_id: first.site_id,
        focal_mm: first.focal_mm,
        start_utc: first.start_utc.filter(|_| axis == Axis::Utc),
        end_utc,
        start_local: first.clock_local,
        end_local: last.clock_local,
        cadence_s: cadence,
        missing,
        members: frames
            .iter()
            .map(|frame| SessionMember {
                frame_id: frame.frame_id,
                kind: settle_kind(
                    kind_by_words(&frame.path),
                    frame.exposure_s,
                    usual,
                    frames.len(),
                ),
            })
            .collect(),
    };
    (members[0], made)
}

#[cfg(test)]
#[path = "split_tests.rs"]
mod tests;
