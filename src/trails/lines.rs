//! Places where a plane is brighter along a line, at any angle and at four lengths. Traces nothing.
//!
//! Sums by doubling: a line of 2n pixels that rises by s is two lines of n pixels that rise by s/2 each, the second one shifted.
//! Source: M. L. Brady 1998, SIAM J. Comput. 27, 107 (from memory).

use crate::trails::change::SIGMA;
use crate::trails::change::UNKNOWN;
use crate::trails::change::larger;
use crate::trails::flat::Plane;

/// The lengths that are searched, in pixels along the longer axis.
const LENGTHS: [usize; 4] = [8, 16, 32, 64];
/// A place counts from this many deviations of such sums on.
const SEED_FROM: f32 = 5.3;
/// A single pixel adds at least and at most this many deviations: one bright point makes no line.
const LEAST: i16 = -3 * SIGMA / 2;
const MOST: i16 = 5 * SIGMA;
/// Side of the squares whose own spread of sums is known.
const SQUARE: usize = 64;
/// How many places are kept, the strongest first.
const MOST_SEEDS: usize = 4_000;

/// A bright line: its middle, half its extent, and how far it stands above other lines.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seed {
    pub x: f32,
    pub y: f32,
    pub dx: f32,
    pub dy: f32,
    pub strength: f32,
}

/// The strongest lines of a plane of changes.
pub(super) fn seeds(changes: &Plane) -> Vec<Seed> {
    let (rows, columns) = blurred(changes);
    let mut found = Vec::new();
    let (width, height) = (changes.width, changes.height);
    let mut buffers = [Vec::new(), Vec::new()];
    for (sign, flat) in [(1, true), (-1, true), (1, false), (-1, false)] {
        // Flat lines run over columns, whose pixels lie one after the other; steep lines over rows.
        let (base, outer, inner) = if flat {
            (&columns, width, height)
        } else {
            (&rows, height, width)
        };
        directions(base, outer, inner, sign, &mut buffers, &mut |seed| {
            found.push(if flat {
                seed
            } else {
                Seed {
                    x: seed.y,
                    y: seed.x,
                    dx: seed.dy,
                    dy: seed.dx,
                    ..seed
                }
            });
        });
    }
    found.sort_by(|a, b| b.strength.total_cmp(&a.strength));
    found.truncate(MOST_SEEDS);
    found
}

/// The plane with its values limited and blurred by 0.6 pixels: row after row, and column after column.
#[allow(clippy::cast_possible_truncation)] // means of limited values
fn blurred(changes: &Plane) -> (Vec<i16>, Vec<i16>) {
    const SIDE: i16 = 46; // of 256
    const MIDDLE: i16 = 164;
    let (width, height) = (changes.width, changes.height);
    let limited: Vec<i16> = changes
        .values
        .iter()
        .map(|v| {
            if *v == UNKNOWN {
                0
            } else {
                (*v).clamp(LEAST, MOST)
            }
        })
        .collect();
    let mut across = limited.clone();
    for (to, from) in across
        .chunks_exact_mut(width)
        .zip(limited.chunks_exact(width))
    {
        for (to, near) in to[1..].iter_mut().zip(from.windows(3)) {
            *to = (SIDE * (near[0] + near[2]) + MIDDLE * near[1]) >> 8;
        }
    }
    let mut rows = across.clone();
    for y in 1..height - 1 {
        let above = &across[(y - 1) * width..y * width];
        let here = &across[y * width..(y + 1) * width];
        let below = &across[(y + 1) * width..(y + 2) * width];
        for (((to, a), h), b) in rows[y * width..(y + 1) * width]
            .iter_mut()
            .zip(above)
            .zip(here)
            .zip(below)
        {
            *to = (SIDE * (a + b) + MIDDLE * h) >> 8;
        }
    }
    let mut columns = vec![0; width * height];
    for y0 in (0..height).step_by(16) {
        for x0 in (0..width).step_by(16) {
            for x in x0..(x0 + 16).min(width) {
                for y in y0..(y0 + 16).min(height) {
                    columns[x * height + y] = rows[y * width + x];
                }
            }
        }
    }
    (rows, columns)
}

/// Sums of one length, from every `step`-th place of the outer axis, for each rise, over the inner axis.
struct Sums {
    length: usize,
    step: usize,
    starts: usize,
    values: Vec<i16>,
}

impl Sums {
    fn line(&self, start: usize, rise: usize, inner: usize) -> &[i16] {
        let at = (start * self.length + rise) * inner;
        &self.values[at..at + inner]
    }
}

/// Takes: buffers for sums, whatever is in them.
fn directions(
    base: &[i16],
    outer: usize,
    inner: usize,
    sign: i32,
    buffers: &mut [Vec<i16>; 2],
    found: &mut dyn FnMut(Seed),
) {
    let [mut values, mut spare] = std::mem::take(buffers);
    values.clear();
    values.extend_from_slice(base);
    let mut sums = Sums {
        length: 1,
        step: 1,
        starts: outer,
        values,
    };
    for step in [2, 4, 4, 8, 16, 32] {
        let next = doubled(&sums, outer, inner, sign, step, spare);
        spare = std::mem::replace(&mut sums, next).values;
        if sums.starts == 0 {
            break;
        }
        if LENGTHS.contains(&sums.length) {
            strongest(&sums, inner, sign, found);
        }
    }
    *buffers = [sums.values, spare];
}

