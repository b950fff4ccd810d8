//! Spots of pictures that are no stars, and the part of a picture that its pointing holds for: in and out. Computes no value.

use std::fmt::Write;

use rusqlite::Connection;
use rusqlite::params;

use crate::catalogue::columns::columns;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::run_sql::forget;
use crate::terms::failure::Failure;
use crate::terms::pointing::MeasuredGlare;
use crate::terms::pointing::MeasuredPicture;

impl Catalogue {
    /// The largest burnt-out spot of a frame's picture.
    pub fn measured_glare(&self, frame_id: i64) -> Result<Option<MeasuredGlare>, Failure> {
        self.one_if_any(
            "SELECT x_px, y_px, radius_px FROM measured_glare WHERE frame_id = ?",
            [frame_id],
        )
    }

    /// Places of bright images of a frame's picture that no star explains, brightest first.
    pub fn lone_images(&self, frame_id: i64) -> Result<Vec<(f64, f64)>, Failure> {
        self.all(
            "SELECT x_px, y_px FROM measured_lone_image WHERE frame_id = ? ORDER BY number",
            [frame_id],
        )
    }
}

columns!(MeasuredGlare: x_px y_px radius_px);

/// Puts in the spots of a frame's picture, in place of those that were measured before.
pub(super) fn put_spots(
    db: &Connection,
    frame_id: i64,
    measured: &MeasuredPicture,
) -> rusqlite::Result<()> {
    forget(
        db,
        &[
            "DELETE FROM measured_glare WHERE frame_id = ?",
            "DELETE FROM measured_lone_image WHERE frame_id = ?",
        ],
        frame_id,
    )?;
    if let Some(spot) = measured.glare {
        db.prepare_cached(
            "INSERT INTO measured_glare (frame_id, x_px, y_px, radius_px) VALUES (?, ?, ?, ?)",
        )?
        .execute(params![frame_id, spot.x_px, spot.y_px, spot.radius_px])?;
    }
    for (number, (x_px, y_px)) in (1_i64..).zip(&measured.lone_px) {
        db.prepare_cached(
            "INSERT INTO measured_lone_image (frame_id, number, x_px, y_px) VALUES (?, ?, ?, ?)",
        )?
        .execute(params![frame_id, number, x_px, y_px])?;
    }
    Ok(())
}

/// Corners as they are kept: whole pixels, `x,y` each.
pub(super) fn region_text(corners: &[(f64, f64)]) -> Option<String> {
    let mut text = String::new();
    for (x, y) in corners {
        let space = if text.is_empty() { "" } else { " " };
        write!(text, "{space}{x:.0},{y:.0}").ok()?;
    }
    (!text.is_empty()).then_some(text)
}

/// Corners from their text.
pub(super) fn region_of(text: &str) -> Option<Vec<(f64, f64)>> {
    let corner = |text: &str| {
        let (x, y) = text.split_once(',')?;
        Some((x.parse().ok()?, y.parse().ok()?))
    };
    text.split(' ').map(corner).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_are_kept_and_read() {
        let corners = [(12.4, 700.0), (5_999.6, 0.2), (-0.2, 3_999.0)];
        let text = region_text(&corners).unwrap();
        assert_eq!(text, "12,700 6000,0 -0,3999");
        let read = region_of(&text).unwrap();
        assert!(
            read.iter()
                .zip(corners)
                .all(|(a, b)| (a.0 - b.0).abs() <= 0.5 && (a.1 - b.1).abs() <= 0.5)
        );
        assert_eq!(region_text(&[]), None);
        assert_eq!(region_of("12"), None);
        assert_eq!(region_of("1,2 x,3"), None);
    }
}
