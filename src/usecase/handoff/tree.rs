//! Plan and calibration sets -> the links of a folder tree. Accesses no disk, makes no link.

use std::collections::HashMap;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::kept_name;
use crate::catalogue::places::FilePlace;
use crate::linktree::layout::Place;
use crate::linktree::layout::lay_out;
use crate::terms::failure::Failure;
use crate::terms::linktree::TreeLink;
use crate::usecase::handoff::calibration::Calibration;
use crate::usecase::handoff::calibration::Whose;
use crate::usecase::handoff::plan::Plan;

/// The links of a tree: the frames of the plan by session and kind, and in each session's folder its calibration
/// frames.
///
/// If a session's lights need several sets of one kind, each has its own folder, named after the lights' settings.
/// Frames of the list that are of a requested calibration kind go into a folder of their own, `… as listed`.
pub fn links(
    catalogue: &Catalogue,
    plan: &Plan,
    found: &Calibration,
) -> Result<Vec<TreeLink>, Failure> {
    let mut places = catalogue.places();
    let mut wishes = Vec::with_capacity(plan.entries.len());
    let mut files: Vec<FilePlace> = Vec::with_capacity(plan.entries.len());
    let mut nights: HashMap<Option<i64>, Option<String>> = HashMap::new();
    let mut want = |place: Place, file: FilePlace| {
        wishes.push((place, kept_name(&file.name).text));
        files.push(file);
    };
    for entry in &plan.entries {
        let file = places.file(entry.file_id)?;
        let frame = catalogue.handed_frame(entry.frame_id)?;
        if entry.is_light {
            nights.insert(frame.session, frame.night.clone());
        }
        let words = match frame.kind {
            Some(kind) if found.kinds.contains(&kind) => format!("{} as listed", kind.word()),
            Some(kind) => kind.word().to_owned(),
            None => "unknown".to_owned(),
        };
        let place = Place {
            night: frame.night,
            session: frame.session,
            words,
            which: 0,
        };
        want(place, file);
    }
    for (which, set) in found.sets.iter().enumerate() {
        let session = set.lights.settings.session;
        let alone = found.sets_of(set.kind, Whose::OfSession(session)).count() == 1;
        let words = if alone {
            set.kind.word().to_owned()
        } else {
            let settings = set.settings.replace("°C", "C").replace(", ", " ");
            format!("{} {settings}", set.kind.word())
        };
        for frame in &set.frames {
            let place = Place {
                night: nights.get(&session).cloned().flatten(),
                session,
                words: words.clone(),
                which: which + 1,
            };
            want(place, places.file(frame.file_id)?);
        }
    }
    let links = lay_out(&wishes).into_iter().zip(files);
    Ok(links
        .map(|(below, file)| TreeLink {
            file_id: file.file_id,
            below,
            source: file.path(),
            bytes: file.bytes,
            modified_ns: file.modified_ns,
        })
        .collect())
}
