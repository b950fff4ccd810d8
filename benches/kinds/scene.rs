//! What is before the lens: the sky with stars, clouds, Moon, twilight and foreground; a panel; a cap; a landscape. Gives
//! electrons for each pixel of the thumbnail.

use super::camera::Camera;
use super::camera::Setting;
use super::random::Draws;
use super::random::surface;

/// Photons a second and cm² of a star of magnitude 0 in a green band, times the share that is recorded.
///
/// Source: the order of magnitude is common knowledge (1e6 photons; from memory); transmission and quantum efficiency ours.
const STAR_0: f64 = 1.0e6 * 0.47;

/// Square arcseconds of a steradian.
const ARCSEC2: f64 = 4.254_5e10;

/// A star: place in the frame from 0 to 1, magnitude.
#[derive(Clone, Copy, Debug)]
pub struct Star {
    pub x: f64,
    pub y: f64,
    pub mag: f64,
}

/// A sky.
#[derive(Clone, Debug)]
pub struct Sky {
    /// Magnitudes a square arcsecond.
    pub mag_arcsec2: f64,
    /// How much brighter it gets towards the bottom, as a share; to one side; and at the Moon's place.
    pub horizon: f64,
    pub side: f64,
    pub moon: Option<(f64, f64, f64)>,
    pub stars: Vec<Star>,
    /// Share of the sky that is clouded, how bright clouds are against the sky, their seed and drift.
    pub cloud: f64,
    pub cloud_light: f64,
    pub cloud_seed: u64,
    pub drift: f64,
    /// How far up the land reaches and its light against the sky's.
    pub land: Option<(f64, f64)>,
    pub land_seed: u64,
    /// Blur of stars in sensor pixels, one sigma: focus and dew.
    pub blur_px: f64,
}

/// What is before the lens.
#[derive(Clone, Debug)]
pub enum Scene {
    Sky(Sky),
    /// An even field that fills this share of full scale in the middle, with a slope to either side.
    Panel {
        share: f64,
        slope: (f64, f64),
    },
    Cap,
    /// A landscape by day or dusk: share of full scale, seed.
    Land {
        share: f64,
        seed: u64,
    },
}

/// Stars of a field of this solid angle's share of the sky, down to a magnitude.
///
/// Source: counts double every 0.64 magnitudes, 5,000 to magnitude 6 over the whole sky (from memory).
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
pub fn stars(draws: &mut Draws, share_of_sky: f64, faintest: f64) -> Vec<Star> {
    let count = 10_f64.powf(0.47 * faintest + 0.85) * share_of_sky;
    (0..count.min(6_000.0) as usize)
        .map(|_| Star {
            x: draws.unit(),
            y: draws.unit(),
            mag: faintest + draws.unit().max(1e-9).log10() / 0.47,
        })
        .collect()
}

impl Scene {
    /// Electrons of each pixel of a picture of `w` by `h`, before vignetting.
    pub fn light(
        &self,
        camera: &Camera,
        setting: Setting,
        w: usize,
        h: usize,
        draws: &mut Draws,
    ) -> Vec<f64> {
        let full = camera.full_e * 100.0 / setting.iso;
        let field = |value: &dyn Fn(f64, f64) -> f64| -> Vec<f64> {
            (0..w * h)
                .map(|at| {
                    value(
                        ((at % w) as f64 + 0.5) / w as f64,
                        ((at / w) as f64 + 0.5) / h as f64,
                    )
                })
                .collect()
        };
        match self {
            Self::Cap => vec![0.0; w * h],
            Self::Panel { share, slope } => {
                field(&|x, y| share * full * (1.0 + slope.0 * (x - 0.5) + slope.1 * (y - 0.5)))
            }
            Self::Land { share, seed } => field(&|x, y| {
                let ridge = 0.35 + 0.3 * surface(*seed, x * 4.0, 0.5);
                let texture = surface(seed ^ 7, x * 25.0, y * 20.0);
                let lit = if y < ridge {
                    1.0 + 0.5 * (ridge - y)
                } else {
                    0.15 + 0.5 * texture
                };
                share * full * lit
            }),
            Self::Sky(sky) => {
                let per_pixel = STAR_0
                    * 10_f64.powf(-0.4 * sky.mag_arcsec2)
                    * std::f64::consts::FRAC_PI_4
                    * (camera.pitch_um * 1e-4 / setting.f_number).powi(2)
                    * ARCSEC2
                    * setting.exposure_s;
                let mut light = field(&|x, y| per_pixel * sky.glow(x, y) * sky.lit(x, y));
                sky.add_stars(camera, setting, &mut light, w, h, draws);
                light
            }
        }
    }
}

