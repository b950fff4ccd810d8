//! Which star each image is, under a camera that is nearly right. Fits nothing.

use crate::pointing::camera::Camera;
use crate::pointing::stars::Star;
use crate::pointing::stars::stars;
use crate::pointing::vector::Vector;
use crate::pointing::vector::dot;
use crate::pointing::vector::plus;
use crate::pointing::vector::scaled;
use crate::pointing::vector::turned_back;
use crate::pointing::vector::unit;

/// Stars closer together than this in pixels are one light in a preview.
const ONE_LIGHT_PX: f64 = 1.6;
/// A star with a neighbour within this distance that has this share of its light is not fitted: its centroid is off.
const DISTURBED: (f64, f64) = (4.5, 0.06);

/// A star of the sky, where it is expected in the picture.
#[derive(Clone, Copy, Debug)]
pub(super) struct Expected {
    /// Its number in the table of stars.
    pub star: usize,
    pub direction: Vector,
    pub light: f64,
    pub x: f64,
    pub y: f64,
    /// Whether a close neighbour shifts its centroid.
    pub disturbed: bool,
}

/// A star and its image, by their numbers in the lists that were matched.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Matched {
    pub expected: usize,
    pub image: usize,
    pub off_px: f64,
}

/// A star of the sky in some frame of directions.
#[derive(Clone, Copy, Debug)]
pub(super) struct Target {
    /// Its number in the table of stars.
    pub star: usize,
    pub direction: Vector,
    pub light: f64,
}

impl Target {
    /// All stars so many Julian years after 2000.0, brightest first.
    pub fn all(years: f64) -> Vec<Self> {
        let one = |(number, star): (usize, &Star)| Self {
            star: number,
            direction: star.direction(years),
            light: star.light,
        };
        stars().iter().enumerate().map(one).collect()
    }
}

/// Stars that may be in the picture, brightest first: those in a cone about where the camera looks.
pub(super) struct Sky {
    pub stars: Vec<Target>,
}

impl Sky {
    /// Takes: stars, brightest first; how far from the axis they are wanted, in radians.
    pub fn about(camera: &Camera, targets: &[Target], within: f64) -> Self {
        let axis = turned_back(&camera.rows, [0.0, 0.0, 1.0]);
        let least = if within > 3.1 { -1.0 } else { within.cos() };
        let near = |target: &&Target| dot(target.direction, axis) >= least;
        Self {
            stars: targets.iter().filter(near).copied().collect(),
        }
    }

    /// The brightest stars in the picture and a margin about it, as single points.
    pub fn brightest(&self, camera: &Camera, most: usize, margin: f64) -> Vec<Expected> {
        self.stars
            .iter()
            .filter_map(|target| {
                let (x, y) = camera.project_within(target.direction, margin)?;
                Some(Expected {
                    star: target.star,
                    direction: target.direction,
                    light: target.light,
                    x,
                    y,
                    disturbed: false,
                })
            })
            .take(most)
            .collect()
    }

    /// The same, close stars as one light and disturbed ones marked.
    pub fn lights(&self, camera: &Camera, most: usize, margin: f64) -> Vec<Expected> {
        // Fainter ones disturb the last of them.
        let all = self.brightest(camera, most * 2, margin);
        let near = Buckets::of(all.iter().map(|star| (star.x, star.y)), DISTURBED.0);
        let mut taken = vec![false; all.len()];
        let mut lights: Vec<Expected> = Vec::with_capacity(most);
        for at in 0..all.len() {
            if taken[at] {
                continue;
            }
            let (mut sum, mut light) = ([0.0; 3], 0.0);
            let mut others = 0.0_f64;
            near.about(all[at].x, all[at].y, |other| {
                let apart = (all[other].x - all[at].x).hypot(all[other].y - all[at].y);
                if apart < ONE_LIGHT_PX && !taken[other] {
                    taken[other] = true;
                    sum = plus(sum, scaled(all[other].direction, all[other].light));
                    light += all[other].light;
                } else if apart < DISTURBED.0 {
                    others = others.max(all[other].light);
                }
            });
            let direction = unit(sum);
            if let Some((x, y)) = camera.project_within(direction, margin) {
                lights.push(Expected {
                    direction,
                    light,
                    x,
                    y,
                    disturbed: others > DISTURBED.1 * light,
                    ..all[at]
                });
            }
            if lights.len() == most {
                break;
            }
        }
        lights
    }
}

/// Places by the square they are in.
struct Buckets {
    side: f64,
    across: usize,
    down: usize,
    from: (f64, f64),
    first: Vec<u32>,
    next: Vec<u32>,
}

