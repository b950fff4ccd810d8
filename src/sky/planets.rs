//! The planets that are brighter than most stars and move among them: where they appear. Never uses showers or sites.

use sofars::consts::AULT;
use sofars::consts::DAYSEC;
use sofars::consts::DC;
use sofars::consts::DJ00;
use sofars::eph::plan94;
use sofars::vm::pm;
use sofars::vm::pmp;
use sofars::vm::sxp;

use super::direction::Vector;
use super::instant::Instant;
use super::node::Moment;
use crate::terms::time::Utc;

/// A bright planet. Saturn moves too little among the stars to tell a time, and Mercury is in no night sky.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Planet {
    /// The second planet.
    Venus,
    /// The fourth.
    Mars,
    /// The fifth.
    Jupiter,
}

impl Planet {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Venus, Self::Mars, Self::Jupiter];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Venus => "Venus",
            Self::Mars => "Mars",
            Self::Jupiter => "Jupiter",
        }
    }

    /// How well [`super::look::Looker::planet`] knows its direction, in arcseconds.
    ///
    /// Source: SOFA, `plan94`, notes: errors of heliocentric longitude up to 9 arcseconds (Venus), 66 (Mars), 82 (Jupiter) from 1900
    /// to 2100, which the nearness of the Earth makes up to three times as large for Venus and Mars (from memory).
    pub const fn error_arcsec(self) -> f64 {
        match self {
            Self::Venus => 30.0,
            Self::Mars => 120.0,
            Self::Jupiter => 90.0,
        }
    }

    /// Its number in the series.
    const fn number(self) -> i32 {
        match self {
            Self::Venus => 2,
            Self::Mars => 4,
            Self::Jupiter => 5,
        }
    }

    /// Its direction among the stars, as a unit vector, quickly: for a first look along a path.
    ///
    /// Good to: 2 arcminutes, aberration and the Earth's way about the common centre with the Moon left out. Refuses: years outside
    /// 1950 to 2099.
    /// Checked by: the tests of this file.
    pub fn among_stars(self, at: Utc) -> Option<Vector> {
        const EARTH: i32 = 3;
        let tt_d = Instant::from_utc(at)?.tt_d();
        let (earth, _) = plan94(DJ00, tt_d, EARTH).ok()?;
        let mut there = [0.0; 3];
        for _ in 0..2 {
            let light_d = pm(there) * AULT / DAYSEC;
            let (of_sun, _) = plan94(DJ00, tt_d - light_d, self.number()).ok()?;
            there = pmp(&of_sun[0], &earth[0]);
        }
        Some(sxp(1.0 / pm(there), &there))
    }

    /// From the Earth's centre to where it appears, light time and aberration included, in au.
    ///
    /// Source: SOFA, `plan94`; planetary aberration: both bodies where they were when the light left, common practice.
    /// Checked by: the tests of this file.
    pub(super) fn apparent(self, tt_d: f64, sky: &Moment) -> Option<Vector> {
        let mut light_d = 0.0;
        let mut there = [0.0; 3];
        for _ in 0..3 {
            let (of_sun, _) = plan94(DJ00, tt_d - light_d, self.number()).ok()?;
            let earth_moved = sxp(DC * light_d, &sky.earth_c);
            let sun: Vector = std::array::from_fn(|k| sky.sun_now[k] + earth_moved[k]);
            there = pmp(&sun, &sxp(-1.0, &of_sun[0]));
            light_d = pm(there) * AULT / DAYSEC;
        }
        Some(there)
    }
}

#[cfg(test)]
mod tests {
    use super::super::direction::turned;
    use super::super::node::Nodes;
    use super::*;
    use sofars::vm::pdp;

    /// Right ascension and declination of the date, in degrees.
    fn of_date(planet: Planet, utc: &str) -> (f64, f64) {
        let at = Instant::from_utc(Utc::parse(utc).unwrap()).unwrap();
        let sky = Nodes::new().moment(at).unwrap();
        let there = planet.apparent(at.tt_d(), &sky).unwrap();
        // The quick direction is the same.
        let quick = planet.among_stars(Utc::parse(utc).unwrap()).unwrap();
        assert!(pdp(&quick, &there) / pm(there) > 1.0 - 1.7e-7, "{planet:?}");
        let [x, y, z] = turned(&sky.bpn, there);
        let ra = (y.atan2(x) - sky.origins_rad).to_degrees();
        (ra.rem_euclid(360.0), z.atan2(x.hypot(y)).to_degrees())
    }

    /// Source: Meeus, Astronomical Algorithms, 2nd ed. 1998, example 33.a (from memory): Venus, 1992 December 20, 0h TD, apparent
    /// place 21h 04m 41.50s, -18° 53′ 16.8″.
    #[test]
    fn venus_stands_where_a_worked_example_has_it() {
        let (ra, dec) = of_date(Planet::Venus, "1992-12-19T23:59:00.8Z");
        assert!((ra - 316.172_91).abs() * 3_600.0 < 30.0, "{ra}");
        assert!((dec + 18.888_01).abs() * 3_600.0 < 30.0, "{dec}");
    }

    /// The great conjunction: Jupiter 0.10° south of Saturn in Capricornus on 2020 December 21, and Mars near the Pleiades on 2021
    /// March 4 (2.6°): common knowledge of these years, from memory, to a few tenths of a degree.
    #[test]
    fn jupiter_and_mars_stand_where_they_were_seen() {
        let (ra, dec) = of_date(Planet::Jupiter, "2020-12-21T18:00:00Z");
        assert!((ra - 302.6).abs() < 0.4, "{ra}");
        assert!((dec + 20.5).abs() < 0.3, "{dec}");
        let (ra, dec) = of_date(Planet::Mars, "2021-03-04T00:00:00Z");
        let away = ((ra - 57.1) * dec.to_radians().cos()).hypot(dec - 24.2);
        assert!((away - 2.6).abs() < 0.4, "{ra} {dec} {away}");
    }
}