impl Sky {
    fn glow(&self, x: f64, y: f64) -> f64 {
        let moon = self.moon.map_or(0.0, |(mx, my, light)| {
            light * (-((x - mx).hypot(y - my)) / 0.25).exp()
        });
        1.0 + self.horizon * (y - 0.2).max(0.0).powi(2) * 2.0 + self.side * (x - 0.5) + moon
    }

    /// How much of the sky's stars come through, 0 to 1.
    fn clear(&self, x: f64, y: f64) -> f64 {
        if self.cloud <= 0.0 {
            return 1.0;
        }
        let (u, v) = (x * 5.0 + self.drift, y * 4.0);
        let field = 0.65 * surface(self.cloud_seed, u, v)
            + 0.35 * surface(self.cloud_seed ^ 3, u * 2.7, v * 2.7);
        // At full cover nothing is left, at none all.
        let edge = 1.1 - 1.2 * self.cloud;
        1.0 - ((field - edge) / 0.25 + 0.5).clamp(0.0, 1.0)
    }

    fn lit(&self, x: f64, y: f64) -> f64 {
        if let Some((height, light)) = self.land
            && self.is_land(x, y, height)
        {
            return light;
        }
        let clear = self.clear(x, y);
        let texture = if self.cloud > 0.0 {
            0.8 + 0.4 * surface(self.cloud_seed ^ 9, x * 3.0 + self.drift, y * 3.0)
        } else {
            1.0
        };
        clear + (1.0 - clear) * self.cloud_light * texture
    }

    fn is_land(&self, x: f64, y: f64, height: f64) -> bool {
        let ridge = height * (0.6 + 0.8 * surface(self.land_seed, x * 6.0, 0.3));
        1.0 - y < ridge
    }

    fn add_stars(
        &self,
        camera: &Camera,
        setting: Setting,
        light: &mut [f64],
        w: usize,
        h: usize,
        _draws: &mut Draws,
    ) {
        let full = camera.full_e * 100.0 / setting.iso;
        let aperture_cm = setting.focal_mm / 10.0 / setting.f_number;
        let area = std::f64::consts::FRAC_PI_4 * aperture_cm * aperture_cm;
        let binning = 36_000.0 / camera.pitch_um / w as f64;
        // Stars move by a fraction of a degree: a trail of some pixels on the sensor.
        let trail = 7.3e-5 * setting.exposure_s * setting.focal_mm * 1000.0 / camera.pitch_um * 0.7;
        let spread = self.blur_px * self.blur_px;
        let patch = std::f64::consts::TAU * spread + 2.5 * self.blur_px * trail;
        for star in &self.stars {
            let through = self.clear(star.x, star.y);
            if through < 0.02
                || self
                    .land
                    .is_some_and(|(height, _)| self.is_land(star.x, star.y, height))
            {
                continue;
            }
            let e = STAR_0 * 10_f64.powf(-0.4 * star.mag) * area * setting.exposure_s * through;
            // A star fills its pixels up to full scale; more light only makes it wider.
            let peak = e / patch / full;
            let kept = if peak > 1.0 {
                patch * full * (1.0 + peak.ln())
            } else {
                e
            };
            let (px, py) = (star.x * w as f64, star.y * h as f64);
            // In thumbnail pixels; a mean over the area blurs by the pixel itself, a single sample does not.
            let own = ((spread + trail * trail / 12.0).sqrt() / binning).max(0.04);
            let sigma = if camera.thumb.decimated {
                own.hypot(0.12)
            } else {
                own.hypot(0.42)
            };
            let reach = (3.5 * sigma).ceil().max(1.0);
            // Electrons a sensor pixel, at the middle of the star.
            let top = kept / (binning * binning) / (std::f64::consts::TAU * sigma * sigma);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            for y in (py - reach).max(0.0) as usize..((py + reach).max(0.0) as usize + 1).min(h) {
                for x in (px - reach).max(0.0) as usize..((px + reach).max(0.0) as usize + 1).min(w)
                {
                    let (dx, dy) = (x as f64 + 0.5 - px, y as f64 + 0.5 - py);
                    let add = top * (-(dx * dx + dy * dy) / (2.0 * sigma * sigma)).exp();
                    light[y * w + x] = (light[y * w + x] + add).min(full.max(light[y * w + x]));
                }
            }
        }
    }
}
