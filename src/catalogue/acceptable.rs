//! Whether a file may be opened as a catalogue: it must be ours, of a known version, and a regular file. Changes
//! nothing.

use std::path::Path;
use std::path::PathBuf;

use rusqlite::Connection;

use crate::catalogue::failure::failed;
use crate::catalogue::migrations::APPLICATION_ID;
use crate::catalogue::migrations::newest;
use crate::catalogue::names::on_disk;
use crate::catalogue::protected::open_unchanging;
use crate::catalogue::purpose::Kept;
use crate::catalogue::purpose::Purpose;
use crate::catalogue::within::linked_file;
use crate::catalogue::within::refuse_catalogue_in;
use crate::terms::failure::Failure;

/// Refuses a folder, a device, and a missing file if there must be one.
pub(super) fn refuse_what_is_no_file(path: &Path, purpose: Purpose) -> Result<(), Failure> {
    let refused =
        |message: &str, hint: &str| Err(Failure::catalogue(message).at_file(path).hint(hint));
    if !path.exists() && purpose != Purpose::ChangeOrMake {
        return refused(
            "there is no catalogue here yet",
            "run framefall ingest DUMP to create one, or name another with --catalogue",
        );
    }
    if path.is_dir() {
        return refused(
            "the catalogue must be a file; this is a folder",
            "name a file in it: --catalogue FOLDER/catalogue.sqlite",
        );
    }
    // Opening a pipe would block without end.
    if path.exists() && !path.is_file() {
        return refused(
            "the catalogue must be a file; this is a device or a pipe",
            "name another place with --catalogue",
        );
    }
    Ok(())
}

/// Refuses a catalogue inside one of the dumps it knows, before SQLite creates a file beside it. For reading only, the
/// dumps' disks, which may be asleep or disconnected, are not accessed; only names are compared.
pub(super) fn refuse_in_own_dump(path: &Path, purpose: Purpose) -> Result<(), Failure> {
    let roots = || -> rusqlite::Result<Vec<PathBuf>> {
        open_unchanging(path)?
            .prepare("SELECT root_shown, root_bytes FROM written_dump")?
            .query_map([], |row| {
                let nothing = || (String::new(), None);
                Ok(on_disk((row.get(0)?, row.get(1)?), nothing(), nothing()))
            })?
            .collect()
    };
    // An empty file; or one that cannot be read, which the caller will report.
    let mut dumps = roots().unwrap_or_default();
    if purpose == Purpose::Read {
        let file = linked_file(path);
        dumps.retain(|dump| file.starts_with(dump));
    }
    refuse_catalogue_in(path, &dumps)
}

/// Refuses a version that the command cannot use.
pub(super) fn refuse_version(
    path: &Path,
    version: i64,
    kept: Kept,
    purpose: Purpose,
) -> Result<(), Failure> {
    let newest = newest();
    let refused =
        |message: String, hint: &str| Err(Failure::catalogue(message).at_file(path).hint(hint));
    if version == 0 && matches!(purpose, Purpose::Read | Purpose::Try) {
        return refused(
            "this file is empty: there is no catalogue in it yet".to_owned(),
            "run framefall ingest DUMP to create one, or name another with --catalogue",
        );
    }
    if version > newest {
        return refused(
            format!(
                "the catalogue has version {version}; this framefall supports versions up to \
                 {newest}"
            ),
            "use the newer framefall that wrote it",
        );
    }
    if kept == Kept::Alone && version < newest && purpose != Purpose::Try {
        return refused(
            "the catalogue has an earlier version and cannot be upgraded, because nothing can be \
             written there"
                .to_owned(),
            "free some space or allow writing there; or copy it to another disk and name the copy \
             with --catalogue",
        );
    }
    Ok(())
}

/// A number that SQLite stores about a database.
pub(super) fn number(db: &Connection, pragma: &str) -> rusqlite::Result<i64> {
    db.pragma_query_value(None, pragma, |row| row.get(0))
}

/// Checks that a file is ours or empty, and returns its version.
pub(super) fn ours(db: &Connection, path: &Path) -> Result<i64, Failure> {
    let look = || -> rusqlite::Result<(i64, i64, i64)> {
        let tables = db.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
        Ok((
            number(db, "application_id")?,
            number(db, "user_version")?,
            tables,
        ))
    };
    let (id, version, tables) = look().map_err(|e| failed(path, e))?;
    let is_ours = id == i64::from(APPLICATION_ID);
    if is_ours && version < 1 && tables > 0 {
        return Err(Failure::catalogue(format!(
            "this catalogue has tables, but its version number {version} is not valid: it is \
                 damaged, or another program changed it"
        ))
        .at_file(path)
        .hint(
            "restore it from a backup, or name another file with --catalogue; this one was not \
               changed",
        ));
    }
    if is_ours || (id == 0 && version == 0 && tables == 0) {
        return Ok(version);
    }
    Err(
        Failure::catalogue("this is a SQLite file, but not a framefall catalogue")
            .at_file(path)
            .hint("name another file with --catalogue; this one was not changed"),
    )
}
