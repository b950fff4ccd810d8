//! The camera against the horizon: the solution fitted again to where stars are seen over a site at an instant, air included.
//! Knows neither; both are in the function that it is handed.

use crate::pointing::answer::Solution;
use crate::pointing::camera::Camera;
use crate::pointing::fit::Freedom;
use crate::pointing::fit::PARAMETERS;
use crate::pointing::fit::Sight;
use crate::pointing::fit::TURNS;
use crate::pointing::fit::fitted;
use crate::pointing::matching::Sky;
use crate::pointing::matching::Target;
use crate::pointing::refine::Problem;
use crate::pointing::refine::Refined;
use crate::pointing::spread::spread;
use crate::pointing::vector::Matrix;
use crate::pointing::vector::Vector;
use crate::pointing::vector::dot;
use crate::pointing::vector::rotation_of_pairs;
use crate::pointing::vector::turned;
use crate::terms::star_image::StarField;

/// Sine of the altitude of 2°: below, air bends as it likes.
const LOWEST: f64 = 0.034_9;
/// So much larger a residual against the horizon than against the stars tells of a wrong time, zone or site.
const WORSE: f64 = 1.2;
/// Residuals below this in pixels are not compared.
const FINE_PX: f64 = 0.15;
/// The share of matched stars below the horizon from which on time or site must be wrong.
const BELOW: f64 = 0.2;
/// How far from the middle stars may matter: half diagonals, and radians beside them.
const NEAR: (f64, f64) = (1.2, 0.1);
/// Sine of -1°.
const HORIZON: f64 = -0.017_5;

/// Why a solution does not fit the horizon.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Misfit {
    /// Matched stars would be below the horizon: time or site is wrong by hours.
    StarsBelow,
    /// Stars are off as they would be at another time: time, zone or site is wrong.
    Worse,
    /// Too few stars stand high enough.
    TooFewStars,
}

/// A camera over the horizon.
#[derive(Clone, Debug)]
pub struct OverHorizon {
    /// The camera; its directions are east, north, up as seen, refraction included.
    pub camera: Camera,
    /// Root mean square of what is left, in pixels.
    pub residual_px: f64,
    /// How many stars it was fitted to.
    pub matched: usize,
    /// The images of these stars.
    pub places: Vec<(f64, f64)>,
}

/// Fits a solution again against the horizon.
///
/// Takes: what [`crate::pointing::solve::solve`] was given and gave; a function from an ICRS direction to the direction as seen
/// (east, north, up, refraction included) at mid-exposure; Julian years after 2000.0.
pub fn over_horizon(
    field: &StarField,
    solution: &Solution,
    years: f64,
    seen: &mut dyn FnMut(Vector) -> Vector,
) -> Result<OverHorizon, Misfit> {
    let pairs: Vec<(Vector, Vector, (f64, f64))> = solution
        .matched
        .iter()
        .map(|star| (star.direction, seen(star.direction), (star.x, star.y)))
        .collect();
    let below = pairs.iter().filter(|(_, up, _)| up[2] < HORIZON).count();
    if below as f64 > BELOW * pairs.len() as f64 {
        return Err(Misfit::StarsBelow);
    }
    let high: Vec<_> = pairs
        .into_iter()
        .filter(|(_, up, _)| up[2] > LOWEST)
        .collect();
    let turn = turn_of(&high).ok_or(Misfit::TooFewStars)?;
    let mut camera = Camera {
        lens: solution.camera.lens,
        rows: solution.camera.rows.map(|row| turned(&turn, row)),
    };
    let sights: Vec<Sight> = high
        .iter()
        .map(|(_, direction, (x, y))| Sight {
            direction: *direction,
            x: *x,
            y: *y,
        })
        .collect();
    let free = if solution.lens_held {
        TURNS
    } else {
        PARAMETERS
    };
    let freedom = Freedom::for_matches(sights.len(), free, None);
    camera = fitted(&camera, &sights, 2.0, freedom);
    let found = again(field, camera, &near(&solution.camera, years), seen, free)
        .ok_or(Misfit::TooFewStars)?;
    // Air bends the stars near the horizon: a fit to the catalogue leaves them out, and looks the better for it.
    let explains_more = found.sights.len() > solution.matched.len();
    if found.residual_px > WORSE * solution.residual_px.max(FINE_PX) && !explains_more {
        return Err(Misfit::Worse);
    }
    Ok(over(&found, field))
}

/// The stars in the picture and well about it.
fn near(camera: &Camera, years: f64) -> Vec<Target> {
    let within = camera.lens.diagonal_rad() / 2.0 * NEAR.0 + NEAR.1;
    Sky::about(camera, &Target::all(years), within).stars
}

/// The last rounds of a fit against the horizon, with so many free parameters.
fn again(
    field: &StarField,
    camera: Camera,
    stars: &[Target],
    seen: &mut dyn FnMut(Vector) -> Vector,
    parameters: usize,
) -> Option<Refined> {
    let targets: Vec<Target> = stars
        .iter()
        .map(|target| Target {
            direction: seen(target.direction),
            ..*target
        })
        .filter(|target| target.direction[2] > LOWEST)
        .collect();
    let all: Vec<(f64, f64)> = field.stars.iter().map(|star| (star.x, star.y)).collect();
    let spread = spread(field.stars.iter(), field.width as f64, field.height as f64);
    let problem = Problem {
        all: &all,
        spread: &spread,
        targets: &targets,
        deeper: 1,
    };
    problem.finish_known(camera, parameters)
}

fn over(found: &Refined, field: &StarField) -> OverHorizon {
    let place = |image: usize| (field.stars[image].x, field.stars[image].y);
    OverHorizon {
        camera: found.camera,
        residual_px: found.residual_px,
        matched: found.sights.len(),
        places: found
            .sights
            .iter()
            .map(|(_, image)| place(*image))
            .collect(),
    }
}

/// The rotation between two frames of directions, by the two stars that are farthest from each other.
fn turn_of(pairs: &[(Vector, Vector, (f64, f64))]) -> Option<Matrix> {
    let first = pairs.first()?;
    let second = pairs
        .iter()
        .min_by(|a, b| dot(a.0, first.0).total_cmp(&dot(b.0, first.0)))?;
    (pairs.len() >= 3).then(|| rotation_of_pairs((first.0, second.0), (first.1, second.1)))
}
