//! Finds the body that the photographer means.

use std::collections::HashMap;

use crate::catalogue::clocks::Camera;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::records::CaptureRecord;

/// The prefix of a body's number, used if its own text cannot name it.
const NUMBERED: &str = "body-";

/// The body with that number, `body-3`; otherwise the one with that serial number; otherwise the only body whose make,
/// model and serial number contain these words.
///
/// Refuses: words that fit no body, with the nearest; words that fit several, with the name of each.
pub fn camera_named(catalogue: &Catalogue, words: &str) -> Result<Camera, Failure> {
    let cameras = catalogue.cameras()?;
    match fitting(&cameras, words).as_slice() {
        [one] => Ok((*one).clone()),
        [] => Err(unknown(&cameras, words)),
        several => Err(
            Failure::words(format!("'{words}' fits {} bodies", several.len()))
                .hint(format!("name one of them: {}", names(&cameras, several))),
        ),
    }
}

/// The unique name of each body on the command line: its serial number, otherwise its name; its number if those are
/// shared or contain more than letters, digits, spaces and a few signs.
pub fn body_names(catalogue: &Catalogue) -> Result<HashMap<i64, String>, Failure> {
    let cameras = catalogue.cameras()?;
    Ok(cameras
        .iter()
        .map(|camera| (camera.camera_id, name_of(&cameras, camera)))
        .collect())
}

fn name_of(cameras: &[Camera], camera: &Camera) -> String {
    let is_plain = |text: &str| {
        text.starts_with(|c: char| c.is_ascii_alphanumeric())
            && text
                .chars()
                .all(|c| c.is_alphanumeric() || " -_./:+".contains(c))
    };
    [camera.serial.as_deref(), Some(&camera.name)]
        .into_iter()
        .flatten()
        .find(|text| is_plain(text) && fitting(cameras, text) == [camera])
        .map_or_else(|| format!("{NUMBERED}{}", camera.camera_id), str::to_owned)
}

fn fitting<'c>(cameras: &'c [Camera], words: &str) -> Vec<&'c Camera> {
    let wanted = words.trim().to_lowercase();
    let number = wanted.strip_prefix(NUMBERED).and_then(|n| n.parse().ok());
    if let Some(camera) = cameras.iter().find(|c| Some(c.camera_id) == number) {
        return vec![camera];
    }
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
    fits
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

/// The names of these bodies, with the displayed name if it differs.
fn names(all: &[Camera], some: &[&Camera]) -> String {
    some.iter()
        .map(|camera| match name_of(all, camera) {
            name if camera.name.contains(&name) => format!("'{}'", camera.name),
            name => format!("{name} ({})", camera.name),
        })
        .collect::<Vec<_>>()
        .join(", ")
}

fn unknown(cameras: &[Camera], words: &str) -> Failure {
    let failure = Failure::words(format!("there is no body '{words}' in the catalogue"));
    if cameras.is_empty() {
        return failure.hint("framefall ingest DUMP adds bodies");
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
        format!("the bodies are: {}", names(cameras, &all))
    } else {
        format!("did you mean {}?", names(cameras, &near))
    })
}
