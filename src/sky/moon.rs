//! The Moon: its lit fraction. Never uses showers or sites.

use sofars::vm::pdp;
use sofars::vm::pm;
use sofars::vm::pmp;

use super::direction::Vector;

/// Lit fraction of the Moon's disc, 0 to 1, as seen from the Earth's centre (a site sees it within 0.0085 of that).
///
/// Takes: geocentric vectors of Sun and Moon, one unit for both.
/// Good to: 0.001.
/// Source: Meeus, Astronomical Algorithms, 2nd ed. 1998, eq. 48.1 (from memory).
/// Checked by: `tests/data/reference/sunmoon.csv`, `tests/data/published/meeus-1998.toml`
pub(super) fn lit_fraction(sun: Vector, moon: Vector) -> f64 {
    let moon_to_sun = pmp(&sun, &moon);
    let cos_phase = -pdp(&moon_to_sun, &moon) / (pm(moon_to_sun) * pm(moon));
    f64::midpoint(1.0, cos_phase)
}
