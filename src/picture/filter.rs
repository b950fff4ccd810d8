//! A picture without its background, smoothed, and filtered to let star images through; the noise of what comes out.
//! Knows no stars.

use crate::picture::background::Background;
use crate::terms::star_image::Grey;

/// Width (sigma) in pixels of the star images that are let through best.
const STAR_SIGMA: f32 = 1.0;
/// Width (sigma) in pixels of what is taken for their surroundings.
const AROUND_SIGMA: f32 = 3.2;
/// Side in pixels of the cells that noise is measured in.
const NOISE_CELL_PX: usize = 48;
/// The least noise, in levels: what JPEG has smoothed away is not certain.
const LEAST_NOISE: f32 = 0.12;
/// The standard deviation of normal noise in units of its median absolute deviation.
const OF_MEDIAN: f32 = 1.4826;
/// Bins of a level for the median of the absolute deviation.
const BINS_A_LEVEL: f32 = 32.0;
/// All bins: up to 32 levels.
const BINS: usize = 1024;

/// Values of the pixels of a picture.
pub(super) struct Plane {
    pub width: usize,
    pub height: usize,
    pub values: Vec<f32>,
}

impl Plane {
    pub fn row(&self, y: usize) -> &[f32] {
        &self.values[y * self.width..(y + 1) * self.width]
    }

    pub fn at(&self, x: usize, y: usize) -> f32 {
        self.values[y * self.width + x]
    }
}

/// A picture without its background.
pub(super) fn residual(picture: &Grey, background: &Background) -> Plane {
    let (width, height) = (picture.width(), picture.height());
    let mut values = vec![0.0; width * height];
    for (y, row) in values.chunks_exact_mut(width).enumerate() {
        background.row(y, row);
        for (value, pixel) in row.iter_mut().zip(picture.row(y)) {
            *value = f32::from(*pixel) - *value;
        }
    }
    Plane {
        width,
        height,
        values,
    }
}

/// A residual smoothed to the width of star images, and the same less its surroundings.
pub(super) fn filtered(residual: &Plane) -> (Plane, Plane) {
    let smooth = blurred(residual, STAR_SIGMA);
    let mut matched = blurred(residual, AROUND_SIGMA);
    for (around, star) in matched.values.iter_mut().zip(&smooth.values) {
        *around = *star - *around;
    }
    (smooth, matched)
}

/// The noise of a filtered picture, cell by cell.
pub(super) struct Noise {
    across: usize,
    down: usize,
    sigma: Vec<f32>,
    width: usize,
    height: usize,
}

impl Noise {
    /// Measures it.
    ///
    /// From the filtered picture itself: a camera's smoothing and JPEG make neighbouring pixels alike, so the noise of
    /// single pixels does not tell it.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // limited to the bins
    pub fn of(matched: &Plane) -> Self {
        let (width, height) = (matched.width, matched.height);
        let across = (width / NOISE_CELL_PX).max(1);
        let down = (height / NOISE_CELL_PX).max(1);
        let mut sigma = Vec::with_capacity(across * down);
        for j in 0..down {
            for i in 0..across {
                let mut counts = [0_u32; BINS];
                let mut all = 0;
                for y in j * height / down..(j + 1) * height / down {
                    for value in &matched.row(y)[i * width / across..(i + 1) * width / across] {
                        let bin = (value.abs() * BINS_A_LEVEL) as usize;
                        counts[bin.min(BINS - 1)] += 1;
                        all += 1;
                    }
                }
                let mut below = 0;
                let middle = counts.iter().position(|count| {
                    below += count;
                    below * 2 >= all
                });
                let median = (middle.unwrap_or(0) as f32 + 0.5) / BINS_A_LEVEL;
                sigma.push((OF_MEDIAN * median).max(LEAST_NOISE));
            }
        }
        Self {
            across,
            down,
            sigma,
            width,
            height,
        }
    }

    /// One standard deviation at a pixel.
    pub fn at(&self, x: usize, y: usize) -> f32 {
        let i = (x * self.across / self.width).min(self.across - 1);
        let j = (y * self.down / self.height).min(self.down - 1);
        self.sigma[j * self.across + i]
    }
}

/// Gaussian weights from the middle outwards, their sum over both sides 1.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a few
fn taps(sigma: f32) -> Vec<f32> {
    let reach = (sigma * 3.7).ceil() as usize;
    let one = |k: usize| (-((k * k) as f32) / (2.0 * sigma * sigma)).exp();
    let sum: f32 = one(0) + 2.0 * (1..=reach).map(one).sum::<f32>();
    (0..=reach).map(|k| one(k) / sum).collect()
}

/// Blurs a picture, its edge pixels repeated outside.
fn blurred(plane: &Plane, sigma: f32) -> Plane {
    let taps = taps(sigma);
    let reach = taps.len() - 1;
    let (width, height) = (plane.width, plane.height);
    let mut along = vec![0.0; width * height];
    let mut padded = vec![0.0; width + 2 * reach];
    for (row, into) in plane
        .values
        .chunks_exact(width)
        .zip(along.chunks_exact_mut(width))
    {
        padded[..reach].fill(row[0]);
        padded[reach..reach + width].copy_from_slice(row);
        padded[reach + width..].fill(row[width - 1]);
        for (value, middle) in into.iter_mut().zip(&padded[reach..]) {
            *value = middle * taps[0];
        }
        for (k, tap) in taps.iter().enumerate().skip(1) {
            add_pair(into, &padded[reach - k..], &padded[reach + k..], *tap);
        }
    }
    let mut values = vec![0.0; width * height];
    let row = |y: usize| &along[y * width..(y + 1) * width];
    for (y, into) in values.chunks_exact_mut(width).enumerate() {
        for (value, middle) in into.iter_mut().zip(row(y)) {
            *value = middle * taps[0];
        }
        for (k, tap) in taps.iter().enumerate().skip(1) {
            let (above, below) = (y.saturating_sub(k), (y + k).min(height - 1));
            add_pair(into, row(above), row(below), *tap);
        }
    }
    Plane {
        width,
        height,
        values,
    }
}

fn add_pair(into: &mut [f32], one: &[f32], other: &[f32], tap: f32) {
    for ((value, a), b) in into.iter_mut().zip(one).zip(other) {
        *value += (a + b) * tap;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_blur_keeps_an_even_picture_and_the_light_of_a_point() {
        let even = Plane {
            width: 40,
            height: 30,
            values: vec![3.0; 1200],
        };
        assert!(
            blurred(&even, 3.2)
                .values
                .iter()
                .all(|v| (v - 3.0).abs() < 1e-4)
        );
        let mut point = vec![0.0; 1200];
        point[15 * 40 + 20] = 100.0;
        let spread = blurred(
            &Plane {
                values: point,
                ..even
            },
            1.0,
        );
        assert!((spread.values.iter().sum::<f32>() - 100.0).abs() < 1e-2);
        assert!((spread.at(20, 15) - 100.0 / std::f32::consts::TAU).abs() < 0.1);
        assert!((spread.at(19, 15) - spread.at(20, 16)).abs() < 1e-4);
    }

    #[test]
    fn noise_is_measured_as_it_is() {
        // A triangle of -6 to 6 has a median absolute value of 3.
        let values = (0..96 * 96)
            .map(|k| (k * 37 % 121 - 60) as f32 / 10.0)
            .collect();
        let noise = Noise::of(&Plane {
            width: 96,
            height: 96,
            values,
        });
        assert!(
            (noise.at(10, 80) - OF_MEDIAN * 3.0).abs() < 0.2,
            "{}",
            noise.at(10, 80)
        );
    }
}
