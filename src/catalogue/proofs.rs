//! What is proved of dumps: the devices of their files, the cards they were copied from, which file was read back longest
//! ago. Reads no file.

use std::path::Path;
use std::path::PathBuf;

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::columns;
use crate::catalogue::columns::instant;
use crate::catalogue::columns::read;
use crate::catalogue::content::BELOW;
use crate::catalogue::content::CONTENT;
use crate::catalogue::content::ContentRow;
use crate::catalogue::dumps::kept_root;
use crate::catalogue::ensure::found_or_made;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::below_of;
use crate::catalogue::sessions::OF_SESSION;
use crate::terms::failure::Failure;
use crate::terms::time::Utc;
use crate::terms::volume::Volume;

/// A device that files were on when they were read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DeviceRow {
    /// The system's number for it then.
    pub number: i64,
    /// The volume's own number and name, where they were known.
    pub volume: Volume,
}

impl DeviceRow {
    /// Whether two are one device: by the volume's own number where both are known, else by the system's number.
    pub fn is_same(&self, other: &Self) -> bool {
        match (&self.volume.id, &other.volume.id) {
            (Some(one), Some(other)) => one == other,
            _ => self.number == other.number,
        }
    }
}

/// A file to be read again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToCheck {
    /// The dump.
    pub dump_id: i64,
    /// The file below its root, as text.
    pub path: String,
    /// Its size when it was ingested or hashed.
    pub bytes: u64,
    /// Its time stamp then.
    pub modified_ns: i64,
    /// What was measured on it in this state; `None` where it was never read whole.
    pub known: Option<ContentRow>,
}

impl ToCheck {
    /// Its position in the order of checks.
    pub fn position(&self) -> Position {
        let checked = self.known.as_ref().and_then(|known| known.checked);
        let checked_ms = checked.map_or(NEVER_MS, Utc::unix_ms);
        (checked_ms, self.dump_id, self.path.clone())
    }
}

/// The position of a file in the order of checks: its last check, its dump, its path.
pub type Position = (i64, i64, String);

/// Stands for the last check of a file that was never checked, in that order.
const NEVER_MS: i64 = i64::MIN + 1;

/// What is proved of a dump as a whole.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Proved {
    /// The oldest of its files' last checks.
    pub oldest: Option<Utc>,
    /// Files that were never read back and compared, or differed.
    pub never: u64,
}

/// Files that are known by an ingest alone or were read since they were hashed, and files that were hashed; `at_ms` is their
/// last check.
///
/// A file that has changed is in both; read as what it is now, it takes the place of what it was.
const FILES_TO_CHECK: &str = "
    SELECT folder.dump_id AS dump_id, iif(folder.path = '', '', folder.path || '/') || file.name AS path, file.bytes AS bytes,
           file.modified_ns AS modified_ns, -9223372036854775807 AS at_ms
    FROM written_folder AS folder JOIN written_file AS file USING (folder_id)
    WHERE NOT EXISTS (SELECT 1 FROM measured_content AS content WHERE content.dump_id = folder.dump_id
                        AND content.path = iif(folder.path = '', '', folder.path || '/') || file.name
                        AND content.bytes = file.bytes AND content.modified_ns = file.modified_ns)
    UNION ALL
    SELECT dump_id, path, bytes, modified_ns, ifnull(checked_ms, -9223372036854775807) FROM measured_content";

columns!(DeviceRow: number volume);
columns!(Proved: oldest never);

impl Catalogue {
    /// The next files of these dumps to be read again: those whose last check is the oldest, before `before`.
    ///
    /// Takes: the position of the last file that was given; how many to give at most.
    pub fn next_to_check(
        &self,
        dumps: &[i64],
        before: Utc,
        after: Option<&Position>,
        limit: u32,
    ) -> Result<Vec<ToCheck>, Failure> {
        let dumps: Vec<String> = dumps.iter().map(i64::to_string).collect();
        let (at_ms, dump_id, path) = after.map_or((i64::MIN, i64::MIN, ""), |(at, dump, path)| {
            (*at, *dump, path.as_str())
        });
        self.rows(
            &format!(
                "SELECT {CONTENT}, one.dump_id, one.path, one.bytes, one.modified_ns
                 FROM (SELECT * FROM ({FILES_TO_CHECK})
                       WHERE dump_id IN ({}) AND at_ms < ?1 AND (at_ms, dump_id, path) > (?2, ?3, ?4)
                       ORDER BY at_ms, dump_id, path LIMIT ?5) AS one
                 LEFT JOIN measured_content AS content ON content.dump_id = one.dump_id AND content.path = one.path
                   AND content.bytes = one.bytes AND content.modified_ns = one.modified_ns
                 ORDER BY one.at_ms, one.dump_id, one.path",
                dumps.join(",")
            ),
            params![before.unix_ms(), at_ms, dump_id, path, limit],
            |row| {
                let known = row.get::<_, Option<i64>>(0)?.is_some();
                Ok(ToCheck {
                    dump_id: row.get(11)?,
                    path: row.get(12)?,
                    bytes: row.get::<_, i64>(13)?.unsigned_abs(),
                    modified_ns: row.get(14)?,
                    known: known.then(|| read(row)).transpose()?,
                })
            },
        )
    }

    /// What is proved of a dump.
    pub fn proved(&self, dump_id: i64) -> Result<Proved, Failure> {
        self.step(|db| match kept_proof(db, dump_id)? {
            Some(kept) => Ok(kept),
            None => proof_of(db, dump_id),
        })
    }

