//! Calibration sets in the form for a manifest and a tree's record. Writes nothing.

use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::kept_name;
use crate::framelist::CalibrationNote;
use crate::framelist::ServingNote;
use crate::terms::failure::Failure;
use crate::usecase::handoff::calibration::Calibration;

/// The sets, each with its frames' paths.
pub fn calibration_notes(
    catalogue: &Catalogue,
    found: &Calibration,
) -> Result<Vec<CalibrationNote>, Failure> {
    let mut places = catalogue.places();
    let mut notes = Vec::with_capacity(found.sets.len());
    for set in &found.sets {
        let mut frames = Vec::with_capacity(set.frames.len());
        for frame in &set.frames {
            frames.push(ServingNote {
                path: kept_name(places.file(frame.file_id)?.path().as_os_str()).text,
                exposure_diff_s: frame.nearness.exposure_diff_s,
                temperature_diff_c: frame.nearness.temperature_diff_c,
                days: frame.nearness.days,
            });
        }
        notes.push(CalibrationNote {
            kind: set.kind.word().to_owned(),
            session: set.lights.settings.session,
            settings: set.settings.clone(),
            lights: set.lights.frames.len() as u64,
            temperature_c: set.lights.temperature_c,
            grade: set.grade.word().to_owned(),
            remarks: set.remarks.clone(),
            frames,
        });
    }
    Ok(notes)
}
