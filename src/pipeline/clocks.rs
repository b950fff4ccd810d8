//! Stating what a body's clock showed, and taking it back: the statement is checked, the frames concerned are derived
//! anew.

use std::path::Path;

use crate::capture::one::read_one;
use crate::catalogue::clocks::Camera;
use crate::catalogue::open::Catalogue;
use crate::clock::fix::BodyClock;
use crate::pipeline::bodies::camera_named;
use crate::pipeline::bodies::camera_of;
use crate::pipeline::rederive::Mode;
use crate::pipeline::rederive::Rederived;
use crate::pipeline::rederive::rederive;
use crate::pipeline::said::DayAs;
use crate::pipeline::said::instant;
use crate::pipeline::said::reading;
use crate::pipeline::sites::zone_named;
use crate::terms::clock::Before;
use crate::terms::clock::ClockFix;
use crate::terms::clock::ZoneStated;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// No camera was made before this instant.
///
/// Source: the first digital cameras that dated their files are of about 1988 (from memory).
const FIRST_CAMERAS: &str = "1988-01-01T00:00:00Z";

/// So far may a true time lie ahead of this computer's clock, in seconds.
///
/// Source: our choice: a day forgives a computer whose own clock is wrong.
const AHEAD_S: f64 = 86_400.0;

/// What the clock showed: as typed, or by the frame that was taken of a true clock.
#[derive(Clone, Copy, Debug)]
pub enum Showed<'a> {
    /// As typed.
    Reading(&'a str),
    /// As written into this file.
    Frame(&'a Path),
}

/// A clock fix as the photographer states it.
#[derive(Clone, Copy, Debug)]
pub struct FixOrder<'a> {
    /// The body; the frame's own when it is not said.
    pub camera: Option<&'a str>,
    /// What its clock showed.
    pub showed: Showed<'a>,
    /// The true time then, as typed.
    pub true_utc: &'a str,
    /// What happened to the clock since the fix before.
    pub before: Before,
    /// The current time.
    pub now: Utc,
}

/// What stating something of a clock came to.
#[derive(Clone, Debug)]
pub struct Stated {
    /// The body.
    pub camera: Camera,
    /// The statement's name, `fix-3` or `zone-1`.
    pub name: String,
    /// The statement in words.
    pub words: String,
    /// What followed.
    pub done: Rederived,
}

type Watch<'w> = &'w mut dyn FnMut(u64, u64);

/// States a clock fix.
///
/// Refuses, and changes nothing: an unknown body, a reading or an instant that is none, a second fix of one reading,
/// a true time before cameras were made or still to come, a drift that no clock has.
pub fn state_fix(
    catalogue: &mut Catalogue,
    order: &FixOrder<'_>,
    mode: Mode,
    watch: Watch<'_>,
) -> Result<Stated, Failure> {
    let (camera, reading) = showed(catalogue, order)?;
    let true_utc = instant(order.true_utc)?;
    let refuse = |message: String| Failure::new(FailureKind::Words, message);
    if Utc::parse(FIRST_CAMERAS).is_some_and(|first| true_utc < first) {
        return Err(
            refuse(format!("{true_utc} is before any digital camera was made"))
                .hint("--true is the true time, --read what the clock showed: were they swapped?"),
        );
    }
    if true_utc.seconds_since(order.now) > AHEAD_S {
        return Err(refuse(format!("{true_utc} is still to come")).hint("check the date of --true"));
    }
    let fixes = catalogue.clock_fixes(camera.camera_id)?;
    if let Some(there) = fixes.iter().find(|f| f.reading == reading) {
        return Err(refuse(format!(
            "fix-{} says already what the time was when the clock of {} read {reading}: {}",
            there.id, camera.name, there.true_utc
        ))
        .hint(format!(
            "{} takes it back",
            CommandLine::new("clock remove").argument(format!("fix-{}", there.id))
        )));
    }
    let fix = ClockFix {
        id: 0,
        reading,
        true_utc,
        written_offset_s: None,
        before: order.before,
    };
    let (from, until) = around(&fixes, reading);
    let zones = catalogue.clock_zones(camera.camera_id)?;
    let mut id = 0;
    let done = rederive(
        catalogue,
        mode,
        |batch| {
            id = batch.state_fix(camera.camera_id, &fix)?;
            possible(&BodyClock::new(batch.clock_fixes(camera.camera_id)?, zones))?;
            batch.frames_between(camera.camera_id, from, until)
        },
        watch,
    )?;
    Ok(Stated {
        words: format!("read {reading} at {true_utc}"),
        name: format!("fix-{id}"),
        camera,
        done,
    })
}

