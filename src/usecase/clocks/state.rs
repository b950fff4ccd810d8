//! States what a body's clock showed, or removes such a statement: checks it, and derives the frames concerned again.

use crate::catalogue::clocks::Camera;
use crate::catalogue::handle::Catalogue;
use crate::clock::fix::BodyClock;
use crate::terms::clock::Before;
use crate::terms::clock::ClockFix;
use crate::terms::clock::ZoneStated;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::statement::Act;
use crate::terms::statement::Body;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;
use crate::usecase::clocks::bodies::camera_named;
use crate::usecase::clocks::limits::Limits;
use crate::usecase::clocks::limits::limit_words;
use crate::usecase::clocks::limits::session_frames;
use crate::usecase::clocks::limits::stretch_of;
use crate::usecase::clocks::limits::stretch_words;
use crate::usecase::clocks::shown::FixOrder;
use crate::usecase::clocks::shown::shown;
use crate::usecase::derive::body_clock::clock_of;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::derive::rederive::Rederived;
use crate::usecase::derive::rederive::rederive;
use crate::usecase::statements::frames::frame_set;
use crate::usecase::statements::state::state;
use crate::usecase::typed::zone_named;

/// No digital camera was made before this instant.
///
/// Source: the first digital cameras that dated their files are of about 1988 (from memory).
const FIRST_CAMERAS: &str = "1988-01-01T00:00:00Z";

/// A true time may be this far ahead of this computer's clock, in seconds.
///
/// Source: our choice: a day allows for a computer whose own clock is wrong.
const AHEAD_S: f64 = 86_400.0;

/// What stating something of a clock came to.
#[derive(Clone, Debug)]
pub struct Stated {
    /// The body.
    pub camera: Camera,
    /// The statement's name, `fix-3` or `zone-1`.
    pub name: String,
    /// The statement in words.
    pub words: String,
    /// The reading at which the clock is assumed to have been reset before a fix, unless `--from` gives it.
    pub reset_at: Option<WallTime>,
    /// Its effects.
    pub done: Rederived,
}

type Watch<'w> = &'w mut dyn FnMut(u64, u64);

/// States a clock fix.
///
/// Refuses, and changes nothing: an unknown body, an invalid reading or instant, a second fix of one reading, a true
/// time before cameras were made or in the future, an impossible drift, a contradicting stated zone.
pub fn state_fix(
    catalogue: &mut Catalogue,
    order: &FixOrder<'_>,
    mode: Mode,
    watch: Watch<'_>,
) -> Result<Stated, Failure> {
    let chosen = session_frames(catalogue, order.limits)?;
    let (camera, reading, true_utc) = shown(catalogue, order, chosen.as_ref())?;
    let refuse = |message: String| Failure::words(message);
    if Utc::parse(FIRST_CAMERAS).is_some_and(|first| true_utc < first) {
        return Err(
            refuse(format!("{true_utc} is before any digital camera was made"))
                .hint("--true is the true time, --read what the clock showed: were they swapped?"),
        );
    }
    if true_utc.seconds_since(order.now) > AHEAD_S {
        return Err(refuse(format!("{true_utc} is in the future")).hint("check the date of --true"));
    }
    let (from, until) = stretch_of(order.limits, &camera, chosen.as_ref())?;
    let frames = chosen.map_or_else(Vec::new, |chosen| chosen.frames);
    let set = if frames.is_empty() {
        None
    } else {
        Some(frame_set(&catalogue.batch()?, &frames)?)
    };
    let fix = ClockFix {
        id: 0,
        reading,
        true_utc,
        written_offset_s: None,
        before: order.before,
        from,
        until,
        frames: set,
    };
    if fix.window().is_none() {
        let outside = (from
            .filter(|from| reading < *from)
            .map(|from| ("before --from", from)))
        .or_else(|| {
            until
                .filter(|until| *until <= reading)
                .map(|u| ("not before --until", u))
        });
        if let Some((where_, limit)) = outside {
            return Err(
                refuse(format!("the reading {reading} is {where_} {limit}")).hint(
                    "--from alone means that the clock was reset then, --until alone that it was \
                 reset at the end; both together limit the fix to the time between",
                ),
            );
        }
    }
    let fixes = catalogue.clock_fixes(camera.camera_id)?;
    let is_same = |f: &&ClockFix| {
        f.reading == reading && f.window() == fix.window() && f.frames == fix.frames
    };
    if let Some(there) = fixes.iter().find(is_same) {
        return Err(refuse(format!(
            "fix-{} already states the true time for the reading {reading} of {}: {}",
            there.id, camera.name, there.true_utc
        ))
        .hint(format!(
            "{} removes it",
            CommandLine::new("clock remove").argument(format!("fix-{}", there.id))
        )));
    }
    let act = Act::Fix(Body::from(&camera), fix);
    let changed = change(catalogue, &camera, mode, watch, &act, frames)?;
    let guessed = fix.before == Before::Reset && from.is_none() && until.is_none();
    Ok(Stated {
        words: fix_words(&fix),
        name: format!("fix-{}", changed.id),
        reset_at: guessed.then(|| changed.clock.reset_before(&fix)).flatten(),
        camera,
        done: changed.done,
    })
}

