//! What the search needs of the sky for one size of field: evenly spread bright stars, their pairs by angle, a map of the sky.
//! Built when first wanted, and kept. Knows no picture.

use std::sync::OnceLock;

use crate::pointing::stars::directions;
use crate::pointing::stars::stars;
use crate::pointing::vector::Vector;
use crate::pointing::vector::angle_rad;
use crate::pointing::vector::cross;
use crate::pointing::vector::dot;
use crate::pointing::vector::plus;
use crate::pointing::vector::scaled;
use crate::pointing::vector::unit;

/// Diagonals of fields in degrees, one class each. Wider fields use the first: their corners hold few stars.
const DIAGONALS_DEG: [f64; 9] = [115.0, 84.0, 60.0, 44.0, 32.0, 23.0, 17.0, 12.0, 8.5];
/// A star belongs to a class where fewer brighter ones than this are within a cap of the field's area around it. A limit in
/// magnitude would leave the sky's empty regions without stars.
const BRIGHTER: usize = 34;
/// The same for the stars of the table of pairs.
const BRIGHTER_PAIRED: usize = 24;
/// How well a star's place in the picture is known before anything is fitted, as a share of the diagonal, and its limits in degrees.
const TOLERANCE: (f64, f64, f64) = (0.012, 0.12, 1.2);
/// Pairs are at least and at most this share of the diagonal apart, and at most so many degrees.
const PAIRS: (f64, f64, f64) = (0.10, 0.48, 45.0);
/// Stars closer together than this share of the tolerance are one light.
const BLENDED: f64 = 0.35;
/// The year whose places are taken: motions until any other year of photographs are far below the tolerance.
const YEARS_AFTER_2000: f64 = 15.0;
/// The most cells along one side of a face of the map.
const MOST_CELLS: usize = 500;
/// No star.
const NONE: u16 = u16::MAX;

/// Two stars.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pair {
    pub angle: f32,
    pub a: u16,
    pub b: u16,
}

/// The sky for one size of field.
pub(super) struct Class {
    /// How far a star may be from where it is expected, in radians.
    pub tolerance: f64,
    /// Evenly spread stars, brightest first, as single precision directions.
    pub stars: Vec<[f32; 3]>,
    /// Pairs of the brighter of them, by angle in radians.
    pub pairs: Vec<Pair>,
    cells: usize,
    /// Four stars a cell, six faces.
    map: Vec<[u16; 4]>,
    /// Which cells hold any, a bit each: most looks end here, and all of it stays in a processor's cache, which the map does not.
    filled: Vec<u64>,
}

/// The class for a field's diagonal in radians.
pub(super) fn class_of(diagonal_rad: f64) -> &'static Class {
    static CLASSES: [OnceLock<Class>; DIAGONALS_DEG.len()] =
        [const { OnceLock::new() }; DIAGONALS_DEG.len()];
    let wanted = diagonal_rad.to_degrees().ln();
    let off = |deg: &f64| (deg.ln() - wanted).abs();
    let at = (0..DIAGONALS_DEG.len())
        .min_by(|a, b| off(&DIAGONALS_DEG[*a]).total_cmp(&off(&DIAGONALS_DEG[*b])))
        .unwrap_or(0);
    CLASSES[at].get_or_init(|| Class::build(DIAGONALS_DEG[at].to_radians()))
}

impl Class {
    fn build(diagonal: f64) -> Self {
        let (share, least, most) = TOLERANCE;
        let tolerance = (share * diagonal).clamp(least.to_radians(), most.to_radians());
        let lights = blended(BLENDED * tolerance);
        let (spread, paired) = evenly_spread(&lights, cap_of(diagonal));
        let pairs = pairs(&spread[..], &paired, diagonal);
        #[allow(clippy::cast_possible_truncation)] // single precision is 0.01 arcseconds here
        let stars: Vec<[f32; 3]> = spread.iter().map(|s| s.map(|c| c as f32)).collect();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // some hundred
        let cells = ((std::f64::consts::FRAC_PI_2 / tolerance) as usize).clamp(16, MOST_CELLS);
        let mut class = Self {
            tolerance,
            stars,
            pairs,
            cells,
            map: vec![[NONE; 4]; 6 * cells * cells],
            filled: vec![0; (6 * cells * cells).div_ceil(64)],
        };
        for (number, star) in spread.iter().enumerate() {
            class.enter(u16::try_from(number).unwrap_or(NONE), *star);
        }
        class
    }

