//! One radiant against the great circle of a trail: miss distance, perspective, and whether it fits. Knows no other radiant.

use crate::pointing::trail_shower::ends::Trail;
use crate::pointing::trail_shower::heights::Heights;
use crate::pointing::trail_shower::heights::heights;
use crate::pointing::vector::Vector;
use crate::pointing::vector::angle_rad;
use crate::pointing::vector::cross;
use crate::pointing::vector::dot;
use crate::pointing::vector::unit;
use crate::terms::shower::ShowerCode;

/// How many sigmas of the ends' errors a great circle may miss the radiant's area.
///
/// Source: common practice, no source: 1 in 370 by chance.
const SIGMAS: f64 = 3.0;
/// Closer to the radiant than this in degrees a meteor comes head-on and its trail has no direction worth the name.
///
/// Source: our choice.
const HEAD_ON_DEG: f64 = 3.0;
/// Farther than this in degrees all great circles through the radiant meet again.
///
/// Source: our choice.
const FARTHEST_DEG: f64 = 150.0;
/// Sine of -10.2°: over the horizon of a meteor at 100 km that stands on ours, a lower radiant is below the horizon as well.
///
/// Source: arithmetic, the square root of 2 · 100 km / 6371 km as an angle.
const LOWEST_RADIANT: f64 = -0.177;

/// A shower whose radiant may be where a trail comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// Which one.
    pub shower: ShowerCode,
    /// Where its trails point back to, over the horizon, as a unit vector: zenith attraction and the ground's motion included.
    pub radiant: Vector,
    /// Speed at the top of the atmosphere in km/s.
    pub arrival_kms: f64,
    /// Meteors an hour under a good sky: ZHR by the radiant's altitude.
    pub rate: f64,
    /// Half the size of the radiant's area in degrees: along `along`, and across it.
    pub half_size_deg: (f64, f64),
    /// Any direction in which the area is long, seen from the radiant.
    pub along: Vector,
}

/// Which end of a trail is its beginning.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sense {
    /// The first one.
    Known,
    /// A photograph does not show it: the end nearer the radiant is taken.
    Unknown,
}

/// Whether a trail can come from a radiant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It can.
    Fits,
    /// Its great circle misses the radiant.
    Misses,
    /// It moves towards the radiant.
    Towards,
    /// The radiant is too far below the horizon.
    BelowHorizon,
    /// The great circle meets the radiant, but so near it that it says little.
    HeadOn,
    /// The same near the point opposite to it.
    Opposite,
}

impl Verdict {
    /// The word that is listed.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Fits => "fits",
            Self::Misses => "misses",
            Self::Towards => "towards the radiant",
            Self::BelowHorizon => "radiant below the horizon",
            Self::HeadOn => "head-on",
            Self::Opposite => "opposite",
        }
    }
}

/// One radiant against a trail.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// Which shower's.
    pub shower: ShowerCode,
    /// How far the great circle passes from the radiant.
    pub miss_deg: f64,
    /// One sigma of it from the errors of the ends.
    pub miss_error_deg: f64,
    /// How far it may: the radiant's area and the errors.
    pub limit_deg: f64,
    /// Half the size of the radiant's area across the trail.
    pub half_size_deg: f64,
    /// From the radiant to where the trail begins: its nearer end where the sense is unknown.
    pub begin_deg: f64,
    /// From the radiant to where it ends.
    pub end_deg: f64,
    /// Whether the trail was turned round for this radiant.
    pub turned_round: bool,
    /// What the trail would mean in the atmosphere. A remark: it removes one false member in five, and one true one in thirty.
    pub heights: Option<Heights>,
    /// Whether it is longer than half its distance from the radiant, which few meteors of a shower are.
    ///
    /// Source: Rendtel and Arlt, Handbook for Meteor Observers (IMO; from memory).
    pub long: bool,
    /// Whether the trail can come from there.
    pub verdict: Verdict,
}

impl Fit {
    /// The probability that a meteor of no shower passes this radiant as near as its limit.
    ///
    /// Source: poles of great circles at random are spread evenly over the sphere.
    pub fn chance(&self) -> f64 {
        self.limit_deg.min(90.0).to_radians().sin()
    }
}

/// Compares a trail with a radiant.
///
/// Takes: how many kilometres above the sea the observer is.
pub fn fit(trail: &Trail, sense: Sense, one: &Candidate, observer_km: f64) -> Fit {
    let distances = |trail: &Trail| {
        (
            angle_rad(trail.from, one.radiant),
            angle_rad(trail.to, one.radiant),
        )
    };
    let (first, second) = distances(trail);
    let turned_round = sense == Sense::Unknown && second < first;
    let trail = if turned_round {
        trail.reversed()
    } else {
        *trail
    };
    let (begin, end) = distances(&trail);
    let half_size_deg = across(&trail, one);
    let miss_deg = trail.miss_rad(one.radiant).to_degrees();
    let miss_error_deg = trail.miss_error_rad(one.radiant).to_degrees();
    let limit_deg = half_size_deg + SIGMAS * miss_error_deg;
    let middle_deg = angle_rad(trail.middle(), one.radiant).to_degrees();
    let verdict = if one.radiant[2] < LOWEST_RADIANT {
        Verdict::BelowHorizon
    } else if miss_deg.abs() > limit_deg {
        Verdict::Misses
    } else if middle_deg < HEAD_ON_DEG {
        Verdict::HeadOn
    } else if middle_deg > FARTHEST_DEG {
        Verdict::Opposite
    } else if end < begin {
        Verdict::Towards
    } else {
        Verdict::Fits
    };
    Fit {
        shower: one.shower,
        miss_deg: miss_deg.abs(),
        miss_error_deg,
        limit_deg,
        half_size_deg,
        begin_deg: begin.to_degrees(),
        end_deg: end.to_degrees(),
        turned_round,
        heights: heights(&trail, one.radiant, one.arrival_kms, observer_km),
        long: trail.length_rad() > begin / 2.0,
        verdict,
    }
}

