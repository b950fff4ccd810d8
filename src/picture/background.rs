//! The background of a picture: the median of small cells, smoothed and blended. Knows no stars.

use std::ops::Range;

use crate::terms::star_image::Grey;

/// Side of a cell in pixels: several times the width of a star image, narrower than a cloud.
const CELL_PX: usize = 24;

/// The background of one picture.
pub struct Background {
    across: usize,
    down: usize,
    levels: Vec<f32>,
    /// The columns between two neighbouring cells.
    between: Vec<Range<usize>>,
    /// How far each column is along between its two cells.
    shares: Vec<f32>,
    /// The upper one of the two rows of cells that each row lies between, and how far along.
    rows: Vec<(usize, f32)>,
    /// Each row of cells blended along itself: a level for each column.
    lines: Vec<f32>,
    width: usize,
    height: usize,
}

impl Background {
    /// Measures a picture's background.
    pub fn of(picture: &Grey) -> Self {
        let (width, height) = (picture.width(), picture.height());
        let across = (width / CELL_PX).max(1);
        let down = (height / CELL_PX).max(1);
        let mut medians = Vec::with_capacity(across * down);
        for j in 0..down {
            let rows = j * height / down..(j + 1) * height / down;
            for i in 0..across {
                let columns = i * width / across..(i + 1) * width / across;
                // Neighbours are of one level at night: two tables need not wait for each other.
                let mut counts = [[0_u32; 256]; 2];
                for y in rows.clone() {
                    for two in picture.row(y)[columns.clone()].chunks(2) {
                        for (table, pixel) in counts.iter_mut().zip(two) {
                            table[usize::from(*pixel)] += 1;
                        }
                    }
                }
                medians.push(median_of_counts(&counts));
            }
        }
        let levels = smoothed(&medians, across, down);
        let places: Vec<(usize, f32)> = (0..width).map(|x| place(x, width, across)).collect();
        let between = places.chunk_by(|a, b| a.0 == b.0);
        let between = between.scan(0, |from, columns| {
            let range = *from..*from + columns.len();
            *from = range.end;
            Some(range)
        });
        let lines = levels.chunks_exact(across).flat_map(|cells| {
            places.iter().map(|(left, along)| {
                let right = (left + 1).min(across - 1);
                cells[*left] + (cells[right] - cells[*left]) * along
            })
        });
        Self {
            lines: lines.collect(),
            across,
            down,
            levels,
            between: between.collect(),
            shares: places.iter().map(|(_, share)| *share).collect(),
            rows: (0..height).map(|y| place(y, height, down)).collect(),
            width,
            height,
        }
    }

    /// Writes the background of one row.
    pub fn row(&self, y: usize, into: &mut [f32]) {
        let (upper, share) = self.rows[y];
        let lower = (upper + 1).min(self.down - 1);
        let cell = |i: usize| {
            let i = i.min(self.across - 1);
            let above = self.levels[upper * self.across + i];
            above + (self.levels[lower * self.across + i] - above) * share
        };
        for (i, columns) in self.between.iter().enumerate() {
            let (left, step) = (cell(i), cell(i + 1) - cell(i));
            let shares = &self.shares[columns.clone()];
            for (level, share) in into[columns.clone()].iter_mut().zip(shares) {
                *level = left + step * share;
            }
        }
    }

    /// The background at some pixels of a row.
    pub fn part(&self, y: usize, columns: Range<usize>) -> impl Iterator<Item = f32> {
        let (upper, share) = self.rows[y];
        let line = |j: usize| &self.lines[j * self.width..][columns.clone()];
        let lower = line((upper + 1).min(self.down - 1));
        let both = line(upper).iter().zip(lower);
        both.map(move |(above, below)| above + (below - above) * share)
    }

    /// The level of the cell that a pixel lies in.
    pub fn near(&self, x: f64, y: f64) -> f32 {
        let i = cell(x, self.width, self.across);
        let j = cell(y, self.height, self.down);
        self.levels[j * self.across + i]
    }

