//! Bright images that no star of the table explains: planets, lights on the ground, aircraft. Does not know which.

use crate::pointing::answer::Solution;
use crate::pointing::matching::Sky;
use crate::pointing::matching::Target;
use crate::pointing::region::holds;
use crate::pointing::region::hull;
use crate::terms::star_image::StarField;

/// Only so many of the brightest images are looked at: a planet is among them.
const BRIGHTEST: usize = 60;
/// A star so near in pixels explains an image; a bright one is burnt out, and its image is off.
const NEAR_PX: f64 = 5.0;
/// Stars fainter than this share of a star of magnitude 0 explain no bright image: magnitude 5.5.
const FAINTEST: f64 = 0.006_3;
/// No more are given: where there are more, they are lights.
const MOST: usize = 6;

/// The places of bright images without a star, brightest first, as far as they are among the matched stars: lights on the ground are
/// not. `years` are Julian years after 2000.0.
pub fn lone_images(field: &StarField, solution: &Solution, years: f64) -> Vec<(f64, f64)> {
    let camera = &solution.camera;
    let targets = Target::all(years);
    let bright = &targets[..targets.partition_point(|star| star.light >= FAINTEST)];
    let sky = Sky::about(camera, bright, camera.lens.diagonal_rad() / 2.0 * 1.2 + 0.1);
    let stars = sky.brightest(camera, usize::MAX, 2.0 * NEAR_PX);
    let matched: Vec<(f64, f64)> = solution
        .matched
        .iter()
        .map(|star| (star.x, star.y))
        .collect();
    let sky_part = hull(&matched);
    field
        .stars
        .iter()
        .take(BRIGHTEST)
        .filter(|image| {
            let near = |x: f64, y: f64| (image.x - x).hypot(image.y - y) < NEAR_PX;
            holds(&sky_part, (image.x, image.y))
                && !stars.iter().any(|star| near(star.x, star.y))
                && !matched.iter().any(|(x, y)| near(*x, *y))
        })
        .take(MOST)
        .map(|image| (image.x, image.y))
        .collect()
}
