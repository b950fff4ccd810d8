//! Where a star image is to a small part of a pixel, how much light is in it and how wide it is. Decides nothing.

use crate::picture::filter::Plane;
use crate::picture::maxima::axes;
use crate::terms::star_image::Grey;

/// Sigma in pixels of the weights about the centre.
const WEIGHT_SIGMA: f64 = 1.6;
/// Sigma of the weights for the shape, which reaches farther.
const SHAPE_SIGMA: f64 = 2.2;
/// How often the centre is found again with weights about the last one.
const ROUNDS: u32 = 6;
/// Half the side of the window in pixels.
const REACH: i32 = 6;
/// Its side.
const WINDOW: usize = 13;
/// Radii in pixels between which the local background is taken.
const RING_PX: (f64, f64) = (6.5, 9.0);
/// Radius in pixels within which light is added up.
const APERTURE_PX: f64 = 4.0;
/// The exponent by which cameras encode light, roughly.
///
/// Source: IEC 61966-2-1 (sRGB) is close to 2.2; a camera's own curve may differ (from memory).
const ENCODING: f64 = 2.2;
/// From this level on an image counts as saturated.
const SATURATED: u8 = 245;
/// Half-maximum width of a Gaussian in units of its sigma.
const HALF_MAXIMUM: f64 = 2.354_820_045;

/// What was measured of one image.
#[derive(Clone, Copy, Debug)]
pub(super) struct Measured {
    pub x: f64,
    pub y: f64,
    pub flux: f64,
    /// How many times longer than wide.
    pub elongation: f64,
    pub width_px: Option<f64>,
}

/// Measures images in one picture.
pub(super) struct Measure<'a> {
    picture: &'a Grey,
    residual: &'a Plane,
    linear: [f64; 256],
    /// Steps from an image to the pixels of the ring about it.
    ring: Vec<(i32, i32)>,
}

impl<'a> Measure<'a> {
    #[allow(clippy::cast_possible_truncation)] // a few pixels
    pub fn new(picture: &'a Grey, residual: &'a Plane) -> Self {
        let mut linear = [0.0; 256];
        for (level, light) in linear.iter_mut().enumerate() {
            *light = (level as f64 / 255.0).powf(ENCODING);
        }
        let far = RING_PX.1 as i32;
        let steps = (-far..=far).flat_map(|dy| (-far..=far).map(move |dx| (dx, dy)));
        let ring = steps
            .filter(|(dx, dy)| {
                let apart = f64::from(dx * dx + dy * dy);
                apart >= RING_PX.0 * RING_PX.0 && apart <= RING_PX.1 * RING_PX.1
            })
            .collect();
        Self {
            picture,
            residual,
            linear,
            ring,
        }
    }

    /// Measures the image about a pixel. Gives nothing where it drifts away from there.
    pub fn image(&self, x0: usize, y0: usize) -> Option<Measured> {
        let residual = |x: usize, y: usize| f64::from(self.residual.at(x, y));
        let ground = self.ring(x0, y0, residual)?;
        let (mut x, mut y) = (x0 as f64, y0 as f64);
        for _ in 0..ROUNDS {
            let (mut sum, mut right, mut down) = (0.0, 0.0, 0.0);
            let weights = Weights::about((x0, y0), (x, y), WEIGHT_SIGMA);
            self.window(x0, y0, |px, py| {
                let (dx, dy) = (px as f64 - x, py as f64 - y);
                let weight = weights.at(px, py) * (residual(px, py) - ground);
                sum += weight;
                right += weight * dx;
                down += weight * dy;
            });
            if sum <= 0.0 {
                return None;
            }
            // Weights about the centre halve every step for images as wide as they are.
            x += 2.0 * right / sum;
            y += 2.0 * down / sum;
            if (x - x0 as f64).hypot(y - y0 as f64) > 2.5 {
                return None;
            }
        }
        let light = |px: usize, py: usize| self.linear[usize::from(self.picture.row(py)[px])];
        let dark = self.ring(x0, y0, light)?;
        let mut flux = 0.0;
        let mut peak = 0;
        self.window(x0, y0, |px, py| {
            let (dx, dy) = (px as f64 - x, py as f64 - y);
            if dx * dx + dy * dy <= APERTURE_PX * APERTURE_PX {
                flux += light(px, py) - dark;
            }
            peak = peak.max(self.picture.row(py)[px]);
        });
        let width_px = (peak < SATURATED)
            .then(|| self.width((x0, y0), (x, y), dark))
            .flatten();
        Some(Measured {
            x,
            y,
            flux,
            elongation: self.elongation((x0, y0), (x, y), ground),
            width_px,
        })
    }