/// A zone as the photographer states it.
#[derive(Clone, Copy, Debug)]
pub struct ZoneOrder<'a> {
    /// The body.
    pub camera: &'a str,
    /// The zone's name, or an offset.
    pub zone: &'a str,
    /// The readings to which it applies.
    pub limits: Limits<'a>,
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
    let chosen = session_frames(catalogue, order.limits)?;
    let (from, until) = stretch_of(order.limits, &camera, chosen.as_ref())?;
    let zone = ZoneStated {
        id: 0,
        zone: zone_named(order.zone)?.name().to_owned(),
        from,
        until,
    };
    let zones = catalogue.clock_zones(camera.camera_id)?;
    if let Some(there) = zones
        .iter()
        .find(|z| (z.from, z.until) == (zone.from, zone.until))
    {
        return Err(Failure::words(format!(
            "zone-{} already states that the clock of {} was set to {} at that time",
            there.id, camera.name, there.zone
        ))
        .hint(format!(
            "{} removes it",
            CommandLine::new("clock remove").argument(format!("zone-{}", there.id))
        )));
    }
    let words = zone_words(&zone);
    let act = Act::Zone(Body::from(&camera), zone);
    let changed = change(catalogue, &camera, mode, watch, &act, Vec::new())?;
    Ok(Stated {
        words,
        name: format!("zone-{}", changed.id),
        reset_at: None,
        camera,
        done: changed.done,
    })
}

/// Removes a fix or a zone, by its name in `clock list`.
///
/// Refuses: to leave statements that contradict each other.
pub fn take_back(
    catalogue: &mut Catalogue,
    name: &str,
    mode: Mode,
    watch: Watch<'_>,
) -> Result<Stated, Failure> {
    for camera in catalogue.cameras()? {
        let fixes = catalogue.clock_fixes(camera.camera_id)?;
        let zones = catalogue.clock_zones(camera.camera_id)?;
        let fix = fixes.iter().find(|f| format!("fix-{}", f.id) == name);
        let zone = zones.iter().find(|z| format!("zone-{}", z.id) == name);
        let body = Body::from(&camera);
        let (words, removal) = match (fix, zone) {
            (Some(fix), _) => (fix_words(fix), Act::FixRemoval(body, fix.key())),
            (None, Some(zone)) => (
                zone_words(zone),
                Act::ZoneRemoval(body, zone.from, zone.until),
            ),
            (None, None) => continue,
        };
        let changed = change(catalogue, &camera, mode, watch, &removal, Vec::new())?;
        return Ok(Stated {
            words,
            name: name.to_owned(),
            reset_at: None,
            camera,
            done: changed.done,
        });
    }
    Err(
        Failure::words(format!("there is no clock statement named '{name}'"))
            .hint("framefall clock list shows the names; they are like fix-1 and zone-1"),
    )
}

/// A changed statement, and its effects.
struct Change {
    /// The number of the fix or zone.
    id: i64,
    /// The body's clock now.
    clock: BodyClock,
    done: Rederived,
}

/// Changes the statements about a body's clock, and derives again the frames whose instants may differ.
fn change(
    catalogue: &mut Catalogue,
    camera: &Camera,
    mode: Mode,
    watch: Watch<'_>,
    act: &Act,
    frames: Vec<i64>,
) -> Result<Change, Failure> {
    let mut id = 0;
    let mut clock = BodyClock::default();
    let done = rederive(
        catalogue,
        mode,
        |batch| {
            let effect = state(batch, act, frames)?;
            id = effect.id;
            clock = clock_of(batch, camera.camera_id)?;
            Ok(effect)
        },
        watch,
    )?;
    Ok(Change { id, clock, done })
}

fn fix_words(fix: &ClockFix) -> String {
    let limits = limit_words(fix.limits());
    format!("read {} at {}{limits}", fix.reading, fix.true_utc)
}

fn zone_words(zone: &ZoneStated) -> String {
    format!(
        "set to {}{}",
        zone.zone,
        stretch_words((zone.from, zone.until))
    )
}