/// Half the size of a radiant's area as the great circle crosses it.
///
/// Source: the width of an ellipse in a direction.
fn across(trail: &Trail, one: &Candidate) -> f64 {
    let (a, b) = one.half_size_deg;
    let other = unit(cross(one.radiant, one.along));
    let long = cross(other, one.radiant);
    let pole = trail.pole();
    let (x, y) = (dot(pole, long), dot(pole, other));
    let length = x.hypot(y);
    if length < 1e-9 {
        return a.max(b);
    }
    (a * x / length).hypot(b * y / length)
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::pointing::trail_shower::ends::tests::over;
    use crate::pointing::trail_shower::ends::tests::trail;

    pub fn candidate(code: &str, radiant: Vector) -> Candidate {
        Candidate {
            shower: ShowerCode::parse(code).unwrap(),
            radiant,
            arrival_kms: 35.0,
            rate: 60.0,
            half_size_deg: (1.5, 1.5),
            along: [0.3, 0.4, -0.5],
        }
    }

    /// Worked numbers: a camera of 630 pixels at azimuth 95°, altitude 40°, the Geminids' apparent radiant at 81.4952°, 130.9987°.
    #[test]
    fn worked_trails_of_the_geminids() {
        let geminids = candidate("GEM", over(81.4952, 130.9987));
        let member = trail((1180.0, 640.0), (1232.78, 758.66));
        assert!((member.length_rad().to_degrees() - 9.0).abs() < 0.001);
        let found = fit(&member, Sense::Known, &geminids, 1.905);
        assert!(found.miss_deg < 0.001, "{found:?}");
        assert!((found.begin_deg - 55.815).abs() < 0.001, "{found:?}");
        assert!((found.end_deg - 64.815).abs() < 0.001, "{found:?}");
        assert_eq!(found.verdict, Verdict::Fits);
        let other = trail((300.0, 300.0), (420.0, 330.0));
        let found = fit(&other, Sense::Unknown, &geminids, 1.905);
        assert!((other.length_rad().to_degrees() - 7.088).abs() < 0.001);
        assert!((found.miss_deg - 33.09).abs() < 0.005, "{found:?}");
        assert_eq!(found.verdict, Verdict::Misses);
        // Its first end is the farther one (46.1°); the nearer (41.8°) is taken as the beginning.
        assert!(found.turned_round);
        assert!((found.begin_deg - 41.8).abs() < 0.05 && (found.end_deg - 46.1).abs() < 0.05);
    }

    #[test]
    fn a_sense_is_used_only_where_it_is_known() {
        let geminids = candidate("GEM", over(81.4952, 130.9987));
        let back = trail((1232.78, 758.66), (1180.0, 640.0));
        let known = fit(&back, Sense::Known, &geminids, 0.0);
        assert_eq!(known.verdict, Verdict::Towards);
        assert_eq!(known.heights, None);
        let unknown = fit(&back, Sense::Unknown, &geminids, 0.0);
        assert_eq!(unknown.verdict, Verdict::Fits);
        assert!(unknown.turned_round);
    }

    #[test]
    fn near_the_radiant_and_opposite_to_it_nothing_is_said() {
        let one = |radiant: Vector| {
            let member = trail((800.0, 500.0), (840.0, 520.0));
            fit(&member, Sense::Unknown, &candidate("GEM", radiant), 0.0).verdict
        };
        let middle = trail((800.0, 500.0), (840.0, 520.0)).middle();
        assert_eq!(one(middle), Verdict::HeadOn);
        assert_eq!(
            one([-middle[0], -middle[1], -middle[2]]),
            Verdict::BelowHorizon
        );
        let member = trail((300.0, 1000.0), (500.0, 1000.0));
        let back = member.middle();
        let opposite = unit([-back[0], -back[1], 0.05]);
        let found = fit(&member, Sense::Unknown, &candidate("GEM", opposite), 0.0);
        assert_ne!(found.verdict, Verdict::Fits, "{found:?}");
    }

    #[test]
    fn an_oval_is_as_wide_as_the_great_circle_crosses_it() {
        let radiant = [0.0, 0.0, 1.0];
        let mut one = candidate("ANT", radiant);
        (one.half_size_deg, one.along) = ((15.0, 7.5), [1.0, 0.0, 0.0]);
        let along = |azimuth: f64| Trail {
            from: over(60.0, azimuth),
            to: over(50.0, azimuth),
            from_error_rad: 0.0,
            to_error_rad: 0.0,
        };
        // Along the long axis the great circle crosses the short one.
        assert!((across(&along(90.0), &one) - 7.5).abs() < 1e-9);
        assert!((across(&along(0.0), &one) - 15.0).abs() < 1e-9);
        assert!((across(&along(45.0), &one) - 11.858_541).abs() < 1e-5);
    }
}
