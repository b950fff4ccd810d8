//! The dumps that are at their places, with their devices and the lists beside them; and what was found in files before.

use std::collections::HashMap;
use std::path::Path;

use crate::capture::disk::Disk;
use crate::capture::volume::volume_of;
use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::dumps::DumpPlace;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::below_of;
use crate::catalogue::names::kept_name;
use crate::catalogue::proofs::DeviceRow;
use crate::terms::content::Compared;
use crate::terms::content::ReadWay;
use crate::terms::failure::Failure;
use crate::usecase::copy::lists::Listed;
use crate::usecase::dumps::manage::dump_labelled;
use crate::usecase::dumps::presence::DumpPresence;
use crate::usecase::dumps::presence::dump_presence;

/// A dump that is here.
pub(super) struct Here {
    pub(super) dump: DumpPlace,
    /// How its files are read back: measured, through the cache with pages dropped is a quarter faster than past it.
    pub(super) way: ReadWay,
    pub(super) device_id: i64,
    pub(super) listed: Listed,
}

/// The dumps that are at their places, with their devices and the lists beside them.
pub(super) fn dumps_here(
    catalogue: &mut Catalogue,
    only: &[String],
    offline: &mut Vec<String>,
) -> Result<HashMap<i64, Here>, Failure> {
    let dumps = if only.is_empty() {
        catalogue.dumps()?
    } else {
        let labelled = only.iter().map(|label| dump_labelled(catalogue, label));
        labelled.collect::<Result<_, _>>()?
    };
    let mut here = HashMap::new();
    for dump in dumps {
        let disk = match dump_presence(catalogue, &dump)? {
            DumpPresence::Here => Disk::of(&dump.root).ok(),
            _ => None,
        };
        let Some(disk) = disk else {
            offline.push(dump.label);
            continue;
        };
        let device = device_of(&dump.root, &disk);
        let batch = catalogue.batch()?;
        let device_id = batch.ensure_device(&device)?;
        batch.commit()?;
        let listed = Listed::beside(&dump.root);
        let way = ReadWay::Dropped.if_device(disk.is_device());
        here.insert(
            dump.dump_id,
            Here {
                dump,
                way,
                device_id,
                listed,
            },
        );
    }
    Ok(here)
}

/// The device that a folder is on.
pub(super) fn device_of(root: &Path, disk: &Disk) -> DeviceRow {
    DeviceRow {
        number: i64::from_ne_bytes(disk.device.to_ne_bytes()),
        volume: volume_of(root),
    }
}

/// Findings of earlier checks that still hold: files that differed from their hashes, or could not be read.
pub fn bad_contents(catalogue: &Catalogue) -> Result<Vec<AuditRow>, Failure> {
    let mut found = Vec::new();
    for row in catalogue.bad_contents()? {
        let dump = catalogue.dump_place(row.dump_id)?;
        let (folder, file) = row.path.rsplit_once('/').unwrap_or(("", &row.path));
        let at = row
            .checked
            .map_or_else(String::new, |at| format!(" on {:.10}", at.to_string()));
        let (code, saw) = match row.result {
            Some(Compared::Unreadable) => ("read-error", format!("it could not be read{at}")),
            _ => (
                "contents-differ",
                format!("its contents differed from their hash when it was read{at}"),
            ),
        };
        found.push(AuditRow {
            code: code.to_owned(),
            path: kept_name(dump.place().join(below_of(&row.path)).as_os_str()).text,
            dump: dump.label,
            folder: folder.to_owned(),
            file: file.to_owned(),
            saw,
            did: "kept the hash of before".to_owned(),
            ..AuditRow::default()
        });
    }
    Ok(found)
}
