//! The frames to which clock fixes are limited, and the frames of sessions from which they are chosen.

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::reading;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::sessions::OF_SESSION;
use crate::terms::clock::ClockFix;
use crate::terms::clock::FrameSet;
use crate::terms::clock::SessionFile;
use crate::terms::failure::Failure;
use crate::terms::statement::Body;

impl Catalogue {
    /// The frames of a session that have a clock reading.
    pub fn session_files(&self, session_id: i64) -> Result<Vec<SessionFile>, Failure> {
        self.step(|db| {
            let mut statement = db.prepare_cached(&format!(
                "SELECT frame.frame_id, frame.camera_id, frame.clock_s, frame.clock_fraction, dump.label, file.name
                 FROM derived_time AS time JOIN written_frame AS frame ON frame.frame_id = time.frame_id
                 JOIN written_file AS file ON file.file_id = frame.first_file_id
                 JOIN written_folder AS folder ON folder.folder_id = file.folder_id
                 JOIN written_dump AS dump ON dump.dump_id = folder.dump_id
                 WHERE {OF_SESSION} AND frame.clock_s IS NOT NULL"
            ))?;
            let mut rows = statement.query([session_id])?;
            let mut found = Vec::new();
            while let Some(row) = rows.next()? {
                if let Some(reading) = reading(row, 2)? {
                    found.push(SessionFile {
                        frame_id: row.get(0)?,
                        camera_id: row.get(1)?,
                        reading,
                        dump: row.get(4)?,
                        file_name: row.get(5)?,
                    });
                }
            }
            Ok(found)
        })
    }

    /// The frames that a body's fixes are limited to: the set and the number of each.
    pub fn fix_frames(&self, camera_id: i64) -> Result<Vec<(FrameSet, i64)>, Failure> {
        self.all(
            "SELECT DISTINCT fix.frames, of.frame_id FROM stated_clock_fix AS fix JOIN stated_fix_frame AS of USING (fix_id)
             WHERE fix.camera_id = ? AND fix.frames IS NOT NULL",
            [camera_id],
        )
    }
}

impl Batch<'_> {
    /// Adds frames to those that a fix is limited to.
    pub fn put_fix_frames(&self, fix_id: i64, frames: &[i64]) -> Result<(), Failure> {
        self.step(|db| {
            let mut put = db.prepare_cached(
                "INSERT OR IGNORE INTO stated_fix_frame (frame_id, fix_id) VALUES (?, ?)",
            )?;
            for frame_id in frames {
                put.execute([*frame_id, fix_id])?;
            }
            Ok(())
        })
    }

    /// The fixes that are limited to a frame, with their bodies.
    pub fn fixes_of_frame(&self, frame_id: i64) -> Result<Vec<(Body, ClockFix)>, Failure> {
        let found: Vec<(i64, i64, Body)> = self.all(
            "SELECT fix.camera_id, fix.fix_id, camera.make, camera.model, camera.serial
             FROM stated_fix_frame AS of JOIN stated_clock_fix AS fix USING (fix_id)
             JOIN written_camera AS camera USING (camera_id) WHERE of.frame_id = ?",
            [frame_id],
        )?;
        let mut all = Vec::new();
        for (camera_id, fix_id, body) in found {
            let fixes = self.clock_fixes(camera_id)?;
            let fix = fixes.into_iter().find(|fix| fix.id == fix_id);
            all.extend(fix.map(|fix| (body, fix)));
        }
        Ok(all)
    }
}
