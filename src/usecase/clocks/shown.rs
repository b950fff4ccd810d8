//! What a clock showed, and the true time then: as typed, by a frame of a true clock, or by the clock's error (`--fast 1h`).

use std::path::Path;

use crate::capture::one::read_one;
use crate::catalogue::clocks::Camera;
use crate::catalogue::handle::Catalogue;
use crate::clock::rule::Rule;
use crate::clock::zone::Zone;
use crate::terms::clock::Before;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;
use crate::usecase::clocks::bodies::camera_named;
use crate::usecase::clocks::bodies::camera_of;
use crate::usecase::clocks::limits::Limits;
use crate::usecase::clocks::limits::SessionFrames;
use crate::usecase::clocks::limits::stretch_of;
use crate::usecase::derive::body_clock::clock_of;
use crate::usecase::typed::DayAs;
use crate::usecase::typed::instant;
use crate::usecase::typed::reading;

/// What the clock showed: as typed, or by the frame that was taken of a true clock.
#[derive(Clone, Copy, Debug)]
pub enum Showed<'a> {
    /// As typed.
    Reading(&'a str),
    /// As written into this file.
    Frame(&'a Path),
    /// Its error is known, in milliseconds, positive when it was fast.
    Error(i64),
}

/// A clock fix as the photographer states it.
#[derive(Clone, Copy, Debug)]
pub struct FixOrder<'a> {
    /// The body; the frame's own when it is not said.
    pub camera: Option<&'a str>,
    /// What its clock showed.
    pub showed: Showed<'a>,
    /// The true time then, as typed; of no use where the error is known.
    pub true_utc: &'a str,
    /// What happened to the clock since the fix before.
    pub before: Before,
    /// The readings it is limited to.
    pub limits: Limits<'a>,
    /// The current time.
    pub now: Utc,
}

/// The body, what its clock showed, and the true time then.
pub(super) fn shown(
    catalogue: &Catalogue,
    order: &FixOrder<'_>,
    session: Option<&SessionFrames>,
) -> Result<(Camera, WallTime, Utc), Failure> {
    if let Showed::Error(fast_ms) = order.showed {
        return by_error(catalogue, order, fast_ms, session);
    }
    let (camera, reading) = showed(catalogue, order, session)?;
    Ok((camera, reading, instant(order.true_utc)?))
}

/// The body, its first reading within the limits, and the true time then: by what is known of the zone that the clock was set
/// to, less its error.
///
/// Refuses: a body without frames there, a clock of which no zone is known.
fn by_error(
    catalogue: &Catalogue,
    order: &FixOrder<'_>,
    fast_ms: i64,
    session: Option<&SessionFrames>,
) -> Result<(Camera, WallTime, Utc), Failure> {
    let refuse = |message: String| Failure::words(message);
    let camera = match (order.camera, session) {
        (Some(words), _) => camera_named(catalogue, words)?,
        (None, Some(session)) => session.camera.clone(),
        (None, None) => {
            return Err(refuse("a clock's error needs the body it is of".to_owned())
                .hint("framefall clock fix CAMERA --fast 1h"));
        }
    };
    let (from, until) = stretch_of(order.limits, &camera, session)?;
    let id = camera.camera_id;
    let (reading, written_offset_s) =
        catalogue.first_reading(id, from, until)?.ok_or_else(|| {
            refuse(format!(
                "no frame of {} has a clock reading there",
                camera.name
            ))
            .hint("framefall sessions shows the camera clock of each session")
        })?;
    let clock = clock_of(catalogue, id)?;
    let site_zone = catalogue
        .site_zone_near(id, reading)?
        .and_then(|name| Zone::named(&name));
    let rule = written_offset_s
        .map(Rule::Offset)
        .or_else(|| clock.zone_at(reading).map(Rule::Zone))
        .or_else(|| site_zone.as_ref().map(Rule::Zone))
        .ok_or_else(|| {
            refuse(format!(
                "nothing says which zone the clock of {} was set to, so its error gives no true time",
                camera.name
            ))
            .hint(format!(
                "state it: {}, or the site of its frames: framefall site assign; or give --read and --true",
                CommandLine::new("clock zone").argument(&camera.name).blank("ZONE")
            ))
        })?;
    // A time that happened twice is taken as the later one; hours beside it nothing differs.
    let shown = rule
        .resolve_near(reading, order.now)
        .ok_or_else(|| refuse(format!("{reading} never happened in that zone")))?;
    let true_utc = Utc::from_unix_ms(shown.unix_ms() - fast_ms)
        .ok_or_else(|| refuse("no clock is so wrong".to_owned()))?;
    Ok((camera, reading, true_utc))
}

/// The body, and what its clock showed.
fn showed(
    catalogue: &Catalogue,
    order: &FixOrder<'_>,
    session: Option<&SessionFrames>,
) -> Result<(Camera, WallTime), Failure> {
    let said = order
        .camera
        .map(|words| camera_named(catalogue, words))
        .transpose()?
        .or_else(|| session.map(|session| session.camera.clone()));
    let path = match (order.showed, said) {
        (Showed::Reading(text), Some(camera)) => return Ok((camera, reading(text, DayAs::Start)?)),
        (Showed::Reading(_) | Showed::Error(_), _) => {
            return Err(Failure::words("--read needs the body")
                .hint("framefall clock fix CAMERA --read … --true …"));
        }
        (Showed::Frame(path), said) => {
            let (camera, reading) = of_frame(catalogue, path)?;
            if let Some(said) = said.filter(|said| *said != camera) {
                return Err(Failure::words(format!(
                    "the frame was taken by {}, not by {}",
                    camera.name, said.name
                ))
                .at_file(path)
                .hint("a frame shows the clock of its own body only"));
            }
            (camera, reading)
        }
    };
    Ok(path)
}

fn of_frame(catalogue: &Catalogue, path: &Path) -> Result<(Camera, WallTime), Failure> {
    let refuse = |message: &str| Failure::words(message).at_file(path);
    let read = read_one(path).map_err(|e| {
        refuse("the frame cannot be read")
            .hint("check the path; or type what the clock showed: --read")
            .because(e)
    })?;
    let record = read.ok_or_else(|| refuse("this is not a picture"))?.record;
    let reading = record
        .clock_local
        .ok_or_else(|| refuse("the frame has no clock reading"))?;
    let camera = camera_of(catalogue, &record)?.ok_or_else(|| {
        refuse("the catalogue has no frame of this body")
            .hint("run framefall ingest DUMP with frames of this body first")
    })?;
    Ok((camera, reading))
}
