//! The readings and frames of a body to which a statement about its clock is limited.

use crate::catalogue::clocks::Camera;
use crate::catalogue::handle::Catalogue;
use crate::clock::steps::Stretch;
use crate::terms::clock::FixLimits;
use crate::terms::clock::SessionFile;
use crate::terms::failure::Failure;
use crate::terms::name_span::NameSpan;
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
    /// The sessions to which it is limited.
    pub sessions: &'a [i64],
    /// Of their frames, those on the dump of this label only.
    pub dump: Option<&'a str>,
    /// Of their frames, those with such file names only: `FIRST..LAST`.
    pub files: Option<&'a str>,
}

/// Frames of sessions.
#[derive(Clone, Debug)]
pub(crate) struct SessionFrames {
    /// The body that took them.
    pub camera: Camera,
    /// From the first reading to just after the last.
    pub stretch: Stretch,
    /// Their numbers.
    pub frames: Vec<i64>,
}

/// The frames of sessions to which a statement is limited; `None` if it is not.
///
/// Refuses: a session that does not exist, or whose body or readings are unknown; sessions of several bodies; files that are not
/// in them.
pub(crate) fn session_frames(
    catalogue: &Catalogue,
    limits: Limits<'_>,
) -> Result<Option<SessionFrames>, Failure> {
    let refuse = |message: String, hint: &str| Failure::words(message).hint(hint);
    let lists = "framefall sessions lists the sessions; --from and --until also limit a statement";
    let span = match limits.files {
        Some(text) => Some(NameSpan::parse(text).ok_or_else(|| {
            refuse(
                format!("'{text}' is not a range of file names"),
                "write the first and the last: IMG_0101.CR2..IMG_0200.CR2",
            )
        })?),
        None => None,
    };
    let mut files: Vec<SessionFile> = Vec::new();
    let mut camera_id = None;
    for session_id in limits.sessions {
        let of = catalogue.session_files(*session_id)?;
        let Some(first) = of.first() else {
            return Err(refuse(
                format!("there is no session {session_id} with clock readings"),
                lists,
            ));
        };
        if *camera_id.get_or_insert(first.camera_id) != first.camera_id {
            return Err(refuse(
                "these sessions were taken by different bodies".to_owned(),
                "state a fix for each body; framefall sessions shows which body took each session",
            ));
        }
        files.extend(of);
    }
    files.retain(|file| {
        limits.dump.is_none_or(|dump| file.dump == dump)
            && span
                .as_ref()
                .is_none_or(|span| span.contains(&file.file_name))
    });
    let Some(camera_id) = camera_id else {
        return Ok(None);
    };
    let readings = || files.iter().map(|file| file.reading);
    let (Some(first), Some(last)) = (readings().min(), readings().max()) else {
        return Err(refuse(
            "no frame of the session is on that dump, or has such a file name".to_owned(),
            "framefall frames 'session = N' --show file,dump lists them",
        ));
    };
    let camera = catalogue
        .cameras()?
        .into_iter()
        .find(|camera| Some(camera.camera_id) == camera_id)
        .ok_or_else(|| refuse("the body of that session is unknown".to_owned(), lists))?;
    // The next frame of a clock that writes whole seconds is a second later at the earliest.
    let step_ms = if last.fraction_digits() == 0 {
        1_000
    } else {
        1
    };
    Ok(Some(SessionFrames {
        camera,
        stretch: (Some(first), last.plus_ms(step_ms)),
        frames: files.iter().map(|file| file.frame_id).collect(),
    }))
}

/// The readings to which a statement about a body's clock is limited.
///
/// Refuses: an end that is not after the start, a session of another body.
pub(crate) fn stretch_of(
    limits: Limits<'_>,
    camera: &Camera,
    chosen: Option<&SessionFrames>,
) -> Result<Stretch, Failure> {
    let refuse = |message: String| Failure::words(message);
    if let Some(chosen) = chosen {
        if chosen.camera.camera_id != camera.camera_id {
            return Err(refuse(format!(
                "session {} was taken by {}, not by {}",
                limits.sessions.first().copied().unwrap_or_default(),
                chosen.camera.name,
                camera.name
            ))
            .hint("framefall sessions shows which body took each session"));
        }
        return Ok(chosen.stretch);
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

/// Limits of a fix in words: ` for certain frames from … until …`.
pub(crate) fn limit_words((from, until, frames): FixLimits) -> String {
    let only = frames.map_or("", |_| " for certain frames");
    format!("{only}{}", stretch_words((from, until)))
}