    /// How many times longer than wide an image is, the weights taken out again.
    fn elongation(&self, (x0, y0): (usize, usize), (x, y): (f64, f64), ground: f64) -> f64 {
        let (mut sum, mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0, 0.0);
        let weights = Weights::about((x0, y0), (x, y), SHAPE_SIGMA);
        self.window(x0, y0, |px, py| {
            let (dx, dy) = (px as f64 - x, py as f64 - y);
            let value = f64::from(self.residual.at(px, py)) - ground;
            let weight = weights.at(px, py) * value;
            sum += weight;
            xx += weight * dx * dx;
            xy += weight * dx * dy;
            yy += weight * dy * dy;
        });
        let (major, minor) = axes(xx / sum, xy / sum, yy / sum);
        if sum <= 0.0 || minor <= 0.0 {
            return 1.0;
        }
        let unweighted = |m: f64| 1.0 / (1.0 / m - 1.0 / (SHAPE_SIGMA * SHAPE_SIGMA)).max(0.01);
        (unweighted(major) / unweighted(minor)).sqrt()
    }

    /// Width at half maximum, linear in light, by weights that are as wide as the image.
    ///
    /// Source: adaptive moments, Bernstein and Jarvis 2002, AJ 123, 583 (from memory).
    fn width(&self, (x0, y0): (usize, usize), (x, y): (f64, f64), dark: f64) -> Option<f64> {
        let mut square = 1.5_f64;
        for _ in 0..ROUNDS {
            let weights = Weights::about((x0, y0), (x, y), square.sqrt());
            let (mut sum, mut spread) = (0.0, 0.0);
            self.window(x0, y0, |px, py| {
                let (dx, dy) = (px as f64 - x, py as f64 - y);
                let light = self.linear[usize::from(self.picture.row(py)[px])] - dark;
                let weight = weights.at(px, py) * light;
                sum += weight;
                spread += weight * f64::midpoint(dx * dx, dy * dy);
            });
            let weighted = spread / sum;
            if sum <= 0.0 || weighted <= 0.05 || weighted >= square {
                return None;
            }
            square = (1.0 / (1.0 / weighted - 1.0 / square)).clamp(0.1, 12.0);
        }
        // What a pixel itself is wide belongs to the sampling, not to the image; it is left in.
        Some(HALF_MAXIMUM * square.sqrt()).filter(|width| (0.8..8.0).contains(width))
    }

    fn window(&self, x0: usize, y0: usize, mut each: impl FnMut(usize, usize)) {
        for dy in -REACH..=REACH {
            let Some(y) = step(y0, dy, self.picture.height()) else {
                continue;
            };
            for dx in -REACH..=REACH {
                if let Some(x) = step(x0, dx, self.picture.width()) {
                    each(x, y);
                }
            }
        }
    }

    /// The median about an image.
    fn ring(&self, x0: usize, y0: usize, value: impl Fn(usize, usize) -> f64) -> Option<f64> {
        let mut values = Vec::with_capacity(self.ring.len());
        for (dx, dy) in &self.ring {
            if let (Some(x), Some(y)) = (
                step(x0, *dx, self.picture.width()),
                step(y0, *dy, self.picture.height()),
            ) {
                values.push(value(x, y));
            }
        }
        let middle = values.len() / 2;
        (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
    }
}

/// Gaussian weights about a place, as the products of those of columns and rows.
struct Weights {
    from: (usize, usize),
    columns: [f64; WINDOW],
    rows: [f64; WINDOW],
}

impl Weights {
    fn about((x0, y0): (usize, usize), (x, y): (f64, f64), sigma: f64) -> Self {
        let along = |middle: usize, at: f64| {
            let mut weights = [0.0; WINDOW];
            for (k, weight) in weights.iter_mut().enumerate() {
                let off = (middle + k) as f64 - f64::from(REACH) - at;
                *weight = (-off * off / (2.0 * sigma * sigma)).exp();
            }
            weights
        };
        Self {
            from: (x0, y0),
            columns: along(x0, x),
            rows: along(y0, y),
        }
    }

    /// The weight of a pixel of the window.
    fn at(&self, px: usize, py: usize) -> f64 {
        let reach = WINDOW / 2;
        self.columns[px + reach - self.from.0] * self.rows[py + reach - self.from.1]
    }
}

fn step(from: usize, by: i32, size: usize) -> Option<usize> {
    from.checked_add_signed(isize::try_from(by).ok()?)
        .filter(|to| *to < size)
}
