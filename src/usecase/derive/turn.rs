//! How far the sky turned before a session's camera since its middle light: by the stars of the pictures where their solutions are
//! known, by the clock elsewhere. A mount that follows the stars does not turn.

use std::collections::HashMap;

use crate::catalogue::batch::Batch;
use crate::pointing::camera::Camera;
use crate::pointing::elapsed::turned_about_pole;
use crate::pointing::vector::Vector;
use crate::sky::look::Looker;
use crate::sky::trail::turn;
use crate::terms::basis::Kind;
use crate::terms::failure::Failure;
use crate::terms::records::Session;
use crate::terms::records::SessionFrame;
use crate::terms::site::Place;
use crate::terms::stated_pointing::Mount;
use crate::terms::time::Utc;
use crate::terms::turn::Turn;
use crate::terms::turn::TurnBasis;
use crate::usecase::examine::over::camera_of;
use crate::usecase::examine::over::solved;

/// A camera that turned by more than this aside of the pole was moved, in degrees: its turn is none of the sky.
const ASIDE_DEG: f64 = 0.5;
/// A mount follows the stars where it turned by less than this share of what the Earth did.
const FOLLOWS: f64 = 0.1;
/// The least turn of the Earth between two frames by which that is told, in degrees: 72 s.
const TOLD_FROM_DEG: f64 = 0.3;

/// Computes the turn of each frame of a session.
pub(super) fn turn_members(
    batch: &Batch<'_>,
    session: &mut Session,
    frames: &HashMap<i64, &SessionFrame>,
    any_pointing: bool,
) -> Result<(), Failure> {
    let mut facing = Vec::with_capacity(session.members.len());
    for member in &session.members {
        let (camera, tracked) = if any_pointing {
            camera(batch, member.frame_id)?
        } else {
            (None, false)
        };
        let frame = frames.get(&member.frame_id);
        let middle = |start: Option<Utc>| {
            let exposure_s = frame?.exposure_s.unwrap_or(0.0);
            start?.plus_s(exposure_s / 2.0)
        };
        facing.push(Facing {
            mid: middle(frame.and_then(|frame| frame.start_utc)),
            reading: middle(frame.and_then(|frame| reading(frame))),
            is_light: member.kind == Some(Kind::Light),
            camera,
            tracked,
        });
    }
    let pole = facing.iter().any(|one| one.camera.is_some()).then(|| {
        // Precession moves it by a third of an arcminute a year: a clock without a zone will do.
        let at = facing.iter().find_map(|one| one.mid.or(one.reading))?;
        let anywhere = Place::new(0.0, 0.0, 0.0)?;
        Some(Looker::new().horizon(at, anywhere)?.pole())
    });
    let turns = turns(&facing, pole.flatten());
    for (member, turn) in session.members.iter_mut().zip(turns) {
        member.turn = turn;
    }
    Ok(())
}

/// The reading of the camera clock, as if it were UTC.
fn reading(frame: &SessionFrame) -> Option<Utc> {
    Utc::from_unix_ms(frame.clock_local?.reading_ms())
}

/// The camera of a frame among the stars by its own picture, and whether it is stated that its mount followed them.
fn camera(batch: &Batch<'_>, frame_id: i64) -> Result<(Option<Camera>, bool), Failure> {
    if let Some(stated) = batch.stated_pointing(frame_id)? {
        // A solution of another frame is carried to this one by the clock.
        let own = stated.mount == Mount::Tracked
            || stated.solved_local.is_none()
            || stated.solved_local == batch.mid_reading(frame_id)?;
        let camera = own.then(|| camera_of(&solved(&stated))).flatten();
        return Ok((camera, stated.mount == Mount::Tracked));
    }
    let measured = batch.measured_pointing(frame_id)?;
    Ok((measured.as_ref().and_then(camera_of), false))
}

/// A frame, as its turn needs it.
struct Facing {
    /// The middle of the exposure.
    mid: Option<Utc>,
    /// The same by the camera clock, as if it were UTC.
    reading: Option<Utc>,
    is_light: bool,
    /// The camera among the stars, by the frame's own picture.
    camera: Option<Camera>,
    /// Whether it is stated that the mount followed the stars.
    tracked: bool,
}