    /// Computes what is proved of dumps, where that has changed, so that lists need not.
    pub fn keep_proofs(&mut self) -> Result<(), Failure> {
        let changed: Vec<i64> = self.all(
            "SELECT dump_id FROM written_dump AS dump
             WHERE EXISTS (SELECT 1 FROM measured_content AS content WHERE content.dump_id = dump.dump_id)
               AND NOT EXISTS (SELECT 1 FROM measured_proof AS proof WHERE proof.dump_id = dump.dump_id)",
            [],
        )?;
        if changed.is_empty() {
            return Ok(());
        }
        let batch = self.batch()?;
        batch.step(|db| {
            let mut put = db.prepare_cached(
                "INSERT INTO measured_proof (dump_id, oldest_ms, never) VALUES (?, ?, ?)",
            )?;
            for dump_id in changed {
                let Proved { oldest, never } = proof_of(db, dump_id)?;
                let oldest_ms = oldest.map(Utc::unix_ms);
                put.execute(params![
                    dump_id,
                    oldest_ms,
                    i64::try_from(never).unwrap_or(i64::MAX)
                ])?;
            }
            Ok(())
        })?;
        batch.commit()
    }

    /// The dumps that hold the first, the middle and the last frame of a session.
    pub fn dumps_of_session(&self, session_id: i64) -> Result<Vec<i64>, Failure> {
        self.all(
            &format!(
                "SELECT DISTINCT folder.dump_id
                 FROM derived_time AS time CROSS JOIN written_frame AS frame ON frame.frame_id = time.frame_id
                 CROSS JOIN written_file AS file ON file.file_id = frame.first_file_id
                 CROSS JOIN written_folder AS folder ON folder.folder_id = file.folder_id
                 WHERE {OF_SESSION} AND time.seq IN (
                   SELECT 1 UNION SELECT frames FROM derived_session WHERE session_id = ?1
                   UNION SELECT (frames + 1) / 2 FROM derived_session WHERE session_id = ?1)"
            ),
            [session_id],
        )
    }

    /// A device by its number in the catalogue.
    pub fn device(&self, device_id: i64) -> Result<DeviceRow, Failure> {
        self.one(
            "SELECT number, volume_id, volume_label FROM measured_device WHERE device_id = ?",
            [device_id],
        )
    }

    /// The roots of the cards that a dump was copied from; none for a dump that framefall did not make.
    pub fn cards_of(&self, dump_id: i64) -> Result<Vec<PathBuf>, Failure> {
        self.rows(
            "SELECT root FROM measured_card WHERE dump_id = ? ORDER BY root",
            [dump_id],
            |row| Ok(below_of(&row.get::<_, String>(0)?)),
        )
    }

    /// Every file that differed from its hash, or could not be read, when it was last read.
    pub fn bad_contents(&self) -> Result<Vec<ContentRow>, Failure> {
        self.all(
            &format!(
                "SELECT {CONTENT} FROM measured_content AS content WHERE result <> 'same' ORDER BY dump_id, path"
            ),
            [],
        )
    }
}

fn kept_proof(db: &Connection, dump_id: i64) -> rusqlite::Result<Option<Proved>> {
    db.prepare_cached("SELECT oldest_ms, never FROM measured_proof WHERE dump_id = ?")?
        .query_row([dump_id], read)
        .optional()
}

/// What is proved of a dump, by each of its files.
fn proof_of(db: &Connection, dump_id: i64) -> rusqlite::Result<Proved> {
    const VERIFIED: &str = "(ifnull(content.result, '') = 'same' AND content.way <> 'cached')";
    let (oldest, unproved) = db
        .prepare_cached(&format!(
            "SELECT min(checked_ms) FILTER (WHERE {VERIFIED}), count(*) FILTER (WHERE NOT {VERIFIED})
             FROM measured_content AS content WHERE dump_id = ?"
        ))?
        .query_row([dump_id], |row| Ok((instant(row, 0)?, row.get::<_, i64>(1)?)))?;
    let (lacking, unproved_frames) = db
        .prepare_cached(&format!(
            "SELECT count(*) FILTER (WHERE content.path IS NULL OR NOT {VERIFIED} OR content.bytes <> file.bytes
                      OR content.modified_ns <> file.modified_ns),
                    count(*) FILTER (WHERE NOT {VERIFIED})
             FROM written_folder AS folder CROSS JOIN written_file AS file ON file.folder_id = folder.folder_id
             LEFT JOIN measured_content AS content ON content.dump_id = folder.dump_id AND content.path = {BELOW}
             WHERE folder.dump_id = ?"
        ))?
        .query_row([dump_id], |row| Ok((row.get::<_, i64>(0)?, row.get::<_, i64>(1)?)))?;
    Ok(Proved {
        oldest,
        never: (lacking + unproved - unproved_frames).unsigned_abs(),
    })
}

impl Batch<'_> {
    /// Finds or makes a device.
    pub fn ensure_device(&self, device: &DeviceRow) -> Result<i64, Failure> {
        let Volume { id, label, .. } = &device.volume;
        self.step(|db| {
            found_or_made(
                db,
                "SELECT device_id FROM measured_device WHERE number = ?1 AND ifnull(volume_id, '') = ifnull(?2, '')
                   AND ifnull(volume_label, '') = ifnull(?3, '')",
                "INSERT INTO measured_device (number, volume_id, volume_label) VALUES (?1, ?2, ?3)",
                &[&device.number, id, label],
            )
        })
    }

    /// Notes that a dump is copied from a card.
    pub fn put_card(&self, dump_id: i64, card: &Path, now: Utc) -> Result<(), Failure> {
        let (root, _) = kept_root(card);
        self.change(
            "INSERT OR REPLACE INTO measured_card (dump_id, root, copied_ms) VALUES (?, ?, ?)",
            params![dump_id, root, now.unix_ms()],
        )
    }
}
