//! A recorded track: positions with their instants. Fields, no interpolation.

use crate::terms::time::Utc;

/// One point of a track.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrackPoint {
    /// When.
    pub at: Utc,
    /// The run of points it belongs to, from 0; the receiver was off between two runs.
    pub segment: u32,
    /// Latitude on WGS 84, north positive.
    pub lat_deg: f64,
    /// Longitude on WGS 84, east positive.
    pub lon_deg: f64,
    /// Elevation in metres, if recorded.
    pub elev_m: Option<f64>,
}
