//! The plane that touches the sky at one direction, on which great circles are straight lines. Knows no trails.
//!
//! Source: J. P. Snyder 1987, Map Projections: A Working Manual, USGS Professional Paper 1395, chapter 22, equations 22-4, 22-5, 5-3,
//! for a radius of 1; the same as TAN of Greisen and Calabretta 2002.

use crate::pointing::vector::Vector;
use crate::pointing::vector::cross;
use crate::pointing::vector::dot;
use crate::pointing::vector::unit;

/// Where a direction is drawn: towards the east and towards the pole, in radii of the sphere.
///
/// Takes: unit vectors of one right-handed frame, over a horizon or among the stars; the centre is not the pole.
/// Gives: nothing for directions of `reach_deg` and more from the centre.
/// Checked by: `tests/reference/gnomonic.rs`
pub fn gnomonic(
    centre: Vector,
    pole: Vector,
    direction: Vector,
    reach_deg: f64,
) -> Option<(f64, f64)> {
    let east = unit(cross(pole, centre));
    let north = cross(centre, east);
    let along = dot(direction, centre);
    (along > reach_deg.to_radians().cos())
        .then(|| (dot(direction, east) / along, dot(direction, north) / along))
}
