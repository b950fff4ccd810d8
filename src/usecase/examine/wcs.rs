//! Where a frame's camera pointed, as a header of FITS for other programs. No formula.

use crate::catalogue::handle::Catalogue;
use crate::pointing::camera::Camera;
use crate::pointing::wcs::fitted::camera_near;
use crate::pointing::wcs::written::written;
use crate::sky::horizon::Horizon;
use crate::sky::look::Looker;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::pointing::FittedTo;
use crate::terms::pointing::MeasuredPointing;
use crate::usecase::examine::over::camera_of;
use crate::usecase::examine::over::of_stated;
use crate::usecase::examine::over::over_horizon;

/// Sine of the altitude of 2°: below, air bends as it likes.
const LOWEST: f64 = 0.034_9;

/// The header of a frame's picture: right ascension and declination (ICRS) of every pixel.
///
/// Refuses: a frame whose pointing is not known.
pub fn header_of(catalogue: &Catalogue, frame_id: i64) -> Result<Vec<u8>, Failure> {
    let refuse = |message: &str| Failure::new(FailureKind::Words, message);
    let frame = catalogue
        .frame_to_examine(frame_id)?
        .ok_or_else(|| refuse("the frame is no longer in the catalogue"))?;
    let horizon = frame
        .mid_utc
        .zip(frame.place)
        .and_then(|(at, place)| Looker::new().horizon(at, place));
    let known = match (catalogue.stated_pointing(frame_id)?, &horizon) {
        (Some(stated), Some(horizon)) => {
            of_stated(&stated, catalogue.mid_reading(frame_id)?, horizon)
        }
        (Some(_), None) => None,
        (None, _) => catalogue.measured_pointing(frame_id)?,
    };
    let camera = known.and_then(|known| among_catalogued_stars(&known, horizon.as_ref()));
    let name = frame
        .path
        .file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default();
    let Some(camera) = camera else {
        let pointing = CommandLine::new("pointing");
        return Err(refuse(&format!(
            "it is not known where the camera of {name} pointed"
        ))
        .hint(format!("examine the frame, or state it: {pointing}")));
    };
    written(&camera, &name)
        .ok_or_else(|| refuse("its lens has no polynomial that a FITS header could hold"))
}

/// The camera that draws catalogued places where the frame shows them: aberration and the air are in it as far as a lens can be.
fn among_catalogued_stars(known: &MeasuredPointing, horizon: Option<&Horizon>) -> Option<Camera> {
    let plain = camera_of(known)?;
    let (FittedTo::Horizon, Some(horizon)) = (known.fitted_to, horizon) else {
        return Some(plain);
    };
    let over = over_horizon(known, horizon)?;
    let seen = |pixel: (f64, f64)| {
        let seen = over.unproject(pixel)?;
        (seen[2] > LOWEST).then(|| horizon.icrs_seen_at(seen))
    };
    Some(camera_near(&plain, seen).map_or(plain, |(camera, _)| camera))
}
