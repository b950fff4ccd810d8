//! Pointing that the photographer states, from a solution of another program. It goes before what was measured.

use crate::catalogue::batch::Batch;
use crate::catalogue::handle::Catalogue;
use crate::pointing::wcs::cards::headers;
use crate::pointing::wcs::fitted::FromWcs;
use crate::pointing::wcs::fitted::camera_of;
use crate::pointing::wcs::header::wcs_of;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::plural::counted;
use crate::terms::stated_pointing::Mount;
use crate::terms::stated_pointing::StatedPointing;
use crate::terms::statement::Act;
use crate::usecase::derive::rederive::Concerned;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::derive::rederive::Rederived;
use crate::usecase::derive::rederive::rederive;
use crate::usecase::statements::state::state;

/// The result of stating a pointing, or of removing one.
#[derive(Clone, Debug, PartialEq)]
pub struct PointingStated {
    /// What was stated; `None`: the statement was removed.
    pub stated: Option<StatedPointing>,
    /// What was derived again.
    pub done: Rederived,
}

/// States where the camera of some frames pointed, by a header that solves one of them: of the frames of its session.
///
/// Takes: the bytes of the file; which frame was solved; what carried the camera to the others.
/// Refuses: no frames; a frame that is not one of them, or several where none is named; a header that cannot be read, or is not of
/// this frame's picture; a frame whose picture has no known size; on a tripod, a frame whose clock is not known.
pub fn state_pointing(
    catalogue: &mut Catalogue,
    frames: &[i64],
    solved: Option<i64>,
    bytes: &[u8],
    mount: Mount,
    mode: Mode,
) -> Result<PointingStated, Failure> {
    let solved = match (solved, frames) {
        (_, []) => return Err(refuse("no frames".to_owned())),
        (Some(solved), _) if frames.contains(&solved) => solved,
        (Some(_), _) => {
            return Err(
                refuse("the solved frame is not one of these frames".to_owned())
                    .hint("name the session of the frame that was solved"),
            );
        }
        (None, [only]) => *only,
        (None, several) => {
            return Err(refuse(format!(
                "these are {}, and the file does not say which of them it solves",
                counted(several.len() as u64, "frame")
            ))
            .hint("name it: --frame N6A_0442.DNG"));
        }
    };
    // The others are of the same camera, lens and mount: those of its session.
    let session = session_of(catalogue, solved)?;
    let mut of_session = Vec::new();
    for frame_id in frames {
        if *frame_id == solved
            || (session.is_some() && session_of(catalogue, *frame_id)? == session)
        {
            of_session.push(*frame_id);
        }
    }
    let frames = of_session.as_slice();
    let size = catalogue
        .frame_to_examine(solved)?
        .and_then(|frame| frame.width_px.zip(frame.height_px))
        .map(|(width, height)| (f64::from(width), f64::from(height)))
        .ok_or_else(|| {
            refuse("the size of the solved frame's picture is not known".to_owned())
                .hint("ingest its dump again, so that its file is read")
        })?;
    let FromWcs {
        camera,
        residual_px,
        ..
    } = headers(bytes)
        .and_then(|headers| wcs_of(&headers))
        .and_then(|wcs| camera_of(&wcs, size))
        .map_err(|why| {
            refuse(format!("this solution cannot be taken: {why}")).hint(
                "save it as a FITS header with TAN, TAN-SIP or ZPN, for the picture as the camera stored it",
            )
        })?;
    let solved_local = match mount {
        Mount::Tracked => None,
        Mount::Tripod if frames.len() == 1 => None,
        Mount::Tripod => Some(catalogue.mid_reading(solved)?.ok_or_else(|| {
            refuse("the solved frame has no clock, so the others cannot follow from it".to_owned())
                .hint("state it for this frame alone")
        })?),
    };
    let lens = &camera.lens;
    let stated = StatedPointing {
        mount,
        solved_local,
        law: lens.law.word().to_owned(),
        f_px: lens.f_px,
        k1: lens.k1,
        k2: lens.k2,
        centre_px: (lens.cx, lens.cy),
        size_px: (lens.width, lens.height),
        right: camera.rows[0],
        forward: camera.rows[2],
        residual_px,
    }
    .rounded();
    put(catalogue, frames, Some(stated), mode)
}

fn session_of(catalogue: &Catalogue, frame_id: i64) -> Result<Option<i64>, Failure> {
    let frame = catalogue.frame_to_examine(frame_id)?;
    Ok(frame.and_then(|frame| frame.session_id))
}

/// Removes what is stated of where the camera of some frames pointed.
pub fn remove_pointing(
    catalogue: &mut Catalogue,
    frames: &[i64],
    mode: Mode,
) -> Result<PointingStated, Failure> {
    put(catalogue, frames, None, mode)
}

fn put(
    catalogue: &mut Catalogue,
    frames: &[i64],
    stated: Option<StatedPointing>,
    mode: Mode,
) -> Result<PointingStated, Failure> {
    let act = Act::Pointing(stated.clone());
    let note = |batch: &Batch<'_>| {
        let mut others = Vec::new();
        for frame_id in frames {
            if batch.stated_pointing(*frame_id)? != stated {
                others.push(*frame_id);
            }
        }
        if others.is_empty() {
            return Ok(Concerned::default());
        }
        state(batch, &act, others)
    };
    let done = rederive(catalogue, mode, note, &mut |_, _| {})?;
    Ok(PointingStated { stated, done })
}

fn refuse(message: String) -> Failure {
    Failure::new(FailureKind::Words, message)
}
