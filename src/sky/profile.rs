//! How active a shower is at a solar longitude: its ZHR by the activity profile, with bounds. No altitudes.

use crate::sky::published::Peak;
use crate::sky::published::Slopes;
use crate::sky::shower::Shower;

/// ZHR of a shower at a solar longitude, with bounds from the two profiles.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Zhr {
    /// By the shower's own profile.
    pub most_likely: f64,
    /// The lowest of the profiles.
    pub low: f64,
    /// The highest of them.
    pub high: f64,
}

/// ZHR of a shower at a solar longitude of 0 to 360 degrees, by its activity profile; 0 if it is not active.
///
/// If slopes are known: `ZHR_max` times 10^(-B distance), B the slope of that side; if the shower has a weak broad
/// component, that takes its share of `ZHR_max` and falls by its own slopes. If no slope is known: the exponential that
/// passes through `ZHR_max` at the peak and 1 at the published limits of activity. A shower that varies from year to
/// year counts as 1 throughout; the antihelion source, which has no peak, as its ZHR throughout.
///
/// Source: form by Jenniskens 1994, A&A 287, 990, and 1995, A&A 295, 206; slopes and broad components in
/// `activity.csv`, from memory; the rule for showers without slopes is ours.
pub fn zhr(shower: &Shower, solar_lon_deg: f64) -> f64 {
    zhr_bounds(shower, solar_lon_deg).most_likely
}

/// The same with bounds: from the sharp exponential without a broad component to the rule for showers without slopes.
///
/// Source: as for [`zhr`]. The first is too low far from the peak, the second too high near it.
pub fn zhr_bounds(shower: &Shower, solar_lon_deg: f64) -> Zhr {
    let all = |zhr: f64| Zhr {
        most_likely: zhr,
        low: zhr,
        high: zhr,
    };
    if !shower.is_active(solar_lon_deg) {
        return all(0.0);
    }
    let (Some(most), Some(peak)) = (shower.zhr, shower.peak) else {
        return all(shower.zhr.unwrap_or(1.0));
    };
    let side = Side::of(shower, peak, solar_lon_deg);
    let by_rule = most.powf(1.0 - side.distance_deg / side.limit_deg);
    let Some(slopes) = shower.slopes else {
        return all(by_rule);
    };
    let sharp = most * 10_f64.powf(-slopes.fall(side));
    let most_likely = match slopes.broad {
        None => sharp,
        Some(broad) => {
            let slope = if side.is_before {
                broad.before
            } else {
                broad.after
            };
            let wide = most * 10_f64.powf(-slope * side.distance_deg);
            sharp + (wide - sharp) * broad.share
        }
    };
    Zhr {
        most_likely,
        low: sharp.min(by_rule).min(most_likely),
        high: sharp.max(by_rule).max(most_likely),
    }
}

/// On which side of the peak a longitude is, how far from it, and how far the limit of activity is from it.
#[derive(Clone, Copy)]
struct Side {
    is_before: bool,
    distance_deg: f64,
    limit_deg: f64,
}

impl Side {
    fn of(shower: &Shower, peak: Peak, solar_lon_deg: f64) -> Self {
        let from_start = forward(shower.start_deg, solar_lon_deg);
        let peak_from_start = forward(shower.start_deg, peak.solar_lon_deg);
        let is_before = from_start <= peak_from_start;
        Self {
            is_before,
            distance_deg: (from_start - peak_from_start).abs(),
            limit_deg: if is_before {
                peak_from_start
            } else {
                forward(peak.solar_lon_deg, shower.end_deg)
            },
        }
    }
}

impl Slopes {
    /// The power of ten by which the sharp component has fallen.
    fn fall(&self, side: Side) -> f64 {
        let slope = if side.is_before {
            self.before
        } else {
            self.after
        };
        match self.core {
            Some((to_deg, steeper)) => {
                let within = side.distance_deg.min(to_deg);
                steeper * within + slope * (side.distance_deg - within)
            }
            None => slope * side.distance_deg,
        }
    }
}