/// A zone as the photographer states it.
#[derive(Clone, Copy, Debug)]
pub struct ZoneOrder<'a> {
    /// The body.
    pub camera: &'a str,
    /// The zone's name, or an offset.
    pub zone: &'a str,
    /// The first reading, or day, it holds for.
    pub from: Option<&'a str>,
    /// The last day it holds for, or the first reading it holds for no more.
    pub until: Option<&'a str>,
}

/// States the zone that a body's clock was set to.
///
/// Refuses, and changes nothing: an unknown body or zone, a stretch that ends before it begins, a second zone for the
/// same stretch.
pub fn state_zone(
    catalogue: &mut Catalogue,
    order: &ZoneOrder<'_>,
    mode: Mode,
    watch: Watch<'_>,
) -> Result<Stated, Failure> {
    let camera = camera_named(catalogue, order.camera)?;
    let zone = ZoneStated {
        id: 0,
        zone: zone_named(order.zone)?.name().to_owned(),
        from: order
            .from
            .map(|text| reading(text, DayAs::Start))
            .transpose()?,
        until: order
            .until
            .map(|text| reading(text, DayAs::End))
            .transpose()?,
    };
    if let (Some(from), Some(until)) = (zone.from, zone.until)
        && until <= from
    {
        return Err(Failure::new(
            FailureKind::Words,
            format!("the zone would hold from {from} until {until}, which is no time at all"),
        )
        .hint("check --from and --until; they are readings of the body's clock"));
    }
    let zones = catalogue.clock_zones(camera.camera_id)?;
    if let Some(there) = zones
        .iter()
        .find(|z| (z.from, z.until) == (zone.from, zone.until))
    {
        return Err(Failure::new(
            FailureKind::Words,
            format!(
                "zone-{} says already that the clock of {} was set to {} then",
                there.id, camera.name, there.zone
            ),
        )
        .hint(format!(
            "{} takes it back",
            CommandLine::new("clock remove").argument(format!("zone-{}", there.id))
        )));
    }
    let fixes = catalogue.clock_fixes(camera.camera_id)?;
    let (from, until) = reach(&fixes, &zone);
    let mut id = 0;
    let done = rederive(
        catalogue,
        mode,
        |batch| {
            id = batch.state_zone(camera.camera_id, &zone)?;
            batch.frames_between(camera.camera_id, from, until)
        },
        watch,
    )?;
    let words = format!("set to {}{}", zone.zone, stretch(&zone));
    Ok(Stated {
        camera,
        name: format!("zone-{id}"),
        words,
        done,
    })
}

/// Takes a fix or a zone back, by its name in `clock list`.
pub fn take_back(
    catalogue: &mut Catalogue,
    name: &str,
    mode: Mode,
    watch: Watch<'_>,
) -> Result<Stated, Failure> {
    for camera in catalogue.cameras()? {
        let fixes = catalogue.clock_fixes(camera.camera_id)?;
        let zones = catalogue.clock_zones(camera.camera_id)?;
        if let Some(fix) = fixes.iter().find(|f| format!("fix-{}", f.id) == name) {
            let (from, until) = around(&fixes, fix.reading);
            let camera_id = camera.camera_id;
            let done = rederive(
                catalogue,
                mode,
                |batch| {
                    batch.drop_fix(fix.id)?;
                    possible(&BodyClock::new(batch.clock_fixes(camera_id)?, zones))?;
                    batch.frames_between(camera_id, from, until)
                },
                watch,
            )?;
            return Ok(Stated {
                words: format!("read {} at {}", fix.reading, fix.true_utc),
                name: name.to_owned(),
                camera,
                done,
            });
        }
        if let Some(zone) = zones.iter().find(|z| format!("zone-{}", z.id) == name) {
            let (from, until) = reach(&fixes, zone);
            let done = rederive(
                catalogue,
                mode,
                |batch| {
                    batch.drop_zone(zone.id)?;
                    batch.frames_between(camera.camera_id, from, until)
                },
                watch,
            )?;
            return Ok(Stated {
                words: format!("set to {}{}", zone.zone, stretch(zone)),
                name: name.to_owned(),
                camera,
                done,
            });
        }
    }
    Err(Failure::new(
        FailureKind::Words,
        format!("nothing stated of a clock is named '{name}'"),
    )
    .hint("framefall clock list shows the names; they are like fix-1 and zone-1"))
}

