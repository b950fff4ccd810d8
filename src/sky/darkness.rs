//! How dark the sky over a frame was: the site's own sky, twilight and moonlight, and the limiting magnitude under all
//! three. Adds brightness, not magnitudes. Knows no showers.

use crate::terms::site::SkyBrightness;

/// Above this altitude of the Sun, in degrees, no meteors are expected.
///
/// Source: end of civil twilight (the almanacs' definition, from memory); the rule is ours.
pub const BRIGHT_SUN_DEG: f64 = -6.0;

/// Below this altitude, in degrees, the Sun adds no light.
///
/// Source: end of astronomical twilight (the almanacs' definition, from memory).
const DARK_SUN_DEG: f64 = -18.0;

/// Brightness of a natural dark sky at the zenith, in magnitudes a square arcsecond: the reference for twilight.
///
/// Source: common practice, no source; dark sites have 21.5 to 22.
const NATURAL_SKY: f64 = 21.6;

/// Magnitude of the faintest star if nothing is stated for a site.
///
/// Source: definition of the ZHR (IMO, Handbook for Meteor Observers).
pub const ZHR_MAGNITUDE: f64 = 6.5;

/// The darkest sky for which a stated magnitude is converted to a brightness.
///
/// Source: our choice; [`faintest_star`] never gives more than 7.93, and no natural sky comes near that.
const DARKEST_MAGNITUDE: f64 = 7.5;

/// Extinction in magnitudes per air mass.
///
/// Source: Krisciunas and Schaefer 1991, PASP 103, 1033, for their site at 2,800 m; 0.2 to 0.3 lower down.
const EXTINCTION: f64 = 0.172;

/// Where the camera points, since that is unknown: distance from the zenith and from the Moon, in degrees.
///
/// Source: our choice: half-way up, and an ordinary distance from the Moon.
const LOOKED_AT_DEG: (f64, f64) = (45.0, 75.0);

/// A site's sky on a night without Moon.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DarkSky {
    faintest: f64,
    brightness_nl: f64,
}

impl DarkSky {
    /// The sky of a site; that of the ZHR's definition if nothing is stated.
    pub fn of(stated: Option<SkyBrightness>) -> Self {
        match stated {
            Some(SkyBrightness::Sqm(sqm)) => Self {
                faintest: faintest_star(sqm),
                brightness_nl: nanolamberts(sqm),
            },
            Some(SkyBrightness::LimitingMagnitude(magnitude)) => Self::to_magnitude(magnitude),
            None => Self::to_magnitude(ZHR_MAGNITUDE),
        }
    }

    fn to_magnitude(faintest: f64) -> Self {
        Self {
            faintest,
            brightness_nl: nanolamberts(surface_brightness(faintest.min(DARKEST_MAGNITUDE))),
        }
    }

    /// Magnitude of the faintest star with these lights in the sky; `None` while the Sun is above -6°, where no meteors are
    /// expected.
    ///
    /// Good to: a magnitude in twilight, 0.2 to 0.3 in moonlight.
    pub fn faintest_with(&self, lights: &Lights) -> Option<f64> {
        let sun_alt_deg = lights.sun_alt_deg.unwrap_or(f64::NEG_INFINITY);
        if sun_alt_deg >= BRIGHT_SUN_DEG {
            return None;
        }
        let moon_nl = lights
            .moon
            .map_or(0.0, |moon| moonlight_over_camera_nl(moon.alt_deg, moon.lit));
        let added_nl = twilight_nl(sun_alt_deg) + moon_nl;
        if added_nl <= 0.0 {
            return Some(self.faintest);
        }
        let star = |nanolamberts: f64| faintest_star(magnitude(nanolamberts));
        let lost = star(self.brightness_nl) - star(self.brightness_nl + added_nl);
        Some(self.faintest - lost)
    }
}

/// The lights that brighten a sky.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lights {
    /// Geometric altitude of the Sun's centre. `None`: twilight is not counted.
    pub sun_alt_deg: Option<f64>,
    /// The Moon. `None`: moonlight is not counted.
    pub moon: Option<Moonlight>,
}

