//! Where a shower's radiant stands among the stars at a solar longitude. No horizon maths.

use super::showers::DriftPoint;
use super::showers::Peak;
use super::showers::Shower;
use crate::terms::angle::Angle;

/// A radiant's right ascension and declination, J2000.0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Radiant {
    /// Right ascension, 0° to 360°.
    pub ra: Angle,
    /// Declination, north positive.
    pub dec: Angle,
}

/// Returns where a shower's radiant stands at a solar longitude of 0 to 360 degrees.
///
/// Between the published positions: along the straight line from one to the next, in solar longitude. Before the first
/// and after the last: on from there with the drift of the table, so that no radiant steps. Where there is but one: along
/// the straight line through the radiant of the maximum. Published positions are met; the radiant that the calendar prints
/// for the maximum may be up to a degree from the line between them, and 5 to 7 degrees for KCG, DSX and PUP, whose
/// printed radiants contradict each other (see their notes in the table).
/// The antihelion source has no maximum: its last position of September is joined to its first of December.
/// Source: IMO25 Tables 5 and 6 (see [`super::showers`]); the rule is ours.
/// Checked by: `tests/data/reference/radiants.csv`
pub fn radiant(shower: &Shower, solar_lon_deg: f64) -> Radiant {
    let (ra_deg, dec_deg) = shower.track.at(solar_lon_deg);
    Radiant {
        ra: Angle::from_deg(ra_deg).full_circle(),
        dec: Angle::from_deg(dec_deg.clamp(-90.0, 90.0)),
    }
}

/// A drift made ready: positions in order, right ascension without jumps.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Track {
    /// Where offsets are counted from, in degrees of solar longitude.
    origin_deg: f64,
    /// Positions by offset from the origin. Empty where there are fewer than two.
    points: Vec<DriftPoint>,
    /// The position that radiants before the first and after the last of the points go on from, and the drift. `None`
    /// where the points go all round the year.
    ends: Option<Ends>,
}

/// How a radiant goes on beyond its published positions.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Ends {
    first: DriftPoint,
    last: DriftPoint,
    /// Degrees a degree of solar longitude.
    drift_ra: f64,
    drift_dec: f64,
}

impl Track {
    /// Makes a drift ready. Refuses: neither a maximum nor two positions.
    pub(super) fn new(peak: Option<Peak>, published: &[DriftPoint]) -> Option<Self> {
        let origin_deg = match peak {
            Some(peak) => peak.solar_lon_deg,
            None => published.first()?.solar_lon_deg,
        };
        let mut points = published.to_vec();
        for point in &mut points {
            point.solar_lon_deg = half_turn(point.solar_lon_deg - origin_deg);
        }
        points.sort_by(|a, b| a.solar_lon_deg.total_cmp(&b.solar_lon_deg));
        if peak.is_none() {
            // Closes the ring: the last once more before the first, the first once more after the last.
            let (mut first, mut last) = (*points.first()?, *points.last()?);
            first.solar_lon_deg += 360.0;
            last.solar_lon_deg -= 360.0;
            points.insert(0, last);
            points.push(first);
        }
        for at in 1..points.len() {
            let step = points[at].ra_deg - points[at - 1].ra_deg;
            points[at].ra_deg = points[at - 1].ra_deg + half_turn(step);
        }
        if points.len() < 2 {
            // The radiant of the maximum is the only position.
            points.clear();
        }
        let ends = match peak {
            None if points.is_empty() => return None,
            None => None,
            Some(peak) => {
                let at_peak = DriftPoint {
                    solar_lon_deg: 0.0,
                    ra_deg: peak.ra_deg,
                    dec_deg: peak.dec_deg,
                };
                Some(Ends {
                    first: points.first().copied().unwrap_or(at_peak),
                    last: points.last().copied().unwrap_or(at_peak),
                    drift_ra: peak.drift_ra,
                    drift_dec: peak.drift_dec,
                })
            }
        };
        Some(Self {
            origin_deg,
            points,
            ends,
        })
    }

    /// Right ascension (not folded) and declination, in degrees.
    fn at(&self, solar_lon_deg: f64) -> (f64, f64) {
        let offset = half_turn(solar_lon_deg - self.origin_deg);
        let after = self
            .points
            .partition_point(|one| one.solar_lon_deg < offset);
        // An offset on the very first position belongs to the segment that begins there.
        let after = after.max(usize::from(
            self.points
                .first()
                .is_some_and(|one| one.solar_lon_deg <= offset),
        ));
        if let (Some(from), Some(to)) = (
            after
                .checked_sub(1)
                .and_then(|before| self.points.get(before)),
            self.points.get(after),
        ) {
            let share = (offset - from.solar_lon_deg) / (to.solar_lon_deg - from.solar_lon_deg);
            return (
                from.ra_deg + (to.ra_deg - from.ra_deg) * share,
                from.dec_deg + (to.dec_deg - from.dec_deg) * share,
            );
        }
        match self.ends {
            Some(ends) => {
                let from = if offset < ends.first.solar_lon_deg {
                    ends.first
                } else {
                    ends.last
                };
                let beyond = offset - from.solar_lon_deg;
                (
                    from.ra_deg + ends.drift_ra * beyond,
                    from.dec_deg + ends.drift_dec * beyond,
                )
            }
            // Without a maximum the points go all round the year.
            None => (0.0, 0.0),
        }
    }
}

/// Folds degrees into -180 (included) to 180 (excluded).
fn half_turn(deg: f64) -> f64 {
    match deg {
        small if (-180.0..180.0).contains(&small) => small,
        other => (other + 180.0).rem_euclid(360.0) - 180.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sky::showers::showers;

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
