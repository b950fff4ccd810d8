//! A picture without its background, smoothed, and filtered to let star images through, row by row; the noise of what comes out.
//! Knows no stars.

use std::collections::VecDeque;

use crate::picture::background::Background;
use crate::terms::star_image::Grey;

/// Width (sigma) in pixels of the star images that are let through best.
const STAR_SIGMA: f32 = 1.0;
/// How far that smoothing reaches: 3.7 sigma.
const STAR_REACH: usize = 4;
/// Width (sigma) of what is taken for their surroundings, 3.2 pixels, in a picture of half the size, whose making and unmaking blur
/// by a pixel; and how far that reaches.
const HALF_SIGMA: f32 = 1.520;
const HALF_REACH: usize = 6;
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
const LAST_BIN: f32 = (BINS - 1) as f32;
/// So many sums are added up side by side.
const BLOCK: usize = 16;

/// Rows of a picture that are filtered one after the other; only so many are held as are asked for.
pub(super) struct Rows<'p> {
    picture: &'p Grey,
    background: &'p Background,
    around: Half,
    /// Rows smoothed along themselves, those that the next one needs.
    along: VecDeque<Vec<f32>>,
    /// The number of the first and of the one after the last of them.
    held: (usize, usize),
    padded: Vec<f32>,
    taps: [f32; STAR_REACH + 1],
}

impl<'p> Rows<'p> {
    pub fn of(picture: &'p Grey, background: &'p Background) -> Self {
        Self {
            picture,
            background,
            around: Half::of(picture, background),
            along: VecDeque::new(),
            held: (0, 0),
            padded: Vec::new(),
            taps: taps(STAR_SIGMA),
        }
    }

    /// Writes one row smoothed to the width of star images, and the same less its surroundings. Rows are asked for in order.
    pub fn filter(&mut self, y: usize, smooth: &mut [f32], matched: &mut [f32]) {
        let last = self.picture.height() - 1;
        while self.held.1 <= (y + STAR_REACH).min(last) {
            self.smooth_next();
        }
        let (first, _) = self.held;
        let line = |row: usize| &self.along[row.clamp(first, last) - first][..];
        let mut lines = [line(y); 2 * STAR_REACH + 1];
        for (at, one) in lines.iter_mut().enumerate() {
            *one = line((y + at).saturating_sub(STAR_REACH));
        }
        weighted(&lines, &self.taps, smooth);
        self.around.row(y, matched);
        for (around, star) in matched.iter_mut().zip(smooth.iter()) {
            *around = *star - *around;
        }
    }

    /// Smooths one more row along itself, in place of one that is not needed any more.
    fn smooth_next(&mut self) {
        let width = self.picture.width();
        let y = self.held.1;
        let mut row = if self.along.len() > 2 * STAR_REACH {
            self.held.0 += 1;
            self.along.pop_front().unwrap_or_default()
        } else {
            Vec::new()
        };
        row.resize(width, 0.0);
        self.background.row(y, &mut row);
        for (value, pixel) in row.iter_mut().zip(self.picture.row(y)) {
            *value = f32::from(*pixel) - *value;
        }
        along(&mut row, &mut self.padded, &self.taps);
        self.along.push_back(row);
        self.held.1 += 1;
    }
}

/// The surroundings of all pixels: the picture without its background, blurred at half its size.
struct Half {
    width: usize,
    height: usize,
    values: Vec<f32>,
    /// Two rows of it blended.
    line: Vec<f32>,
}

impl Half {
    fn of(picture: &Grey, background: &Background) -> Self {
        let (width, height) = (picture.width().div_ceil(2), picture.height().div_ceil(2));
        let mut values = vec![0.0; width * height];
        let mut levels = vec![0.0; picture.width()];
        let taps: [f32; HALF_REACH + 1] = taps(HALF_SIGMA);
        let mut padded = Vec::new();
        for (y, into) in values.chunks_exact_mut(width).enumerate() {
            for half in 0..2 {
                let row = (2 * y + half).min(picture.height() - 1);
                background.row(row, &mut levels);
                let twos = picture.row(row).chunks(2).zip(levels.chunks(2));
                for (sum, (pixels, levels)) in into.iter_mut().zip(twos) {
                    let [left, right] = [0, pixels.len() - 1]
                        .map(|at| f32::from(pixels[at]) - levels[at.min(levels.len() - 1)]);
                    *sum += (left + right) * 0.25;
                }
            }
            along(into, &mut padded, &taps);
        }
        Self {
            values: across(&values, width, &taps),
            width,
            height,
            line: vec![0.0; width],
        }
    }

