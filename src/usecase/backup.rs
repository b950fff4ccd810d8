//! A backup of the catalogue: a checked copy that appears complete or not at all; and whether the last one is too old.

use std::path::Path;

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::backup::Copied;
use crate::catalogue::handle::Catalogue;
use crate::output::atomic_file::AtomicFile;
use crate::output::atomic_file::Overwrite;
use crate::output::outside_dumps::refuse_in_dump;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::plural::counted;
use crate::terms::time::Utc;

/// A catalogue that was not backed up for this many days needs a backup.
///
/// Source: our choice: a quarter of a year, about one major shower to the next.
const TOO_OLD_DAYS: f64 = 90.0;

const DAY_S: f64 = 86_400.0;

/// A backup that was made.
#[derive(Debug)]
pub struct BackedUp {
    /// Its contents.
    pub copied: Copied,
    /// Why the catalogue could not record the time; then the audit does not know of this backup.
    pub not_noted: Option<Failure>,
}

/// Copies the catalogue to a file, checks the copy, and renames it to its target. Others may read and write meanwhile.
///
/// Refuses: a target in a dump, the catalogue itself, an existing file that may not be replaced, one that is not a
/// catalogue.
pub fn back_up(
    catalogue: &mut Catalogue,
    to: &Path,
    overwrite: Overwrite,
    now: Utc,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<BackedUp, Failure> {
    refuse_in_dump(catalogue, to)?;
    let file = AtomicFile::begin_backup(to, overwrite, catalogue.path())?;
    let copied = catalogue
        .copy_to(file.part(), now, watch)
        .map_err(|failure| failure.at_file(to))?;
    file.keep()?;
    Ok(BackedUp {
        copied,
        not_noted: catalogue.note_backup(now).err(),
    })
}

/// The finding for a catalogue whose last backup, or otherwise whose first ingest, was too long ago.
pub fn backup_finding(catalogue: &Catalogue, now: Utc) -> Result<Option<AuditRow>, Failure> {
    let last = catalogue.last_backup()?;
    let Some(since) = last.or(catalogue.begun()?) else {
        return Ok(None);
    };
    let days = (now.seconds_since(since) / DAY_S).floor();
    if days < TOO_OLD_DAYS {
        return Ok(None);
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // at least ninety
    let age = counted(days as u64, "day");
    let date = &since.to_string()[..10];
    let saw = match last {
        Some(_) => format!("the last backup was made {age} ago, on {date}"),
        None => format!("no backup was made since the first ingest, {age} ago, on {date}"),
    };
    let finding = Finding::new("no-backup", saw, "nothing");
    Ok(Some(AuditRow::of_catalogue(catalogue.path(), finding)))
}
