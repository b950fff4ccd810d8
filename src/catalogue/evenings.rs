//! The frames of a body's evening: the data for placing them, and their previous placement. Computes no value.

use std::fmt::Write;

use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::Columns;
use crate::catalogue::columns::columns;
use crate::catalogue::columns::reading;
use crate::catalogue::placed::TimeRow;
use crate::catalogue::stated_places::SITE_OF_FRAME;
use crate::terms::clock::Evening;
use crate::terms::clock::evening_day;
use crate::terms::clock::evening_seconds;
use crate::terms::failure::Failure;
use crate::terms::records::FrameFacts;
use crate::terms::records::PlacedFrame;
use crate::terms::site::GpsPosition;

/// The frames of an evening, in the order of their folders and names.
#[derive(Debug, Default)]
pub struct EveningFrames {
    /// The facts of each.
    pub facts: Vec<FrameFacts>,
    /// The derived data of each.
    pub before: Vec<Before>,
}

/// The previously derived data of a frame.
#[derive(Debug)]
pub struct Before {
    /// Its time and place; `None` if it has no row.
    pub(super) time: Option<TimeRow>,
    /// Whether it is recorded as lacking rows.
    pub pending: bool,
}

impl Before {
    /// Whether the frame has a row and would be placed differently now.
    pub fn differs(&self, placed: &PlacedFrame) -> bool {
        self.time.is_some_and(|time| time.differs(placed))
    }

    /// Whether the frame has no row of time and place.
    pub fn is_none(&self) -> bool {
        self.time.is_none()
    }

    /// The stored night of the frame.
    pub fn night(&self) -> Option<String> {
        self.time?.night()
    }
}

/// The evening of a frame, and the position that the camera wrote.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FrameEvening {
    /// The evening.
    pub evening: Evening,
    /// The position.
    pub gps: GpsPosition,
}

columns!(FrameFacts: frame_id camera_id clock_local utc_offset_s body_zone_s gps_utc gps_lat_deg gps_lon_deg gps_elev_m
    exposure_s stated_site dump_id);

impl Batch<'_> {
    /// The evening of a frame; `None` if there is no such frame.
    pub fn evening_of(&self, frame_id: i64) -> Result<Option<FrameEvening>, Failure> {
        self.row_if_any(
            "SELECT camera_id, clock_s, clock_fraction, gps_lat_deg, gps_lon_deg, gps_elev_m
             FROM written_frame WHERE frame_id = ?",
            [frame_id],
            |row| {
                Ok(FrameEvening {
                    evening: match reading(row, 1)? {
                        Some(reading) => Evening::OfBody {
                            camera_id: row.get(0)?,
                            day: evening_day(reading),
                        },
                        None => Evening::OfFrame(frame_id),
                    },
                    gps: Columns::from(row, 3).next()?,
                })
            },
        )
    }

    /// The frames of an evening.
    pub fn evening_frames(&self, evening: Evening) -> Result<EveningFrames, Failure> {
        let (which, values) = match evening {
            Evening::OfBody { camera_id, day } => {
                let (from, until) = evening_seconds(day);
                let which = "frame.clock_s >= ?1 AND frame.clock_s < ?2 AND frame.camera_id IS ?3";
                (which, (Some(from), Some(until), camera_id))
            }
            Evening::OfFrame(frame_id) => (
                "frame.frame_id = ?1 AND ?2 IS NULL AND ?3 IS NULL",
                (Some(frame_id), None, None),
            ),
        };
        let mut sql = String::with_capacity(2_000);
        let _ = write!(
            sql,
            "SELECT frame.frame_id, frame.camera_id, frame.clock_s, frame.clock_fraction, frame.utc_offset_s, frame.body_zone_s,
                    frame.gps_ms, frame.gps_lat_deg, frame.gps_lon_deg, frame.gps_elev_m, frame.exposure_s, {SITE_OF_FRAME},
                    folder.dump_id, EXISTS (SELECT 1 FROM pending_frame WHERE pending_frame.frame_id = frame.frame_id),
                    time.frame_id IS NOT NULL, time.start_ms, time.time_basis_no, time.time_error_ms, time.lat_deg, time.lon_deg,
                    time.elev_m, time.place_basis_no, time.site_id, time.night_day, time.maker_id
             FROM written_frame AS frame
             CROSS JOIN written_file AS file ON file.file_id = frame.first_file_id
             CROSS JOIN written_folder AS folder ON folder.folder_id = file.folder_id
             LEFT JOIN derived_time AS time ON time.frame_id = frame.frame_id
             WHERE {which}
             ORDER BY folder.path, file.name, frame.frame_id"
        );
        self.step(|db| {
            let mut statement = db.prepare_cached(&sql)?;
            let mut rows = statement.query(params![values.0, values.1, values.2])?;
            let mut frames = EveningFrames::default();
            while let Some(row) = rows.next()? {
                let mut columns = Columns::from(row, 0);
                frames.facts.push(columns.next()?);
                let (pending, is_timed): (bool, bool) = columns.next()?;
                let time = is_timed.then(|| columns.next()).transpose()?;
                frames.before.push(Before { time, pending });
            }
            Ok(frames)
        })
    }

    /// Records that frames lack derived rows, or have outdated ones, in case this run is killed before they are
    /// derived.
    pub fn mark_frames_pending(&self, frames: &[i64]) -> Result<(), Failure> {
        self.step(|db| {
            let mut note =
                db.prepare_cached("INSERT OR IGNORE INTO pending_frame (frame_id) VALUES (?)")?;
            for frame_id in frames {
                note.execute([frame_id])?;
            }
            Ok(())
        })
    }
}
