//! Removes files that could not be copied from a plan and from its calibration sets. Reads no file.

use std::collections::HashMap;

use crate::calibration::nearness::Grade;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::places::Places;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::usecase::handoff::HandOrder;
use crate::usecase::handoff::calibration::Calibration;
use crate::usecase::handoff::calibration::Lies;
use crate::usecase::handoff::choose::LEFT;
use crate::usecase::handoff::entry::Why;
use crate::usecase::handoff::entry::refused;
use crate::usecase::handoff::plan::LeftOut;
use crate::usecase::handoff::plan::Plan;
use crate::usecase::handoff::plan::is_raw;
use crate::usecase::handoff::reference::Reference;
use crate::usecase::handoff::reference::nearest_the_middle;

/// What was found about files, by their numbers: the code of a finding, and the details.
pub type Unreadable = HashMap<i64, (&'static str, String)>;

/// Leaves these files out, and chooses the reference frame of each list again.
///
/// Refuses: if one of them is a reference frame that the photographer named.
pub fn leave_out_unreadable(
    catalogue: &Catalogue,
    order: &HandOrder<'_>,
    files: &Unreadable,
    plan: &mut Plan,
    found: &mut Calibration,
) -> Result<(), Failure> {
    let mut places = catalogue.places();
    let mut kept = Vec::with_capacity(plan.entries.len());
    for mut part in std::mem::take(&mut plan.parts) {
        let began = kept.len();
        for entry in &plan.entries[part.entries.clone()] {
            let Some((code, saw)) = files.get(&entry.file_id) else {
                kept.push(*entry);
                continue;
            };
            if !is_raw(&places.file(entry.file_id)?) && !entry.is_damaged {
                plan.not_raw = plan.not_raw.saturating_sub(1);
            }
            plan.left_out.push(LeftOut {
                frame_id: entry.frame_id,
                file_id: entry.file_id,
                why: Why::Odd(Finding::new(code, saw.clone(), LEFT)),
            });
        }
        if began < kept.len() {
            part.entries = began..kept.len();
            plan.parts.push(part);
        }
    }
    plan.entries = kept;
    let listed = |id| plan.entries.iter().any(|entry| entry.frame_id == id);
    for part in &mut plan.parts {
        if order.reference.is_some() {
            if let Some(named) = part
                .reference
                .as_ref()
                .filter(|one| !listed(one.entry.frame_id))
            {
                return Err(refused(format!(
                    "the reference frame cannot be listed: {}",
                    named.path
                ))
                .hint("restore its file, or name another frame with --reference"));
            }
            continue;
        }
        part.reference = match nearest_the_middle(&plan.entries[part.entries.clone()]) {
            Some(entry) => Reference::of(catalogue, order.paths, &mut places, &entry)?,
            None => None,
        };
    }
    leave_out_serving(&mut places, files, found)
}

fn leave_out_serving(
    places: &mut Places<'_>,
    files: &Unreadable,
    found: &mut Calibration,
) -> Result<(), Failure> {
    let mut out = std::collections::BTreeSet::new();
    for set in &mut found.sets {
        let before = set.frames.len();
        set.frames.retain(|frame| {
            let stays = !files.contains_key(&frame.file_id);
            if !stays {
                out.insert(frame.file_id);
            }
            stays
        });
        match before - set.frames.len() {
            0 => {}
            gone => {
                set.remarks.push(format!("{gone} more could not be read"));
                if set.frames.is_empty() {
                    set.grade = Grade::None;
                }
            }
        }
    }
    for file_id in out {
        let label = places.file(file_id)?.folder.dump.label.clone();
        *found.passed_over.entry((label, Lies::There)).or_default() += 1;
    }
    Ok(())
}
