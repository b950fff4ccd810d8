//! Perspective in kilometres: how high a meteor was at both ends of its trail and how far it flew, if it came from a radiant and
//! began where meteors of that speed begin. Knows no pixels.

use crate::pointing::trail_shower::ends::Trail;
use crate::pointing::vector::Vector;
use crate::pointing::vector::angle_rad;
use crate::pointing::vector::dot;
use crate::pointing::vector::plus;
use crate::pointing::vector::scaled;

/// Mean radius of the Earth in kilometres.
///
/// Source: IUGG (from memory).
const EARTH_KM: f64 = 6371.0;
/// Height at which meteors begin, at speed 0 and for each km/s: DRA 95, GEM 100, PER 112, LEO 117 km.
///
/// Source: begin heights of P. Jenniskens 2006, Meteor Showers and their Parent Comets (from memory); the line is ours.
const BEGIN_KM: (f64, f64) = (84.0, 0.47);
/// The lowest end of a meteor that is not a fireball, in kilometres. Source: common practice, no source.
const LOWEST_END_KM: f64 = 40.0;
/// The longest path in kilometres, and the longest of a meteor whose radiant is low. Source: common practice, no source.
const LONGEST_KM: (f64, f64) = (60.0, 90.0);
/// Sine of the altitude of a radiant, 15°, below which its meteors graze the atmosphere.
///
/// Source: common practice, no source.
const GRAZING: f64 = 0.258_819;

/// What a trail would mean in the atmosphere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heights {
    /// The height at which it is taken to begin, in kilometres above the sea.
    pub begin_km: f64,
    /// The height at which it then ends.
    pub end_km: f64,
    /// The length of its path.
    pub path_km: f64,
    /// How far it is from the observer where it begins.
    pub range_km: f64,
    /// Whether meteors fly so: downwards, not too low, not too far.
    pub plausible: bool,
}

/// The heights of a trail that begins at `trail.from`, for a radiant and a speed at the top of the atmosphere.
///
/// Takes: directions in the geometric horizon of an observer so many kilometres above the sea. Gives: nothing for a trail that
/// does not move away from the radiant.
/// Source: plane triangle of the observer and the path; sphere of the Earth.
pub fn heights(
    trail: &Trail,
    radiant: Vector,
    arrival_kms: f64,
    observer_km: f64,
) -> Option<Heights> {
    let begin_km = BEGIN_KM.0 + BEGIN_KM.1 * arrival_kms;
    let (from, to) = (angle_rad(trail.from, radiant), angle_rad(trail.to, radiant));
    if to <= from || from <= 0.0 {
        return None;
    }
    let centre_km = EARTH_KM + observer_km;
    let along = centre_km * trail.from[2];
    let range_km =
        -along + (along * along + (EARTH_KM + begin_km).powi(2) - centre_km * centre_km).sqrt();
    // The distance of the line of the path from the observer.
    let beside_km = range_km * from.sin();
    let end_range_km = beside_km / to.sin();
    let path_km = beside_km * (1.0 / from.tan() - 1.0 / to.tan());
    let end = plus(scaled(trail.to, end_range_km), [0.0, 0.0, centre_km]);
    let end_km = dot(end, end).sqrt() - EARTH_KM;
    let longest_km = if radiant[2] < GRAZING {
        LONGEST_KM.1
    } else {
        LONGEST_KM.0
    };
    Some(Heights {
        begin_km,
        end_km,
        path_km,
        range_km,
        plausible: (LOWEST_END_KM..begin_km).contains(&end_km) && path_km <= longest_km,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pointing::trail_shower::ends::tests::over;
    use crate::pointing::trail_shower::ends::tests::trail;

    /// A worked example: a Geminid that begins at 100 km: range 219 -> 201 km, path 37.9 km, end height 62.3 km.
    #[test]
    fn heights_of_a_geminid() {
        let one = trail((1180.0, 640.0), (1232.78, 758.66));
        // The speed at which meteors begin at 100 km by the line.
        let speed = (100.0 - BEGIN_KM.0) / BEGIN_KM.1;
        let found = heights(&one, over(81.4952, 130.9987), speed, 1.905).unwrap();
        assert!((found.begin_km - 100.0).abs() < 1e-9);
        assert!((found.range_km - 219.0).abs() < 1.0, "{found:?}");
        assert!((found.path_km - 37.9).abs() < 0.1, "{found:?}");
        assert!((found.end_km - 62.3).abs() < 0.1, "{found:?}");
        assert!(found.plausible);
        assert_eq!(
            heights(&one.reversed(), over(81.4952, 130.9987), speed, 1.905),
            None
        );
    }

    /// A path built in kilometres comes back: straight down from 95 to 70 km, 100 km north of the observer.
    #[test]
    fn a_vertical_path_comes_back() {
        let at = |north_rad: f64, km: f64| {
            let radius = EARTH_KM + km;
            let place = [
                0.0,
                radius * north_rad.sin(),
                radius * north_rad.cos() - EARTH_KM,
            ];
            scaled(place, 1.0 / dot(place, place).sqrt())
        };
        let north = 100.0 / EARTH_KM;
        let (from, to) = (at(north, 95.0), at(north, 70.0));
        let radiant = [0.0, north.sin(), north.cos()];
        let one = Trail {
            from,
            to,
            from_error_rad: 0.0,
            to_error_rad: 0.0,
        };
        let speed = (95.0 - BEGIN_KM.0) / BEGIN_KM.1;
        let found = heights(&one, radiant, speed, 0.0).unwrap();
        assert!((found.end_km - 70.0).abs() < 1e-6, "{found:?}");
        assert!((found.path_km - 25.0).abs() < 1e-6, "{found:?}");
    }
}
