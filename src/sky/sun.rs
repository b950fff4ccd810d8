//! The Sun: the shower calendar's date, and how dark it is. Never uses showers or sites.

use sofars::cal::jd2cal;
use sofars::consts::DAYSEC;
use sofars::consts::DJ00;
use sofars::coords::ecm06;
use sofars::eph::epv00;
use sofars::vm::sxp;
use std::sync::LazyLock;

use super::direction::Matrix;
use super::direction::Vector;
use super::direction::turned;
use super::instant::Instant;
use super::instant::J2000_UNIX_MS;
use crate::terms::angle::Angle;
use crate::terms::basis::RISING_DEG;
use crate::terms::basis::TWILIGHTS_DEG;
use crate::terms::basis::Twilight;
use crate::terms::time::Utc;

/// ICRS to the mean ecliptic and equinox of J2000.0.
///
/// Source: SOFA, `ecm06` (IAU 2006 obliquity 84,381.406 arcseconds, frame bias included).
static TO_ECLIPTIC: LazyLock<Matrix> = LazyLock::new(|| ecm06(DJ00, 0.0));

/// Mean daily motion of the Sun in longitude, in degrees a day: a turn in a sidereal year.
///
/// Source: sidereal year of 365.25636 days (from memory).
pub(super) const DEG_A_DAY: f64 = 360.0 / 365.256_36;
/// Days of a sidereal year.
///
/// Source: [`DEG_A_DAY`].
const SIDEREAL_YEAR_D: f64 = 360.0 / DEG_A_DAY;
/// Mean longitude of the Sun at J2000.0 in degrees: where the search for a longitude starts.
///
/// Source: Meeus, Astronomical Algorithms, 2nd ed. 1998, ch. 25 (from memory); the search corrects it.
const LON_AT_J2000_DEG: f64 = 280.46;
/// The precision at which the search for a longitude stops: 0.0001 s of time.
///
/// Source: ours; a tenth of the millisecond that a [`Utc`] keeps.
const FOUND_DEG: f64 = 1e-9;

/// Solar longitude from the geometric geocentric vector of the Sun: geometric, equinox J2000.0, 0° to 360°.
///
/// Geometric: neither light time nor aberration. The shower calendar's printed clock times fit this one to the
/// minute and are 8 minutes off for the apparent one.
/// Source: Steyaert 1991, WGN 19, is the calendar's method (from memory); vector by SOFA, `epv00` and `ecm06`.
/// Checked by: `tests/data/reference/solar_longitude.csv`, `tests/data/reference/solar_longitude_check.csv`
pub(super) fn solar_longitude(sun_now: Vector) -> Angle {
    let [x, y, _] = turned(&TO_ECLIPTIC, sun_now);
    Angle::from_rad(y.atan2(x)).full_circle()
}

/// The class of a geometric altitude of the Sun's centre. A boundary belongs to the brighter class.
///
/// Source: [`RISING_DEG`] and [`TWILIGHTS_DEG`] name theirs.
pub fn twilight(sun_alt_deg: f64) -> Twilight {
    let [civil, nautical, astronomical] = TWILIGHTS_DEG;
    match sun_alt_deg {
        alt if alt >= RISING_DEG => Twilight::Day,
        alt if alt >= civil => Twilight::Civil,
        alt if alt >= nautical => Twilight::Nautical,
        alt if alt >= astronomical => Twilight::Astronomical,
        _ => Twilight::Night,
    }
}

/// When, in a calendar year of UTC, the Sun reaches a solar longitude.
///
/// Refuses: years outside 1950 to 2099, and the rare year in which the longitude is not reached at all: it returns
/// every 365.2564 days, and one of about 280° can fall on December 31 and then on January 1 of the year after next.
/// Good to: the millisecond, for the longitude computed by this module. Source: Newton's method with the mean daily
/// motion, common practice. Checked by: `tests/data/reference/solar_longitude.csv`
pub fn utc_of_longitude(longitude: Angle, year: i32) -> Option<Utc> {
    let after_new_year = (longitude.deg() - LON_AT_J2000_DEG).rem_euclid(360.0) / DEG_A_DAY;
    let start_d = (f64::from(year) - 2000.0) * 365.25 - 0.5 + after_new_year;
    // Near the turn of the year the mean Sun may lead into the previous or next year.
    [0.0, -SIDEREAL_YEAR_D, SIDEREAL_YEAR_D]
        .into_iter()
        .filter_map(|shift| search(longitude.deg(), start_d + shift))
        .find(|at| year_of(*at) == Some(year))
}

fn search(longitude_deg: f64, start_d: f64) -> Option<Utc> {
    let noon = Utc::from_unix_ms(J2000_UNIX_MS)?;
    let mut days = start_d;
    for _ in 0..12 {
        let at = Instant::from_utc(noon.plus_s(days * DAYSEC)?)?;
        // The instant is rounded to the millisecond; the search is not.
        let rounding_d = days - at.ut1_d();
        let (heliocentric, _) = epv00(DJ00, at.tt_d() + rounding_d)?;
        let reached = solar_longitude(sxp(-1.0, &heliocentric[0])).deg();
        let ahead = (reached - longitude_deg + 180.0).rem_euclid(360.0) - 180.0;
        days -= ahead / DEG_A_DAY;
        if ahead.abs() < FOUND_DEG {
            break;
        }
    }
    noon.plus_s(days * DAYSEC)
}

fn year_of(at: Utc) -> Option<i32> {
    let days = at.seconds_since(Utc::from_unix_ms(J2000_UNIX_MS)?) / DAYSEC;
    jd2cal(DJ00, days).ok().map(|(year, ..)| year)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn boundaries_belong_to_the_brighter_class() {
        for (alt, class) in [
            (-0.8333, Twilight::Day),
            (-0.8334, Twilight::Civil),
            (-6.0, Twilight::Civil),
            (-6.000_001, Twilight::Nautical),
            (-12.0, Twilight::Nautical),
            (-12.000_001, Twilight::Astronomical),
            (-18.0, Twilight::Astronomical),
            (-18.000_001, Twilight::Night),
        ] {
            assert_eq!(twilight(alt), class, "{alt}");
        }
    }

    #[test]
    fn every_longitude_is_found_in_its_year() {
        for year in [1950, 1975, 2000, 2024, 2025, 2050, 2099] {
            for tenth in 0..360 {
                let longitude = Angle::from_deg(f64::from(tenth));
                let Some(at) = utc_of_longitude(longitude, year) else {
                    // Only around the turn of the year may a longitude be skipped or be outside the model's range.
                    assert!((279..=281).contains(&tenth), "{tenth} in {year}");
                    continue;
                };
                assert_eq!(&at.to_string()[..4], year.to_string());
            }
        }
        assert_eq!(utc_of_longitude(Angle::from_deg(140.0), 1949), None);
        assert_eq!(utc_of_longitude(Angle::from_deg(140.0), 2100), None);
        assert_eq!(utc_of_longitude(Angle::from_deg(140.0), i32::MAX), None);
    }
}
