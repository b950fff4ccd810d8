//! The position of a radiant by date: the printed positions, and between and beyond them.

use crate::sky::published::DriftPoint;
use crate::sky::published::Peak;

/// A drift prepared for lookup: positions in order, right ascension without jumps.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Track {
    /// The origin of offsets, in degrees of solar longitude.
    origin_deg: f64,
    /// Positions by offset from the origin. Empty if there are fewer than two.
    points: Vec<DriftPoint>,
    /// The position from which radiants continue before the first and after the last of the points, and the drift.
    /// `None` if the points go all round the year.
    ends: Option<Ends>,
}

impl Track {
    /// Prepares a drift. Refuses: neither a maximum nor two positions.
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
            // Closes the ring: repeats the last before the first, and the first after the last.
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
    pub(super) fn at(&self, solar_lon_deg: f64) -> (f64, f64) {
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

/// How a radiant continues beyond its published positions.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Ends {
    first: DriftPoint,
    last: DriftPoint,
    /// Degrees per degree of solar longitude.
    drift_ra: f64,
    drift_dec: f64,
}

/// Folds degrees into -180 (included) to 180 (excluded).
pub(super) fn half_turn(deg: f64) -> f64 {
    match deg {
        small if (-180.0..180.0).contains(&small) => small,
        other => (other + 180.0).rem_euclid(360.0) - 180.0,
    }
}
