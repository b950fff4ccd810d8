//! Where a star image is to a small part of a pixel, how much light is in it and how wide it is. Decides nothing.

use std::cmp::Ordering;

use crate::picture::background::Background;
use crate::picture::maxima::axes;
use crate::terms::star_image::Grey;

/// Sigma in pixels of the weights about the centre.
const WEIGHT_SIGMA: f32 = 1.6;
/// Sigma of the weights for the shape, which reaches farther.
const SHAPE_SIGMA: f32 = 2.2;
/// How often the centre is found again with weights about the last one.
const ROUNDS: usize = 6;
/// A centre that moves by less in pixels is found.
const FOUND_PX: f32 = 0.000_5;
/// And by more than this from the highest pixel belongs to another image.
const STRAYED_PX: f32 = 2.5;
/// Half the side of the window in pixels, and its side.
const REACH: isize = 6;
const WINDOW: usize = 13;
/// Values in a row of a window; the last ones stay 0.
const LANES: usize = 16;
/// Radii in pixels between which the local background is taken.
const RING_PX: (f64, f64) = (6.5, 9.0);
/// The whole reach of it.
const RING_REACH: isize = 9;
/// Radius in pixels within which light is added up.
const APERTURE_PX: f32 = 4.0;
/// The exponent by which cameras encode light, roughly.
///
/// Source: IEC 61966-2-1 (sRGB) is close to 2.2; a camera's own curve may differ (from memory).
const ENCODING: f32 = 2.2;
/// From this level on an image counts as saturated.
const SATURATED: f32 = 245.0;
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
}

/// Values of the pixels about an image; 0 outside the picture.
type Window = [[f32; LANES]; WINDOW];

/// Measures images in one picture.
pub(super) struct Measure<'a> {
    picture: &'a Grey,
    background: &'a Background,
    linear: [f32; 256],
    /// Steps from an image to the pixels of the ring about it.
    ring: Vec<(isize, isize)>,
}

impl<'a> Measure<'a> {
    pub fn new(picture: &'a Grey, background: &'a Background) -> Self {
        let mut linear = [0.0; 256];
        for (level, light) in linear.iter_mut().enumerate() {
            *light = (level as f32 / 255.0).powf(ENCODING);
        }
        let steps = (-RING_REACH..=RING_REACH)
            .flat_map(|dy| (-RING_REACH..=RING_REACH).map(move |dx| (dx, dy)));
        let ring = steps
            .filter(|(dx, dy)| {
                let apart = (dx * dx + dy * dy) as f64;
                apart >= RING_PX.0 * RING_PX.0 && apart <= RING_PX.1 * RING_PX.1
            })
            .collect();
        Self {
            picture,
            background,
            linear,
            ring,
        }
    }

    /// Measures the image about a pixel. Gives nothing where it drifts away from there.
    pub fn image(&self, x0: usize, y0: usize) -> Option<Measured> {
        let residual = |x, y| f32::from(self.level(x, y)) - self.background.at(x, y);
        let ground = self.ring(x0, y0, residual, f32::total_cmp)?;
        let window = self.window(x0, y0, |x, y| residual(x, y) - ground);
        let mut at = (0.0, 0.0);
        for _ in 0..ROUNDS {
            let sums = Sums::about(&window, at, WEIGHT_SIGMA);
            if sums.all <= 0.0 {
                return None;
            }
            // Weights about the centre halve every step for images as wide as they are.
            let by = (2.0 * sums.x / sums.all, 2.0 * sums.y / sums.all);
            at = (at.0 + by.0, at.1 + by.1);
            if at.0.hypot(at.1) > STRAYED_PX {
                return None;
            }
            if by.0.abs().max(by.1.abs()) < FOUND_PX {
                break;
            }
        }
        let light = self.light(x0, y0)?;
        let flux: f32 = cells()
            .filter(|(dx, dy, ..)| {
                (dx - at.0).powi(2) + (dy - at.1).powi(2) <= APERTURE_PX * APERTURE_PX
            })
            .map(|(_, _, row, column)| light[row][column])
            .sum();
        Some(Measured {
            x: x0 as f64 + f64::from(at.0),
            y: y0 as f64 + f64::from(at.1),
            flux: f64::from(flux),
            elongation: f64::from(elongation(&window, at)),
        })
    }

    /// Width at half maximum, linear in light, by weights that are as wide as the image. Gives nothing where it is burnt out or
    /// disturbed.
    ///
    /// Source: adaptive moments, Bernstein and Jarvis 2002, AJ 123, 583 (from memory).
    #[allow(clippy::cast_possible_truncation)] // within a window
    pub fn width(&self, x0: usize, y0: usize, image: &Measured) -> Option<f64> {
        let at = ((image.x - x0 as f64) as f32, (image.y - y0 as f64) as f32);
        let peak = self.window(x0, y0, |x, y| f32::from(self.level(x, y)));
        if peak.as_flattened().iter().copied().fold(0.0, f32::max) >= SATURATED {
            return None;
        }
        let light = self.light(x0, y0)?;
        let mut square = 1.5_f32;
        for _ in 0..ROUNDS {
            let sums = Sums::about(&light, at, square.sqrt());
            let weighted = f32::midpoint(sums.xx, sums.yy) / sums.all;
            if sums.all <= 0.0 || weighted <= 0.05 || weighted >= square {
                return None;
            }
            square = (1.0 / (1.0 / weighted - 1.0 / square)).clamp(0.1, 12.0);
        }
        // What a pixel itself is wide belongs to the sampling, not to the image; it is left in.
        Some(HALF_MAXIMUM * f64::from(square).sqrt()).filter(|width| (0.8..8.0).contains(width))
    }