/// When a stretch holds, in words.
pub fn stretch(zone: &ZoneStated) -> String {
    let part = |word: &str, reading: Option<WallTime>| {
        reading.map_or(String::new(), |reading| format!(" {word} {reading}"))
    };
    part("from", zone.from) + &part("until", zone.until)
}

/// The body, and what its clock showed.
fn showed(catalogue: &Catalogue, order: &FixOrder<'_>) -> Result<(Camera, WallTime), Failure> {
    let said = order
        .camera
        .map(|words| camera_named(catalogue, words))
        .transpose()?;
    let path = match (order.showed, said) {
        (Showed::Reading(text), Some(camera)) => return Ok((camera, reading(text, DayAs::Start)?)),
        (Showed::Reading(_), None) => {
            return Err(Failure::new(
                FailureKind::Words,
                "a typed reading needs the body it is of",
            )
            .hint("framefall clock fix CAMERA --read … --true …"));
        }
        (Showed::Frame(path), said) => {
            let (camera, reading) = of_frame(catalogue, path)?;
            if let Some(said) = said.filter(|said| *said != camera) {
                return Err(Failure::new(
                    FailureKind::Words,
                    format!(
                        "the frame was taken by {}, not by {}",
                        camera.name, said.name
                    ),
                )
                .at_file(path)
                .hint("a frame shows its own body's clock only"));
            }
            (camera, reading)
        }
    };
    Ok(path)
}

fn of_frame(catalogue: &Catalogue, path: &Path) -> Result<(Camera, WallTime), Failure> {
    let refuse = |message: &str| Failure::new(FailureKind::Words, message).at_file(path);
    let read = read_one(path).map_err(|e| {
        refuse("the frame cannot be read")
            .hint("check the path; or type what the clock showed: --read")
            .because(e)
    })?;
    let record = read.ok_or_else(|| refuse("this is no picture"))?.record;
    let reading = record
        .clock_local
        .ok_or_else(|| refuse("the frame does not say what its body's clock showed"))?;
    let camera = camera_of(catalogue, &record)?.ok_or_else(|| {
        refuse("no frame of this body is in the catalogue")
            .hint("framefall ingest DUMP brings the body in")
    })?;
    Ok((camera, reading))
}

/// The stretch of readings that a fix of this reading governs: between its neighbours.
fn around(fixes: &[ClockFix], reading: WallTime) -> (Option<WallTime>, Option<WallTime>) {
    let others = || fixes.iter().map(|f| f.reading).filter(|r| *r != reading);
    (
        others().filter(|r| *r < reading).max(),
        others().filter(|r| *r > reading).min(),
    )
}

/// The stretch of readings that a zone reaches: its own, and that of the fixes that are read by it.
fn reach(fixes: &[ClockFix], zone: &ZoneStated) -> (Option<WallTime>, Option<WallTime>) {
    let (mut from, mut until) = (zone.from, zone.until);
    let within = fixes.iter().filter(|f| {
        zone.from.is_none_or(|from| from <= f.reading)
            && zone.until.is_none_or(|until| f.reading < until)
    });
    for fix in within {
        let (before, after) = around(fixes, fix.reading);
        from = from.zip(before).map(|(a, b)| a.min(b));
        until = until.zip(after).map(|(a, b)| a.max(b));
    }
    (from, until)
}

fn possible(clock: &BodyClock) -> Result<(), Failure> {
    let Some((a, b, gained_s, days)) = clock.impossible() else {
        return Ok(());
    };
    let way = if gained_s > 0.0 { "gained" } else { "lost" };
    Err(Failure::new(
        FailureKind::Words,
        format!(
            "from reading {} to reading {} the clock would have {way} {:.0} s in {days:.1} days, and no clock runs so wrong",
            a.reading, b.reading, gained_s.abs()
        ),
    )
    .hint("check both fixes; if the clock was set anew between them, say so with --reset-before"))
}