/// The turn of each frame since the middle one of the lights. Nothing where neither stars nor clock tell it.
fn turns(frames: &[Facing], pole: Option<Vector>) -> Vec<Option<Turn>> {
    let lights: Vec<usize> = (0..frames.len())
        .filter(|at| frames[*at].is_light)
        .collect();
    let dated: Vec<usize> = lights
        .iter()
        .copied()
        .filter(|at| frames[*at].mid.is_some())
        .collect();
    let of = if dated.is_empty() { &lights } else { &dated };
    let Some(reference) = of.get(of.len() / 2).copied() else {
        return vec![None; frames.len()];
    };
    // Without UTC the readings tell how much time passed, so whether a mount followed the stars; where it did not, stars alone count.
    let at = |one: &Facing| {
        if dated.is_empty() {
            one.reading
        } else {
            one.mid
        }
    };
    let clock_deg: Vec<Option<f64>> = frames
        .iter()
        .map(|one| Some(turn(at(&frames[reference])?, at(one)?).deg()))
        .collect();
    // The solved light nearest to the reference: the cameras of the others are compared with it.
    let near = lights
        .iter()
        .copied()
        .filter(|at| frames[*at].camera.is_some())
        .min_by_key(|at| at.abs_diff(reference));
    let stars_deg = match near.zip(pole) {
        Some((near, pole)) => by_stars(frames, near, pole, &clock_deg),
        None => vec![None; frames.len()],
    };
    let follows = frames.iter().any(|one| one.tracked) || has_followed(&stars_deg, &clock_deg);
    let offset_deg = match near {
        Some(near) if near == reference || follows => Some(0.0),
        Some(near) => clock_deg[near].filter(|_| !dated.is_empty()),
        None => None,
    };
    let one = |(stars, clock): (&Option<f64>, &Option<f64>)| {
        let by_stars = stars.zip(offset_deg).map(|(stars, offset)| Turn {
            deg: stars + offset,
            basis: TurnBasis::Stars,
        });
        if follows {
            // A mount that was switched off, or reached its end, turns like a tripod.
            let left = |turn: &Turn| {
                let allowed = clock.map_or(0.0, |clock| FOLLOWS * clock.abs());
                turn.deg.abs() > allowed.max(TOLD_FROM_DEG)
            };
            return Some(by_stars.filter(left).unwrap_or(Turn::NONE));
        }
        by_stars.or_else(|| {
            Some(Turn {
                deg: (*clock).filter(|_| !dated.is_empty())?,
                basis: TurnBasis::Clock,
            })
        })
    };
    stars_deg.iter().zip(&clock_deg).map(one).collect()
}

/// By how many degrees the sky turned before each solved camera since one of them; nothing of a camera that was moved. Whole turns
/// are left out or added so that it is nearest to what the clock says.
fn by_stars(
    frames: &[Facing],
    from: usize,
    pole: Vector,
    clock_deg: &[Option<f64>],
) -> Vec<Option<f64>> {
    let first = frames[from].camera.as_ref();
    let one = |at: usize| {
        let found = turned_about_pole(first?, frames[at].camera.as_ref()?, pole)?;
        let deg = found.angle_rad.to_degrees();
        let expected = clock_deg[at]
            .zip(clock_deg[from])
            .map_or(0.0, |(at, from)| at - from);
        let whole = ((expected - deg) / 360.0).round();
        let unmoved = found.aside_rad < ASIDE_DEG.to_radians();
        unmoved.then_some(deg + 360.0 * whole)
    };
    (0..frames.len()).map(one).collect()
}

/// Whether the mount followed the stars: in the middle one of all pairs of frames between which the Earth turned enough.
fn has_followed(stars_deg: &[Option<f64>], clock_deg: &[Option<f64>]) -> bool {
    let known: Vec<(f64, f64)> = stars_deg
        .iter()
        .zip(clock_deg)
        .filter_map(|(stars, clock)| stars.zip(*clock))
        .collect();
    let mut shares = Vec::new();
    let mut later = 0;
    for (stars, clock) in &known {
        let far = |at: &usize| known[*at].1 - clock > TOLD_FROM_DEG;
        let Some(next) = (later..known.len()).find(far) else {
            break;
        };
        later = next;
        shares.push((known[next].0 - stars) / (known[next].1 - clock));
    }
    shares.sort_by(f64::total_cmp);
    shares
        .get(shares.len() / 2)
        .is_some_and(|share| share.abs() < FOLLOWS)
}

#[cfg(test)]
#[path = "turn_tests.rs"]
mod tests;
