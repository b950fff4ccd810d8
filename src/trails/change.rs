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
pub(super) fn changes(before: &Plane, frame: &Plane, after: &Plane, star_reach: usize) -> Plane {
    let (width, height) = (frame.width, frame.height);
    let most: Vec<i16> = before
        .values
        .iter()
        .zip(&after.values)
        .map(|(a, b)| *a.max(b))
        .collect();
    let noise = Tiles::of(frame, UNKNOWN);
    let differences = Plane {
        width,
        height,
        values: frame.values.iter().zip(&most).map(|(f, m)| f - m).collect(),
    };
    let spread = Tiles::of(&differences, UNKNOWN);
    let stars = widened(&most, width, height, star_reach);
    let mut values = differences.values;
    for y in 0..height {
        let noise = noise.row(y);
        let levels = spread.row(y);
        let row = y * width..(y + 1) * width;
        let (values, stars) = (&mut values[row.clone()], &stars[row.clone()]);
        let lights = &frame.values[row];
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
                let hidden = starry && light < OUTSHINES * star + 3.0 * sigma;
                let z = above * per;
                *value = if hidden || z < RIM * f32::from(SIGMA) {
                    UNKNOWN
                } else {
                    z.min(16_000.0) as i16
                };
            }
        }
    }
    Plane {
        width,
        height,
        values,
    }
}

/// The maximum within a square around each pixel.
fn widened(values: &[i16], width: usize, height: usize, reach: usize) -> Vec<i16> {
    let mut across = values.to_vec();
    for (to, from) in across
        .chunks_exact_mut(width)
        .zip(values.chunks_exact(width))
    {
        for by in 1..=reach.min(width - 1) {
            larger(&mut to[by..], &from[..width - by]);
            larger(&mut to[..width - by], &from[by..]);
        }
    }
    let mut both = across.clone();
    for by in 1..=reach.min(height - 1) {
        larger(&mut both[by * width..], &across[..(height - by) * width]);
        larger(&mut both[..(height - by) * width], &across[by * width..]);
    }
    both
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
    let values = widened(&last, first.width, first.height, 1)
        .into_iter()
        .map(|v| ((i32::from(v.max(0)) * 10 / EVEN_TENTHS) as i16).max(SIGMA))
        .collect();
    Some(Plane {
        width: first.width,
        height: first.height,
        values,
    })
}

/// Pixels of which the unrest is found at a time.
const STRETCH: usize = 8_192;
/// Fewer frames than this say nothing of unrest.
const LEAST_FRAMES: usize = 6;
/// What the widened measure comes to on even noise, in tenths.
const EVEN_TENTHS: i32 = 18;

/// Divides changes by the unrest of each pixel.
#[allow(clippy::cast_possible_truncation)] // smaller than it was
pub(super) fn calmed(changes: &mut Plane, unrest: &Plane) {
    for (value, unrest) in changes.values.iter_mut().zip(&unrest.values) {
        if *unrest > SIGMA && *value != UNKNOWN {
            *value = (i32::from(*value) * i32::from(SIGMA) / i32::from(*unrest)) as i16;
        }
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
