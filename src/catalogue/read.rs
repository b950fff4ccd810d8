//! Reads records from the catalogue, for use cases. Builds no SQL from a user's text.

use std::collections::HashMap;
use std::path::Path;
use std::path::PathBuf;

use rusqlite::Connection;

use crate::catalogue::columns::columns;
use crate::catalogue::columns::read;
use crate::catalogue::file_rows::PressFile;
use crate::catalogue::file_rows::PressRow;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::kept_folder;
use crate::catalogue::names::kept_name;
use crate::catalogue::names::on_disk;
use crate::catalogue::scale::known_format;
use crate::catalogue::scale::numbered;
use crate::catalogue::sessions::OF_SESSION;
use crate::catalogue::stated_places::SITE_OF_FRAME;
use crate::terms::basis::Health;
use crate::terms::failure::Failure;
use crate::terms::records::CaptureRecord;
use crate::terms::time::WallTime;

/// The recorded data of a file, to decide whether it has changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KnownFile {
    /// Its number.
    pub file_id: i64,
    /// Its size when it was read.
    pub bytes: u64,
    /// Its time stamp when it was read.
    pub modified_ns: i64,
    /// Whether reading it gave an error of the disk, so that another try is worthwhile.
    pub failed_before: bool,
    /// Whether it was damaged when it was read.
    pub damaged: bool,
}

columns!(KnownFile: file_id bytes modified_ns failed_before damaged);

/// Which frames to derive again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Scope {
    /// The frames of one session.
    Session(i64),
    /// The frames whose first file is on one dump.
    Dump(String),
    /// Every frame.
    All,
}

impl Catalogue {
    /// The number of the dump with that root, if there is one.
    pub fn dump_at(&self, root: &Path) -> Result<Option<i64>, Failure> {
        let text = kept_name(root.as_os_str()).text;
        self.one_if_any(
            "SELECT dump_id FROM written_dump WHERE root = ?",
            [text.trim_end_matches('/')],
        )
    }

    /// The files of the catalogue in one folder, by the text of their names.
    pub fn known_files(
        &self,
        dump_id: i64,
        folder: &Path,
    ) -> Result<HashMap<String, KnownFile>, Failure> {
        self.all(
            "SELECT file.name, file.file_id, file.bytes, file.modified_ns,
                    file.health_no = (SELECT health_no FROM word_health WHERE health = 'unreadable') AND EXISTS (
                      SELECT 1 FROM written_finding AS finding
                      WHERE finding.file_id = file.file_id AND finding.code = 'read-error'),
                    file.health_no IN (SELECT health_no FROM word_health WHERE health IN ('truncated', 'unreadable'))
             FROM written_folder AS folder JOIN written_file AS file USING (folder_id)
             WHERE folder.dump_id = ? AND folder.path = ?",
            (dump_id, kept_folder(folder).text),
        )
    }

    /// The numbers of the frames in a scope, in order.
    pub fn frame_ids(&self, scope: &Scope) -> Result<Vec<i64>, Failure> {
        match scope {
            Scope::Session(id) => self.all(
                &format!(
                    "SELECT frame_id FROM derived_time AS time WHERE {OF_SESSION} ORDER BY frame_id"
                ),
                [id],
            ),
            Scope::Dump(label) => self.all(
                "SELECT DISTINCT file.frame_id FROM written_dump AS dump
                 JOIN written_folder USING (dump_id) JOIN written_file AS file USING (folder_id)
                 WHERE dump.label = ? ORDER BY file.frame_id",
                [label],
            ),
            Scope::All => self.all("SELECT frame_id FROM written_frame ORDER BY frame_id", []),
        }
    }

    /// The roots of every dump, except those whose locations others have taken.
    pub fn dump_roots(&self) -> Result<Vec<PathBuf>, Failure> {
        self.rows(
            "SELECT root, root_bytes FROM written_dump WHERE root IS NOT NULL ORDER BY dump_id",
            [],
            |row| {
                let nothing = || (String::new(), None);
                Ok(on_disk((row.get(0)?, row.get(1)?), nothing(), nothing()))
            },
        )
    }

