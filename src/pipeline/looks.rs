//! Looks at the pictures that the kinds of a night hang on, and turns its frames against each session's middle light.
//! The order of steps; limits of brightness are `session`'s, the turn is `sky`'s.

use std::collections::HashMap;
use std::collections::HashSet;
use std::path::PathBuf;

use crate::capture::picture::read_picture;
use crate::catalogue::store::Batch;
use crate::pipeline::at_once::each_at_once;
use crate::session::kind::wants_look;
use crate::sky::trail::turn;
use crate::terms::basis::Kind;
use crate::terms::failure::Failure;
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
/// differ. A frame without a small picture, or whose file is not there, is passed over: its neighbours and settings decide.
///
/// Takes: the frames of each body in one night.
pub fn look_where_wanted(
    batch: &Batch<'_>,
    bodies: &mut [Vec<SessionFrame>],
) -> Result<(), Failure> {
    let mut in_vain: HashSet<i64> = HashSet::new();
    let mut left: Vec<usize> = bodies
        .iter()
        .map(|frames| LOOKS.0 + frames.len() / LOOKS.1)
        .collect();
    loop {
        let mut wanted = Vec::new();
        for ((body, frames), left) in bodies.iter().enumerate().zip(&mut left) {
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
        if wanted.is_empty() {
            return Ok(());
        }
        let small: Vec<Option<(PathBuf, Extent)>> = wanted
            .iter()
            .map(|(_, frame_id)| {
                let frame = batch.picture_of(*frame_id)?;
                Ok(frame.and_then(|frame| Some((frame.path, frame.thumbnail?))))
            })
            .collect::<Result<_, Failure>>()?;
        let looks = each_at_once(&small, |small| {
            let (path, extent) = small.as_ref()?;
            read_picture(path, *extent, LOOK_SIDE)
                .ok()
                .map(|picture| picture.look())
        });
        for ((body, frame_id), look) in wanted.into_iter().zip(looks) {
            let Some(look) = look else {
                in_vain.insert(frame_id);
                continue;
            };
            batch.put_look(frame_id, look)?;
            if let Some(frame) = bodies[body].iter_mut().find(|f| f.frame_id == frame_id) {
                frame.look = Some(look);
            }
        }
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