/// The Moon as a light source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moonlight {
    /// Geometric altitude of its centre as the site sees it.
    pub alt_deg: f64,
    /// Lit fraction of its disc, 0 to 1.
    pub lit: f64,
}

/// Brightness in nanolamberts of a surface of this many magnitudes a square arcsecond.
///
/// Source: Garstang 1989, PASP 101, 306, as Krisciunas and Schaefer 1991 use it (from memory). Checked by:
/// `tests/data/published/sky-brightness.toml`
pub fn nanolamberts(magnitude: f64) -> f64 {
    34.08 * (20.7233 - 0.92104 * magnitude).exp()
}

/// Magnitudes a square arcsecond of a surface of this many nanolamberts.
///
/// Source: [`nanolamberts`], solved.
pub fn magnitude(nanolamberts: f64) -> f64 {
    (20.7233 - (nanolamberts / 34.08).ln()) / 0.92104
}

/// Magnitude of the faintest star seen under a sky of this surface brightness at the zenith, in magnitudes a square
/// arcsecond.
///
/// Good to: half a magnitude from eye to eye. Source: Schaefer 1990, PASP 102, 212, in the form that makers of sky
/// meters give: 7.93 - 5 log10(10^(4.316 - B/5) + 1) (from memory). Checked by:
/// `tests/data/published/sky-brightness.toml`
pub fn faintest_star(surface_brightness: f64) -> f64 {
    7.93 - 5.0 * (10_f64.powf(4.316 - surface_brightness / 5.0) + 1.0).log10()
}

/// Surface brightness of the sky under which the faintest star is of this magnitude, less than 7.93.
///
/// Source: [`faintest_star`], solved.
fn surface_brightness(faintest: f64) -> f64 {
    5.0 * (4.316 - (10_f64.powf((7.93 - faintest) / 5.0) - 1.0).log10())
}

/// The magnitudes by which twilight brightens a natural dark sky at the zenith; 0 with the Sun below -18°.
///
/// Good to: a magnitude: measurements at a high dry site are 1 to 1.4 magnitudes darker at -9° to -12° (Patat,
/// Ugolnikov and Postylyakov 2006, A&A 455, 385; from memory). Source: a polynomial by J. Thorstensen for the Sun
/// between -18° and -1°, as used in astronomical calculators (from memory); the page of its derivation was not seen.
/// Checked by: `tests/data/published/sky-brightness.toml`
pub fn twilight_magnitudes(sun_alt_deg: f64) -> f64 {
    if sun_alt_deg <= DARK_SUN_DEG {
        return 0.0;
    }
    let y = (-sun_alt_deg - 9.0) / 9.0;
    (((2.063_517_5 * y + 1.246_602) * y - 9.408_449_5) * y + 6.132_725).max(0.0)
}

/// The light of twilight at the zenith in nanolamberts.
///
/// Source: [`twilight_magnitudes`], above a natural dark sky.
fn twilight_nl(sun_alt_deg: f64) -> f64 {
    let times = 10_f64.powf(0.4 * twilight_magnitudes(sun_alt_deg));
    nanolamberts(NATURAL_SKY) * (times - 1.0)
}

/// Moonlight that the air scatters towards a camera, in nanolamberts; 0 with the Moon below the horizon.
///
/// Takes: the Moon's phase angle (0 full), its distance from the direction of the camera (above 10°), and the distances
/// of both from the zenith, in degrees. Good to: 8 to 23 % (the authors' own figure, from memory). Source: Krisciunas
/// and Schaefer 1991, PASP 103, 1033 (formulas from memory, in agreement with several public implementations). Checked
/// by: `tests/data/published/sky-brightness.toml`, `tests/data/reference/dark_sky.csv`
pub fn moonlight_nl(phase_deg: f64, apart_deg: f64, moon_z_deg: f64, z_deg: f64) -> f64 {
    if moon_z_deg >= 90.0 {
        return 0.0;
    }
    let phase = phase_deg.abs();
    let moon = 10_f64.powf(-0.4 * (3.84 + 0.026 * phase + 4e-9 * phase.powi(4)));
    let by_air = 10_f64.powf(5.36) * (1.06 + apart_deg.to_radians().cos().powi(2));
    let by_dust = 10_f64.powf(6.15 - apart_deg / 40.0);
    let through = |z_deg: f64| 10_f64.powf(-0.4 * EXTINCTION * air_masses(z_deg));
    (by_air + by_dust) * moon * through(moon_z_deg) * (1.0 - through(z_deg))
}

