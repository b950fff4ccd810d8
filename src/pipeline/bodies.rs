//! Which body the photographer means.

use crate::catalogue::clocks::Camera;
use crate::catalogue::open::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::records::CaptureRecord;

/// The body of that serial number; else the one body whose make, model and serial number hold these words.
///
/// Refuses: words that fit no body, with the nearest; words that fit several, with their names.
pub fn camera_named(catalogue: &Catalogue, words: &str) -> Result<Camera, Failure> {
    let cameras = catalogue.cameras()?;
    let wanted = words.trim().to_lowercase();
    let same = |text: &Option<String>| {
        text.as_deref()
            .is_some_and(|t| t.trim().to_lowercase() == wanted)
    };
    let mut fits: Vec<&Camera> = cameras.iter().filter(|c| same(&c.serial)).collect();
    if fits.is_empty() {
        fits = cameras
            .iter()
            .filter(|c| c.name.to_lowercase() == wanted)
            .collect();
    }
    if fits.is_empty() && !wanted.is_empty() {
        fits = cameras
            .iter()
            .filter(|c| whole(c).to_lowercase().contains(&wanted))
            .collect();
    }
    match fits.as_slice() {
        [one] => Ok((*one).clone()),
        [] => Err(unknown(&cameras, words)),
        several => Err(Failure::new(
            FailureKind::Words,
            format!("'{words}' fits {} bodies", several.len()),
        )
        .hint(format!("name one by its serial number: {}", names(several)))),
    }
}

/// The body that wrote a record.
pub fn camera_of(catalogue: &Catalogue, record: &CaptureRecord) -> Result<Option<Camera>, Failure> {
    Ok(catalogue
        .cameras()?
        .into_iter()
        .find(|c| (&c.make, &c.model, &c.serial) == (&record.make, &record.model, &record.serial)))
}

fn whole(camera: &Camera) -> String {
    [&camera.make, &camera.model, &camera.serial]
        .into_iter()
        .flatten()
        .map(String::as_str)
        .collect::<Vec<_>>()
        .join(" ")
}

fn names(cameras: &[&Camera]) -> String {
    cameras
        .iter()
        .map(|c| format!("'{}'", c.name))
        .collect::<Vec<_>>()
        .join(", ")
}

fn unknown(cameras: &[Camera], words: &str) -> Failure {
    let failure = Failure::new(
        FailureKind::Words,
        format!("there is no body '{words}' in the catalogue"),
    );
    if cameras.is_empty() {
        return failure.hint("framefall ingest DUMP brings the bodies in");
    }
    let wanted = words.to_lowercase();
    let likeness = |camera: &Camera| {
        [&camera.make, &camera.model, &camera.serial]
            .into_iter()
            .flatten()
            .chain([&camera.name])
            .map(|text| strsim::jaro_winkler(&text.to_lowercase(), &wanted))
            .fold(0.0, f64::max)
    };
    let mut near: Vec<&Camera> = cameras.iter().filter(|c| likeness(c) > 0.8).collect();
    near.sort_by(|a, b| likeness(b).total_cmp(&likeness(a)));
    near.truncate(3);
    failure.hint(if near.is_empty() {
        let all: Vec<&Camera> = cameras.iter().collect();
        format!("the bodies are: {}", names(&all))
    } else {
        format!("did you mean {}?", names(&near))
    })
}
