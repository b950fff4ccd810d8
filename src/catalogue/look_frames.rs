//! The frames of a page to look at, and what is stated about them. Computes no value.

use std::collections::HashMap;
use std::path::PathBuf;

use rusqlite::Row;

use crate::catalogue::columns::parsed;
use crate::catalogue::found_trails::PARTS;
use crate::catalogue::found_trails::list;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::lock;
use crate::catalogue::names::on_disk;
use crate::catalogue::run_sql::RunSql;
use crate::catalogue::snapshot::data_version;
use crate::catalogue::stated_looks::StatedLook;
use crate::catalogue::stated_trails::StatedTrail;
use crate::catalogue::stated_trails::TRAILS;
use crate::catalogue::stated_trails::stated;
use crate::terms::failure::Failure;
use crate::terms::found_trail::TrailClass;
use crate::terms::records::Extent;

/// A frame of a page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LookFrame {
    /// The catalogue's number.
    pub frame_id: i64,
    /// The path of its first file.
    pub path: PathBuf,
    /// The label of that file's dump.
    pub dump: String,
    /// The name of that file.
    pub file: String,
    /// Its night, as a day number.
    pub night_day: Option<i64>,
    /// When the shutter opened, in milliseconds from 1970 UTC.
    pub start_ms: Option<i64>,
    /// Exposure in seconds.
    pub exposure_s: Option<f64>,
    /// Its session.
    pub session_id: Option<i64>,
    /// Its position within the session.
    pub seq: Option<i64>,
    /// Width of the full picture as stored, in pixels.
    pub width_px: Option<u32>,
    /// Height of the full picture as stored, in pixels.
    pub height_px: Option<u32>,
    /// EXIF orientation, 1 to 8.
    pub orientation: Option<u8>,
    /// The largest JPEG that the camera put into the file; the whole file of a JPEG.
    pub preview: Option<Extent>,
}

/// What is stated about a frame of a page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FrameStatements {
    /// Looked at, chosen, note.
    pub look: StatedLook,
    /// The trails in it.
    pub trails: Vec<StatedTrail>,
    /// Trails that were found in it and not judged, the likeliest meteor first.
    pub found: Vec<Candidate>,
}

/// A trail that was found, without its evidence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// Its number in this catalogue.
    pub trail_id: i64,
    /// One end, in pixels of the full picture as stored.
    pub from_px: (f64, f64),
    /// The other.
    pub to_px: (f64, f64),
    /// What it is taken for.
    pub class: TrailClass,
    /// How likely it is a meteor, 0 to 1.
    pub score: f64,
    /// The moving light it belongs to, by its number in the session.
    pub light: Option<u32>,
}

impl Catalogue {
    /// Frames by their numbers, in the order given.
    pub fn look_frames(&self, frames: &[i64]) -> Result<Vec<LookFrame>, Failure> {
        self.step(|db| {
            let sql =
                "SELECT frame.frame_id, dump.root_shown, dump.root_bytes, folder.path, folder.path_bytes, file.name, file.name_bytes,
                        dump.label, time.night_day, time.start_ms, frame.exposure_s, time.session_id, time.seq,
                        frame.width_px, frame.height_px, frame.orientation,
                        iif(file.format_no = 0, 0, file.preview_offset), iif(file.format_no = 0, file.bytes, file.preview_bytes)
                 FROM rarray(?) AS listed
                 CROSS JOIN written_frame AS frame ON frame.frame_id = listed.value
                 JOIN written_file AS file ON file.file_id = frame.first_file_id
                 JOIN written_folder AS folder ON folder.folder_id = file.folder_id
                 JOIN written_dump AS dump ON dump.dump_id = folder.dump_id
                 LEFT JOIN derived_time AS time ON time.frame_id = frame.frame_id";
            let mut by_number: HashMap<i64, LookFrame> = db
                .prepare(sql)?
                .query_map([list(frames)], look_frame)?
                .map(|frame| frame.map(|frame| (frame.frame_id, frame)))
                .collect::<rusqlite::Result<_>>()?;
            Ok(frames
                .iter()
                .filter_map(|id| by_number.remove(id))
                .collect())
        })
    }

