//! Splits the frames of one body and one night into sessions: same site, same lens and focal length, no gap too long.

use std::collections::BTreeMap;

use crate::session::kind::Settled;
use crate::session::kind::decide_kinds;
use crate::session::rhythm::cadence_s;
use crate::session::rhythm::long_steps;
use crate::session::shows::Taken;
use crate::terms::basis::Kind;
use crate::terms::records::Session;
use crate::terms::records::SessionFrame;
use crate::terms::records::SessionMember;

/// A pause that always ends a session if the cadence cannot explain it.
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
    let mut on_axis: Vec<Taken<'_>> = frames
        .iter()
        .filter_map(|frame| {
            Some(Taken {
                at_ms: axis.at_ms(frame)?,
                frame,
            })
        })
        .collect();
    on_axis.sort_by(|a, b| {
        (a.at_ms, &a.frame.path, a.frame.frame_id).cmp(&(b.at_ms, &b.frame.path, b.frame.frame_id))
    });
    let mut framings: BTreeMap<Framing<'_>, Vec<usize>> = BTreeMap::new();
    for (i, timed) in on_axis.iter().enumerate() {
        framings
            .entry(Framing::of(timed.frame))
            .or_default()
            .push(i);
    }
    let mut sessions: Vec<Vec<usize>> = Vec::new();
    for members in framings.values() {
        let limit_s = longest_pause_s(&starts(&on_axis, members));
        let mut from = 0;
        for i in 1..=members.len() {
            let ends = i == members.len()
                || seconds(on_axis[members[i]].at_ms - on_axis[members[i - 1]].at_ms) > limit_s;
            if ends {
                sessions.push(members[from..i].to_vec());
                from = i;
            }
        }
    }
    sessions.sort_by_key(|members| members[0]);
    let kinds = decide_kinds(&on_axis, &sessions);
    sessions
        .iter()
        .map(|members| session(&on_axis, members, axis, &kinds))
        .collect()
}

/// What the frames of one session have in common.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Framing<'f> {
    site_id: Option<i64>,
    /// Focal lengths that differ by less than a hundredth of a millimetre are one.
    focal: Option<u64>,
    lens: Option<&'f str>,
}

impl<'f> Framing<'f> {
    fn of(frame: &'f SessionFrame) -> Self {
        Self::new(frame.site_id, frame.focal_mm, frame.lens.as_deref())
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // positive and far below the bound
    pub(super) fn new(site_id: Option<i64>, focal_mm: Option<f64>, lens: Option<&'f str>) -> Self {
        Self {
            site_id,
            focal: focal_mm.map(|mm| (mm * 100.0).round() as u64),
            lens,
        }
    }
}

/// The axis that orders a night: UTC only if every frame has it, since the two differ by hours.
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

fn starts(on_axis: &[Taken<'_>], members: &[usize]) -> Vec<i64> {
    members.iter().map(|i| on_axis[*i].at_ms).collect()
}

pub(super) fn seconds(ms: i64) -> f64 {
    ms as f64 / 1000.0
}

/// The pause that ends a session. A cadence counts from three steps on: two frames have no rhythm.
pub(super) fn longest_pause_s(starts_ms: &[i64]) -> f64 {
    let believed = (starts_ms.len() >= 4)
        .then(|| cadence_s(starts_ms))
        .flatten();
    believed.map_or(LONGEST_PAUSE_S, |cadence| {
        LONGEST_PAUSE_S.max(cadence * LONGEST_PAUSE_CADENCES)
    })
}

fn session(on_axis: &[Taken<'_>], members: &[usize], axis: Axis, kinds: &[Settled]) -> Session {
    let frames: Vec<&SessionFrame> = members.iter().map(|i| on_axis[*i].frame).collect();
    let first = frames[0];
    let last = frames[frames.len() - 1];
    let lights: Vec<usize> = members
        .iter()
        .copied()
        .filter(|i| kinds[*i].0 == Some(Kind::Light))
        .collect();
    let starts_of_lights = starts(on_axis, &lights);
    // While the body did something else, none of its lights is missing.
    let missing = long_steps(&starts_of_lights)
        .iter()
        .filter(|long| lights[long.after + 1] - lights[long.after] == 1)
        .fold(0_u32, |sum, long| sum.saturating_add(long.missing));
    let end_utc = frames
        .iter()
        .filter_map(|f| f.start_utc?.plus_s(f.exposure_s.unwrap_or(0.0)))
        .max()
        .filter(|_| axis == Axis::Utc);
    Session {
        continues: None,
        site_id: first.site_id,
        focal_mm: first.focal_mm,
        start_utc: first.start_utc.filter(|_| axis == Axis::Utc),
        end_utc,
        start_local: first.clock_local,
        end_local: last.clock_local,
        cadence_s: cadence_s(&starts_of_lights).or_else(|| cadence_s(&starts(on_axis, members))),
        missing,
        members: members
            .iter()
            .map(|i| SessionMember {
                frame_id: on_axis[*i].frame.frame_id,
                kind: kinds[*i].0,
                kind_evidence: kinds[*i].1.clone(),
                turn: None,
            })
            .collect(),
    }
}

#[cfg(test)]
#[path = "split_tests.rs"]
mod tests;
