//! A body and its lens as far as a thumbnail shows them: black level, noise, dark current, amplifier glow, vignetting, tone
//! curve, and the small JPEG with or without black bars.
//!
//! Source: quantities are common practice, no source, unless a line says otherwise; ranges are drawn wide on purpose.

use super::random::Draws;
use super::scene::Scene;

/// Settings of a frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setting {
    pub exposure_s: f64,
    pub iso: f64,
    pub f_number: f64,
    pub focal_mm: f64,
}

/// How the body makes its thumbnail.
#[derive(Clone, Copy, Debug)]
pub struct Thumb {
    pub width: usize,
    pub height: usize,
    /// Rows of black above and below.
    pub bars: usize,
    /// Made of single pixels of the preview instead of means over areas.
    pub decimated: bool,
    pub quality: u8,
}

/// A body.
#[derive(Clone, Debug)]
pub struct Camera {
    pub pitch_um: f64,
    /// Electrons of full scale at ISO 100.
    pub full_e: f64,
    pub read_e: f64,
    /// Dark current, electrons a second and pixel.
    pub dark_e_s: f64,
    /// Share of pixels that are hot, and their current.
    pub hot_share: f64,
    pub hot_e_s: f64,
    /// Amplifier glow: where (a corner or an edge, from -1 to 1), electrons a second at its brightest, its reach.
    pub glow: Option<((f64, f64), f64, f64)>,
    /// Vignetting in the corner, in stops, and its power of the radius.
    pub vignetting_stops: f64,
    pub vignetting_power: f64,
    /// Strength of the tone curve's S on top of sRGB, and what is cut off as black.
    pub contrast: f64,
    pub black_cut: f64,
    /// What black comes out as, 0 to 1.
    pub lift: f64,
    pub tint: [f64; 3],
    pub thumb: Thumb,
}

impl Camera {
    /// A body drawn at random.
    pub fn drawn(draws: &mut Draws) -> Self {
        let pitch_um = draws.between(3.7, 8.4);
        let sizes = [
            (160, 120, 7),
            (160, 120, 7),
            (160, 120, 15),
            (160, 120, 0),
            (160, 107, 0),
            (160, 106, 0),
            (240, 160, 0),
        ];
        let (width, height, bars) = sizes[pick(draws, sizes.len())];
        let corners = [(1.0, 1.0), (-1.0, 1.0), (1.0, -1.0), (0.9, 0.0), (0.0, 1.0)];
        let glow = (draws.unit() < 0.5).then(|| {
            let at = corners[pick(draws, corners.len())];
            (at, draws.between(0.5, 10.0), draws.between(0.05, 0.2))
        });
        Self {
            pitch_um,
            full_e: draws.between(35_000.0, 60_000.0) * (pitch_um / 6.0_f64).powi(2),
            read_e: draws.between(1.5, 5.0),
            dark_e_s: 10_f64.powf(draws.between(-2.0, -0.4)),
            hot_share: 10_f64.powf(draws.between(-5.0, -3.3)),
            hot_e_s: draws.between(5.0, 80.0),
            glow,
            vignetting_stops: draws.between(0.0, 2.5),
            vignetting_power: draws.between(2.0, 4.0),
            contrast: draws.between(0.0, 1.0),
            black_cut: draws.between(0.0, 0.001),
            lift: draws.between(-0.02, 0.025).max(0.0),
            tint: [draws.between(0.8, 1.1), 1.0, draws.between(0.85, 1.2)],
            thumb: Thumb {
                width,
                height,
                bars,
                decimated: draws.unit() < 0.25,
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                quality: draws.between(68.0, 94.0) as u8,
            },
        }
    }

    /// Share of full scale that electrons are at a sensitivity.
    pub fn share(&self, electrons: f64, iso: f64) -> f64 {
        electrons * iso / 100.0 / self.full_e
    }

    /// Light reaching a point at this share of the way to the corner.
    fn falloff(&self, radius: f64) -> f64 {
        2_f64.powf(-self.vignetting_stops * radius.powf(self.vignetting_power))
    }

