//! Upgrades a catalogue of an earlier version: first a copy beside it, then every migration in one transaction. If it
//! is interrupted, the file is the old catalogue or the new one.

use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::path::PathBuf;

use rusqlite::Connection;
use rusqlite::OpenFlags;
use rusqlite::TransactionBehavior;
use rusqlite::backup::Backup;
use rusqlite::backup::StepResult;

use crate::catalogue::failure::failed;
use crate::catalogue::files::as_file;
use crate::catalogue::files::beside;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::lock::PATIENCE;
use crate::catalogue::make::bring_folder_to_disk;
use crate::catalogue::migrations::APPLICATION_ID;
use crate::catalogue::migrations::MIGRATIONS;
use crate::catalogue::migrations::newest;
use crate::catalogue::take_over::take_over;
use crate::catalogue::words;
use crate::terms::failure::Failure;

/// The migration that adds the log of statements.
const STATEMENTS: &str = "0021_statements";

impl Catalogue {
    /// Upgrades it to this program's version; `tell` receives the name of the copy.
    pub(super) fn upgrade(&mut self, from: i64, tell: &mut dyn FnMut(&str)) -> Result<(), Failure> {
        // An empty file.
        if from == 0 {
            return self.migrate(from);
        }
        let newest = newest();
        tell(&format!(
            "the catalogue has version {from}, this framefall needs version {newest}: copying it, \
             then upgrading it"
        ));
        let copy = self.lay_copy_beside(from)?;
        if let Err(failure) = self.migrate(from) {
            // Nothing was changed, so the copy is not needed.
            let _ = std::fs::remove_file(&copy);
            return Err(failure.hint(format!(
                "the catalogue was not changed and still has version {from}. Free some space for \
                 its upgrade, which temporarily needs three times its size; or copy it to another \
                 disk and name the copy with --catalogue"
            )));
        }
        tell(&format!(
            "the catalogue now has version {newest}. A copy of the old one is in {}; remove the \
             copy when you no longer need it",
            copy.display()
        ));
        Ok(())
    }

    /// Applies the missing migrations, all or none.
    pub(super) fn migrate(&mut self, from: i64) -> Result<(), Failure> {
        let mut apply = || -> rusqlite::Result<()> {
            // Rebuilding a table drops the old one; foreign keys must be off or its children are deleted: see
            // sqlite.org/lang_altertable.html, section 7.
            self.db.pragma_update(None, "foreign_keys", false)?;
            let tx = self
                .db
                .transaction_with_behavior(TransactionBehavior::Immediate)?;
            for (_, (name, sql)) in (1..).zip(MIGRATIONS).filter(|(version, _)| *version > from) {
                tx.execute_batch(sql)?;
                if *name == STATEMENTS {
                    take_over(&tx)?;
                }
            }
            words::fill(&tx)?;
            tx.pragma_update(None, "user_version", newest())?;
            tx.pragma_update(None, "application_id", APPLICATION_ID)?;
            tx.commit()
        };
        apply().map_err(|e| failed(&self.path, e))?;
        // Statistics of rebuilt tables were lost with the old ones.
        if from > 0 {
            self.gather_statistics()?;
            self.vacuum_if_sparse();
        }
        Ok(())
    }

    /// Shrinks the file if much of it is empty after tables were rebuilt. That needs as much space again for a while;
    /// if there is none, or another process reads, the file stays as it is and new rows will fill it.
    fn vacuum_if_sparse(&self) {
        let pages = |pragma: &str| {
            self.db
                .pragma_query_value(None, pragma, |row| row.get::<_, i64>(0))
                .unwrap_or(0)
        };
        if pages("freelist_count").saturating_mul(20) > pages("page_count") {
            let _ = self.db.execute_batch("VACUUM");
        }
    }

    /// Copies it, its log included, to a file beside it that appears complete or not at all; returns the copy's name. A
    /// copy left by an earlier upgrade is kept, and reused if it has the same contents.
    fn lay_copy_beside(&self, version: i64) -> Result<PathBuf, Failure> {
        let part = beside(&self.path, &format!(".version-{version}.part"));
        let put = || -> Result<PathBuf, Box<dyn std::error::Error + Send + Sync>> {
            let _ = std::fs::remove_file(&part);
            let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
                | OpenFlags::SQLITE_OPEN_CREATE
                | OpenFlags::SQLITE_OPEN_NO_MUTEX;
            let mut copy = Connection::open_with_flags(as_file(&part), flags)?;
            // If this is interrupted, the temporary file is discarded anyway.
            copy.pragma_update_and_check(None, "journal_mode", "OFF", |_| Ok(()))?;
            copy_into(&self.db, &mut copy)?;
            copy.close().map_err(|(_, error)| error)?;
            File::open(&part)?.sync_all()?;
            for nth in 1.. {
                let numbered = if nth == 1 {
                    String::new()
                } else {
                    format!("-{nth}")
                };
                let to = beside(&self.path, &format!(".version-{version}{numbered}"));
                if to.symlink_metadata().is_err() {
                    std::fs::rename(&part, &to)?;
                    bring_folder_to_disk(&to);
                    return Ok(to);
                }
                if holds_the_same(&part, &to)? {
                    std::fs::remove_file(&part)?;
                    return Ok(to);
                }
            }
            Err("no name is left for the copy".into())
        };
        put().map_err(|error| {
            let _ = std::fs::remove_file(&part);
            let bytes = self.path.metadata().map_or(0, |about| about.len());
            Failure::catalogue(format!(
                "the catalogue has version {version} and must be upgraded, but it could not \
                     be copied first; it was not changed"
            ))
            .at_file(&part)
            .hint(format!(
                "free {:.0} MB there for the copy, and twice as much for the upgrade; or copy the \
                 catalogue to another disk and name the copy with --catalogue",
                (bytes as f64 * 3.0 / 1e6).max(1.0).ceil()
            ))
            .because(error)
        })
    }
}

/// Copies one state of a database, with its log, into an empty one.
pub(super) fn copy_into(from: &Connection, to: &mut Connection) -> rusqlite::Result<()> {
    let backup = Backup::new(from, to)?;
    let begun = std::time::Instant::now();
    loop {
        // In one step: a copy in several steps restarts whenever another program writes.
        match backup.step(-1)? {
            StepResult::Done => return Ok(()),
            StepResult::Busy | StepResult::Locked if begun.elapsed() > PATIENCE => {
                return Err(rusqlite::Error::SqliteFailure(
                    rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_BUSY),
                    None,
                ));
            }
            _ => std::thread::sleep(std::time::Duration::from_millis(25)),
        }
    }
}

/// Whether two files have the same bytes.
fn holds_the_same(one: &Path, other: &Path) -> std::io::Result<bool> {
    let (mut one, mut other) = (File::open(one)?, File::open(other)?);
    if one.metadata()?.len() != other.metadata()?.len() {
        return Ok(false);
    }
    let (mut of_one, mut of_other) = (vec![0; 1 << 16], vec![0; 1 << 16]);
    loop {
        let read = one.read(&mut of_one)?;
        if read == 0 {
            return Ok(true);
        }
        other.read_exact(&mut of_other[..read])?;
        if of_one[..read] != of_other[..read] {
            return Ok(false);
        }
    }
}
