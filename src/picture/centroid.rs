//! Where a star image is to a small part of a pixel, how much light is in it and how wide it is. Decides nothing.

use std::cmp::Ordering;
use std::ops::Range;

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
/// No more pixels than this are in the ring.
const RING_PIXELS: usize = 144;
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
    /// Steps from an image to the pixels of the ring about it: rows, and in each the first and the last of some columns.
    ring: Vec<(isize, isize, isize)>,
}

impl<'a> Measure<'a> {
    pub fn new(picture: &'a Grey, background: &'a Background) -> Self {
        let mut linear = [0.0; 256];
        for (level, light) in linear.iter_mut().enumerate() {
            *light = (level as f32 / 255.0).powf(ENCODING);
        }
        let steps = (-RING_REACH..=RING_REACH)
            .flat_map(|dy| (-RING_REACH..=RING_REACH).map(move |dx| (dy, dx)));
        let on_it: Vec<(isize, isize)> = steps
            .filter(|(dy, dx)| {
                let apart = (dx * dx + dy * dy) as f64;
                apart >= RING_PX.0 * RING_PX.0 && apart <= RING_PX.1 * RING_PX.1
            })
            .collect();
        let ring = on_it
            .chunk_by(|a, b| *b == (a.0, a.1 + 1))
            .map(|run| (run[0].0, run[0].1, run[run.len() - 1].1))
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
        let residuals = |y, columns: Range<usize>| {
            let levels = self.levels(y, columns.clone()).iter();
            let both = levels.zip(self.background.part(y, columns));
            both.map(|(level, background)| f32::from(*level) - background)
        };
        let ground = self.ring(x0, y0, residuals, f32::total_cmp)?;
        let window = self.window(x0, y0, |y, columns| {
            residuals(y, columns).map(|residual| residual - ground)
        });
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
        let peak = self.window(x0, y0, |y, columns| {
            let levels = self.levels(y, columns).iter();
            levels.map(|level| f32::from(*level))
        });
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

    fn levels(&self, y: usize, columns: Range<usize>) -> &[u8] {
        &self.picture.row(y)[columns]
    }

    /// Light about an image, above what is about it.
    fn light(&self, x0: usize, y0: usize) -> Option<Window> {
        let levels = |y, columns| self.levels(y, columns).iter();
        let dark = self.ring(x0, y0, |y, columns| levels(y, columns).copied(), u8::cmp)?;
        let dark = self.linear[usize::from(dark)];
        Some(self.window(x0, y0, |y, columns| {
            levels(y, columns).map(|level| self.linear[usize::from(*level)] - dark)
        }))
    }

    /// Takes: the values of some columns of a row.
    fn window<V: Iterator<Item = f32>>(
        &self,
        x0: usize,
        y0: usize,
        values: impl Fn(usize, Range<usize>) -> V,
    ) -> Window {
        let mut window = [[0.0; LANES]; WINDOW];
        let columns = span(x0, (-REACH, REACH), self.picture.width());
        for y in span(y0, (-REACH, REACH), self.picture.height()) {
            // From the middle, that nothing is below zero.
            let row = &mut window[y + WINDOW / 2 - y0];
            let cells = &mut row[columns.start + WINDOW / 2 - x0..];
            for (cell, value) in cells.iter_mut().zip(values(y, columns.clone())) {
                *cell = value;
            }
        }
        window
    }

    /// The median about an image.
    ///
    /// Takes: the values of some columns of a row.
    fn ring<T: Copy, V: Iterator<Item = T>>(
        &self,
        x0: usize,
        y0: usize,
        values: impl Fn(usize, Range<usize>) -> V,
        order: impl FnMut(&T, &T) -> Ordering,
    ) -> Option<T> {
        let mut about = Vec::with_capacity(RING_PIXELS);
        for (dy, first, last) in &self.ring {
            for y in span(y0, (*dy, *dy), self.picture.height()) {
                about.extend(values(y, span(x0, (*first, *last), self.picture.width())));
            }
        }
        let middle = about.len() / 2;
        (!about.is_empty()).then(|| *about.select_nth_unstable_by(middle, order).1)
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
    #[inline(always)]
    #[allow(clippy::inline_always)] // most use a part of the sums only
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
        let square = -1.0 / (2.0 * sigma * sigma);
        for k in 0..WINDOW {
            let step = k as f32 - REACH as f32 - at;
            weights.steps[k] = step;
            weights.of[k] = (step * step * square).exp();
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

/// What is in the picture of some places in a row.
fn span(from: usize, (first, last): (isize, isize), size: usize) -> Range<usize> {
    let end = from.saturating_add_signed(last + 1).min(size);
    from.saturating_add_signed(first).min(end)..end
}