    /// Linear light to what the JPEG holds, 0 to 1. Source: IEC 61966-2-1 (from memory), and an S on top.
    pub fn toned(&self, linear: f64) -> f64 {
        let x = (linear - self.black_cut).clamp(0.0, 1.0);
        let y = if x <= 0.003_130_8 {
            12.92 * x
        } else {
            1.055 * x.powf(1.0 / 2.4) - 0.055
        };
        let y = y + (y * y * (3.0 - 2.0 * y) - y) * self.contrast;
        self.lift + y * (1.0 - self.lift)
    }

    /// The thumbnail of a scene, as a JPEG.
    pub fn thumbnail(&self, setting: Setting, scene: &Scene, draws: &mut Draws) -> Vec<u8> {
        let Thumb {
            width,
            height,
            bars,
            ..
        } = self.thumb;
        let (w, h) = (width, height - 2 * bars);
        // Sensor pixels to a side of one pixel here, on a sensor 36 mm wide.
        let binning = 36_000.0 / self.pitch_um / w as f64;
        let averaged = if self.thumb.decimated {
            40.0
        } else {
            binning * binning
        };
        let mut light = scene.light(self, setting, w, h, draws);
        let t = setting.exposure_s;
        let (half_w, half_h) = (w as f64 / 2.0, h as f64 / 2.0);
        let corner = half_w.hypot(half_h);
        for y in 0..h {
            for x in 0..w {
                let (dx, dy) = (x as f64 + 0.5 - half_w, y as f64 + 0.5 - half_h);
                let mut e = light[y * w + x] * self.falloff(dx.hypot(dy) / corner);
                let glow = self.glow.map_or(0.0, |((gx, gy), most, reach)| {
                    let away = (dx / half_w - gx).hypot(dy / half_h - gy);
                    most * (-away / 2.0 / reach).exp()
                });
                // Bodies take the mean dark current off with the black level.
                e += glow * t;
                let noise = (e + self.dark_e_s * t + self.read_e * self.read_e).sqrt();
                e = above_zero(e, noise);
                e += draws.grain() * noise / averaged.sqrt();
                let hot = self.hot_share * averaged;
                if draws.unit() < hot {
                    e += (self.hot_e_s * t).min(self.full_e * 100.0 / setting.iso) / averaged
                        * hot.max(1.0);
                }
                light[y * w + x] = self.share(e, setting.iso);
            }
        }
        // The curve is steep near black: steps of the square root are even enough.
        let curve: Vec<u8> = (0..=4096)
            .map(|i| {
                let toned = self.toned((f64::from(i) / 4096.0).powi(2)) * 255.0;
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                let byte = toned.round().clamp(0.0, 255.0) as u8;
                byte
            })
            .collect();
        let mut rgb = vec![0_u8; width * height * 3];
        for (at, linear) in light.iter().enumerate() {
            for (c, tint) in self.tint.iter().enumerate() {
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                let step = ((linear * tint).clamp(0.0, 1.0).sqrt() * 4096.0).round() as usize;
                rgb[(at + bars * width) * 3 + c] = curve[step];
            }
        }
        let mut bytes = Vec::new();
        #[allow(clippy::cast_possible_truncation)] // sides of thumbnails
        jpeg_encoder::Encoder::new(&mut bytes, self.thumb.quality)
            .encode(
                &rgb,
                width as u16,
                height as u16,
                jpeg_encoder::ColorType::Rgb,
            )
            .expect("a JPEG");
        bytes
    }
}

/// The mean of what is above zero of a bell about `mean`: bodies cut what the black level leaves below.
fn above_zero(mean: f64, sigma: f64) -> f64 {
    let z = mean / sigma;
    if z > 6.0 {
        return mean;
    }
    let bell = (-z * z / 2.0).exp() / std::f64::consts::TAU.sqrt();
    // Source: a logistic fit of the normal distribution, good to 0.01 (from memory).
    mean / (1.0 + (-1.702 * z).exp()) + sigma * bell
}

/// A place in a list of so many.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
pub fn pick(draws: &mut Draws, of: usize) -> usize {
    (draws.unit() * of as f64) as usize
}
