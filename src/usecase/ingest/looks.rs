//! Samples the small pictures of a night's frames. The order of steps; `session` judges the samples.

use std::collections::HashSet;
use std::ops::RangeInclusive;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use crate::capture::claims::Allowance;
use crate::capture::picture::Limits;
use crate::capture::picture::read_picture;
use crate::catalogue::handle::Catalogue;
use crate::session::alike::between_unlike;
use crate::session::kind::is_settled_by_words;
use crate::session::look::measure;
use crate::terms::failure::Failure;
use crate::terms::picture::Look;
use crate::terms::picture::MEASURES;
use crate::terms::records::Extent;
use crate::terms::records::SessionFrame;
use crate::usecase::parallel::parallel_map_ordered;

/// The longest thumbnail that is sampled in every frame, in bytes.
const SMALL: u64 = 64 * 1024;

/// The longest picture that is sampled in some frames if there is no smaller one: it takes fifty times as long.
const LARGE: u64 = 1024 * 1024;

/// How many larger pictures of one body's night are sampled: this many, and one more for this many frames.
const LARGE_LOOKS: (usize, usize) = (48, 16);

/// The most frames between two whose larger pictures are sampled.
const LARGE_EVERY: usize = 32;

/// The least side at which a picture is decoded, in pixels.
const LOOK_SIDE: u16 = 100;

/// Samples every frame's small picture if no name or mark decides its kind. If there are only larger ones, those at
/// both ends of the night, some between, and more between two that differ. A frame is skipped if it has no picture, if
/// its file is missing, or if its picture would cost too much to decode: its neighbours and settings decide.
///
/// Takes: the frames of each body in one night, which receive the samples. No transaction may be open: a picture can
/// take as long as the card does. Gives: the samples to be stored; whether the work was stopped before all pictures
/// were sampled.
pub fn sample_brightness_if_needed(
    catalogue: &Catalogue,
    bodies: &mut [Vec<SessionFrame>],
    stop: Option<&AtomicBool>,
) -> Result<(Vec<(i64, Look)>, Ended), Failure> {
    let limits = Limits {
        allowed: Allowance::LOOK,
        stop,
    };
    let stopped = || stop.is_some_and(|stop| stop.load(Ordering::Relaxed));
    let mut found = Vec::new();
    let mut in_vain = HashSet::new();
    loop {
        let mut wanted: Vec<(usize, usize)> = Vec::new();
        for (body, frames) in bodies.iter().enumerate() {
            wanted.extend(wanted_of(frames, &in_vain).into_iter().map(|at| (body, at)));
        }
        if wanted.is_empty() {
            return Ok((found, Ended::Whole));
        }
        let small: Vec<Option<(PathBuf, Extent)>> = wanted
            .iter()
            .map(|(body, at)| {
                let frame = catalogue.picture_of(bodies[*body][*at].frame_id)?;
                Ok(frame.and_then(|frame| Some((frame.path, frame.thumbnail?))))
            })
            .collect::<Result<_, Failure>>()?;
        let looks = parallel_map_ordered(&small, |small| {
            let (path, extent) = small.as_ref().filter(|_| !stopped())?;
            measure(&read_picture(path, *extent, LOOK_SIDE, &limits).ok()?)
        });
        for ((body, at), look) in wanted.into_iter().zip(looks) {
            let frame = &mut bodies[body][at];
            if let Some(look) = look {
                found.push((frame.frame_id, look));
                frame.look = Some(look);
            } else {
                in_vain.insert(frame.frame_id);
            }
        }
        if stopped() {
            return Ok((found, Ended::Stopped));
        }
    }
}

/// Whether a picture of these frames has to be sampled before they are grouped.
pub fn needs_samples(bodies: &[Vec<SessionFrame>]) -> bool {
    bodies
        .iter()
        .any(|frames| !wanted_of(frames, &HashSet::new()).is_empty())
}

/// Whether all pictures were sampled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// They were.
    Whole,
    /// The work was stopped before.
    Stopped,
}

/// The indices of one body's frames whose pictures are to be sampled next; none if the kinds are decided.
///
/// Takes: the numbers of frames whose pictures gave nothing.
fn wanted_of(frames: &[SessionFrame], in_vain: &HashSet<i64>) -> Vec<usize> {
    let mut open: Vec<usize> = (0..frames.len())
        .filter(|at| !in_vain.contains(&frames[*at].frame_id))
        .filter(|at| !is_settled_by_words(&frames[*at]))
        .collect();
    open.sort_by(|a, b| {
        let of = |at: usize| {
            (
                frames[at].start_utc,
                frames[at].clock_local,
                &frames[at].path,
            )
        };
        of(*a).cmp(&of(*b))
    });
    let with = |bytes: RangeInclusive<u64>| {
        let has = |at: &usize| {
            frames[*at]
                .picture_bytes
                .is_some_and(|n| bytes.contains(&n))
        };
        open.iter().copied().filter(has).collect::<Vec<usize>>()
    };
    // Not sampled, or measured by an earlier edition.
    let is_open = |at: &usize| frames[*at].look.is_none_or(|look| look.measures < MEASURES);
    let unseen = |places: &mut Vec<usize>| places.retain(is_open);
    let mut small = with(0..=SMALL);
    unseen(&mut small);
    if !small.is_empty() {
        return small;
    }
    let large = with(SMALL + 1..=LARGE);
    let seen = large
        .iter()
        .filter(|at| frames[**at].look.is_some())
        .count();
    let mut wanted: Vec<usize> = large.iter().copied().step_by(LARGE_EVERY).collect();
    wanted.extend(large.last());
    wanted.dedup();
    unseen(&mut wanted);
    if wanted.is_empty() {
        wanted = between_unlike(frames, &large);
    }
    wanted.truncate((LARGE_LOOKS.0 + frames.len() / LARGE_LOOKS.1).saturating_sub(seen));
    wanted
}