    /// The level that parts the brighter cells from the darker ones best; all count as bright where the picture is even.
    ///
    /// Source: N. Otsu 1979, IEEE Trans. SMC 9, 62 (from memory).
    pub fn threshold(&self) -> f32 {
        let mut sorted = self.levels.clone();
        sorted.sort_by(f32::total_cmp);
        let total: f32 = sorted.iter().sum();
        let count = sorted.len() as f32;
        let (mut best, mut threshold, mut sum) = (0.0, sorted[0], 0.0);
        for at in 1..sorted.len() {
            sum += sorted[at - 1];
            let below = at as f32;
            let gap = sum / below - (total - sum) / (count - below);
            let between = below * (count - below) * gap * gap;
            if between > best {
                (best, threshold) = (between, f32::midpoint(sorted[at - 1], sorted[at]));
            }
        }
        let spread = sorted[sorted.len() * 9 / 10] - sorted[sorted.len() / 10];
        if spread < 4.0 { sorted[0] } else { threshold }
    }

    /// Median level of the cells from a level upwards.
    pub fn median_from(&self, threshold: f32) -> f32 {
        let mut bright: Vec<f32> = self
            .levels
            .iter()
            .copied()
            .filter(|l| *l >= threshold)
            .collect();
        bright.sort_by(f32::total_cmp);
        bright.get(bright.len() / 2).copied().unwrap_or(0.0)
    }
}

/// The first of the two cells that a pixel lies between, and how far along.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to the cells
fn place(pixel: usize, pixels: usize, cells: usize) -> (usize, f32) {
    let last = (cells - 1) as f32;
    let along = ((pixel as f32 + 0.5) * cells as f32 / pixels as f32 - 0.5).clamp(0.0, last);
    let before = along as usize;
    (before, along - before as f32)
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to the cells
fn cell(at: f64, pixels: usize, cells: usize) -> usize {
    (((at + 0.5) * cells as f64 / pixels as f64).max(0.0) as usize).min(cells - 1)
}

/// The median with its fraction: bytes are coarse where the sky is dark.
fn median_of_counts([even, odd]: &[[u32; 256]; 2]) -> f32 {
    let half = even.iter().chain(odd).sum::<u32>() as f32 / 2.0;
    let mut below = 0.0;
    for (level, (even, odd)) in even.iter().zip(odd).enumerate() {
        let count = (even + odd) as f32;
        if count > 0.0 && below + count >= half {
            return level as f32 - 0.5 + (half - below) / count;
        }
        below += count;
    }
    0.0
}

/// The median of each cell and its neighbours.
fn smoothed(medians: &[f32], across: usize, down: usize) -> Vec<f32> {
    let mut levels = Vec::with_capacity(medians.len());
    let mut near = Vec::with_capacity(9);
    for j in 0..down {
        for i in 0..across {
            near.clear();
            for row in j.saturating_sub(1)..=(j + 1).min(down - 1) {
                let columns = i.saturating_sub(1)..=(i + 1).min(across - 1);
                near.extend_from_slice(&medians[row * across..][columns]);
            }
            near.sort_by(f32::total_cmp);
            levels.push(f32::midpoint(
                near[(near.len() - 1) / 2],
                near[near.len() / 2],
            ));
        }
    }
    levels
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slope_is_followed_and_a_star_is_not() {
        let (width, height) = (240, 120);
        let mut luma = Vec::new();
        for y in 0..height {
            for x in 0..width {
                let star = if (100..103).contains(&x) && (50..53).contains(&y) {
                    90
                } else {
                    0
                };
                luma.push(u8::try_from(20 + x / 4 + star).unwrap());
            }
        }
        let background = Background::of(&Grey::new(width, height, luma).unwrap());
        let mut row = vec![0.0; width];
        background.row(51, &mut row);
        for x in 30..210_u16 {
            let expect = 20.0 + (f32::from(x) - 1.5) / 4.0;
            assert!(
                (row[usize::from(x)] - expect).abs() < 1.0,
                "{x} {}",
                row[usize::from(x)]
            );
        }
        let part = background.part(51, 30..210);
        assert!(part.zip(&row[30..]).all(|(a, b)| (a - b).abs() < 1e-4));
    }

    #[test]
    fn a_dark_foreground_is_parted_from_the_sky() {
        let luma = (0..200 * 100)
            .map(|at| if at / 200 > 60 { 4 } else { 40 })
            .collect();
        let background = Background::of(&Grey::new(200, 100, luma).unwrap());
        let threshold = background.threshold();
        assert!(threshold > 5.0 && threshold < 39.0, "{threshold}");
        assert!((background.median_from(threshold) - 40.0).abs() < 1.0);
        let even = Background::of(&Grey::new(96, 96, vec![9; 96 * 96]).unwrap());
        assert!(even.near(50.0, 50.0) >= even.threshold());
    }
}
