//! Finds frames by their marks, marks by their frames, and marks whose frames are not here yet.

use rusqlite::Connection;
use rusqlite::Row;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::fingerprint;
use crate::terms::failure::Failure;
use crate::terms::frame_marks::FileMark;
use crate::terms::frame_marks::FrameMark;
use crate::terms::frame_marks::pack;
use crate::terms::frame_marks::unpack;

/// A frame that has a mark.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MarkedFrame {
    /// Its number.
    pub frame_id: i64,
    /// The label of the dump with the file that has the mark.
    pub dump: String,
}

/// A mark that waited for its frame, and a frame that has it now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Arrived {
    /// The waiting row.
    pub row: i64,
    /// The number of the statement.
    pub number: i64,
    /// The site of a stated place.
    pub site_id: Option<i64>,
    /// The frame.
    pub frame_id: i64,
    /// The dump with the file.
    pub dump: String,
}

/// A file: its frame, its identity, the label of its dump.
const FILE: &str = "file.frame_id, file.fingerprint, file.name, file.bytes, dump.label";
const OF_DUMP: &str = "CROSS JOIN written_folder AS folder ON folder.folder_id = file.folder_id
     CROSS JOIN written_dump AS dump ON dump.dump_id = folder.dump_id";

struct Candidate {
    frame: MarkedFrame,
    print: Option<Vec<u8>>,
    name: String,
    bytes: u64,
}

impl Batch<'_> {
    /// The mark of a frame, by its first file, and the label of that file's dump.
    pub fn mark_of(&self, frame_id: i64) -> Result<(FrameMark, String), Failure> {
        self.step(|db| mark_of(db, frame_id))
    }

    /// The mark of a dump's first file, if it has one.
    pub fn mark_of_dump(&self, dump_id: i64) -> Result<Option<FrameMark>, Failure> {
        self.step(|db| {
            let first: Option<i64> = db.query_row(
                "SELECT min(file.frame_id) FROM written_folder AS folder JOIN written_file AS file USING (folder_id)
                 JOIN written_frame AS frame ON frame.first_file_id = file.file_id WHERE folder.dump_id = ?",
                [dump_id],
                |row| row.get(0),
            )?;
            Ok(match first {
                Some(frame_id) => Some(mark_of(db, frame_id)?.0),
                None => None,
            })
        })
    }

    /// The number of the dump of that label.
    pub fn dump_labelled(&self, label: &str) -> Result<Option<i64>, Failure> {
        self.one_if_any("SELECT dump_id FROM written_dump WHERE label = ?", [label])
    }

    /// Records that a frame of a statement is not here yet.
    pub fn await_frame(
        &self,
        number: i64,
        mark: &FrameMark,
        site_id: Option<i64>,
    ) -> Result<(), Failure> {
        self.step(|db| {
            let alone = pack(vec![mark.clone()]);
            db.prepare_cached(
                "INSERT INTO pending_statement (number, clock_s, mark, site_id) VALUES (?, ?, ?, ?)",
            )?
            .execute(params![number, mark.clock_s, alone, site_id])?;
            Ok(())
        })
    }

    /// Frames that statements waited for and that have arrived, in the order of the statements.
    pub fn arrived_frames(&self) -> Result<Vec<Arrived>, Failure> {
        self.step(|db| {
            let mut read = db.prepare(
                "SELECT pending.rowid, number, site_id, clock_s, mark FROM pending_statement AS pending
                 WHERE clock_s IS NULL OR EXISTS (SELECT 1 FROM written_frame AS frame WHERE frame.clock_s = pending.clock_s)
                 ORDER BY number, pending.rowid",
            )?;
            let mut rows = read.query([])?;
            let mut found = Vec::new();
            while let Some(row) = rows.next()? {
                let packed = row.get_ref(4)?.as_blob()?;
                for mark in unpack(row.get(3)?, packed).unwrap_or_default() {
                    for frame in frames_marked(db, &mark)? {
                        found.push(Arrived {
                            row: row.get(0)?,
                            number: row.get(1)?,
                            site_id: row.get(2)?,
                            frame_id: frame.frame_id,
                            dump: frame.dump,
                        });
                    }
                }
            }
            Ok(found)
        })
    }

    /// Removes the record of a waiting frame.
    pub fn frame_arrived(&self, row: i64) -> Result<(), Failure> {
        self.change("DELETE FROM pending_statement WHERE rowid = ?", [row])
    }

    /// The statements about a frame: whether its kind is stated, whether its focal length is, the number of its stated
    /// site.
    pub fn stated_of(&self, frame_id: i64) -> Result<(bool, bool, Option<i64>), Failure> {
        self.step(|db| {
            let has = |table: &str| {
                db.prepare_cached(&format!("SELECT 1 FROM {table} WHERE frame_id = ?"))?
                    .exists([frame_id])
            };
            Ok((
                has("stated_kind")?,
                has("stated_focal")?,
                crate::catalogue::stated_places::site_of(db, frame_id)?,
            ))
        })
    }

    /// Whether any statement waits for a frame.
    pub fn awaits_frames(&self) -> Result<bool, Failure> {
        self.one("SELECT EXISTS (SELECT 1 FROM pending_statement)", [])
    }
}

