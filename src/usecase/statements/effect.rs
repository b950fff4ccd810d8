//! The effect of a statement.

use std::collections::BTreeSet;

use crate::catalogue::body_night::BodyNight;
use crate::usecase::derive::rederive::Concerned;

/// The effect of a statement.
#[derive(Debug, Default)]
pub struct Effect {
    /// The number of the resulting fix, zone, site or track.
    pub id: i64,
    /// The frames to derive again.
    pub frames: Vec<i64>,
    /// The nights to group again.
    pub nights: Vec<BodyNight>,
    /// A changed site, and the frames that were at it.
    pub site: Option<(i64, BTreeSet<i64>)>,
    /// Whether that site was moved: the frames that have no position of their own are elsewhere now.
    pub site_moved: bool,
    /// Frames of which something else is stated now.
    pub restated: u64,
}

impl From<Effect> for Concerned {
    fn from(effect: Effect) -> Self {
        Self {
            frames: effect.frames,
            site: effect.site,
            site_moved: effect.site_moved,
            restated: effect.restated,
            nights: effect.nights,
        }
    }
}