const END: u32 = u32::MAX;

impl Buckets {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // places in and near a picture
    fn of(places: impl Iterator<Item = (f64, f64)>, side: f64) -> Self {
        let places: Vec<(f64, f64)> = places.collect();
        let side = side.max(8.0);
        let low = |get: fn(&(f64, f64)) -> f64| places.iter().map(get).fold(f64::MAX, f64::min);
        let high = |get: fn(&(f64, f64)) -> f64| places.iter().map(get).fold(f64::MIN, f64::max);
        let from = (low(|p| p.0), low(|p| p.1));
        let count = |from: f64, to: f64| (((to - from) / side).max(0.0) as usize + 1).min(4_000);
        let (across, down) = (count(from.0, high(|p| p.0)), count(from.1, high(|p| p.1)));
        let mut buckets = Self {
            side,
            across,
            down,
            from,
            first: vec![END; across * down],
            next: vec![END; places.len()],
        };
        for (number, (x, y)) in places.iter().enumerate().rev() {
            if let Some((i, j)) = buckets.cell(*x, *y) {
                let cell = j * across + i;
                buckets.next[number] = buckets.first[cell];
                buckets.first[cell] = number as u32;
            }
        }
        buckets
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked against the ends
    fn cell(&self, x: f64, y: f64) -> Option<(usize, usize)> {
        let (i, j) = ((x - self.from.0) / self.side, (y - self.from.1) / self.side);
        let fits = i >= 0.0 && j >= 0.0 && (i as usize) < self.across && (j as usize) < self.down;
        fits.then_some((i as usize, j as usize))
    }

    /// All places within the side of a square of one, and some farther ones.
    #[allow(clippy::cast_possible_truncation)] // places in and near a picture
    fn about(&self, x: f64, y: f64, mut each: impl FnMut(usize)) {
        let (i, j) = ((x - self.from.0) / self.side, (y - self.from.1) / self.side);
        // No place at all leaves the buckets without a beginning.
        let whole = |at: f64| at.floor().clamp(-2.0, 1e9) as i64;
        let (i, j) = (whole(i), whole(j));
        for row in j - 1..=j + 1 {
            for column in i - 1..=i + 1 {
                let (Ok(column), Ok(row)) = (usize::try_from(column), usize::try_from(row)) else {
                    continue;
                };
                if column >= self.across || row >= self.down {
                    continue;
                }
                let mut at = self.first[row * self.across + column];
                while at != END {
                    each(at as usize);
                    at = self.next[at as usize];
                }
            }
        }
    }
}

/// Matches images with expected stars, nearest first, each of them once.
pub(super) fn matched(
    expected: &[Expected],
    images: &[(f64, f64)],
    within_px: f64,
) -> Vec<Matched> {
    let near = Buckets::of(images.iter().copied(), within_px);
    let mut close = Vec::new();
    for (number, star) in expected.iter().enumerate() {
        near.about(star.x, star.y, |image| {
            let off_px = (images[image].0 - star.x).hypot(images[image].1 - star.y);
            if off_px <= within_px {
                close.push(Matched {
                    expected: number,
                    image,
                    off_px,
                });
            }
        });
    }
    close.sort_by(|a, b| a.off_px.total_cmp(&b.off_px));
    let mut star_taken = vec![false; expected.len()];
    let mut image_taken = vec![false; images.len()];
    close.retain(|one| {
        let free = !star_taken[one.expected] && !image_taken[one.image];
        if free {
            star_taken[one.expected] = true;
            image_taken[one.image] = true;
        }
        free
    });
    close
}

#[cfg(test)]
impl Expected {
    /// A star for tests.
    pub fn at(x: f64, y: f64) -> Self {
        Self {
            star: 0,
            direction: [0.0, 0.0, 1.0],
            light: 1.0,
            x,
            y,
            disturbed: false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_star_and_image_is_matched_once_the_nearest_first() {
        let stars = [
            Expected::at(10.0, 10.0),
            Expected::at(13.0, 10.0),
            Expected::at(500.0, 400.0),
        ];
        let images = [(12.5, 10.0), (900.0, 900.0), (501.0, 400.0)];
        let found = matched(&stars, &images, 5.0);
        assert_eq!(found.len(), 2);
        assert_eq!((found[0].expected, found[0].image), (1, 0));
        assert_eq!((found[1].expected, found[1].image), (2, 2));
        assert!(matched(&[], &images, 5.0).is_empty());
        assert!(matched(&stars, &[], 5.0).is_empty());
    }
}
