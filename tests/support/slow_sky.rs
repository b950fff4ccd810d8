//! The long way to the sky: the library's full chain afresh for every direction and every frame, nothing kept.
//!
//! The witness against which the quick way is measured. It shares the standards library with it, and nothing else.

use framefall::terms::site::Place;
use framefall::terms::time::Utc;
use sofars::astro::atco13;
use sofars::cal::jd2cal;
use sofars::consts::{AULT, DAU, DAYSEC, DJ00, WGS84};
use sofars::coords::{ecm06, gd2gc};
use sofars::eph::{epv00, moon98};
use sofars::erst::era00;
use sofars::pnp::{bpn2xy, c2ixys, pnm06a, s06};
use sofars::ts::{dat, dtf2d, taitt, utctai, utcut1};
use sofars::vm::{pdp, pm, pmp, rxp, seps};

/// Great-circle distance in arcseconds between two directions in degrees: altitude, azimuth or the like.
pub fn apart_arcsec(a: (f64, f64), b: (f64, f64)) -> f64 {
    let rad = f64::to_radians;
    seps(rad(a.1), rad(a.0), rad(b.1), rad(b.0)).to_degrees() * 3600.0
}

/// Geometric altitude and azimuth in degrees of an ICRS direction, by `atco13`.
pub fn star(at: Utc, place: Place, ra_deg: f64, dec_deg: f64) -> (f64, f64) {
    let (utc1, utc2, dut1) = quasi_jd(at);
    let (az, zenith_distance, ..) = atco13(
        ra_deg.to_radians(),
        dec_deg.to_radians(),
        0.0,
        0.0,
        0.0,
        0.0,
        utc1,
        utc2,
        dut1,
        place.lon_deg().to_radians(),
        place.lat_deg().to_radians(),
        place.elev_m(),
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        0.55,
    )
    .expect("a date within the series");
    (90.0 - zenith_distance.to_degrees(), az.to_degrees())
}

/// Sun and Moon over a site.
#[derive(Clone, Copy, Debug)]
pub struct SunMoon {
    /// Altitude and azimuth of the Sun in degrees.
    pub sun: (f64, f64),
    /// Altitude and azimuth of the Moon in degrees.
    pub moon: (f64, f64),
    /// Lit fraction of the Moon.
    pub lit: f64,
    /// Solar longitude in degrees, geometric, equinox J2000.0.
    pub solar_lon_deg: f64,
}

/// Sun and Moon in full: retarded places from the series themselves, the site's vector taken off.
pub fn sun_moon(at: Utc, place: Place) -> SunMoon {
    let (utc1, utc2, dut1) = quasi_jd(at);
    let (tai1, tai2) = utctai(utc1, utc2).expect("a date");
    let (tt1, tt2) = taitt(tai1, tai2).expect("a date");
    let (turn1, turn2) = utcut1(utc1, utc2, dut1).expect("a date");

    let (now, _) = epv00(tt1, tt2).expect("a date within the series");
    let light_d = pm(now[0]) * AULT / DAYSEC;
    let (then, _) = epv00(tt1, tt2 - light_d).expect("a date within the series");
    let sun = then[0].map(|x| -x);
    let moon_now = moon98(tt1, tt2);
    let moon = moon98(tt1, tt2 - pm(moon_now[0]) * AULT / DAYSEC)[0];

    let mut ecliptic = [0.0; 3];
    rxp(&ecm06(DJ00, 0.0), &now[0].map(|x| -x), &mut ecliptic);

    let classic = pnm06a(tt1, tt2);
    let (x, y) = bpn2xy(&classic);
    let to_cirs = c2ixys(x, y, s06(tt1, tt2, x, y));
    let rotation = era00(turn1, turn2);
    let (lon, lat) = (place.lon_deg().to_radians(), place.lat_deg().to_radians());
    let site = gd2gc(WGS84, lon, lat, place.elev_m()).expect("an ellipsoid");
    let over_site = |gcrs: &[f64; 3]| {
        let mut cirs = [0.0; 3];
        rxp(&to_cirs, gcrs, &mut cirs);
        let (sin, cos) = rotation.sin_cos();
        let fixed = [
            cos * cirs[0] + sin * cirs[1] - site[0] / DAU,
            cos * cirs[1] - sin * cirs[0] - site[1] / DAU,
            cirs[2] - site[2] / DAU,
        ];
        let east = -lon.sin() * fixed[0] + lon.cos() * fixed[1];
        let out = lon.cos() * fixed[0] + lon.sin() * fixed[1];
        let north = -lat.sin() * out + lat.cos() * fixed[2];
        let up = lat.cos() * out + lat.sin() * fixed[2];
        (
            up.atan2(east.hypot(north)).to_degrees(),
            east.atan2(north).to_degrees().rem_euclid(360.0),
        )
    };
    let moon_to_sun = pmp(&sun, &moon);
    let cos_phase = -pdp(&moon_to_sun, &moon) / (pm(moon_to_sun) * pm(moon));
    SunMoon {
        sun: over_site(&sun),
        moon: over_site(&moon),
        lit: f64::midpoint(1.0, cos_phase),
        solar_lon_deg: ecliptic[1]
            .atan2(ecliptic[0])
            .to_degrees()
            .rem_euclid(360.0),
    }
}

/// The library's two-part date, and the UT1 - UTC to hand it so that UT1 = UTC comes out.
///
/// It is 0 from 1972 on. Before, UTC ran off TAI by up to 2.6 ms a day, and the library takes TAI - UTC for UT1 at the
/// day's beginning, but for TT at the moment itself.
fn quasi_jd(at: Utc) -> (f64, f64, f64) {
    let day = at.unix_ms().div_euclid(86_400_000);
    let seconds = at.unix_ms().rem_euclid(86_400_000) as f64 / 1000.0;
    let (year, month, date, _) = jd2cal(2_440_587.5, day as f64).expect("a date");
    let hour = (seconds / 3600.0).floor();
    let minute = ((seconds - hour * 3600.0) / 60.0).floor();
    let second = seconds - hour * 3600.0 - minute * 60.0;
    #[allow(clippy::cast_possible_truncation)] // a time of day
    let (utc1, utc2) =
        dtf2d("UTC", year, month, date, hour as i32, minute as i32, second).expect("a date");
    let tai_minus_utc = |of_day: f64| dat(year, month, date, of_day).expect("a date");
    (
        utc1,
        utc2,
        tai_minus_utc(0.0) - tai_minus_utc(seconds / DAYSEC),
    )
}