/// Air masses on the path of scattered light at a distance from the zenith.
///
/// Source: Krisciunas and Schaefer 1991, PASP 103, 1033 (from memory).
fn air_masses(z_deg: f64) -> f64 {
    (1.0 - 0.96 * z_deg.to_radians().sin().powi(2))
        .sqrt()
        .recip()
}

/// The same for the assumed direction of the camera, with a Moon of this lit fraction.
///
/// Source: lit fraction to phase angle as in Meeus, Astronomical Algorithms, 2nd ed. 1998, eq. 48.1 (from memory).
fn moonlight_over_camera_nl(moon_alt_deg: f64, lit: f64) -> f64 {
    if moon_alt_deg <= 0.0 {
        return 0.0;
    }
    let phase_deg = (2.0 * lit - 1.0).clamp(-1.0, 1.0).acos().to_degrees();
    let (z_deg, apart_deg) = LOOKED_AT_DEG;
    moonlight_nl(phase_deg, apart_deg, 90.0 - moon_alt_deg, z_deg)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Dark skies of 21.8 magnitudes a square arcsecond show stars to 6.5, a town's of 18 to 4 (from memory).
    #[test]
    fn the_faintest_star_follows_from_the_brightness_of_the_sky() {
        assert!((faintest_star(21.8) - 6.5).abs() < 0.1);
        assert!((faintest_star(18.0) - 4.1).abs() < 0.3);
        assert!(faintest_star(23.0) > faintest_star(22.0));
        for magnitude in [2.0, 4.5, 6.5, 7.4] {
            assert!((faintest_star(surface_brightness(magnitude)) - magnitude).abs() < 1e-9);
        }
    }

    #[test]
    fn a_stated_sky_is_what_is_left_where_nothing_shines() {
        let night = Lights {
            sun_alt_deg: Some(-18.0),
            moon: Some(Moonlight {
                alt_deg: 0.0,
                lit: 1.0,
            }),
        };
        for (stated, faintest) in [
            (None, 6.5),
            (Some(SkyBrightness::LimitingMagnitude(5.2)), 5.2),
            (Some(SkyBrightness::LimitingMagnitude(8.0)), 8.0),
            (Some(SkyBrightness::Sqm(21.4)), faintest_star(21.4)),
        ] {
            let dark = DarkSky::of(stated);
            let there = dark.faintest_with(&night).unwrap();
            assert!((there - faintest).abs() < 1e-9, "{stated:?}");
            assert_eq!(dark.faintest_with(&Lights::default()), Some(there));
        }
    }

    #[test]
    fn every_light_takes_stars_away_and_a_dark_site_loses_most() {
        let moon = |alt_deg: f64, lit: f64| Some(Moonlight { alt_deg, lit });
        let under = |dark: f64, sun: f64, moon| {
            DarkSky::of(Some(SkyBrightness::Sqm(dark)))
                .faintest_with(&Lights {
                    sun_alt_deg: Some(sun),
                    moon,
                })
                .unwrap()
        };
        let mut before = under(21.6, -18.0, None);
        for sun in [-16.0, -14.0, -12.0, -10.0, -8.0, -6.1] {
            let now = under(21.6, sun, None);
            assert!(now < before, "{sun}");
            before = now;
        }
        assert!(under(21.6, -20.0, moon(30.0, 0.5)) < under(21.6, -20.0, moon(30.0, 0.1)));
        assert!(under(21.6, -20.0, moon(60.0, 0.5)) < under(21.6, -20.0, moon(10.0, 0.5)));
        let lost = |dark: f64| under(dark, -20.0, None) - under(dark, -20.0, moon(50.0, 0.9));
        assert!(lost(21.6) > 1.0 && lost(18.5) < 0.5 && lost(18.5) > 0.0);
        let day = Lights {
            sun_alt_deg: Some(-6.0),
            moon: None,
        };
        assert_eq!(DarkSky::of(None).faintest_with(&day), None);
    }
}