    /// Writes one row of the full size.
    fn row(&mut self, y: usize, into: &mut [f32]) {
        let near = y / 2;
        let far = if y.is_multiple_of(2) {
            near.saturating_sub(1)
        } else {
            (near + 1).min(self.height - 1)
        };
        let row = |y: usize| &self.values[y * self.width..(y + 1) * self.width];
        for ((value, near), far) in self.line.iter_mut().zip(row(near)).zip(row(far)) {
            *value = 0.75 * near + 0.25 * far;
        }
        let last = self.width - 1;
        into[0] = self.line[0];
        if let Some(end) = into.get_mut(2 * last + 1) {
            *end = self.line[last];
        }
        // Every two pixels lie between the same two of half the size.
        for (two, between) in into[1..].chunks_exact_mut(2).zip(self.line.windows(2)) {
            two[0] = 0.75 * between[0] + 0.25 * between[1];
            two[1] = 0.25 * between[0] + 0.75 * between[1];
        }
    }
}

/// Cells that noise is measured in: how many across, and how many down.
pub(super) fn noise_cells(width: usize, height: usize) -> (usize, usize) {
    (
        (width / NOISE_CELL_PX).max(1),
        (height / NOISE_CELL_PX).max(1),
    )
}

/// One standard deviation of the noise of each cell in some filtered rows.
///
/// From the filtered picture itself: a camera's smoothing and JPEG make neighbouring pixels alike, so the noise of single
/// pixels does not tell it. Every second row tells as much.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // limited to the bins
pub(super) fn noise<'r>(
    rows: &(impl Iterator<Item = &'r [f32]> + Clone),
    across: usize,
) -> Vec<f32> {
    let of_cell = |i: usize| {
        let mut counts = [0_u32; BINS];
        let mut all = 0;
        for row in rows.clone().step_by(2) {
            let cell = &row[i * row.len() / across..(i + 1) * row.len() / across];
            for value in cell {
                let bin = (value.abs() * BINS_A_LEVEL).min(LAST_BIN) as u16;
                counts[usize::from(bin)] += 1;
            }
            all += cell.len() as u32;
        }
        let mut below = 0;
        let middle = counts.iter().position(|count| {
            below += count;
            below * 2 >= all
        });
        let median = (middle.unwrap_or(0) as f32 + 0.5) / BINS_A_LEVEL;
        (OF_MEDIAN * median).max(LEAST_NOISE)
    };
    (0..across).map(of_cell).collect()
}

/// Gaussian weights from the middle outwards, their sum over both sides 1.
fn taps<const N: usize>(sigma: f32) -> [f32; N] {
    let mut taps = [0.0; N];
    for (k, tap) in taps.iter_mut().enumerate() {
        *tap = (-((k * k) as f32) / (2.0 * sigma * sigma)).exp();
    }
    let sum = 2.0 * taps.iter().sum::<f32>() - taps[0];
    taps.map(|tap| tap / sum)
}

/// Blurs a row along itself, its ends repeated outside.
fn along<const N: usize>(row: &mut [f32], padded: &mut Vec<f32>, taps: &[f32; N]) {
    let reach = N - 1;
    let width = row.len();
    padded.resize(width + 2 * reach, 0.0);
    padded[..reach].fill(row[0]);
    padded[reach..reach + width].copy_from_slice(row);
    padded[reach + width..].fill(row[width - 1]);
    let lines: Vec<&[f32]> = (0..=2 * reach).map(|at| &padded[at..at + width]).collect();
    weighted(&lines, taps, row);
}

/// Blurs a picture across its rows, the outer ones repeated outside.
fn across<const N: usize>(values: &[f32], width: usize, taps: &[f32; N]) -> Vec<f32> {
    let reach = N - 1;
    let last = values.len() / width - 1;
    let line = |y: usize| &values[y * width..(y + 1) * width];
    let mut blurred = vec![0.0; values.len()];
    for (y, into) in blurred.chunks_exact_mut(width).enumerate() {
        let lines: Vec<&[f32]> = (0..=2 * reach)
            .map(|at| line((y + at).saturating_sub(reach).min(last)))
            .collect();
        weighted(&lines, taps, into);
    }
    blurred
}