    /// Enters a star into every cell that is within the tolerance of it.
    fn enter(&mut self, number: u16, star: Vector) {
        let other = if star[2].abs() < 0.9 {
            [0.0, 0.0, 1.0]
        } else {
            [1.0, 0.0, 0.0]
        };
        let right = unit(cross(star, other));
        let up = cross(star, right);
        let steps = [-1.0, -0.5, 0.0, 0.5, 1.0];
        for i in steps {
            for j in steps {
                let off = plus(
                    scaled(right, i * self.tolerance),
                    scaled(up, j * self.tolerance),
                );
                #[allow(clippy::cast_possible_truncation)] // single precision is enough
                let near = plus(star, off).map(|c| c as f32);
                let at = self.cell(near);
                self.filled[at / 64] |= 1 << (at % 64);
                let cell = &mut self.map[at];
                if !cell.contains(&number)
                    && let Some(free) = cell.iter_mut().find(|held| **held == NONE)
                {
                    *free = number;
                }
            }
        }
    }

    /// The cell of a direction of any length.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to the face
    #[allow(clippy::many_single_char_names)] // components, and two along a face
    fn cell(&self, [x, y, z]: [f32; 3]) -> usize {
        let (ax, ay, az) = (x.abs(), y.abs(), z.abs());
        let (face, main, u, v) = if ax >= ay && ax >= az {
            (usize::from(x < 0.0), ax, y, z)
        } else if ay >= az {
            (2 + usize::from(y < 0.0), ay, x, z)
        } else {
            (4 + usize::from(z < 0.0), az, x, y)
        };
        let half = self.cells as f32 / 2.0;
        let along = |c: f32| ((c / main * half + half) as usize).min(self.cells - 1);
        (face * self.cells + along(v)) * self.cells + along(u)
    }

    /// The star within the tolerance of a unit vector, if any.
    #[allow(clippy::cast_possible_truncation)] // single precision is enough
    pub fn near(&self, direction: [f32; 3]) -> Option<u16> {
        let limit = (self.tolerance * self.tolerance) as f32;
        let at = self.cell(direction);
        if self.filled[at / 64] >> (at % 64) & 1 == 0 {
            return None;
        }
        for number in &self.map[at] {
            if *number == NONE {
                return None;
            }
            let star = &self.stars[usize::from(*number)];
            let (x, y, z) = (
                star[0] - direction[0],
                star[1] - direction[1],
                star[2] - direction[2],
            );
            if x * x + y * y + z * z < limit {
                return Some(*number);
            }
        }
        None
    }

    /// The pairs whose angle in radians is between two.
    pub fn pairs_between(&self, least: f64, most: f64) -> &[Pair] {
        #[allow(clippy::cast_possible_truncation)] // single precision is enough
        let (least, most) = (least as f32, most as f32);
        let from = self.pairs.partition_point(|pair| pair.angle < least);
        let to = self.pairs.partition_point(|pair| pair.angle <= most);
        &self.pairs[from..to.max(from)]
    }
}

