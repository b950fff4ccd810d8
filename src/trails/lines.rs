//! Places where a plane is brighter along a line, at any angle and at four lengths. Traces nothing.
//!
//! Sums by doubling: a line of 2n pixels that rises by s is two lines of n pixels that rise by s/2 each, the second one shifted.
//! Source: M. L. Brady 1998, SIAM J. Comput. 27, 107 (from memory).

use std::ops::Range;

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
/// And of the parts of a line of them that give one place at most.
const PART: usize = 16;
/// From which places of the longer axis lines are summed up: every so many for 2 pixels, for 4, and so on.
const STEPS: [usize; 6] = [2, 4, 4, 8, 16, 32];
/// Sums are made for so many places of the longer axis at a time: they stay near the processor.
const BAND: usize = 128;
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
    const BLOCK: usize = 16;
    let (width, height) = (changes.width, changes.height);
    let limit = |v: &i16| {
        if *v == UNKNOWN {
            0
        } else {
            (*v).clamp(LEAST, MOST)
        }
    };
    let mut across: Vec<i16> = changes.values.iter().map(limit).collect();
    let mut from = vec![0; width];
    for to in across.chunks_exact_mut(width) {
        from.copy_from_slice(to);
        for (to, near) in to[1..].iter_mut().zip(from.windows(3)) {
            *to = (SIDE * (near[0] + near[2]) + MIDDLE * near[1]) >> 8;
        }
    }
    let mut rows = Vec::with_capacity(across.len());
    let row = |y: usize| &across[y * width..(y + 1) * width];
    for y in 0..height {
        if y == 0 || y + 1 == height {
            rows.extend_from_slice(row(y));
        } else {
            let near = row(y - 1).iter().zip(row(y)).zip(row(y + 1));
            rows.extend(near.map(|((a, h), b)| (SIDE * (a + b) + MIDDLE * h) >> 8));
        }
    }
    let mut columns = vec![0; across.len()];
    // Some rows at a time, that what is written lies together.
    for (block, rows) in rows.chunks(BLOCK * width).enumerate() {
        for (x, column) in columns.chunks_exact_mut(height).enumerate() {
            let column = column[block * BLOCK..].iter_mut();
            for (to, row) in column.zip(rows.chunks_exact(width)) {
                *to = row[x];
            }
        }
    }
    (rows, columns)
}

/// Sums of one length, from every `step`-th place of the outer axis, for each rise, over the inner axis.
struct Sums<'v> {
    length: usize,
    step: usize,
    values: &'v [i16],
}

impl Sums<'_> {
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
    [spare, values]: &mut [Vec<i16>; 2],
    found: &mut dyn FnMut(Seed),
) {
    let mut all = LENGTHS.map(|length| Heights::of(length, inner));
    for band in (0..outer).step_by(BAND) {
        let (mut length, mut step) = (1, 1);
        for (next_step, most) in STEPS.into_iter().zip(starts_of_a_band()) {
            let sums = Sums {
                length,
                step,
                values: if length == 1 {
                    &base[band * inner..]
                } else {
                    values
                },
            };
            (length, step) = (2 * length, next_step);
            let there = (outer - band).checked_sub(length);
            let starts = there.map_or(0, |there| (there / step + 1).min(most));
            doubled(&sums, step, starts, inner, sign, spare);
            std::mem::swap(spare, values);
            if let Some(heights) = all.iter_mut().find(|heights| heights.length == length) {
                let sums = Sums {
                    length,
                    step,
                    values,
                };
                heights.take(&sums, starts.min(BAND / step), band, inner);
            }
        }
    }
    for heights in all {
        heights.strongest(sign, found);
    }
}

/// How many starts of each length are summed up for a band: of the longest those in it, of the others what these are made of.
fn starts_of_a_band() -> [usize; STEPS.len()] {
    let mut starts = [BAND / STEPS[STEPS.len() - 1]; STEPS.len()];
    for at in (1..STEPS.len()).rev() {
        starts[at - 1] = ((starts[at] - 1) * STEPS[at] + (1 << at)) / STEPS[at - 1] + 1;
    }
    starts
}

/// Writes sums of twice the length.
fn doubled(of: &Sums<'_>, step: usize, starts: usize, inner: usize, sign: i32, to: &mut Vec<i16>) {
    to.clear();
    for start in 0..starts {
        let first = start * step / of.step;
        let second = (start * step + of.length) / of.step;
        for rise in 0..2 * of.length {
            let shift = rise.div_ceil(2).min(inner);
            let a = of.line(first, rise / 2, inner);
            let b = of.line(second, rise / 2, inner);
            // Where the second half leaves the picture, the first stands alone.
            if sign > 0 {
                let (near, far) = a.split_at(inner - shift);
                to.extend(near.iter().zip(&b[shift..]).map(|(a, b)| a + b));
                to.extend_from_slice(far);
            } else {
                let (far, near) = a.split_at(shift);
                to.extend_from_slice(far);
                to.extend(near.iter().zip(b).map(|(a, b)| a + b));
            }
        }
    }
}

