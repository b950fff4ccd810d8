//! What is brighter in a frame than in its neighbours, in units of the noise. Stars of the neighbours hide what lies under them.

use crate::trails::flat::Plane;
use crate::trails::tiles::ACROSS;
use crate::trails::tiles::Tiles;

/// Units in one deviation of the noise.
pub(super) const SIGMA: i16 = 16;
/// The value of a pixel of which nothing is known: it neither adds to a line nor breaks it.
pub(super) const UNKNOWN: i16 = i16::MIN;
/// From how many deviations of a neighbour on a pixel belongs to a star.
const STAR_FROM: f32 = 4.5;
/// How many times brighter than the star a pixel must be to count again.
const OUTSHINES: f32 = 1.3;
/// Darker than this many deviations is the rim that sharpening leaves around a star.
const RIM: f32 = -3.5;

/// Compares a flattened frame with two flattened neighbours.
///
/// Takes: how far the light of a star reaches from one frame to the next in pixels, by its width and the turn of the sky.
/// The plain maximum of the neighbours is taken away, not their mean (stars would leave pairs) and not their maximum over a
/// wider area (its noise is far larger in a dense star field): the wider maximum only says where stars are.
#[allow(clippy::cast_possible_truncation)] // units of the noise within ±1,000 deviations
#[allow(clippy::needless_bitwise_bool)] // where nothing is skipped, the processor takes several pixels at a time
pub(super) fn changes(before: &Plane, frame: &Plane, after: &Plane, star_reach: usize) -> Plane {
    let (width, height) = (frame.width, frame.height);
    let both = before.values.iter().zip(&after.values);
    let most = Plane {
        width,
        height,
        values: both.map(|(a, b)| *a.max(b)).collect(),
    };
    let noise = Tiles::of(frame);
    let both = frame.values.iter().zip(&most.values);
    let mut differences = Plane {
        width,
        height,
        values: both.map(|(f, m)| f - m).collect(),
    };
    let spread = Tiles::of(&differences);
    let mut stars = Widened::of(&most, star_reach);
    for (y, values) in differences.values.chunks_exact_mut(width).enumerate() {
        let noise = noise.row(y);
        let levels = spread.row(y);
        let (stars, lights) = (stars.row(y), frame.row(y));
        for i in 0..ACROSS {
            let sigma = noise[i].1;
            let (mean, deviation) = levels[i];
            let (from, per) = (STAR_FROM * sigma, f32::from(SIGMA) / deviation);
            let columns = spread.columns(i);
            let places = values[columns.clone()]
                .iter_mut()
                .zip(&stars[columns.clone()])
                .zip(&lights[columns]);
            for ((value, star), light) in places {
                let (star, light) = (f32::from(*star), f32::from(*light));
                let starry = star > from;
                let above = if starry {
                    light - star
                } else {
                    f32::from(*value) - mean
                };
                let hidden = starry & (light < OUTSHINES * star + 3.0 * sigma);
                let z = above * per;
                *value = if hidden | (z < RIM * f32::from(SIGMA)) {
                    UNKNOWN
                } else {
                    whole(z.min(16_000.0))
                };
            }
        }
    }
    differences
}

/// The whole part of a number of ±16,000 or less, as `as` gives it: compilers take `as` of one number at a time, this of eight.
#[allow(clippy::cast_possible_truncation)] // the lowest bits are the whole number
fn whole(number: f32) -> i16 {
    /// Added to a small number, leaves no bits for a fraction: 1.5 × 2^23.
    const NO_FRACTION: f32 = 12_582_912.0;
    let nearest = number + NO_FRACTION;
    let rounded = nearest - NO_FRACTION;
    let up = i16::from(rounded > number && number > 0.0);
    let down = i16::from(rounded < number && number < 0.0);
    nearest.to_bits() as i16 - up + down
}

/// The maximum within a square around each pixel, row by row.
struct Widened<'p> {
    plane: &'p Plane,
    reach: usize,
    /// Of the rows within reach, column by column.
    down: Vec<i16>,
    row: Vec<i16>,
}

impl<'p> Widened<'p> {
    fn of(plane: &'p Plane, reach: usize) -> Self {
        Self {
            plane,
            reach,
            down: vec![0; plane.width],
            row: vec![0; plane.width],
        }
    }

    fn row(&mut self, y: usize) -> &[i16] {
        let (width, reach) = (self.plane.width, self.reach);
        let first = y.saturating_sub(reach);
        self.down.copy_from_slice(self.plane.row(first));
        for near in first + 1..(y + reach + 1).min(self.plane.height) {
            larger(&mut self.down, self.plane.row(near));
        }
        self.row.copy_from_slice(&self.down);
        for by in 1..=reach.min(width - 1) {
            larger(&mut self.row[by..], &self.down[..width - by]);
            larger(&mut self.row[..width - by], &self.down[by..]);
        }
        &self.row
    }
}

/// The larger of each two.
pub(super) fn larger(to: &mut [i16], from: &[i16]) {
    for (to, from) in to.iter_mut().zip(from) {
        *to = (*to).max(*from);
    }
}