/// Directions of the stars, close ones as one light, brightest first.
fn blended(within: f64) -> Vec<Vector> {
    let places = directions(YEARS_AFTER_2000);
    let near = 1.0 - within * within / 2.0;
    // By height over the equator, so that neighbours are found in a narrow band.
    let mut by_height: Vec<usize> = (0..places.len()).collect();
    by_height.sort_by(|a, b| places[*a][2].total_cmp(&places[*b][2]));
    let heights: Vec<f64> = by_height.iter().map(|at| places[*at][2]).collect();
    let mut taken = vec![false; places.len()];
    let mut lights = Vec::new();
    for (number, place) in places.iter().enumerate() {
        if taken[number] {
            continue;
        }
        let (mut sum, mut light) = ([0.0; 3], 0.0);
        let from = heights.partition_point(|h| *h < place[2] - within);
        let to = heights.partition_point(|h| *h <= place[2] + within);
        for other in &by_height[from..to] {
            if !taken[*other] && dot(places[*other], *place) >= near {
                taken[*other] = true;
                let share = stars()[*other].light;
                sum = plus(sum, scaled(places[*other], share));
                light += share;
            }
        }
        lights.push((light, unit(sum)));
    }
    lights.sort_by(|a, b| b.0.total_cmp(&a.0));
    lights.into_iter().map(|(_, place)| place).collect()
}

/// Cosine of the radius of a cap as large as a field of 3:2 with a diagonal in radians.
fn cap_of(diagonal: f64) -> f64 {
    let half = (diagonal / 2.0).tan();
    let (a, b) = (half * 0.832, half * 0.5547);
    let area = 4.0 * (a * b / (1.0 + a * a + b * b).sqrt()).atan();
    1.0 - area / std::f64::consts::TAU
}

/// The evenly spread stars among lights, and which of them are of the table of pairs.
fn evenly_spread(lights: &[Vector], cos_cap: f64) -> (Vec<Vector>, Vec<u16>) {
    let mut spread: Vec<Vector> = Vec::new();
    let mut paired = Vec::new();
    for light in lights {
        // Brighter stars that do not belong are in crowded places, where those that do are enough to count.
        let mut brighter = 0;
        for other in &spread {
            if dot(*other, *light) > cos_cap {
                brighter += 1;
                if brighter == BRIGHTER {
                    break;
                }
            }
        }
        if brighter == BRIGHTER || spread.len() >= usize::from(NONE) {
            continue;
        }
        if brighter < BRIGHTER_PAIRED {
            paired.extend(u16::try_from(spread.len()));
        }
        spread.push(*light);
    }
    (spread, paired)
}

fn pairs(spread: &[Vector], paired: &[u16], diagonal: f64) -> Vec<Pair> {
    let (least, most, limit) = PAIRS;
    let least = least * diagonal;
    let most = (most * diagonal).min(limit.to_radians());
    let (cos_least, cos_most) = (least.cos(), most.cos());
    let mut pairs = Vec::new();
    for (at, a) in paired.iter().enumerate() {
        for b in &paired[at + 1..] {
            let (one, other) = (spread[usize::from(*a)], spread[usize::from(*b)]);
            let cos = dot(one, other);
            if cos < cos_least && cos > cos_most {
                #[allow(clippy::cast_possible_truncation)] // single precision is enough
                let angle = angle_rad(one, other) as f32;
                pairs.push(Pair {
                    angle,
                    a: *a,
                    b: *b,
                });
            }
        }
    }
    pairs.sort_by(|x, y| x.angle.total_cmp(&y.angle));
    pairs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_class_is_even_and_finds_its_stars() {
        let class = class_of(60_f64.to_radians());
        assert!(
            (300..1500).contains(&class.stars.len()),
            "{}",
            class.stars.len()
        );
        for (number, star) in class.stars.iter().enumerate() {
            let found = class.near(*star).unwrap();
            let there = class.stars[usize::from(found)];
            let apart: f32 = (0..3).map(|k| (there[k] - star[k]).powi(2)).sum();
            assert!(usize::from(found) == number || f64::from(apart).sqrt() < class.tolerance);
        }
        // No gap as large as a third of the field: the emptiest part of the sky has its stars.
        for step in 0..400_u16 {
            let z = f64::from(step) / 199.5 - 1.0;
            let about = f64::from(step) * 2.4;
            let flat = (1.0 - z * z).max(0.0).sqrt();
            let there = [flat * about.cos(), flat * about.sin(), z];
            let near = class
                .stars
                .iter()
                .filter(|s| dot(s.map(f64::from), there) > 15_f64.to_radians().cos())
                .count();
            assert!((6..80).contains(&near), "{near}");
        }
    }
}
