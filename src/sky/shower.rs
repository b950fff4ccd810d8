//! A shower as published.

use crate::sky::published::DriftPoint;
use crate::sky::published::Peak;
use crate::sky::published::Slopes;
use crate::sky::track::Track;
use crate::terms::shower::ShowerCode;

/// One shower, as published.
#[derive(Clone, Debug, PartialEq)]
pub struct Shower {
    /// The IAU's three letters.
    pub code: ShowerCode,
    /// The IAU's number; the antihelion source has none.
    pub iau_number: Option<u16>,
    /// The name, `Geminids`.
    pub name: String,
    /// Solar longitude at which activity begins, in degrees, equinox J2000.0.
    pub start_deg: f64,
    /// Solar longitude at which activity ends; less than the start for showers about the March equinox.
    pub end_deg: f64,
    /// The maximum; the antihelion source has none.
    pub peak: Option<Peak>,
    /// How steeply activity rises and falls, if known.
    pub slopes: Option<Slopes>,
    /// The radiant by date, as published.
    pub drift: Vec<DriftPoint>,
    /// Geocentric speed in km/s: before the Earth's pull.
    pub vg_kms: f64,
    /// Population index: how many times more meteors a magnitude fainter.
    pub r: f64,
    /// ZHR at the maximum. `None`: variable from year to year.
    pub zhr: Option<f64>,
    /// The source of the figures.
    pub source: String,
    /// Contradictions between sources; empty if there are none.
    pub note: String,
    pub(super) track: Track,
}

impl Shower {
    /// Whether the shower is active at a solar longitude of 0 to 360 degrees. Both limits are included.
    pub fn is_active(&self, solar_lon_deg: f64) -> bool {
        if self.start_deg <= self.end_deg {
            (self.start_deg..=self.end_deg).contains(&solar_lon_deg)
        } else {
            solar_lon_deg >= self.start_deg || solar_lon_deg <= self.end_deg
        }
    }
}