/// How high the sums of one length are.
struct Heights {
    length: usize,
    /// Squares across the inner axis.
    columns: usize,
    /// The spread of the sums in each square, over some of the directions.
    spread: Vec<f32>,
    places: Vec<High>,
}

/// A sum that stands far above the spread of its square.
struct High {
    value: i16,
    start: usize,
    rise: usize,
    at: usize,
    square: usize,
}

impl Heights {
    fn of(length: usize, inner: usize) -> Self {
        Self {
            length,
            columns: inner.div_ceil(SQUARE),
            spread: Vec::new(),
            places: Vec::new(),
        }
    }

    /// Takes the first sums of a band.
    fn take(&mut self, sums: &Sums<'_>, starts: usize, band: usize, inner: usize) {
        let (length, step) = (self.length, sums.step);
        let mut highest = vec![0; inner];
        let starts_a_square = SQUARE / step;
        for first in (0..starts).step_by(starts_a_square) {
            let starts = first..starts.min(first + starts_a_square);
            let square = self.spread.len();
            self.spread
                .extend(spreads(sums, starts.clone(), inner, self.columns));
            for start in starts {
                // Row after row, as they lie in memory: few places are high enough to be looked at one by one.
                highest.copy_from_slice(sums.line(start, 0, inner));
                for rise in 1..length {
                    larger(&mut highest, sums.line(start, rise, inner));
                }
                for (part, high) in highest.chunks(PART).enumerate() {
                    let square = square + part * PART / SQUARE;
                    let from = seed_from(self.spread[square].max(1.0));
                    let value = high.iter().copied().fold(from, i16::max);
                    if value == from {
                        continue;
                    }
                    let left = part * PART;
                    let place = (0..length).find_map(|rise| {
                        let values = &sums.line(start, rise, inner)[left..left + high.len()];
                        let at = values.iter().position(|v| *v == value)?;
                        Some((rise, left + at))
                    });
                    let Some((rise, at)) = place else { continue };
                    self.places.push(High {
                        value,
                        start: band + start * step,
                        rise,
                        at,
                        square,
                    });
                }
            }
        }
    }

    /// The sums that stand far above the spread of all sums near them, and above the usual one.
    fn strongest(&self, sign: i32, found: &mut dyn FnMut(Seed)) {
        let mut sorted = self.spread.clone();
        sorted.sort_by(f32::total_cmp);
        let Some(usual) = sorted.get(sorted.len() / 2) else {
            return;
        };
        let half = (self.length - 1) as f32 / 2.0;
        for high in &self.places {
            let deviation = self.spread[high.square].max(usual.max(1.0));
            if high.value > seed_from(deviation) {
                let up = high.rise as f32 / 2.0 * sign as f32;
                found(Seed {
                    x: high.start as f32 + half,
                    y: high.at as f32 + up,
                    dx: half,
                    dy: up,
                    strength: f32::from(high.value) / deviation,
                });
            }
        }
    }
}

/// The sum from which on a place counts.
#[allow(clippy::cast_possible_truncation)] // limited to what fits
fn seed_from(deviation: f32) -> i16 {
    (SEED_FROM * deviation).min(32_000.0) as i16
}

/// The deviation of sums in each of some squares in a row, over some of the directions.
fn spreads(sums: &Sums<'_>, starts: Range<usize>, inner: usize, columns: usize) -> Vec<f32> {
    let nominal = f32::from(SIGMA) * (sums.length as f32).sqrt();
    #[allow(clippy::cast_possible_truncation)] // limited to what fits
    let most = (3.0 * nominal).min(32_000.0) as i16;
    let mut squares = vec![(0_i64, 0_usize); columns];
    for start in starts {
        for rise in (0..sums.length).step_by(sums.length / 4) {
            let line = sums.line(start, rise, inner);
            for ((square, count), part) in squares.iter_mut().zip(line.chunks(SQUARE)) {
                let limited = part.iter().map(|v| i32::from((*v).max(-most).min(most)));
                *square += i64::from(limited.map(|v| v * v).sum::<i32>());
                *count += part.len();
            }
        }
    }
    let of = |(sum, count): &(i64, usize)| (*sum as f32 / (*count).max(1) as f32).sqrt();
    squares.iter().map(of).collect()
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
