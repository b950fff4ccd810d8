//! The stored nights of one site's frames. Does not compute the Sun, decides no night.

use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::scale::date_of;
use crate::terms::failure::Failure;
use crate::terms::records::SiteFrame;
use crate::terms::time::day_of_date;

/// The day that a night is named after, in days since 1970.
pub fn night_day(night: &str) -> Option<i64> {
    day_of_date(night)
}

/// The name of the night of a day.
pub fn night_named(day: i64) -> Option<String> {
    date_of(day)
}

impl Batch<'_> {
    /// The latest start of the dated frames of a site that are stored in a night, in milliseconds since 1970.
    pub fn last_start_in_night(&self, site_id: i64, day: i64) -> Result<Option<i64>, Failure> {
        self.one(
            "SELECT max(start_ms) FROM derived_time WHERE night_day = ? AND site_id = ?",
            [day, site_id],
        )
    }

    /// Whether any frame of a site starts in a range, in milliseconds since 1970.
    pub fn has_starts(&self, site_id: i64, from_ms: i64, until_ms: i64) -> Result<bool, Failure> {
        self.exists("SELECT 1 FROM derived_time WHERE start_ms >= ?1 AND start_ms < ?2 AND site_id = ?3 LIMIT 1", [from_ms, until_ms, site_id])
    }

    /// The frames of a site that start in a range, in the order of their starts.
    ///
    /// Takes: a function that gives the night of a start's own noon.
    pub fn site_frames(
        &self,
        site_id: i64,
        (from_ms, until_ms): (i64, i64),
        own_day: &dyn Fn(i64) -> Option<i64>,
    ) -> Result<Vec<SiteFrame>, Failure> {
        self.step(|db| {
            let mut statement = db.prepare_cached(
                "SELECT time.frame_id, frame.camera_id, ifnull(told.focal_mm, frame.focal_mm), lens.name, time.start_ms,
                        time.night_day
                 FROM derived_time AS time CROSS JOIN written_frame AS frame ON frame.frame_id = time.frame_id
                 LEFT JOIN stated_focal AS told ON told.frame_id = time.frame_id
                 LEFT JOIN written_lens AS lens ON lens.lens_id = frame.lens_id
                 WHERE time.start_ms >= ?1 AND time.start_ms < ?2 AND time.site_id = ?3 ORDER BY time.start_ms",
            )?;
            let mut rows = statement.query([from_ms, until_ms, site_id])?;
            let mut frames = Vec::new();
            while let Some(row) = rows.next()? {
                let start_ms = row.get(4)?;
                let Some(own_day) = own_day(start_ms) else {
                    continue;
                };
                frames.push(SiteFrame {
                    frame_id: row.get(0)?,
                    camera_id: row.get(1)?,
                    focal_mm: row.get(2)?,
                    lens: row.get(3)?,
                    start_ms,
                    night_day: row.get(5)?,
                    own_day,
                });
            }
            Ok(frames)
        })
    }

    /// Assigns a frame to a night.
    pub fn put_in_night(&self, frame_id: i64, day: i64) -> Result<(), Failure> {
        self.change(
            "UPDATE derived_time SET night_day = ?2 WHERE frame_id = ?1",
            params![frame_id, day],
        )
    }
}
