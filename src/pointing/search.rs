//! Rough cameras for one lens: pairs of images laid on pairs of stars, counted by how many other images then have a star.
//!
//! Source: pairs by angle with a vote of further stars, after pyramid identification, D. Mortari et al. 2004, Navigation 51, 171;
//! attitude from two directions, H. D. Black 1964 (both from memory). The figures are measured.

use crate::pointing::camera::Camera;
use crate::pointing::class::Class;
use crate::pointing::class::class_of;
use crate::pointing::lens::Lens;
use crate::pointing::vector::Vector;
use crate::pointing::vector::angle_rad;
use crate::pointing::vector::cross;
use crate::pointing::vector::plus;
use crate::pointing::vector::rotation_of_pairs;
use crate::pointing::vector::unit;

/// How many images are tried as pairs and vote first.
const FIRST: usize = 24;
/// How many images vote in the second look.
const SECOND: usize = 80;
/// Images of pairs are within this share of the half diagonal: distortion is not known yet.
const INNER: f64 = 0.85;
/// How well the angle of a pair is known: relative, and in units of the tolerance of places.
const ANGLE: (f64, f64) = (0.014, 0.15);
/// Given up with fewer than so many votes after so many images.
const GIVE_UP: [(usize, u32); 2] = [(8, 1), (14, 3)];
/// Votes of the first images that earn a second look.
const LEAST_VOTES: u32 = 5;
/// How many candidates are kept.
const MOST_CANDIDATES: usize = 60;
/// A score that ends the search: chance reaches 8.2 at most.
const CERTAIN: f64 = 11.0;

/// A rough camera.
#[derive(Clone, Copy, Debug)]
pub(super) struct Candidate {
    pub camera: Camera,
    /// Votes above what chance gives, in standard deviations: 11 to 29 for right ones, 8.2 at most for wrong ones.
    pub score: f64,
}

/// How much work the search may do.
#[derive(Clone, Copy, Debug)]
pub(super) struct Budget {
    /// Pairs of images that are tried with each lens.
    pub pairs: usize,
    /// Pairs of stars still to be tried, with all lenses together.
    pub left: u64,
}

/// Searches one lens without distortion.
///
/// Takes: images in pixels, in the order in which they are tried; by how much the field is smaller that the sky's bright stars
/// are chosen for: smaller than 1 where all images are crowded in one gap of the clouds.
/// Gives: candidates, best first.
pub(super) fn candidates(
    lens: Lens,
    images: &[(f64, f64)],
    field: f64,
    budget: &mut Budget,
) -> Vec<Candidate> {
    let class = class_of(lens.diagonal_rad() * field);
    let seen: Vec<((f64, f64), Vector)> = images
        .iter()
        .take(SECOND)
        .filter_map(|pixel| Some((*pixel, lens.unproject(*pixel)?)))
        .collect();
    let first = seen.len().min(FIRST);
    let reach = INNER * lens.half_diagonal_px();
    let inner: Vec<usize> = (0..first)
        .filter(|at| {
            let (x, y) = seen[*at].0;
            (x - lens.cx).hypot(y - lens.cy) <= reach
        })
        .collect();
    let mut found = Vec::new();
    let mut tried = 0;
    let directions: Vec<Vector> = seen.iter().map(|(_, direction)| *direction).collect();
    'pairs: for later in 1..inner.len() {
        for earlier in 0..later {
            if tried == budget.pairs || budget.left == 0 {
                break 'pairs;
            }
            tried += 1;
            let pair = (inner[earlier], inner[later]);
            if lay_pair(class, lens, &directions, first, pair, budget, &mut found) {
                break 'pairs;
            }
        }
    }
    found.sort_by(|a: &Candidate, b| b.score.total_cmp(&a.score));
    found.truncate(MOST_CANDIDATES);
    found
}