/// How restless each pixel is: what its changes exceed in one of eight frames, in [`SIGMA`], at least that. Leaves in the wind,
/// flickering pixels and lamps answer everywhere; a trail only once.
#[allow(clippy::cast_possible_truncation)] // smaller than it was
pub(super) fn unrest(changes: &[&Plane]) -> Option<Plane> {
    let first = changes.first()?;
    if changes.len() < LEAST_FRAMES {
        return None;
    }
    let rank = (changes.len() * 12 / 100).max(2);
    let mut last = vec![0; first.values.len()];
    // A stretch at a time, so that what is compared stays near the processor.
    for (stretch, last) in last.chunks_mut(STRETCH).enumerate() {
        let from = stretch * STRETCH;
        let mut tops = vec![vec![i16::MIN; last.len()]; rank];
        for plane in changes {
            let values = &plane.values[from..from + last.len()];
            last.copy_from_slice(values);
            for top in &mut tops {
                for (held, value) in top.iter_mut().zip(last.iter_mut()) {
                    (*held, *value) = ((*held).max(*value), (*held).min(*value));
                }
            }
        }
        if let Some(top) = tops.last() {
            last.copy_from_slice(top);
        }
    }
    let last = Plane {
        width: first.width,
        height: first.height,
        values: last,
    };
    let mut widened = Widened::of(&last, 1);
    let mut values = Vec::with_capacity(last.values.len());
    for y in 0..last.height {
        let row = widened.row(y).iter();
        values.extend(row.map(|v| ((i32::from((*v).max(0)) * 10 / EVEN_TENTHS) as i16).max(SIGMA)));
    }
    Some(Plane { values, ..last })
}

/// Pixels of which the unrest is found at a time.
const STRETCH: usize = 8_192;
/// Fewer frames than this say nothing of unrest.
const LEAST_FRAMES: usize = 6;
/// What the widened measure comes to on even noise, in tenths.
const EVEN_TENTHS: i32 = 18;

/// Divides changes by the unrest of each pixel. Whole numbers come of it as exactly as of a division of whole numbers: what a
/// quotient of 256,000 and less is rounded by is less than the part of 1 by which it may miss the next one.
#[allow(clippy::cast_possible_truncation)] // smaller than it was
pub(super) fn calmed(changes: &mut Plane, unrest: &Plane) {
    for (value, unrest) in changes.values.iter_mut().zip(&unrest.values) {
        let calm = whole(f32::from(*value) * f32::from(SIGMA) / f32::from(*unrest));
        *value = if *value == UNKNOWN { UNKNOWN } else { calm };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plane(lit: &[(usize, i16)]) -> Plane {
        let (width, height) = (120, 80);
        let mut state = 3_u32;
        let mut values: Vec<i16> = (0..width * height)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                i16::try_from(state >> 27).unwrap() - 16
            })
            .collect();
        for (at, light) in lit {
            values[*at] += light;
        }
        Plane {
            width,
            height,
            values,
        }
    }

    #[test]
    fn whole_parts_are_those_of_as() {
        for eighths in -128_000_i32..=128_000 {
            #[allow(clippy::cast_possible_truncation)] // the sixteen thousands
            for number in [eighths as f32 / 8.0, eighths as f32 / 8.001] {
                assert_eq!(whole(number), number as i16, "{number}");
            }
        }
        let values: Vec<i16> = (-16_000..=16_000).chain([UNKNOWN]).collect();
        let of = |values: Vec<i16>| Plane {
            width: values.len(),
            height: 1,
            values,
        };
        for unrest in [16, 17, 19, 23, 97, 1_001, 8_888] {
            let mut calm = of(values.clone());
            calmed(&mut calm, &of(vec![unrest; values.len()]));
            for (value, calm) in values.iter().zip(calm.values) {
                let divided = i32::from(*value) * 16 / i32::from(unrest);
                let expect = if *value == UNKNOWN {
                    i32::from(UNKNOWN)
                } else {
                    divided
                };
                assert_eq!(i32::from(calm), expect, "{value} by {unrest}");
            }
        }
    }

    #[test]
    fn a_star_of_the_neighbours_hides_and_new_light_counts() {
        let star = 40 * 120 + 60;
        let new = 20 * 120 + 30;
        let (before, after) = (plane(&[(star, 900)]), plane(&[(star + 1, 900)]));
        let found = changes(&before, &plane(&[(star, 900), (new, 400)]), &after, 1);
        assert_eq!(found.values[star], UNKNOWN);
        assert!(found.values[new] > 10 * SIGMA, "{}", found.values[new]);
        // What outshines the star counts again.
        let found = changes(&before, &plane(&[(star, 3_000)]), &after, 1);
        assert!(found.values[star] > 20 * SIGMA);
    }

    #[test]
    fn a_pixel_that_answers_in_many_frames_is_restless() {
        let flicker = 10 * 120 + 10;
        let frames: Vec<Plane> = (0..12)
            .map(|k| plane(&[(flicker, if k % 3 == 0 { 15_000 } else { 0 })]))
            .collect();
        let unrest = unrest(&frames.iter().collect::<Vec<_>>()).unwrap();
        assert!(
            unrest.values[flicker] > 100 * SIGMA,
            "{}",
            unrest.values[flicker]
        );
        assert!(unrest.values[50 * 120 + 50] < 2 * SIGMA);
    }
}
