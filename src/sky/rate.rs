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

/// Degrees of solar longitude from one to another, going forward.
fn forward(from_deg: f64, to_deg: f64) -> f64 {
    let ahead = to_deg - from_deg;
    if ahead < 0.0 { ahead + 360.0 } else { ahead }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sky::showers::showers;

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
