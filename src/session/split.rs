//! Splits the frames of one body and one night into sessions: same site, same focal length, no gap too long.

use std::collections::BTreeMap;

use crate::session::kind::Settled;
use crate::session::kind::settle;
use crate::session::kind::settle_trials;
use crate::session::rhythm::cadence_s;
use crate::session::rhythm::long_steps;
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
    let mut sessions: Vec<Session> = sessions.into_iter().map(|(_, session)| session).collect();
    let mut kinds: Vec<Vec<Settled>> = sessions.iter().map(kinds_of).collect();
    settle_trials(&mut kinds);
    for (session, kinds) in sessions.iter_mut().zip(kinds) {
        for (member, (kind, evidence)) in session.members.iter_mut().zip(kinds) {
            (member.kind, member.kind_evidence) = (kind, evidence);
        }
    }
    sessions
}

fn kinds_of(session: &Session) -> Vec<Settled> {
    let kind = |m: &SessionMember| (m.kind, m.kind_evidence.clone());
    session.members.iter().map(kind).collect()
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
    let starts = starts(on_axis, members);
    let cadence = cadence_s(&starts);
    // While the body worked on another framing, none of this one's frames is missing.
    let missing = long_steps(&starts)
        .iter()
        .filter(|long| members[long.after + 1] - members[long.after] == 1)
        .fold(0_u32, |sum, long| sum.saturating_add(long.missing));
    let kinds = settle(&frames, &starts, cadence);
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
            .zip(kinds)
            .map(|(frame, (kind, kind_evidence))| SessionMember {
                frame_id: frame.frame_id,
                kind,
                kind_evidence,
                turn_deg: None,
            })
            .collect(),
    };
    (members[0], made)
}

#[cfg(test)]
#[path = "split_tests.rs"]
mod tests;