    /// The frames in a folder of a dump, and below it, whose place is unknown. Of frames that lack rows, those without
    /// a statement of one.
    pub fn unplaced_frames(&self, dump_id: i64, folder: &Path) -> Result<Vec<i64>, Failure> {
        let folder = kept_folder(folder).text;
        self.all(
            &format!(
                "SELECT DISTINCT file.frame_id FROM written_folder AS folder
                 CROSS JOIN written_file AS file ON file.folder_id = folder.folder_id
                 CROSS JOIN written_frame AS frame ON frame.frame_id = file.frame_id
                 LEFT JOIN derived_time AS time ON time.frame_id = file.frame_id
                 WHERE folder.dump_id = ?1
                   AND (time.place_basis_no = (SELECT place_basis_no FROM word_place_basis WHERE place_basis = 'none')
                        OR (time.frame_id IS NULL AND frame.gps_lat_deg IS NULL AND {SITE_OF_FRAME} IS NULL))
                   AND (?2 = '' OR folder.path = ?2 OR substr(folder.path, 1, length(?2) + 1) = ?2 || '/')
                 ORDER BY file.frame_id"
            ),
            (dump_id, folder),
        )
    }

    /// The labels of every dump.
    pub fn dump_labels(&self) -> Result<Vec<String>, Failure> {
        self.all("SELECT label FROM written_dump ORDER BY label", [])
    }
}

/// The metadata that the camera wrote for a frame.
pub(super) fn frame_record(db: &Connection, frame_id: i64) -> rusqlite::Result<CaptureRecord> {
    db.prepare_cached(
        "SELECT frame.clock_s, frame.clock_fraction, frame.clock_source_no, frame.utc_offset_s, frame.body_zone_s,
                frame.exposure_s, frame.f_number, frame.iso, frame.focal_mm, frame.focal35_mm, lens.name, frame.width_px,
                frame.height_px, frame.orientation, frame.temperature_c, frame.shutter_count, frame.gps_lat_deg,
                frame.gps_lon_deg, frame.gps_elev_m, frame.gps_ms, camera.make, camera.model, camera.serial
         FROM written_frame AS frame LEFT JOIN written_camera AS camera USING (camera_id)
         LEFT JOIN written_lens AS lens USING (lens_id)
         WHERE frame.frame_id = ?",
    )?
    .query_row([frame_id], read)
}

columns!(CaptureRecord: clock_local clock_source utc_offset_s body_zone_s exposure_s f_number iso focal_mm focal35_mm lens width_px
    height_px orientation temperature_c shutter_count gps_lat_deg gps_lon_deg gps_elev_m gps_utc make model serial);
columns!(PressRow: frame_id first_file_id camera_id body clock_local; files: Vec::new());

/// The files of frame `?1`: its original one, and those that joined it.
pub(super) const FILES_OF_FRAME: &str = "((file.file_id = ?1 AND file.frame_id = ?1) OR (file.frame_id = ?1 AND file.frame_id <> file.file_id))";

/// Frames whose clock shows the same second, and whose first file's name matches.
pub(super) fn frames_at_press(
    db: &Connection,
    clock: WallTime,
    name_will_do: impl Fn(&str) -> bool,
) -> rusqlite::Result<Vec<PressRow>> {
    let mut rows: Vec<PressRow> = db
        .prepare_cached(
            "SELECT frame.frame_id, frame.first_file_id, frame.camera_id, camera.make, camera.model, camera.serial,
                    frame.clock_s, frame.clock_fraction, file.name
             FROM written_frame AS frame CROSS JOIN written_file AS file ON file.file_id = frame.first_file_id
             LEFT JOIN written_camera AS camera USING (camera_id)
             WHERE frame.clock_s = ?1",
        )?
        .query_map([clock.seconds()], |row| {
            let row_of: PressRow = read(row)?;
            Ok(name_will_do(row.get_ref(8)?.as_str()?).then_some(row_of))
        })?
        .filter_map(Result::transpose)
        .collect::<rusqlite::Result<_>>()?;
    rows.sort_by_key(|row| row.frame_id);
    for row in &mut rows {
        row.files = db
            .prepare_cached(&format!(
                "SELECT file.format_no, file.health_no, folder.path
                 FROM written_file AS file JOIN written_folder AS folder USING (folder_id)
                 WHERE {FILES_OF_FRAME} ORDER BY file.file_id"
            ))?
            .query_map([row.frame_id], |row| {
                Ok(PressFile {
                    format: known_format(row.get(0)?).to_owned(),
                    health: numbered(row.get(1)?).unwrap_or(Health::Sound),
                    folder: row.get(2)?,
                })
            })?
            .collect::<rusqlite::Result<_>>()?;
    }
    Ok(rows)
}