/// Lays one pair of images on all pairs of stars that are as far apart. Gives whether a certain candidate was found.
fn lay_pair(
    class: &Class,
    lens: Lens,
    directions: &[Vector],
    first: usize,
    pair: (usize, usize),
    budget: &mut Budget,
    found: &mut Vec<Candidate>,
) -> bool {
    let (a, b) = (directions[pair.0], directions[pair.1]);
    let angle = angle_rad(a, b);
    let off = ANGLE.0 * angle + ANGLE.1 * class.tolerance;
    let stars = class.pairs_between(angle - off, angle + off);
    if stars.is_empty() {
        return false;
    }
    budget.left = budget.left.saturating_sub(2 * stars.len() as u64);
    // The images in axes of the pair: its middle, its normal, and the third.
    let middle = unit(plus(a, b));
    let normal = unit(cross(a, b));
    let axes = [middle, normal, cross(middle, normal)];
    #[allow(clippy::cast_possible_truncation)] // single precision is enough
    let in_axes =
        |d: &Vector| axes.map(|axis| (axis[0] * d[0] + axis[1] * d[1] + axis[2] * d[2]) as f32);
    let voters: Vec<[f32; 3]> = directions
        .iter()
        .take(first)
        .enumerate()
        .filter(|(at, _)| *at != pair.0 && *at != pair.1)
        .map(|(_, direction)| in_axes(direction))
        .collect();
    let mut others: Option<Vec<[f32; 3]>> = None;
    for one in stars {
        let (p, q) = (
            class.stars[usize::from(one.a)],
            class.stars[usize::from(one.b)],
        );
        let sky = axes_of(p, q);
        for sign in [1.0, -1.0] {
            let sky = [sky[0], sky[1].map(|c| c * sign), sky[2].map(|c| c * sign)];
            if votes(class, &sky, &voters) < LEAST_VOTES {
                continue;
            }
            let others = others.get_or_insert_with(|| directions.iter().map(in_axes).collect());
            let Some(score) = second_look(class, &sky, others) else {
                continue;
            };
            let (p, q) = (p.map(f64::from), q.map(f64::from));
            let stars = if sign > 0.0 { (p, q) } else { (q, p) };
            let rows = rotation_of_pairs(stars, (a, b));
            found.push(Candidate {
                camera: Camera { lens, rows },
                score,
            });
            if score >= CERTAIN {
                return true;
            }
        }
    }
    false
}

fn axes_of(p: [f32; 3], q: [f32; 3]) -> [[f32; 3]; 3] {
    let unit = |v: [f32; 3]| {
        let by = 1.0 / (v[0] * v[0] + v[1] * v[1] + v[2] * v[2]).sqrt();
        v.map(|c| c * by)
    };
    let cross = |a: [f32; 3], b: [f32; 3]| {
        [
            a[1] * b[2] - a[2] * b[1],
            a[2] * b[0] - a[0] * b[2],
            a[0] * b[1] - a[1] * b[0],
        ]
    };
    let middle = unit([p[0] + q[0], p[1] + q[1], p[2] + q[2]]);
    let normal = unit(cross(p, q));
    [middle, normal, cross(middle, normal)]
}

fn laid(sky: &[[f32; 3]; 3], voter: &[f32; 3]) -> [f32; 3] {
    let one = |k: usize| voter[0] * sky[0][k] + voter[1] * sky[1][k] + voter[2] * sky[2][k];
    [one(0), one(1), one(2)]
}

fn votes(class: &Class, sky: &[[f32; 3]; 3], images: &[[f32; 3]]) -> u32 {
    let mut votes = 0;
    for (at, image) in images.iter().enumerate() {
        if GIVE_UP
            .iter()
            .any(|(after, least)| at == *after && votes < *least)
        {
            return 0;
        }
        votes += u32::from(class.near(laid(sky, image)).is_some());
    }
    votes
}

/// The score of a candidate by more images; nothing where chance explains it.
fn second_look(class: &Class, sky: &[[f32; 3]; 3], images: &[[f32; 3]]) -> Option<f64> {
    let hits = images
        .iter()
        .filter(|image| class.near(laid(sky, image)).is_some())
        .count() as f64;
    let tolerance = class.tolerance * class.tolerance;
    let chance = images.len() as f64 * class.stars.len() as f64 * tolerance / 4.0;
    let least = (chance + 2.5 * chance.sqrt() + 1.0).max(6.0);
    (hits >= least).then(|| (hits - chance) / chance.sqrt())
}
