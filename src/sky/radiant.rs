//! The position of a shower's radiant among the stars at a solar longitude. No horizon maths.

use crate::sky::shower::Shower;
use crate::terms::angle::Angle;

/// A radiant's right ascension and declination, J2000.0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Radiant {
    /// Right ascension, 0° to 360°.
    pub ra: Angle,
    /// Declination, north positive.
    pub dec: Angle,
}

/// Returns the position of a shower's radiant at a solar longitude of 0 to 360 degrees.
///
/// Between the published positions: along the straight line from one to the next, in solar longitude. Before the first
/// and after the last: continued from there with the drift of the table, so that no radiant jumps. If there is only
/// one: along the straight line through the radiant of the maximum. Published positions are reproduced; the radiant
/// that the calendar prints for the maximum may be up to a degree from the line between them, and 5 to 7 degrees for
/// KCG, DSX and PUP, whose printed radiants contradict each other (see their notes in the table). The antihelion source
/// has no maximum: its last position of September is joined to its first of December. Source: IMO25 Tables 5 and 6 (see
/// [`super::showers`]); the rule is ours. Checked by: `tests/data/reference/radiants.csv`
pub fn radiant(shower: &Shower, solar_lon_deg: f64) -> Radiant {
    let (ra_deg, dec_deg) = shower.track.at(solar_lon_deg);
    Radiant {
        ra: Angle::from_deg(ra_deg).full_circle(),
        dec: Angle::from_deg(dec_deg.clamp(-90.0, 90.0)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sky::showers::showers;
    use crate::sky::track::half_turn;

    #[test]
    fn published_positions_are_met() {
        for shower in showers().iter().filter(|one| one.drift.len() > 1) {
            for point in &shower.drift {
                let there = radiant(shower, point.solar_lon_deg);
                assert!(
                    (there.ra.deg() - point.ra_deg).abs() < 1e-9,
                    "{}",
                    shower.code
                );
                assert!(
                    (there.dec.deg() - point.dec_deg).abs() < 1e-9,
                    "{}",
                    shower.code
                );
            }
        }
    }

    #[test]
    fn right_ascension_goes_through_zero() {
        let ant = showers().iter().find(|one| one.peak.is_none()).unwrap();
        let through = radiant(ant, 165.0);
        assert!(
            through.ra.deg() > 355.0 || through.ra.deg() < 5.0,
            "{through:?}"
        );
        let gap = radiant(ant, 175.0);
        assert!((5.0..15.0).contains(&gap.ra.deg()), "{gap:?}");
    }

    /// A thousandth of a degree of solar longitude moves a radiant by a few thousandths of a degree at most, over all of
    /// its activity and ten degrees beyond.
    #[test]
    fn no_radiant_steps() {
        for shower in showers() {
            let active = (shower.end_deg - shower.start_deg).rem_euclid(360.0);
            let first = shower.start_deg - 10.0;
            let mut before = radiant(shower, first.rem_euclid(360.0));
            let mut greatest = 0.0_f64;
            for k in 1..=360_000_u32 {
                let along = f64::from(k) / 1000.0;
                if along > active + 20.0 {
                    break;
                }
                let now = radiant(shower, (first + along).rem_euclid(360.0));
                let east = half_turn(now.ra.deg() - before.ra.deg()) * now.dec.rad().cos();
                greatest = greatest.max(east.hypot(now.dec.deg() - before.dec.deg()));
                before = now;
            }
            assert!(greatest < 0.005, "{} {greatest}", shower.code);
        }
    }
}
