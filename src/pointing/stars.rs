//! The bright stars: places, motions, magnitudes, names. Knows no lens and no picture.
//!
//! `stars.csv` holds 11,948 stars, brightest first: HR or HIP number, ICRS right ascension and declination at epoch 2000.0,
//! proper motion (that in right ascension times the cosine of declination; blank where none is known), V magnitude, the
//! proper name adopted by the IAU's working group on star names where there is one.
//!
//! Source: Hipparcos, the new reduction, F. van Leeuwen 2007, A&A 474, 653 (CDS I/311), based on data from the ESA Hipparcos
//! satellite; Bright Star Catalogue, 5th revised edition (preliminary), D. Hoffleit and W. H. Warren 1991 (CDS V/50), for
//! numbers, V and close companions. `T CrB`, which the latter lists at its nova's maximum, is left out.

use std::f64::consts::FRAC_PI_2;
use std::sync::LazyLock;

use crate::pointing::vector::Vector;
use crate::pointing::vector::from_angles_rad;
use crate::pointing::vector::plus;
use crate::pointing::vector::scaled;
use crate::pointing::vector::unit;

const TABLE: &str = include_str!("stars.csv");

/// One star.
#[derive(Clone, Debug, PartialEq)]
pub struct Star {
    /// `HR2491` or `HIP26551`.
    pub id: &'static str,
    /// Its proper name, where it has one.
    pub name: Option<&'static str>,
    /// V magnitude.
    pub v_mag: f64,
    /// Its light in units of a star of magnitude 0.
    pub light: f64,
    /// Its ICRS direction at 2000.0.
    place: Vector,
    /// What is added to it in a Julian year.
    motion: Vector,
}

impl Star {
    /// Its ICRS direction so many Julian years after 2000.0, as a unit vector.
    pub fn direction(&self, years: f64) -> Vector {
        unit(plus(self.place, scaled(self.motion, years)))
    }
}

/// All stars, brightest first.
pub fn stars() -> &'static [Star] {
    // The table is part of the program: a unit test reads every row.
    static STARS: LazyLock<Vec<Star>> =
        LazyLock::new(|| TABLE.lines().skip(1).map_while(parse).collect());
    &STARS
}

/// Directions of all stars so many Julian years after 2000.0, in the order of [`stars`].
pub fn directions(years: f64) -> Vec<Vector> {
    stars().iter().map(|star| star.direction(years)).collect()
}

fn parse(row: &'static str) -> Option<Star> {
    let mut fields = row.split(',');
    let id = fields.next()?;
    let mut number = || -> Option<Option<f64>> {
        match fields.next()? {
            "" => Some(None),
            text => text.parse().ok().map(Some),
        }
    };
    let (ra_deg, dec_deg) = (number()??, number()??);
    let (right, north) = (number()?, number()?);
    let v_mag = number()??;
    let name = fields.next().filter(|name| !name.is_empty());
    let radians = |mas: Option<f64>| (mas.unwrap_or(0.0) / 3_600_000.0).to_radians();
    let (ra, dec) = (ra_deg.to_radians(), dec_deg.to_radians());
    let east = from_angles_rad(ra + FRAC_PI_2, 0.0);
    let upwards = from_angles_rad(ra, dec + FRAC_PI_2);
    Some(Star {
        id,
        name,
        v_mag,
        light: 10_f64.powf(-0.4 * v_mag),
        place: from_angles_rad(ra, dec),
        motion: plus(
            scaled(east, radians(right)),
            scaled(upwards, radians(north)),
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pointing::vector::angle_rad;

    #[test]
    fn every_row_is_read() {
        assert_eq!(stars().len(), TABLE.lines().count() - 1);
        assert_eq!(stars().len(), 11_948);
        assert!(
            stars()
                .windows(2)
                .all(|pair| pair[0].v_mag <= pair[1].v_mag)
        );
    }

    /// Absolute places: a table turned by half a degree would solve every picture and be wrong everywhere. Printed ICRS places
    /// at J2000.0: sexagesimal, from the Hipparcos catalogue's main entries as commonly printed (from memory), good to 1".
    #[test]
    fn printed_places_of_known_stars() {
        for (name, (h, m, s), (sign, d, arcmin, arcsec)) in [
            ("Sirius", (6.0, 45.0, 8.92), (-1.0, 16.0, 42.0, 58.0)),
            ("Vega", (18.0, 36.0, 56.34), (1.0, 38.0, 47.0, 1.3)),
            ("Arcturus", (14.0, 15.0, 39.67), (1.0, 19.0, 10.0, 56.7)),
            ("Betelgeuse", (5.0, 55.0, 10.31), (1.0, 7.0, 24.0, 25.4)),
            ("Polaris", (2.0, 31.0, 49.09), (1.0, 89.0, 15.0, 50.8)),
            ("Canopus", (6.0, 23.0, 57.11), (-1.0, 52.0, 41.0, 44.4)),
        ] {
            let star = stars().iter().find(|star| star.name == Some(name)).unwrap();
            let ra = (h + m / 60.0 + s / 3600.0) * 15.0_f64;
            let dec = sign * (d + arcmin / 60.0 + arcsec / 3600.0_f64);
            let printed = from_angles_rad(ra.to_radians(), dec.to_radians());
            let apart = angle_rad(printed, star.direction(0.0)).to_degrees() * 3600.0;
            assert!(apart < 1.0, "{name} {apart}");
        }
    }

    #[test]
    fn a_fast_star_moves() {
        // 61 Cygni A: 5.28 arcseconds a year (Hipparcos, from memory).
        let fast = stars().iter().find(|star| star.id == "HR8085").unwrap();
        let moved = angle_rad(fast.direction(0.0), fast.direction(10.0)).to_degrees() * 3600.0;
        assert!((moved - 52.8).abs() < 0.5, "{moved}");
    }
}
