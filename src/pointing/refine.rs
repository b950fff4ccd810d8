//! From a rough camera to a fitted one: matches and fits in turn, ever closer. Decides on nothing but the numbers of a fit.

use crate::pointing::camera::Camera;
use crate::pointing::fit::Freedom;
use crate::pointing::fit::Sight;
use crate::pointing::fit::TURNS;
use crate::pointing::fit::fitted;
use crate::pointing::matching::Expected;
use crate::pointing::matching::Matched;
use crate::pointing::matching::Sky;
use crate::pointing::matching::Target;
use crate::pointing::matching::matched;
use crate::pointing::odds::log_odds;

/// Radius in half diagonals, expected stars, images, most parameters. The early rounds take images that are spread over the
/// picture: the brightest of all may be lights on the ground.
const ROUNDS: [(f64, usize, usize, usize); 5] = [
    (0.035, 40, 40, 4),
    (0.022, 50, 50, 5),
    (0.012, 70, 70, 5),
    (0.007, 100, 110, 6),
    (0.005, 140, 160, 6),
];
/// Radii in pixels of the last rounds, with all images.
const LAST_PX: [f64; 3] = [4.0, 3.0, 2.5];
/// How many stars of the table are expected in a picture at most.
const MOST_EXPECTED: usize = 400;
/// Pixels around the picture where stars are still expected.
const MARGIN_PX: f64 = 4.0;
/// More distortion than this no lens has, nor a larger residual any right solution.
const LIMITS: (f64, f64) = (0.2, 2.2);
/// Fewer matches than this are not fitted any further.
const LEAST: usize = 5;
/// Radii in pixels for a camera that is expected to a few pixels, and how many stars and images are matched in them.
const EXPECTED_PX: [f64; 2] = [8.0, 5.0];
const EXPECTED: (usize, usize) = (100, 110);
/// How far the focal length may go from what is known of it.
const KNOWN_F: f64 = 0.03;

/// The images of a picture, and the sky they are matched with.
pub(super) struct Problem<'a> {
    /// All images, brightest first.
    pub all: &'a [(f64, f64)],
    /// The images that are searched, spread over the picture.
    pub spread: &'a [(f64, f64)],
    /// The stars of the sky, brightest first.
    pub targets: &'a [Target],
    /// How many times as many stars are expected in the first rounds: clouds hide most of the bright ones.
    pub deeper: usize,
}

/// A fitted camera.
#[derive(Clone, Debug)]
pub(super) struct Refined {
    pub camera: Camera,
    /// Stars that were fitted, and the numbers of their images.
    pub sights: Vec<(Expected, usize)>,
    pub residual_px: f64,
    /// Natural logarithm of the odds, less what the parameters are worth.
    pub odds: f64,
}

impl Problem<'_> {
    fn sky(&self, camera: &Camera) -> Sky {
        let half = camera.lens.diagonal_rad() / 2.0;
        Sky::about(camera, self.targets, half * 1.15 + 0.05)
    }

    /// Fits a rough camera. Gives nothing where too few stars are found, or the fit is none of a lens.
    pub fn refine(&self, start: &Camera, expected_f: Option<f64>) -> Option<Refined> {
        let expected_f = expected_f.map(|f_px| (f_px, KNOWN_F));
        let sky = self.sky(start);
        let half = start.lens.half_diagonal_px();
        let mut camera = *start;
        for (radius, stars, images, parameters) in ROUNDS {
            for _ in 0..2 {
                let expected = sky.brightest(&camera, stars * self.deeper, MARGIN_PX);
                let images = &self.spread[..images.min(self.spread.len())];
                let found = matched(&expected, images, radius * half);
                if found.len() < LEAST {
                    return None;
                }
                let freedom = Freedom::for_matches(found.len(), parameters, expected_f);
                let sights = sights(&expected, images, &found);
                camera = fitted(&camera, &sights, robust(&found), freedom);
            }
        }
        self.finish(&sky, camera, expected_f, 8)
    }

    /// The last rounds: all images, all stars, a known camera to a few pixels.
    pub fn finish(
        &self,
        sky: &Sky,
        mut camera: Camera,
        expected_f: Option<(f64, f64)>,
        most: usize,
    ) -> Option<Refined> {
        let mut last = Vec::new();
        let mut freedom = Freedom::for_matches(0, most, expected_f);
        let mut expected = Vec::new();
        for radius in LAST_PX {
            expected = sky.lights(&camera, MOST_EXPECTED, MARGIN_PX);
            last = matched(&expected, self.all, radius);
            last.retain(|one| !expected[one.expected].disturbed);
            if last.len() < LEAST {
                return None;
            }
            freedom = Freedom::for_matches(last.len(), most, expected_f);
            let sights = sights(&expected, self.all, &last);
            camera = fitted(&camera, &sights, robust(&last), freedom);
        }
        let lens = &camera.lens;
        let mut sights = Vec::with_capacity(last.len());
        let mut squares = 0.0;
        for one in &last {
            let mut star = expected[one.expected];
            (star.x, star.y) = camera.project(star.direction)?;
            let image = self.all[one.image];
            squares += (star.x - image.0).powi(2) + (star.y - image.1).powi(2);
            sights.push((star, one.image));
        }
        let residual_px = (squares / last.len() as f64).sqrt();
        let corner = camera.lens.unproject((-0.5, -0.5));
        let is_lens = lens.k1.abs() <= LIMITS.0
            && (lens.k1 + lens.k2).abs() <= 2.0 * LIMITS.0
            && residual_px <= LIMITS.1
            && corner.is_some()
            && lens.f_px.is_finite();
        if !is_lens {
            return None;
        }
        let expected = sky.lights(&camera, MOST_EXPECTED, 0.0);
        let odds = log_odds(
            &expected,
            self.spread,
            residual_px,
            lens.width * lens.height,
        ) - 2.0 * freedom.parameters as f64;
        Some(Refined {
            camera,
            sights,
            residual_px,
            odds,
        })
    }

    /// Fits a camera that is expected to a few pixels, its lens held. Gives nothing where too few stars are there.
    pub fn follow(&self, expected: &Camera) -> Option<Refined> {
        let sky = self.sky(expected);
        let mut camera = *expected;
        for radius in EXPECTED_PX {
            let stars = sky.lights(&camera, EXPECTED.0, MARGIN_PX);
            let images = &self.spread[..EXPECTED.1.min(self.spread.len())];
            let found = matched(&stars, images, radius);
            if found.len() < LEAST {
                return None;
            }
            let sights = sights(&stars, images, &found);
            let freedom = Freedom::for_matches(found.len(), TURNS, None);
            camera = fitted(&camera, &sights, robust(&found), freedom);
        }
        self.finish(&sky, camera, None, TURNS)
    }

    /// The last rounds for a camera that is known to a few pixels, with so many free parameters.
    pub fn finish_known(&self, camera: Camera, most: usize) -> Option<Refined> {
        self.finish(&self.sky(&camera), camera, None, most)
    }
}

fn sights(expected: &[Expected], images: &[(f64, f64)], found: &[Matched]) -> Vec<Sight> {
    let one = |m: &Matched| Sight {
        direction: expected[m.expected].direction,
        x: images[m.image].0,
        y: images[m.image].1,
    };
    found.iter().map(one).collect()
}

/// The distance in pixels from which on a match counts for less: twice the median, as far as stars are known.
fn robust(found: &[Matched]) -> f64 {
    // Matches come nearest first.
    let median = found.get(found.len() / 2).map_or(1.0, |one| one.off_px);
    (2.0 * median).max(0.5)
}
