//! What a shower's activity gives at a radiant's altitude. No altitudes computed here.

use super::showers::Shower;

/// ZHR of a shower at a solar longitude of 0 to 360 degrees, by its activity profile; 0 where it is not active.
///
/// The profile falls exponentially on either side of the maximum and reaches 1 at the published limits of activity:
/// ZHR = `ZHR_max`^(1 - distance from the maximum / distance of the limit from it). It tells which shower is the
/// strongest on a date, and understates how sharp the Quadrantids and the Geminids are. A variable shower counts
/// as 1 all along; the antihelion source, which has no maximum, as its ZHR all along.
///
/// Source: form by Jenniskens 1994, A&A 287, 990, and 1995, A&A 295, 206; slopes by the rule above, which is ours.
pub fn zhr(shower: &Shower, solar_lon_deg: f64) -> f64 {
    if !shower.is_active(solar_lon_deg) {
        return 0.0;
    }
    let (Some(most), Some(peak)) = (shower.zhr, shower.peak) else {
        return shower.zhr.unwrap_or(1.0);
    };
    let from_start = forward(shower.start_deg, solar_lon_deg);
    let peak_from_start = forward(shower.start_deg, peak.solar_lon_deg);
    let (distance, limit) = if from_start <= peak_from_start {
        (peak_from_start - from_start, peak_from_start)
    } else {
        (
            from_start - peak_from_start,
            forward(peak.solar_lon_deg, shower.end_deg),
        )
    };
    most.powf(1.0 - distance / limit)
}

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
/// Takes: the rate under a 6.5-magnitude sky.
/// Source: the factor r^(6.5 - lm) of the ZHR formula, Rendtel and Arlt, Handbook for Meteor Observers (IMO).
/// Checked by: `tests/data/reference/geometry.csv`
pub fn rate_under(rate: f64, r: f64, faintest: f64) -> f64 {
    rate * r.powf(faintest - ZHR_MAGNITUDE)
}

/// Magnitude of the faintest star seen under a sky of this surface brightness at the zenith, in magnitudes a square
/// arcsecond.
///
/// Good to: half a magnitude from eye to eye.
/// Source: Schaefer 1990, PASP 102, 212, in the form that meters' makers give: 7.93 - 5 log10(10^(4.316 - B/5) + 1)
/// (from memory).
pub fn faintest_star(surface_brightness: f64) -> f64 {
    7.93 - 5.0 * (10_f64.powf(4.316 - surface_brightness / 5.0) + 1.0).log10()
}

/// Magnitude of the faintest star under the sky of the ZHR.
///
/// Source: definition of the ZHR (IMO, Handbook for Meteor Observers).
pub const ZHR_MAGNITUDE: f64 = 6.5;

/// How far an expected number of meteors may be off for what is not chance: this factor either way.
///
/// Source: our choice. The table's ZHR keeps one maximum for all years, the profile's slopes are by rule, and a
/// limiting magnitude is estimated to 0.3 (a factor of 1.3 at r = 2.5).
const TABLE_FACTOR: f64 = 2.0;

/// The bounds of an expected number of meteors: a factor of two, and one standard deviation of chance beyond it.
///
/// Source: Poisson's distribution, its standard deviation the square root of the number.
pub fn expected_bounds(meteors: f64) -> (f64, f64) {
    let (few, many) = (meteors / TABLE_FACTOR, meteors * TABLE_FACTOR);
    ((few - few.sqrt()).max(0.0), many + many.sqrt())
}

/// Degrees of solar longitude from one to another, going forward.
fn forward(from_deg: f64, to_deg: f64) -> f64 {
    let ahead = to_deg - from_deg;
    if ahead < 0.0 { ahead + 360.0 } else { ahead }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sky::showers::showers;

    /// Dark skies of 21.8 magnitudes a square arcsecond show stars to 6.5, a town's of 18 to 4 (from memory).
    #[test]
    fn the_faintest_star_follows_from_the_brightness_of_the_sky() {
        assert!((faintest_star(21.8) - 6.5).abs() < 0.1);
        assert!((faintest_star(18.0) - 4.1).abs() < 0.3);
        assert!(faintest_star(23.0) > faintest_star(22.0));
    }

    #[test]
    fn expected_numbers_keep_their_bounds() {
        let (low, high) = expected_bounds(0.0);
        assert!(low.abs() < 1e-12 && high.abs() < 1e-12);
        let (low, high) = expected_bounds(32.0);
        assert!((low - 12.0).abs() < 1e-9 && (high - 72.0).abs() < 1e-9);
    }

    #[test]
    fn the_profile_passes_through_its_three_points() {
        for shower in showers() {
            let (Some(most), Some(peak)) = (shower.zhr, shower.peak) else {
                let expect = shower.zhr.unwrap_or(1.0);
                assert!((zhr(shower, shower.start_deg) - expect).abs() < 1e-12);
                continue;
            };
            assert!(
                (zhr(shower, peak.solar_lon_deg) - most).abs() < 1e-9,
                "{}",
                shower.code
            );
            assert!(
                (zhr(shower, shower.start_deg) - 1.0).abs() < 1e-9,
                "{}",
                shower.code
            );
            assert!(
                (zhr(shower, shower.end_deg) - 1.0).abs() < 1e-9,
                "{}",
                shower.code
            );
            let outside = (shower.end_deg + 0.01).rem_euclid(360.0);
            assert!(zhr(shower, outside) < f64::MIN_POSITIVE, "{}", shower.code);
        }
    }
}
