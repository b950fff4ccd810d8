//! Which pictures of a session a report shows, and with what. Reads no picture itself.

use crate::catalogue::handle::Catalogue;
use crate::report::night::SessionPart;
use crate::report::night::pick_pictures;
use crate::report::seen::Shown;
use crate::session::gaps;
use crate::sky::look::Looker;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::night::NightFrame;
use crate::terms::shower::ShowerCode;
use crate::usecase::looking::trail_paths::FramePaths;
use crate::usecase::parallel::parallel_map_ordered;

use super::pictures::large_picture;
use super::pictures::outline;
use super::pictures::radiant_marks;
use super::pictures::small_picture;

/// Most pictures of a page, and least and most of a session.
const PICTURES: (usize, usize, usize) = (72, 4, 24);
/// Most larger pictures of a page: one a session.
pub(super) const LARGE: usize = 8;
/// Most outlines of a session on the dome.
const OUTLINES: usize = 4;
/// A camera that turned by more than this in degrees looks another way.
const TURNED_DEG: f64 = 2.0;

/// The most small pictures of each session of a page.
pub(super) fn pictures_of_each(sessions: usize) -> usize {
    (PICTURES.0 / sessions.max(1)).clamp(PICTURES.1, PICTURES.2)
}

/// Adds pictures of frames on dumps that are there, with radiants, and the outlines of pictures on the sky.
pub(super) fn add_pictures(
    catalogue: &Catalogue,
    looker: &mut Looker,
    session: &mut SessionPart,
    tracks: &[ShowerCode],
    wanted: &Wanted<'_>,
) -> Result<(), Failure> {
    if wanted.pictures == Pictures::Curves {
        return Ok(());
    }
    let frames = &session.frames;
    for at in directions(frames) {
        let paths = FramePaths::of(catalogue, frames[at].frame_id, looker)?;
        session.outlines.extend(outline(&paths));
    }
    if wanted.pictures == Pictures::None {
        return Ok(());
    }
    let starts: Vec<i64> = frames.iter().filter_map(gaps::start_ms).collect();
    let mut picked = pick_pictures(frames, &starts, wanted.most);
    picked.retain(|at| !wanted.is_away(&frames[*at].dump));
    let pictures = parallel_map_ordered(&picked, |at| small_picture(&frames[*at]));
    let mut radiants = |at: usize, showers: &[ShowerCode]| {
        let frame = &frames[at];
        if frame.examined.pointed_deg.is_none() {
            return Ok(Vec::new());
        }
        let paths = FramePaths::of(catalogue, frame.frame_id, looker)?;
        Ok::<_, Failure>(radiant_marks(frame, &paths, showers))
    };
    for (at, picture) in picked.into_iter().zip(pictures) {
        let strongest: Vec<ShowerCode> = frames[at].shower.into_iter().collect();
        session.pictures.push(Shown {
            at,
            picture,
            radiants: radiants(at, &strongest)?,
        });
    }
    if let Some(at) = in_the_middle(frames, |f| {
        f.examined.pointed_deg.is_some() && !wanted.is_away(&f.dump)
    })
    .filter(|_| wanted.large)
    {
        session.large = Some(Shown {
            at,
            picture: large_picture(&frames[at]),
            radiants: radiants(at, tracks)?,
        });
    }
    Ok(())
}

/// Whether pictures are wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pictures {
    /// They are read from the files.
    Read,
    /// None are.
    None,
    /// None are, and no sums, trails and warnings either: the curves of the night are wanted, and its frames.
    Curves,
}

/// What is shown of a page's sessions.
pub(super) struct Wanted<'a> {
    /// Whether pictures are read.
    pub pictures: Pictures,
    /// The most small ones.
    pub most: usize,
    /// Whether a larger one is wanted.
    pub large: bool,
    /// Dumps that are away, with what is said of each.
    pub away: &'a [(String, Finding)],
}

impl Wanted<'_> {
    /// Whether a dump is away.
    pub fn is_away(&self, dump: &str) -> bool {
        self.away.iter().any(|(label, _)| label == dump)
    }
}

/// Of the frames that are wanted the one in the middle.
fn in_the_middle(frames: &[NightFrame], wanted: impl Fn(&NightFrame) -> bool) -> Option<usize> {
    let all: Vec<usize> = (0..frames.len())
        .filter(|at| wanted(&frames[*at]))
        .collect();
    all.get(all.len() / 2).copied()
}

/// The first frame of each direction of the camera; where it followed the stars, some of them evenly spread.
fn directions(frames: &[NightFrame]) -> Vec<usize> {
    let mut found: Vec<(usize, (f64, f64, f64))> = Vec::new();
    for (at, frame) in frames.iter().enumerate() {
        let Some(deg) = frame.examined.pointed_deg else {
            continue;
        };
        let far = |a: f64, b: f64| {
            let off = (a - b).rem_euclid(360.0);
            off.min(360.0 - off)
        };
        let other = found.last().is_none_or(|(_, last)| {
            let across = far(deg.1, last.1) * deg.0.to_radians().cos();
            (deg.0 - last.0).hypot(across) > TURNED_DEG || far(deg.2, last.2) > TURNED_DEG
        });
        if other {
            found.push((at, deg));
        }
    }
    let count = found.len().min(OUTLINES);
    (0..count)
        .map(|k| found[k * (found.len() - 1) / (count - 1).max(1)].0)
        .collect()
}
