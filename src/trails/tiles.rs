//! Mean and deviation of a plane, tile by tile. Decides nothing.

use crate::trails::flat::Plane;

/// Tiles across and down.
pub(super) const ACROSS: usize = 12;
/// Tiles down.
pub(super) const DOWN: usize = 8;
/// Values farther from the mean than this many deviations are left out, as often as this.
const CLIP: f32 = 3.0;
const ROUNDS: u32 = 3;
const SIDE_BY_SIDE: usize = 8;
/// The least deviation: rounding to whole levels alone makes 0.29 of a level, the flattened plane counts 16 units a level.
const LEAST: f32 = 5.0;

/// Means and deviations of the tiles of a plane.
///
/// The median of absolute deviations would be simpler, but jumps by 1.48 levels on pictures of 8 bits.
#[derive(Clone, Debug)]
pub(super) struct Tiles {
    width: usize,
    height: usize,
    mean: Vec<f32>,
    deviation: Vec<f32>,
}

impl Tiles {
    /// Measures a plane.
    pub fn of(plane: &Plane) -> Self {
        let mut mean = Vec::with_capacity(ACROSS * DOWN);
        let mut deviation = Vec::with_capacity(ACROSS * DOWN);
        let mut values = Vec::new();
        for j in 0..DOWN {
            for i in 0..ACROSS {
                values.clear();
                let rows = j * plane.height / DOWN..(j + 1) * plane.height / DOWN;
                let columns = i * plane.width / ACROSS..(i + 1) * plane.width / ACROSS;
                for y in rows.step_by(3) {
                    let row = &plane.row(y)[columns.clone()];
                    values.extend(row.iter().map(|v| f32::from(*v)));
                }
                let (m, d) = clipped(&values);
                mean.push(m);
                deviation.push(d.max(LEAST));
            }
        }
        Self {
            width: plane.width,
            height: plane.height,
            mean,
            deviation,
        }
    }

    /// The tiles of a row, blended from above and below: mean and deviation for every column of tiles.
    pub fn row(&self, y: usize) -> [(f32, f32); ACROSS] {
        let along = ((y as f32 + 0.5) * DOWN as f32 / self.height as f32 - 0.5)
            .clamp(0.0, (DOWN - 1) as f32);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to the tiles
        let above = along as usize;
        let below = (above + 1).min(DOWN - 1);
        let share = along - above as f32;
        let blend = |of: &[f32], i: usize| {
            of[above * ACROSS + i] * (1.0 - share) + of[below * ACROSS + i] * share
        };
        std::array::from_fn(|i| (blend(&self.mean, i), blend(&self.deviation, i)))
    }

    /// The columns of a tile.
    pub fn columns(&self, i: usize) -> std::ops::Range<usize> {
        i * self.width / ACROSS..(i + 1) * self.width / ACROSS
    }
}

fn clipped(values: &[f32]) -> (f32, f32) {
    let (mut mean, mut deviation) = (0.0, f32::MAX);
    for _ in 0..=ROUNDS {
        let sums = sums(values, mean, CLIP * deviation);
        let [sum, squares, count] = sums.map(|sums| sums.iter().sum::<f32>());
        if count < 8.0 {
            return (mean, 0.0);
        }
        let step = sum / count;
        deviation = (squares / count - step * step).max(0.0).sqrt();
        mean += step;
    }
    (mean, deviation)
}

/// Sums of the values within reach of a mean, less it, of their squares and of their count: side by side, for the processor adds
/// several numbers at a time; the few that remain do not count.
#[inline(never)] // together with what adds up the sums, they are added one at a time
fn sums(values: &[f32], mean: f32, reach: f32) -> [[f32; SIDE_BY_SIDE]; 3] {
    let mut sums = [[0.0_f32; SIDE_BY_SIDE]; 3];
    for part in values.chunks_exact(SIDE_BY_SIDE) {
        let [sum, squares, count] = &mut sums;
        for (k, value) in part.iter().enumerate() {
            let within = f32::from(u8::from((value - mean).abs() <= reach));
            let from = (value - mean) * within;
            sum[k] += from;
            squares[k] += from * from;
            count[k] += within;
        }
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outliers_do_not_widen_the_deviation() {
        let mut values: Vec<f32> = (0..1_000)
            .map(|k| ((k * 7_919) % 201) as f32 - 100.0)
            .collect();
        let (mean, deviation) = clipped(&values);
        assert!(
            mean.abs() < 2.0 && (deviation - 58.0).abs() < 2.0,
            "{mean} {deviation}"
        );
        values.extend([3_000.0; 30]);
        let (again, wide) = clipped(&values);
        assert!(
            (again - mean).abs() < 4.0 && (wide - deviation).abs() < 4.0,
            "{again} {wide}"
        );
    }
}
