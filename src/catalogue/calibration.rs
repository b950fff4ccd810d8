//! The data of frames for matching calibration frames to lights. Matches nothing.

use crate::catalogue::columns::Columns;
use crate::catalogue::columns::FromColumns;
use crate::catalogue::columns::columns;
use crate::catalogue::columns::read;
use crate::catalogue::failure::failed;
use crate::catalogue::fetch::in_stretches;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::scale::Numbered;
use crate::terms::basis::Kind;
use crate::terms::calibration::FrameSettings;
use crate::terms::calibration::ToldBy;
use crate::terms::failure::Failure;
use crate::terms::field_sql::FOCAL_COLUMN;

/// The first columns of [`FrameSettings`], over `frame` and `time`.
const COLUMNS: &str = "frame.frame_id, frame.camera_id, time.session_id, time.start_ms, frame.clock_s, frame.exposure_s,
    frame.iso, frame.f_number, frame.lens_id, frame.width_px, frame.height_px, frame.temperature_c";

/// Whether the body wrote a serial number: the last column of [`FrameSettings`].
const NUMBERED: &str = "(SELECT body.serial IS NOT NULL FROM written_camera AS body WHERE body.camera_id = frame.camera_id)";

/// The calibration frames of a kind. The first condition is that of the index over calibration frames.
fn of_kind() -> String {
    format!(
        "SELECT {COLUMNS}, {FOCAL_COLUMN}, {NUMBERED}
         FROM derived_time AS time CROSS JOIN written_frame AS frame ON frame.frame_id = time.frame_id
         WHERE time.kind_no IN (1, 2, 3) AND time.kind_no = ? ORDER BY time.frame_id"
    )
}

impl Catalogue {
    /// Every calibration frame of a kind in the archive.
    pub fn calibration_frames(&self, kind: Kind) -> Result<Vec<FrameSettings>, Failure> {
        self.all(&of_kind(), [kind.number()])
    }

    /// The settings of frames given by their numbers, in the order of the numbers.
    pub fn frame_settings(
        &self,
        frame_ids: impl Iterator<Item = i64>,
    ) -> Result<Vec<FrameSettings>, Failure> {
        let ours = |e| failed(&self.path, e);
        let sql = format!(
            "SELECT {COLUMNS}, {FOCAL_COLUMN}, {NUMBERED} FROM rarray(?) AS listed
             CROSS JOIN written_frame AS frame ON frame.frame_id = listed.value
             LEFT JOIN derived_time AS time ON time.frame_id = frame.frame_id"
        );
        let mut statement = self.db.prepare(&sql).map_err(ours)?;
        let mut found = Vec::new();
        in_stretches(frame_ids, |listed| {
            let mut rows = statement.query([listed]).map_err(ours)?;
            while let Some(row) = rows.next().map_err(ours)? {
                found.push(read(row).map_err(ours)?);
            }
            Ok(())
        })?;
        Ok(found)
    }
}

columns!(FrameSettings: frame_id camera_id session start_utc clock_s exposure_s iso f_number lens_id size_px temperature_c
    focal_mm body);

/// Whether the body wrote a serial number.
impl FromColumns for ToldBy {
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        Ok(match columns.next::<Option<bool>>()? {
            Some(false) => Self::Model,
            Some(true) | None => Self::Serial,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::purpose::Purpose;

    #[test]
    fn calibration_frames_are_found_by_their_index() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("catalogue.sqlite");
        let catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).unwrap();
        let steps: Vec<String> = catalogue
            .db
            .prepare(&format!("EXPLAIN QUERY PLAN {}", of_kind()))
            .unwrap()
            .query_map([1], |row| row.get(3))
            .unwrap()
            .collect::<rusqlite::Result<_>>()
            .unwrap();
        let said = steps.join("\n");
        assert!(
            said.contains("derived_time_calibration (kind_no=?)"),
            "{said}"
        );
        assert!(
            !said.contains("SCAN") && !said.contains("TEMP B-TREE"),
            "{said}"
        );
        assert!(catalogue.calibration_frames(Kind::Dark).unwrap().is_empty());
    }
}
