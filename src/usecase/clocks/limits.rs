//! The readings of a body to which a statement about its clock is limited.

use crate::catalogue::clocks::Camera;
use crate::catalogue::handle::Catalogue;
use crate::clock::steps::Stretch;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::time::WallTime;
use crate::usecase::typed::DayAs;
use crate::usecase::typed::reading;

/// Limits of a statement, as typed.
#[derive(Clone, Copy, Debug, Default)]
pub struct Limits<'a> {
    /// The first day, or reading of the body's clock.
    pub from: Option<&'a str>,
    /// The last day, or the first reading after.
    pub until: Option<&'a str>,
    /// The session to which it is limited.
    pub session: Option<i64>,
}

/// The readings of a session's frames.
#[derive(Clone, Debug)]
pub(crate) struct SessionReadings {
    /// The body that took them.
    pub camera: Camera,
    /// From the first to just after the last.
    pub stretch: Stretch,
}

/// The readings of a session.
///
/// Refuses: a session that does not exist, or whose body or readings are unknown.
pub(crate) fn session_readings(
    catalogue: &Catalogue,
    session_id: i64,
) -> Result<SessionReadings, Failure> {
    let refuse = |message: String| {
        Failure::new(FailureKind::Words, message).hint(
            "framefall sessions lists the sessions; --from and --until also limit a statement",
        )
    };
    let (camera_id, first, last) = catalogue.session_readings(session_id)?.ok_or_else(|| {
        refuse(format!(
            "there is no session {session_id} with clock readings"
        ))
    })?;
    let camera = catalogue
        .cameras()?
        .into_iter()
        .find(|camera| Some(camera.camera_id) == camera_id)
        .ok_or_else(|| refuse(format!("the body of session {session_id} is unknown")))?;
    // The next frame of a clock that writes whole seconds is a second later at the earliest.
    let step_ms = if last.fraction_digits() == 0 {
        1_000
    } else {
        1
    };
    Ok(SessionReadings {
        camera,
        stretch: (Some(first), last.plus_ms(step_ms)),
    })
}

/// The readings to which a statement about a body's clock is limited.
///
/// Refuses: an end that is not after the start, a session of another body.
pub(crate) fn stretch_of(
    limits: Limits<'_>,
    camera: &Camera,
    session: Option<SessionReadings>,
) -> Result<Stretch, Failure> {
    let refuse = |message: String| Failure::new(FailureKind::Words, message);
    if let Some(session) = session {
        if session.camera.camera_id != camera.camera_id {
            return Err(refuse(format!(
                "session {} was taken by {}, not by {}",
                limits.session.unwrap_or_default(),
                session.camera.name,
                camera.name
            ))
            .hint("framefall sessions shows which body took each session"));
        }
        return Ok(session.stretch);
    }
    let parsed = |text: Option<&str>, day| text.map(|text| reading(text, day)).transpose();
    let (from, until) = (
        parsed(limits.from, DayAs::Start)?,
        parsed(limits.until, DayAs::End)?,
    );
    if let (Some(from), Some(until)) = (from, until)
        && until <= from
    {
        return Err(refuse(format!(
            "the start must be before the end: {from} is not before {until}"
        ))
        .hint("check --from and --until; they are readings of the body's clock"));
    }
    Ok((from, until))
}

/// Limits in words: ` from … until …`.
pub fn stretch_words((from, until): Stretch) -> String {
    let part = |word: &str, reading: Option<WallTime>| {
        reading.map_or(String::new(), |reading| format!(" {word} {reading}"))
    };
    part("from", from) + &part("until", until)
}
