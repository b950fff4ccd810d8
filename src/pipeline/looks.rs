//! Looks at the pictures that the kinds of a night hang on, and turns its frames against each session's middle light.
//! The order of steps; limits of brightness are `session`'s, the turn is `sky`'s.

use std::collections::HashMap;
use std::collections::HashSet;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use crate::capture::claims::Allowance;
use crate::capture::picture::Limits;
use crate::capture::picture::read_picture;
use crate::catalogue::open::Catalogue;
use crate::pipeline::at_once::each_at_once;
use crate::session::kind::wants_look;
use crate::sky::trail::turn;
use crate::terms::basis::Kind;
use crate::terms::failure::Failure;
use crate::terms::picture::Look;
use crate::terms::records::Extent;
use crate::terms::records::Session;
use crate::terms::records::SessionFrame;
use crate::terms::time::Utc;

/// The longest thumbnail that is looked at, in bytes: a look must cost less than reading the frame's metadata did.
const LONGEST_LOOK: u64 = 64 * 1024;

/// Looks at one body's night: so many, and one more for so many frames. A night whose settings change with every frame
/// must not cost as much again as reading it did.
const LOOKS: (usize, usize) = (48, 16);

/// The side at which a picture is looked at, in pixels.
const LOOK_SIDE: u16 = 80;

/// Looks at the pictures that the kinds of a night hang on: a few of each run of equal settings, and more where two
/// differ. A frame without a small picture, whose file is not there, or whose picture would cost too much to decode is
/// passed over: its neighbours and settings decide.
///
/// Takes: the frames of each body in one night, which are told of the looks. No transaction may be open: a picture can take
/// as long as the card does.
/// Gives: the looks to be kept; whether the work was stopped before all pictures were looked at.
pub fn look_where_wanted(
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
    let mut wishes = Wishes::new(bodies);
    loop {
        let wanted = wishes.next(bodies);
        if wanted.is_empty() {
            return Ok((found, Ended::Whole));
        }
        let small: Vec<Option<(PathBuf, Extent)>> = wanted
            .iter()
            .map(|(_, frame_id)| {
                let frame = catalogue.picture_of(*frame_id)?;
                Ok(frame.and_then(|frame| Some((frame.path, frame.thumbnail?))))
            })
            .collect::<Result<_, Failure>>()?;
        let looks = each_at_once(&small, |small| {
            let (path, extent) = small.as_ref().filter(|_| !stopped())?;
            read_picture(path, *extent, LOOK_SIDE, &limits)
                .ok()
                .map(|picture| picture.look())
        });
        for ((body, frame_id), look) in wanted.into_iter().zip(looks) {
            let Some(look) = look else {
                wishes.in_vain.insert(frame_id);
                continue;
            };
            found.push((frame_id, look));
            if let Some(frame) = bodies[body].iter_mut().find(|f| f.frame_id == frame_id) {
                frame.look = Some(look);
            }
        }
        if stopped() {
            return Ok((found, Ended::Stopped));
        }
    }
}

/// Whether a picture of these frames has to be looked at before they are grouped.
pub fn wants_looks(bodies: &[Vec<SessionFrame>]) -> bool {
    !Wishes::new(bodies).next(bodies).is_empty()
}

/// Whether all pictures were looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// They were.
    Whole,
    /// The work was stopped before.
    Stopped,
}

/// Which pictures of one night are to be looked at next.
struct Wishes {
    /// Frames whose pictures showed nothing.
    in_vain: HashSet<i64>,
    /// How many more pictures of each body may be looked at.
    left: Vec<usize>,
}

impl Wishes {
    fn new(bodies: &[Vec<SessionFrame>]) -> Self {
        Self {
            in_vain: HashSet::new(),
            left: bodies
                .iter()
                .map(|frames| LOOKS.0 + frames.len() / LOOKS.1)
                .collect(),
        }
    }

    /// The body and the number of each frame; none when the kinds need no more.
    fn next(&mut self, bodies: &[Vec<SessionFrame>]) -> Vec<(usize, i64)> {
        let Self { in_vain, left } = self;
        let mut wanted = Vec::new();
        for ((body, frames), left) in bodies.iter().enumerate().zip(left) {
            if *left == 0 {
                continue;
            }
            let mut order: Vec<&SessionFrame> = frames.iter().collect();
            order.sort_by(|a, b| {
                (a.start_utc, a.clock_local, &a.path).cmp(&(b.start_utc, b.clock_local, &b.path))
            });
            let mut of_body = wants_look(&order, &|frame| {
                in_vain.contains(&frame.frame_id) || !has_small_picture(frame)
            });
            of_body.truncate(*left);
            // A body that wants no more now never will: its own looks alone make it want others.
            *left = if of_body.is_empty() {
                0
            } else {
                *left - of_body.len()
            };
            wanted.extend(of_body.into_iter().map(|frame_id| (body, frame_id)));
        }
        wanted
    }
}

fn has_small_picture(frame: &SessionFrame) -> bool {
    frame
        .thumbnail_bytes
        .is_some_and(|bytes| bytes <= LONGEST_LOOK)
}

/// Notes how far the sky has turned for each frame since the session's reference: the light in the middle.
pub fn turn_members(session: &mut Session, frames: &[SessionFrame]) {
    let middles: HashMap<i64, Utc> = frames
        .iter()
        .filter_map(|f| Some((f.frame_id, middle(f)?)))
        .collect();
    let lights: Vec<Utc> = session
        .members
        .iter()
        .filter(|m| m.kind == Some(Kind::Light))
        .filter_map(|m| middles.get(&m.frame_id).copied())
        .collect();
    let Some(reference) = lights.get(lights.len() / 2) else {
        return;
    };
    for member in &mut session.members {
        member.turn_deg = middles
            .get(&member.frame_id)
            .map(|at| turn(*reference, *at).deg());
    }
}

fn middle(frame: &SessionFrame) -> Option<Utc> {
    frame
        .start_utc?
        .plus_s(frame.exposure_s.unwrap_or(0.0) / 2.0)
}
