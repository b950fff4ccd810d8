//! A dump that is not there, in words: which disk to fetch, instead of a line for each of its files. The one place that says
//! it, for lists, audits and reports alike.

use crate::capture::presence::Root;
use crate::capture::presence::look_at_root;
use crate::catalogue::audit::AuditRow;
use crate::catalogue::dumps::DumpPlace;
use crate::catalogue::night::NightScope;
use crate::catalogue::open::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::volume::Volume;

/// Whether a dump is there.
pub fn is_there(dump: &DumpPlace) -> bool {
    matches!(look_at_root(&dump.root), Root::Filled)
}

/// Says that a dump is not there: where it lay, how many frames are on it, on which disk, when it was last seen.
pub fn away(catalogue: &Catalogue, dump: &DumpPlace) -> Result<Finding, Failure> {
    let at = dump.root.display();
    let saw = match look_at_root(&dump.root) {
        Root::Shut(error) => format!("{at} cannot be looked into ({error})"),
        Root::Empty => format!("the folder {at} is empty"),
        Root::Gone | Root::Filled => format!("nothing at {at}"),
    };
    let frames = match catalogue.dump_holds(dump.dump_id)?.frames {
        1 => "1 frame".to_owned(),
        frames => format!("{frames} frames"),
    };
    Ok(Finding::new(
        "dump-away",
        format!(
            "{saw}; dump {} of {frames}, last seen {}{}",
            dump.label,
            dump.last_seen_utc.get(..10).unwrap_or(&dump.last_seen_utc),
            on_the_disk(&dump.volume)
        ),
        "looked for none of its files",
    ))
}

/// Which disk it was: its name, its number.
fn on_the_disk(volume: &Volume) -> String {
    match (&volume.label, &volume.id) {
        (Some(label), Some(id)) => format!(" on the disk {label} (number {id})"),
        (Some(label), None) => format!(" on the disk {label}"),
        (None, Some(id)) => format!(" on the disk of number {id}"),
        (None, None) => String::new(),
    }
}

/// The dumps of a night or a session that are not there: the label of each, and what is said of it.
pub fn away_from(
    catalogue: &Catalogue,
    scope: &NightScope,
) -> Result<Vec<(String, Finding)>, Failure> {
    catalogue
        .night_dumps(scope)?
        .into_iter()
        .filter(|dump| !is_there(dump))
        .map(|dump| {
            let finding = away(catalogue, &dump)?;
            Ok((dump.label, finding))
        })
        .collect()
}

/// Looks on the disk for every file of the catalogue and tells of those that are missing or have changed; of a dump that is
/// not there once.
pub fn look_on_disk(
    catalogue: &Catalogue,
    mut each: impl FnMut(AuditRow) -> Result<(), Failure>,
) -> Result<(), Failure> {
    for dump in catalogue.dumps()? {
        if is_there(&dump) {
            catalogue.look_on_disk(dump.dump_id, &mut each)?;
            continue;
        }
        if catalogue.dump_holds(dump.dump_id)?.files == 0 {
            // Nothing is missed.
            continue;
        }
        let finding = away(catalogue, &dump)?;
        each(AuditRow {
            code: finding.code.to_owned(),
            dump: dump.label,
            folder: String::new(),
            file: String::new(),
            path: dump.root.to_string_lossy().into_owned(),
            saw: finding.saw,
            did: finding.did,
        })?;
    }
    Ok(())
}