    /// What is stated about these frames, and what was found in them; frames without either are left out.
    pub fn frame_statements(
        &self,
        frames: &[i64],
    ) -> Result<HashMap<i64, FrameStatements>, Failure> {
        self.step(|db| {
            let mut all: HashMap<i64, FrameStatements> = HashMap::new();
            let mut looks = db.prepare_cached(
                "SELECT frame_id, looked, chosen, note FROM stated_look WHERE frame_id IN rarray(?)",
            )?;
            let mut rows = looks.query([list(frames)])?;
            while let Some(row) = rows.next()? {
                all.entry(row.get(0)?).or_default().look = StatedLook {
                    looked: row.get(1)?,
                    chosen: row.get(2)?,
                    note: row.get(3)?,
                };
            }
            let mut trails = db.prepare_cached(&format!(
                "{TRAILS} WHERE frame_id IN rarray(?) ORDER BY trail_id"
            ))?;
            for trail in trails.query_map([list(frames)], stated)? {
                let trail = trail?;
                all.entry(trail.frame_id).or_default().trails.push(trail);
            }
            let mut found = db.prepare_cached(
                "SELECT frame_id, trail_id, from_x, from_y, to_x, to_y, class, score, light
                 FROM found_trail WHERE frame_id IN rarray(?) ORDER BY score DESC, trail_id",
            )?;
            let mut rows = found.query([list(frames)])?;
            while let Some(row) = rows.next()? {
                let found = &mut all.entry(row.get(0)?).or_default().found;
                found.push(candidate(row)?);
            }
            Ok(all)
        })
    }

    /// The number of the last statement: whatever is stated changes it.
    pub fn last_statement(&self) -> Result<i64, Failure> {
        let sql = "SELECT ifnull(max(number), 0) FROM stated_log";
        self.value(sql, [])
    }

    /// A number that changes whenever another connection changes the catalogue, as when pictures are examined.
    pub fn version_of_others(&self) -> Result<i64, Failure> {
        self.step(|_| data_version(self))
    }

    /// Random bytes, by SQLite's generator, which the system seeds.
    pub fn random_bytes(&self) -> Result<[u8; 16], Failure> {
        self.value("SELECT randomblob(16)", [])
    }

    /// Lets others write while this catalogue stays open.
    pub fn release_write_lock(&mut self) {
        self.writer = None;
    }

    /// Takes the write lock again.
    ///
    /// Refuses: another writer that does not end within a few seconds.
    pub fn take_write_lock(&mut self) -> Result<(), Failure> {
        if self.writer.is_none() {
            self.writer = Some(lock::acquire(&self.path)?);
        }
        Ok(())
    }
}

fn candidate(row: &Row<'_>) -> rusqlite::Result<Candidate> {
    let px = |at: usize| row.get::<_, f64>(at).map(|parts| parts / PARTS);
    Ok(Candidate {
        trail_id: row.get(1)?,
        from_px: (px(2)?, px(3)?),
        to_px: (px(4)?, px(5)?),
        class: parsed(row, 6, TrailClass::from_word)?.unwrap_or(TrailClass::OtherLight),
        score: row.get(7)?,
        light: row.get(8)?,
    })
}

fn look_frame(row: &Row<'_>) -> rusqlite::Result<LookFrame> {
    let unsigned = |at: usize| -> rusqlite::Result<Option<u64>> {
        let number: Option<i64> = row.get(at)?;
        Ok(number.and_then(|n| u64::try_from(n).ok()))
    };
    Ok(LookFrame {
        frame_id: row.get(0)?,
        path: on_disk(
            (row.get(1)?, row.get(2)?),
            (row.get(3)?, row.get(4)?),
            (row.get(5)?, row.get(6)?),
        ),
        file: row.get(5)?,
        dump: row.get(7)?,
        night_day: row.get(8)?,
        start_ms: row.get(9)?,
        exposure_s: row.get(10)?,
        session_id: row.get(11)?,
        seq: row.get(12)?,
        width_px: row.get(13)?,
        height_px: row.get(14)?,
        orientation: row.get(15)?,
        preview: unsigned(16)?
            .zip(unsigned(17)?)
            .map(|(offset, length)| Extent { offset, length }),
    })
}
