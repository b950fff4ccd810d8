//! The frames of a page to look at, and what is stated about them. Computes no value.

use std::collections::HashMap;
use std::path::PathBuf;

use rusqlite::Row;

use crate::catalogue::columns::columns;
use crate::catalogue::columns::parsed;
use crate::catalogue::found_trails::PARTS;
use crate::catalogue::found_trails::list;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::lock;
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

columns!(LookFrame: frame_id path dump file night_day start_ms exposure_s session_id seq width_px height_px orientation
    preview);

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
        let sql =
            "SELECT frame.frame_id, dump.root_shown, dump.root_bytes, folder.path, folder.path_bytes, file.name, file.name_bytes,
                    dump.label, file.name, time.night_day, time.start_ms, frame.exposure_s, time.session_id, time.seq,
                    frame.width_px, frame.height_px, frame.orientation,
                    iif(file.format_no = 0, 0, file.preview_offset), iif(file.format_no = 0, file.bytes, file.preview_bytes)
             FROM rarray(?) AS listed
             CROSS JOIN written_frame AS frame ON frame.frame_id = listed.value
             JOIN written_file AS file ON file.file_id = frame.first_file_id
             JOIN written_folder AS folder ON folder.folder_id = file.folder_id
             JOIN written_dump AS dump ON dump.dump_id = folder.dump_id
             LEFT JOIN derived_time AS time ON time.frame_id = frame.frame_id";
        let found: Vec<LookFrame> = self.all(sql, [list(frames)])?;
        let mut by_number: HashMap<i64, LookFrame> = found
            .into_iter()
            .map(|frame| (frame.frame_id, frame))
            .collect();
        let in_order = frames.iter().filter_map(|id| by_number.remove(id));
        Ok(in_order.collect())
    }

    /// What is stated about these frames, and what was found in them; frames without either are left out.
    pub fn frame_statements(
        &self,
        frames: &[i64],
    ) -> Result<HashMap<i64, FrameStatements>, Failure> {
        let mut all: HashMap<i64, FrameStatements> = HashMap::new();
        let sql =
            "SELECT frame_id, looked, chosen, note FROM stated_look WHERE frame_id IN rarray(?)";
        self.each(
            sql,
            [list(frames)],
            |(frame_id, look): (i64, StatedLook)| {
                all.entry(frame_id).or_default().look = look;
            },
        )?;
        let sql = format!("{TRAILS} WHERE frame_id IN rarray(?) ORDER BY trail_id");
        let trails: Vec<StatedTrail> = self.rows(&sql, [list(frames)], stated)?;
        for trail in trails {
            all.entry(trail.frame_id).or_default().trails.push(trail);
        }
        let sql = "SELECT frame_id, trail_id, from_x, from_y, to_x, to_y, class, score, light
                   FROM found_trail WHERE frame_id IN rarray(?) ORDER BY score DESC, trail_id";
        let found: Vec<(i64, Candidate)> = self.rows(sql, [list(frames)], |row| {
            Ok((row.get(0)?, candidate(row)?))
        })?;
        for (frame_id, one) in found {
            all.entry(frame_id).or_default().found.push(one);
        }
        Ok(all)
    }

    /// The number of the last statement: whatever is stated changes it.
    pub fn last_statement(&self) -> Result<i64, Failure> {
        let sql = "SELECT ifnull(max(number), 0) FROM stated_log";
        self.one(sql, [])
    }

    /// A number that changes whenever another connection changes the catalogue, as when pictures are examined.
    pub fn version_of_others(&self) -> Result<i64, Failure> {
        self.step(|_| data_version(self))
    }

    /// Random bytes, by SQLite's generator, which the system seeds.
    pub fn random_bytes(&self) -> Result<[u8; 16], Failure> {
        self.one("SELECT randomblob(16)", [])
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
