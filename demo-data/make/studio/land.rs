//! The landscape: how high the land rises in each direction, and how it reflects light.

use super::cast::Terrain;
use super::random::{at_point, surface};

/// Nothing of any land rises higher.
pub const HIGHEST_DEG: f64 = 12.5;

/// One layer of land in one direction.
pub struct Slope {
    /// Altitude of its edge.
    pub edge_deg: f64,
    /// Share of the light it gives back.
    pub pale: f64,
}

/// The land in one azimuth, farthest layer first.
///
/// The pattern begins in the west, where no camera of the scenario points.
pub fn slopes(terrain: Terrain, az_deg: f64) -> [Slope; 3] {
    let az = (az_deg + 90.0).rem_euclid(360.0);
    let slope = |edge_deg: f64, pale: f64| Slope { edge_deg, pale };
    match terrain {
        Terrain::Desert => [
            slope(2.2 + 4.6 * ridge(31, az, 24.0), 0.95),
            slope(1.0 + 3.0 * ridge(34, az, 15.0), 0.55),
            slope(0.2 + 1.6 * ridge(32, az, 9.0) + bushes(33, az, 0.6), 0.25),
        ],
        Terrain::Plain => [
            slope(0.7 + 1.1 * ridge(41, az, 34.0), 0.8),
            slope(0.1 + 0.5 * ridge(42, az, 5.0), 0.6),
            slope(-1.6 + 0.8 * ridge(44, az, 5.0) + bushes(43, az, 4.4), 0.2),
        ],
        Terrain::Snow => [
            slope(3.4 + 6.0 * ridge(51, az, 27.0), 2.6),
            slope(-0.6 + 2.2 * ridge(52, az, 16.0) + spruces(az), 0.10),
            slope(-1.8 + 2.2 * ridge(53, az, 21.0), 2.1),
        ],
    }
}

/// How much lighter or darker a patch of land is, 0.6 to 1.4.
pub fn patch(az_deg: f64, alt_deg: f64) -> f64 {
    let broad = surface(61, az_deg / 3.0 + 9.0, alt_deg / 0.9 + 9.0);
    let narrow = surface(62, az_deg / 0.9 + 9.0, alt_deg / 0.4 + 9.0);
    0.6 + 0.55 * broad + 0.25 * narrow
}

/// A skyline from 0 to 1, rough at every scale, one hill to `span_deg`.
fn ridge(seed: u64, az_deg: f64, span_deg: f64) -> f64 {
    let x = az_deg / span_deg + 3.0;
    let octave = |k: u64, size: f64, pace: f64| size * surface(seed + 100 * k, x * pace, 0.0);
    octave(0, 0.56, 1.0) + octave(1, 0.26, 2.3) + octave(2, 0.12, 5.1) + octave(3, 0.06, 11.7)
}

/// Round bushes, some cells of the ground empty.
fn bushes(seed: u64, az_deg: f64, tallest_deg: f64) -> f64 {
    stand(az_deg, 2.6, seed, |off_deg, size| {
        let half = 0.35 + 0.8 * size;
        let inside = 1.0 - (off_deg / half).powi(2);
        if size < 0.55 {
            0.0
        } else {
            tallest_deg * (size - 0.35) * inside.max(0.0).sqrt()
        }
    })
}

/// Pointed spruces in small groups.
fn spruces(az_deg: f64) -> f64 {
    let dense = 0.3 + 0.7 * surface(54, az_deg / 13.0 + 5.0, 0.0);
    stand(az_deg, 0.9, 55, |off_deg, size| {
        let height = 12.0 * (size * dense - 0.16).max(0.0);
        (height - off_deg.abs() * 6.5).max(0.0)
    })
}

/// The highest of the plants near an azimuth; each is somewhere in its own cell.
fn stand(az_deg: f64, cell_deg: f64, seed: u64, shape: impl Fn(f64, f64) -> f64) -> f64 {
    #[allow(clippy::cast_possible_truncation)] // at most 360 cells
    let here = (az_deg / cell_deg).floor() as i64;
    (here - 1..=here + 1)
        .map(|cell| {
            let middle = (cell as f64 + at_point(seed, cell, 1)) * cell_deg;
            shape(az_deg - middle, at_point(seed, cell, 2))
        })
        .fold(0.0, f64::max)
}
