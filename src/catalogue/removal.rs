//! Taking a dump out: its files and the frames that are on no other dump; the numbers these frames had. Looks at no disk.

use rusqlite::OptionalExtension;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::file_rows::NewFile;
use crate::catalogue::names::kept_name;
use crate::terms::failure::Failure;
use crate::terms::frame_marks::FileMark;
use crate::terms::frame_marks::FrameMark;
use crate::terms::frame_marks::pack;
use crate::terms::time::WallTime;

/// The files of a dump.
const OF_DUMP: &str = "SELECT file.file_id FROM written_folder AS folder
    CROSS JOIN written_file AS file ON file.folder_id = folder.folder_id WHERE folder.dump_id = ?1";

impl Batch<'_> {
    /// The frames with a file on a dump: those with files on that dump alone, and those that are on another one too.
    pub fn frames_of_dump(&self, dump_id: i64) -> Result<(Vec<i64>, Vec<i64>), Failure> {
        self.step(|db| {
            let mut read = db.prepare(
                "SELECT frame.frame_id, EXISTS (
                     SELECT 1 FROM written_file AS other JOIN written_folder AS there USING (folder_id)
                     WHERE ((other.file_id = frame.frame_id AND other.frame_id = frame.frame_id)
                        OR (other.frame_id = frame.frame_id AND other.frame_id <> other.file_id))
                       AND there.dump_id <> ?1)
                 FROM (SELECT DISTINCT file.frame_id FROM written_folder AS folder
                       CROSS JOIN written_file AS file ON file.folder_id = folder.folder_id
                       WHERE folder.dump_id = ?1) AS frame
                 ORDER BY frame.frame_id",
            )?;
            let mut rows = read.query([dump_id])?;
            let (mut alone, mut elsewhere) = (Vec::new(), Vec::new());
            while let Some(row) = rows.next()? {
                if row.get(1)? {
                    elsewhere.push(row.get(0)?);
                } else {
                    alone.push(row.get(0)?);
                }
            }
            Ok((alone, elsewhere))
        })
    }

    /// Keeps the number of a frame for when one of its files comes back.
    pub fn keep_number(&self, frame_id: i64) -> Result<(), Failure> {
        self.step(|db| {
            let mut read = db.prepare_cached(
                "SELECT file.fingerprint, file.name, file.bytes, frame.clock_s FROM written_file AS file
                 JOIN written_frame AS frame ON frame.frame_id = ?1
                 WHERE (file.file_id = ?1 AND file.frame_id = ?1) OR (file.frame_id = ?1 AND file.frame_id <> file.file_id)",
            )?;
            let mut rows = read.query([frame_id])?;
            while let Some(row) = rows.next()? {
                let print: Option<Vec<u8>> = row.get(0)?;
                let name: String = row.get(1)?;
                let bytes = row.get::<_, i64>(2)?.unsigned_abs();
                let mark = FrameMark {
                    clock_s: row.get(3)?,
                    file: FileMark::new(print.as_deref(), &name, bytes),
                };
                db.prepare_cached(
                    "INSERT INTO given_frame (frame_id, clock_s, mark) VALUES (?, ?, ?)",
                )?
                .execute(params![frame_id, mark.clock_s, pack(vec![mark.clone()])])?;
            }
            Ok(())
        })
    }

    /// The number that the frame of a new file had before its dump was removed; it is its own again.
    pub(super) fn number_given(&mut self, file: &NewFile<'_>) -> Result<Option<i64>, Failure> {
        if !self.any_given {
            return Ok(None);
        }
        let name = kept_name(file.name).text;
        let print = file.reading.fingerprint;
        let clock_s = file.reading.record.clock_local.map(WallTime::seconds);
        let mark = FrameMark {
            clock_s,
            file: FileMark::new(print.as_ref().map(<[u8; 16]>::as_slice), &name, file.bytes),
        };
        let packed = pack(vec![mark]);
        self.step(|db| {
            let given: Option<i64> = db
                .prepare_cached(
                    "SELECT frame_id FROM given_frame AS given WHERE clock_s IS ?1 AND mark = ?2
                       AND NOT EXISTS (SELECT 1 FROM written_frame AS frame WHERE frame.frame_id = given.frame_id)
                     LIMIT 1",
                )?
                .query_row(params![clock_s, packed], |row| row.get(0))
                .optional()?;
            if let Some(frame_id) = given {
                db.prepare_cached("DELETE FROM given_frame WHERE frame_id = ?")?
                    .execute([frame_id])?;
            }
            Ok(given)
        })
    }

    /// Removes a dump with its files; frames that have a file elsewhere go on with that one, others are removed.
    pub fn remove_dump(&self, dump_id: i64) -> Result<u64, Failure> {
        let files: Vec<(i64, i64)> = self.step(|db| {
            // Copies of its files that are elsewhere: the first of them is what the others repeat from now on.
            db.execute(
                &format!(
                    "WITH gone AS MATERIALIZED ({OF_DUMP}), heirs AS MATERIALIZED (
                         SELECT copy_of AS was, min(file_id) AS heir FROM written_file
                         WHERE copy_of IN (SELECT file_id FROM gone) AND file_id NOT IN (SELECT file_id FROM gone)
                         GROUP BY copy_of)
                     UPDATE written_file SET copy_of = nullif((SELECT heir FROM heirs WHERE was = copy_of), file_id)
                     WHERE copy_of IN (SELECT was FROM heirs) AND file_id NOT IN (SELECT file_id FROM gone)"
                ),
                [dump_id],
            )?;
            db.prepare(&format!(
                "SELECT file_id, folder_id FROM written_file WHERE file_id IN ({OF_DUMP}) ORDER BY file_id"
            ))?
            .query_map([dump_id], |row| Ok((row.get(0)?, row.get(1)?)))?
            .collect()
        })?;
        for (file_id, folder_id) in &files {
            if let Some(known) = self.known_file(*file_id, *folder_id)? {
                self.detach_file(&known)?;
            }
        }
        self.step(|db| {
            db.execute("DELETE FROM written_folder WHERE dump_id = ?", [dump_id])?;
            db.execute("DELETE FROM written_dump WHERE dump_id = ?", [dump_id])?;
            Ok(())
        })?;
        Ok(files.len() as u64)
    }
}