    fn level(&self, x: usize, y: usize) -> u8 {
        self.picture.row(y)[x]
    }

    /// Light about an image, above what is about it.
    fn light(&self, x0: usize, y0: usize) -> Option<Window> {
        let level = |x, y| self.level(x, y);
        let dark = self.linear[usize::from(self.ring(x0, y0, level, u8::cmp)?)];
        Some(self.window(x0, y0, |x, y| {
            self.linear[usize::from(self.level(x, y))] - dark
        }))
    }

    fn window(&self, x0: usize, y0: usize, value: impl Fn(usize, usize) -> f32) -> Window {
        let mut window = [[0.0; LANES]; WINDOW];
        for (dy, row) in (-REACH..).zip(&mut window) {
            let Some(y) = step(y0, dy, self.picture.height()) else {
                continue;
            };
            for (dx, cell) in (-REACH..=REACH).zip(row) {
                if let Some(x) = step(x0, dx, self.picture.width()) {
                    *cell = value(x, y);
                }
            }
        }
        window
    }

    /// The median about an image.
    fn ring<T: Copy>(
        &self,
        x0: usize,
        y0: usize,
        value: impl Fn(usize, usize) -> T,
        order: impl FnMut(&T, &T) -> Ordering,
    ) -> Option<T> {
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
        (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, order).1)
    }
}

/// How many times longer than wide an image is, the weights taken out again.
fn elongation(window: &Window, at: (f32, f32)) -> f32 {
    let sums = Sums::about(window, at, SHAPE_SIGMA);
    let of = |sum: f32| f64::from(sum / sums.all);
    let (major, minor) = axes(of(sums.xx), of(sums.xy), of(sums.yy));
    if sums.all <= 0.0 || minor <= 0.0 {
        return 1.0;
    }
    let square = f64::from(SHAPE_SIGMA * SHAPE_SIGMA);
    let unweighted = |m: f64| 1.0 / (1.0 / m - 1.0 / square).max(0.01);
    #[allow(clippy::cast_possible_truncation)] // a ratio of at most ten thousand
    let ratio = (unweighted(major) / unweighted(minor)).sqrt() as f32;
    ratio
}

/// Sums over a window with Gaussian weights about a place: of the values, of them times the steps from there, and times the squares.
struct Sums {
    all: f32,
    x: f32,
    y: f32,
    xx: f32,
    xy: f32,
    yy: f32,
}

impl Sums {
    fn about(window: &Window, (x, y): (f32, f32), sigma: f32) -> Self {
        let columns = Weights::about(x, sigma);
        let rows = Weights::about(y, sigma);
        let mut sums = [[0.0_f32; LANES]; 3];
        for (row, values) in window.iter().enumerate() {
            let (weight, step) = (rows.of[row], rows.steps[row]);
            let weights = [weight, weight * step, weight * step * step];
            for (sums, weight) in sums.iter_mut().zip(weights) {
                for (sum, value) in sums.iter_mut().zip(values) {
                    *sum += weight * value;
                }
            }
        }
        let [all, y, yy] = sums;
        // Of the values, of them times the steps along a row, and times the squares.
        let totals = |values: &[f32; LANES]| {
            let mut totals = [0.0; 3];
            for ((value, weight), step) in values.iter().zip(columns.of).zip(columns.steps) {
                let value = value * weight;
                totals[0] += value;
                totals[1] += value * step;
                totals[2] += value * step * step;
            }
            totals
        };
        let ([all, x, xx], [y, xy, _], [yy, ..]) = (totals(&all), totals(&y), totals(&yy));
        Self {
            all,
            x,
            y,
            xx,
            xy,
            yy,
        }
    }
}

/// Gaussian weights of the columns or the rows of a window about a place, and the steps from there.
struct Weights {
    of: [f32; LANES],
    steps: [f32; LANES],
}

impl Weights {
    fn about(at: f32, sigma: f32) -> Self {
        let mut weights = Self {
            of: [0.0; LANES],
            steps: [0.0; LANES],
        };
        let each = weights.of.iter_mut().zip(&mut weights.steps);
        let square = -1.0 / (2.0 * sigma * sigma);
        for (k, (weight, step)) in (-REACH..=REACH).zip(each) {
            *step = k as f32 - at;
            *weight = (*step * *step * square).exp();
        }
        weights
    }
}

/// The cells of a window: their steps from its middle, their row and their column.
fn cells() -> impl Iterator<Item = (f32, f32, usize, usize)> {
    (-REACH..=REACH).zip(0..).flat_map(|(dy, row)| {
        (-REACH..=REACH)
            .zip(0..)
            .map(move |(dx, column)| (dx as f32, dy as f32, row, column))
    })
}

fn step(from: usize, by: isize, size: usize) -> Option<usize> {
    from.checked_add_signed(by).filter(|to| *to < size)
}