pub(super) fn mark_of(db: &Connection, frame_id: i64) -> rusqlite::Result<(FrameMark, String)> {
    db.prepare_cached(&format!(
        "SELECT {FILE}, frame.clock_s FROM written_frame AS frame
         CROSS JOIN written_file AS file ON file.file_id = frame.first_file_id {OF_DUMP} WHERE frame.frame_id = ?"
    ))?
    .query_row([frame_id], |row| {
        let of = candidate(row)?;
        let mark = FrameMark {
            clock_s: row.get(5)?,
            file: FileMark::new(of.print.as_deref(), &of.name, of.bytes),
        };
        Ok((mark, of.frame.dump))
    })
}

pub(super) fn frames_marked(
    db: &Connection,
    mark: &FrameMark,
) -> rusqlite::Result<Vec<MarkedFrame>> {
    let candidates: Vec<Candidate> = match (mark.clock_s, &mark.file) {
        (Some(clock_s), _) => db
            .prepare_cached(&format!(
                "SELECT {FILE} FROM written_frame AS frame
                 CROSS JOIN written_file AS file ON file.file_id = frame.frame_id AND file.frame_id = frame.frame_id {OF_DUMP}
                 WHERE frame.clock_s = ?1
                 UNION ALL
                 SELECT {FILE} FROM written_frame AS frame
                 CROSS JOIN written_file AS file ON file.frame_id = frame.frame_id AND file.frame_id <> file.file_id {OF_DUMP}
                 WHERE frame.clock_s = ?1"
            ))?
            .query_map([clock_s], candidate)?
            .collect::<rusqlite::Result<_>>()?,
        (None, FileMark::Print(print)) => {
            // A short fingerprint sorts before every full one that begins with it.
            let from = &print[..print.len().min(6)];
            let until = [from, &[0xFF; 11]].concat();
            db.prepare_cached(&format!(
                "SELECT {FILE} FROM written_file AS file {OF_DUMP}
                 WHERE file.undated = 1 AND file.fingerprint BETWEEN ? AND ?"
            ))?
            .query_map(params![from, until], candidate)?
            .collect::<rusqlite::Result<_>>()?
        }
        (None, FileMark::Named(name, _)) => db
            .prepare_cached(&format!(
                "SELECT {FILE} FROM written_file AS file {OF_DUMP}
                 WHERE file.undated = 1 AND file.fingerprint IS NULL AND file.name = ?"
            ))?
            .query_map([name], candidate)?
            .collect::<rusqlite::Result<_>>()?,
    };
    let mut found: Vec<MarkedFrame> = Vec::new();
    for of in candidates {
        let is_known = found
            .iter()
            .any(|frame| frame.frame_id == of.frame.frame_id);
        if !is_known && mark.file.fits(of.print.as_deref(), &of.name, of.bytes) {
            found.push(of.frame);
        }
    }
    Ok(found)
}

fn candidate(row: &Row<'_>) -> rusqlite::Result<Candidate> {
    Ok(Candidate {
        frame: MarkedFrame {
            frame_id: row.get(0)?,
            dump: row.get(4)?,
        },
        print: fingerprint(row, 1)?.map(|print| print.bytes().to_vec()),
        name: row.get(2)?,
        bytes: u64::try_from(row.get::<_, i64>(3)?).unwrap_or(0),
    })
}