/// Sums of twice the length; `values` is a buffer to write them to.
fn doubled(
    of: &Sums,
    outer: usize,
    inner: usize,
    sign: i32,
    step: usize,
    mut values: Vec<i16>,
) -> Sums {
    let length = 2 * of.length;
    let starts = if outer < length {
        0
    } else {
        (outer - length) / step + 1
    };
    values.resize(starts * length * inner, 0);
    for (start, block) in values.chunks_exact_mut(length * inner).enumerate() {
        let first = start * step / of.step;
        let second = (start * step + of.length) / of.step;
        for (rise, out) in block.chunks_exact_mut(inner).enumerate() {
            let shift = rise.div_ceil(2).min(inner);
            let a = of.line(first, rise / 2, inner);
            let b = of.line(second, rise / 2, inner);
            // Where the second half leaves the picture, the first stands alone.
            let (from, to) = if sign > 0 {
                let (near, far) = out.split_at_mut(inner - shift);
                far.copy_from_slice(&a[inner - shift..]);
                ((near, &a[..inner - shift]), &b[shift..])
            } else {
                let (far, near) = out.split_at_mut(shift);
                far.copy_from_slice(&a[..shift]);
                ((near, &a[shift..]), &b[..inner - shift])
            };
            for ((out, a), b) in from.0.iter_mut().zip(from.1).zip(to) {
                *out = a + b;
            }
        }
    }
    Sums {
        length,
        step,
        starts,
        values,
    }
}

/// The sums that stand far above the spread of all sums near them.
fn strongest(sums: &Sums, inner: usize, sign: i32, found: &mut dyn FnMut(Seed)) {
    let (length, step) = (sums.length, sums.step);
    let rows = (sums.starts * step).div_ceil(SQUARE);
    let columns = inner.div_ceil(SQUARE);
    let spread = spreads(sums, inner, rows, columns);
    let mut sorted = spread.clone();
    sorted.sort_by(f32::total_cmp);
    let usual = sorted[sorted.len() / 2].max(1.0);
    let mut highest = vec![0; inner];
    for start in 0..sums.starts {
        let row = start * step / SQUARE;
        // Row after row, as they lie in memory: few places are high enough to be looked at one by one.
        highest.copy_from_slice(sums.line(start, 0, inner));
        for rise in 1..length {
            larger(&mut highest, sums.line(start, rise, inner));
        }
        for column in 0..columns {
            let deviation = spread[row * columns + column].max(usual);
            #[allow(clippy::cast_possible_truncation)] // limited to what fits
            let from = (SEED_FROM * deviation).min(32_000.0) as i16;
            for part in 0..SQUARE / 16 {
                let left = (column * SQUARE + part * 16).min(inner);
                let right = (left + 16).min(inner);
                let value = highest[left..right].iter().copied().fold(from, i16::max);
                if value == from {
                    continue;
                }
                let place = (0..length).find_map(|rise| {
                    let values = &sums.line(start, rise, inner)[left..right];
                    let at = values.iter().position(|v| *v == value)?;
                    Some((rise, left + at))
                });
                let Some((rise, at)) = place else { continue };
                let half = (length - 1) as f32 / 2.0;
                let up = rise as f32 / 2.0 * sign as f32;
                found(Seed {
                    x: (start * step) as f32 + half,
                    y: at as f32 + up,
                    dx: half,
                    dy: up,
                    strength: f32::from(value) / deviation,
                });
            }
        }
    }
}

/// The deviation of sums in each square, over some of the directions.
fn spreads(sums: &Sums, inner: usize, rows: usize, columns: usize) -> Vec<f32> {
    let nominal = f32::from(SIGMA) * (sums.length as f32).sqrt();
    #[allow(clippy::cast_possible_truncation)] // limited to what fits
    let most = (3.0 * nominal).min(32_000.0) as i16;
    let mut squares = vec![0_i64; rows * columns];
    let mut counts = vec![0_usize; rows * columns];
    for start in 0..sums.starts {
        let row = start * sums.step / SQUARE;
        for rise in (0..sums.length).step_by((sums.length / 4).max(1)) {
            for (column, part) in sums.line(start, rise, inner).chunks(SQUARE).enumerate() {
                let sum: i32 = part
                    .iter()
                    .map(|v| {
                        let v = i32::from((*v).clamp(-most, most));
                        v * v
                    })
                    .sum();
                squares[row * columns + column] += i64::from(sum);
                counts[row * columns + column] += part.len();
            }
        }
    }
    squares
        .iter()
        .zip(&counts)
        .map(|(s, c)| (*s as f32 / (*c).max(1) as f32).sqrt())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Even noise with a faint line at many angles: the strongest place lies on it, along it.
    #[test]
    fn a_faint_line_is_found_at_any_angle() {
        let (width, height) = (200_usize, 160_usize);
        for turn in 0..12 {
            let angle = f32::from(u8::try_from(turn).unwrap()) * 15.0_f32.to_radians() + 0.05;
            let (c, s) = (angle.cos(), angle.sin());
            let mut state = 77_u32;
            let mut values = Vec::new();
            for y in 0..height {
                for x in 0..width {
                    let mut noise = 0;
                    for _ in 0..4 {
                        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                        noise += i16::try_from(state >> 27).unwrap();
                    }
                    let (x, y) = (x as f32 - 100.0, y as f32 - 80.0);
                    let off = (x * s - y * c).abs();
                    let lit = off < 0.7 && (x * c + y * s).abs() < 25.0;
                    values.push(noise - 62 + if lit { 40 } else { 0 });
                }
            }
            let best = seeds(&Plane {
                width,
                height,
                values,
            })[0];
            let off = ((best.x - 100.0) * s - (best.y - 80.0) * c).abs();
            let across = (best.dx * s - best.dy * c).abs() / best.dx.hypot(best.dy);
            assert!(off < 3.0 && across < 0.15, "{turn}: {best:?}");
        }
    }
}