/// Adds up lines, the middle one times the first tap, those farther away times the next ones.
fn weighted<const N: usize>(lines: &[&[f32]], taps: &[f32; N], into: &mut [f32]) {
    let whole = into.len() / BLOCK * BLOCK;
    let (blocks, rest) = into.split_at_mut(whole);
    for (at, into) in blocks.as_chunks_mut().0.iter_mut().enumerate() {
        block::<N, BLOCK>(lines, taps, at * BLOCK, into);
    }
    for (at, into) in rest.as_chunks_mut().0.iter_mut().enumerate() {
        block::<N, 1>(lines, taps, whole + at, into);
    }
}

/// The same for some places side by side.
fn block<const N: usize, const B: usize>(
    lines: &[&[f32]],
    taps: &[f32; N],
    at: usize,
    into: &mut [f32; B],
) {
    let part = |line: usize| &lines[line][at..at + B];
    let mut sums = [0.0_f32; B];
    for (sum, value) in sums.iter_mut().zip(part(N - 1)) {
        *sum = value * taps[0];
    }
    for (k, tap) in taps.iter().enumerate().skip(1) {
        let both = part(N - 1 - k).iter().zip(part(N - 1 + k));
        for (sum, (a, b)) in sums.iter_mut().zip(both) {
            *sum += (a + b) * tap;
        }
    }
    *into = sums;
}

#[cfg(test)]
mod tests {
    use super::*;

    const AROUND_SIGMA: f32 = 3.2;

    /// Both filters over a whole picture.
    fn filtered(picture: &Grey) -> (Vec<f32>, Vec<f32>) {
        let background = Background::of(picture);
        let mut rows = Rows::of(picture, &background);
        let (width, height) = (picture.width(), picture.height());
        let mut smooth = vec![0.0; width * height];
        let mut matched = smooth.clone();
        let both = smooth
            .chunks_exact_mut(width)
            .zip(matched.chunks_exact_mut(width));
        for (y, (smooth, matched)) in both.enumerate() {
            rows.filter(y, smooth, matched);
        }
        (smooth, matched)
    }

    #[test]
    fn an_even_picture_stays_so_and_a_point_keeps_its_light_and_its_shape() {
        for (width, height) in [(97, 61), (100, 64), (9, 3)] {
            let even = Grey::new(width, height, vec![7; width * height]).unwrap();
            let (smooth, matched) = filtered(&even);
            assert!(smooth.iter().chain(&matched).all(|v| v.abs() < 1e-4));
        }
        let (width, height) = (101, 80);
        for (x, y) in [(50, 40), (51, 41), (50, 41)] {
            let mut luma = vec![0; width * height];
            luma[y * width + x] = 200;
            let (smooth, matched) = filtered(&Grey::new(width, height, luma).unwrap());
            let at = |plane: &[f32], dx: usize, dy: usize| plane[(y + dy) * width + x + dx];
            assert!((smooth.iter().sum::<f32>() - 200.0).abs() < 0.1);
            let gauss = |sigma: f32, r2: f32| {
                200.0 * (-r2 / (2.0 * sigma * sigma)).exp()
                    / (std::f32::consts::TAU * sigma * sigma)
            };
            for (dx, dy) in [(0, 0), (1, 0), (0, 2), (3, 4), (6, 0)] {
                let r2 = (dx * dx + dy * dy) as f32;
                let expect = gauss(STAR_SIGMA, r2);
                assert!((at(&smooth, dx, dy) - expect).abs() < 0.15, "{dx} {dy}");
                // At half the size the surroundings are off by half a pixel.
                let expect = expect - gauss(AROUND_SIGMA, r2);
                assert!((at(&matched, dx, dy) - expect).abs() < 0.4, "{dx} {dy}");
            }
        }
    }

    #[test]
    fn noise_is_measured_as_it_is() {
        // A triangle of -6 to 6 has a median absolute value of 3.
        let values: Vec<f32> = (0..96 * 48)
            .map(|k| (k * 37 % 121 - 60) as f32 / 10.0)
            .collect();
        let found = noise(&values.chunks_exact(96), 2);
        assert_eq!(found.len(), 2);
        for sigma in found {
            assert!((sigma - OF_MEDIAN * 3.0).abs() < 0.2, "{sigma}");
        }
    }
}
