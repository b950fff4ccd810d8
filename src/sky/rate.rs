//! The rate of a shower at a radiant's altitude. Computes no altitudes.

use super::darkness::ZHR_MAGNITUDE;

/// Meteors an hour for a visual watcher under a 6.5-magnitude sky; 0 with the radiant below the horizon.
///
/// Takes: the ZHR, and the sine of the radiant's altitude with zenith attraction, without the ground's motion and
/// without refraction.
/// Source: the ZHR formula of Rendtel and Arlt, Handbook for Meteor Observers (IMO), with exponent 1, no obstruction
/// and limiting magnitude 6.5.
/// Checked by: `tests/data/reference/geometry.csv`, `tests/data/reference/radiants.csv`
pub fn rate(zhr: f64, sin_altitude: f64) -> f64 {
    zhr * sin_altitude.max(0.0)
}

/// The same under a sky whose faintest star is of magnitude `faintest`, for meteors of population index `r`.
///
/// Takes: the rate under a 6.5-magnitude sky. [`super::darkness`] gives the faintest star.
/// Source: the factor r^(6.5 - lm) of the ZHR formula, Rendtel and Arlt, Handbook for Meteor Observers (IMO).
/// Checked by: `tests/data/reference/geometry.csv`
pub fn rate_under(rate: f64, r: f64, faintest: f64) -> f64 {
    rate * r.powf(faintest - ZHR_MAGNITUDE)
}

/// The factor by which an expected number of meteors may be off either way, apart from chance.
///
/// Source: our choice. The table's ZHR has one maximum for all years, and a limiting magnitude is estimated to 0.3 (a
/// factor of 1.3 at r = 2.5).
const TABLE_FACTOR: f64 = 2.0;

/// The bounds of an expected number of meteors: a factor of two beyond what the profiles give, and one standard
/// deviation of chance beyond that.
///
/// Takes: the number by the lowest and by the highest of the profiles. Source: Poisson's distribution, its standard
/// deviation the square root of the number.
pub fn expected_bounds(fewest: f64, most: f64) -> (f64, f64) {
    let (few, many) = (fewest / TABLE_FACTOR, most * TABLE_FACTOR);
    ((few - few.sqrt()).max(0.0), many + many.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn expected_numbers_keep_their_bounds() {
        let (low, high) = expected_bounds(0.0, 0.0);
        assert!(low.abs() < 1e-12 && high.abs() < 1e-12);
        let (low, high) = expected_bounds(32.0, 32.0);
        assert!((low - 12.0).abs() < 1e-9 && (high - 72.0).abs() < 1e-9);
        let (low, high) = expected_bounds(8.0, 50.0);
        assert!((low - 2.0).abs() < 1e-9 && (high - 110.0).abs() < 1e-9);
    }
}
