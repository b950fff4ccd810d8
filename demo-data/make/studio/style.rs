//! How large the pictures are, and which stars are in them.

use super::cast::Site;
use super::stars::{Star, StarField};

/// Stars above a site at an instant (milliseconds since 1970): directions are north, east, up.
pub type StarsOver = dyn Fn(&Site, i64) -> Vec<Star> + Sync;

/// How the pictures of a dump are made.
pub struct Style<'a> {
    /// Pixels across the camera's JPEG and the preview in a raw file; two thirds as many down.
    pub preview_width: usize,
    /// Pixels across the sensor.
    pub sensor_width: usize,
    /// JPEG quality of the preview, and of the camera's JPEG.
    pub quality: (u8, u8),
    /// The galaxy, and the invented stars.
    pub field: StarField,
    /// Stars in place of the invented ones.
    pub stars_over: Option<&'a StarsOver>,
}

impl<'a> Style<'a> {
    /// Pictures of a few kilobytes, with invented stars.
    pub fn small() -> Self {
        Self {
            preview_width: 240,
            sensor_width: 96,
            quality: (74, 80),
            field: StarField::sow(),
            stars_over: None,
        }
    }

    /// Pictures that can be examined: with these stars, and the satellites and aircraft of the story.
    pub fn large(stars_over: &'a StarsOver) -> Self {
        Self {
            preview_width: 720,
            sensor_width: 720,
            quality: (90, 92),
            stars_over: Some(stars_over),
            ..Self::small()
        }
    }

    /// Whether the pictures are for examining.
    pub fn is_large(&self) -> bool {
        self.stars_over.is_some()
    }
}
