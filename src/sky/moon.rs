//! The Moon: its lit fraction. Never uses showers or sites.

use super::direction::Vector;
use super::direction::dot;
use super::direction::length;
use super::direction::minus;

/// Lit fraction of the Moon's disc, 0 to 1, as seen from the Earth's centre (a site sees it within 0.0085 of that).
///
/// Takes: geocentric vectors of Sun and Moon, one unit for both.
/// Good to: 0.001.
/// Source: Meeus, Astronomical Algorithms, 2nd ed. 1998, eq. 48.1 (from memory).
/// Checked by: `tests/data/reference/sunmoon.csv`, `tests/data/published/meeus-1998.toml`
pub(super) fn lit_fraction(sun: Vector, moon: Vector) -> f64 {
    let moon_to_sun = minus(sun, moon);
    let cos_phase = -dot(moon_to_sun, moon) / (length(moon_to_sun) * length(moon));
    f64::midpoint(1.0, cos_phase)
}
