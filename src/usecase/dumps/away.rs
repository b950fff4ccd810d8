//! Describes what is missing: a file; or a whole dump, with the disk to connect instead of a line for each of its
//! files. The only place for these words, for lists, audits and reports alike.

use std::path::Path;

use crate::capture::presence::Presence;
use crate::capture::presence::RETIMED;
use crate::capture::presence::look;
use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::dumps::DumpPlace;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::kept_name;
use crate::catalogue::night::NightScope;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::plural::counted;
use crate::terms::volume::Volume;
use crate::usecase::dumps::presence::DumpPresence;
use crate::usecase::dumps::presence::dump_presence;

/// How a file differs from when it was read: the code of the finding, and what was found.
pub(crate) fn oddness(path: &Path, bytes: u64, modified_ns: i64) -> Option<(&'static str, String)> {
    match look(path, bytes, modified_ns) {
        Presence::Unchanged => None,
        Presence::Missing => Some(("missing", "this file is missing".to_owned())),
        Presence::Retimed => Some(("changed", RETIMED.to_owned())),
        Presence::Changed(saw) => Some(("changed", saw)),
        Presence::Fault(error) => Some(("read-error", error.to_string())),
    }
}

/// Whether a dump is connected.
pub fn is_there(catalogue: &Catalogue, dump: &DumpPlace) -> Result<bool, Failure> {
    Ok(dump_presence(catalogue, dump)? == DumpPresence::Here)
}

/// The finding for an offline dump: its last location, how many frames it has, its disk, when it was last seen.
pub fn away(
    catalogue: &Catalogue,
    dump: &DumpPlace,
    found: &DumpPresence,
) -> Result<Finding, Failure> {
    let at = dump.place().display();
    let saw = match found {
        DumpPresence::Shut(error) => format!("{at} cannot be read ({error})"),
        DumpPresence::Empty => format!("the folder {at} is empty"),
        DumpPresence::Strange(1) => format!("its only file is not in {at}; {at} has other files"),
        DumpPresence::Strange(looked) => {
            format!("none of {looked} files checked is in {at}; it has other files")
        }
        DumpPresence::Taken => format!("another dump is now at {at}"),
        DumpPresence::Gone | DumpPresence::Here => format!("{at} does not exist"),
    };
    let frames = counted(catalogue.dump_holds(dump.dump_id)?.frames, "frame");
    Ok(Finding::new(
        "dump-away",
        format!(
            "{saw}; dump {} of {frames}, last seen {}{}",
            dump.label,
            dump.last_seen_utc.get(..10).unwrap_or(&dump.last_seen_utc),
            on_the_disk(&dump.volume)
        ),
        "did not check its other files",
    ))
}

/// The disk: its name, its number.
fn on_the_disk(volume: &Volume) -> String {
    match (&volume.label, &volume.id) {
        (Some(label), Some(id)) => format!(" on the disk {label} (number {id})"),
        (Some(label), None) => format!(" on the disk {label}"),
        (None, Some(id)) => format!(" on the disk with number {id}"),
        (None, None) => String::new(),
    }
}

/// The offline dumps of a night or a session: the label of each, and its finding.
pub fn away_from(
    catalogue: &Catalogue,
    scope: &NightScope,
) -> Result<Vec<(String, Finding)>, Failure> {
    let mut told = Vec::new();
    for dump in catalogue.night_dumps(scope)? {
        let found = dump_presence(catalogue, &dump)?;
        if found != DumpPresence::Here {
            let finding = away(catalogue, &dump, &found)?;
            told.push((dump.label, finding));
        }
    }
    Ok(told)
}

/// Checks every file of the catalogue on the disk and reports those that are missing or have changed; an offline dump
/// is reported once.
pub fn look_on_disk(
    catalogue: &Catalogue,
    mut each: impl FnMut(AuditRow) -> Result<(), Failure>,
) -> Result<(), Failure> {
    for dump in catalogue.dumps()? {
        let found = dump_presence(catalogue, &dump)?;
        if found == DumpPresence::Here {
            catalogue.files_as_read(dump.dump_id, |file| {
                match oddness(&file.path, file.bytes, file.modified_ns) {
                    Some((code, saw)) => each(AuditRow {
                        code: code.to_owned(),
                        saw,
                        ..file.row
                    }),
                    None => Ok(()),
                }
            })?;
            continue;
        }
        if catalogue.dump_holds(dump.dump_id)?.files == 0 {
            // Nothing is missed.
            continue;
        }
        let finding = away(catalogue, &dump, &found)?;
        let moved = CommandLine::new("dump move").argument(&dump.label);
        each(AuditRow {
            code: finding.code.to_owned(),
            path: kept_name(dump.place().as_os_str()).text,
            saw: finding.saw,
            did: finding.did,
            remedy: Some(format!(
                "plug in or mount its disk; if it was moved: {}",
                moved.blank("NEWROOT")
            )),
            dump: dump.label,
            ..AuditRow::default()
        })?;
    }
    Ok(())
}