/// Degrees of solar longitude from one to another, going forward.
fn forward(from_deg: f64, to_deg: f64) -> f64 {
    let ahead = to_deg - from_deg;
    if ahead < 0.0 { ahead + 360.0 } else { ahead }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sky::showers::shower;
    use crate::sky::showers::showers;
    use crate::terms::shower::ShowerCode;

    fn of(code: &str) -> &'static Shower {
        shower(ShowerCode::parse(code).unwrap()).unwrap()
    }

    #[test]
    fn every_profile_passes_through_its_peak_and_keeps_its_bounds() {
        for shower in showers() {
            let (Some(most), Some(peak)) = (shower.zhr, shower.peak) else {
                let expect = shower.zhr.unwrap_or(1.0);
                assert!((zhr(shower, shower.start_deg) - expect).abs() < 1e-12);
                continue;
            };
            let there = zhr_bounds(shower, peak.solar_lon_deg);
            for zhr in [there.most_likely, there.low, there.high] {
                assert!((zhr - most).abs() < 1e-9, "{}", shower.code);
            }
            let length = forward(shower.start_deg, shower.end_deg);
            let mut before = 0.0;
            for step in 0..=1_000 {
                let lon = (shower.start_deg + length * f64::from(step) / 1_000.0).rem_euclid(360.0);
                let Zhr {
                    most_likely,
                    low,
                    high,
                } = zhr_bounds(shower, lon);
                // The last of a thousand steps may be rounded past the limit.
                if !shower.is_active(lon) {
                    continue;
                }
                assert!(
                    0.0 < low && low <= most_likely && most_likely <= high && high <= most + 1e-9,
                    "{} at {lon}",
                    shower.code
                );
                let rises =
                    forward(shower.start_deg, lon) <= forward(shower.start_deg, peak.solar_lon_deg);
                assert!(!rises || most_likely >= before, "{} at {lon}", shower.code);
                before = most_likely;
            }
            let outside = (shower.end_deg + 0.01).rem_euclid(360.0);
            assert!(zhr(shower, outside) < f64::MIN_POSITIVE, "{}", shower.code);
        }
    }

    #[test]
    fn without_slopes_activity_is_1_at_its_limits() {
        let all: Vec<_> = showers()
            .iter()
            .filter(|one| one.slopes.is_none() && one.zhr.is_some() && one.peak.is_some())
            .collect();
        assert_eq!(all.len(), 24);
        for shower in all {
            for limit in [shower.start_deg, shower.end_deg] {
                assert!(
                    (zhr(shower, limit) - 1.0).abs() < 1e-9,
                    "{} {limit}",
                    shower.code
                );
            }
        }
    }

    /// Slopes: 2.5 a degree for the Quadrantids, 0.59 and 0.81 for the Geminids (form Jenniskens 1994, values from
    /// memory). The rule alone gave 13 and 200 times as many Quadrantids, and 3 times as many Geminids.
    #[test]
    fn sharp_showers_are_sharp() {
        let sharp = |code: &str, off: f64, zhr: f64, slope: f64| {
            let there = zhr_bounds(of(code), of(code).peak.unwrap().solar_lon_deg + off);
            let expect = zhr * 10_f64.powf(-slope * off.abs());
            assert!((there.low / expect - 1.0).abs() < 1e-9, "{code} {off}");
            there
        };
        let half = sharp("QUA", 0.5, 80.0, 2.5);
        assert!(half.most_likely < 3.0 * half.low && half.high > 10.0 * half.low);
        let one = sharp("QUA", -1.0, 80.0, 2.5);
        assert!(one.most_likely < 6.0 && one.high > 100.0 * one.low);
        let before = sharp("GEM", -1.0, 150.0, 0.59);
        let after = sharp("GEM", 1.0, 150.0, 0.81);
        assert!(before.most_likely < 1.5 * before.low && after.most_likely < 1.5 * after.low);
        sharp("LYR", 1.0, 18.0, 0.22);
        sharp("PER", 2.0, 100.0, 0.35);
        let far = zhr_bounds(of("PER"), 135.0).low;
        assert!((far / (100.0 * 10_f64.powf(-0.35 * 2.0 - 0.20 * 3.0)) - 1.0).abs() < 1e-9);
    }
}
