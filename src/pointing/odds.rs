//! How much likelier it is that the stars of a solution made the images than that chance did.
//!
//! Source: odds of a hypothesis against a uniform background, D. Lang et al. 2010, AJ 139, 1782 (from memory). The figures are ours.

use crate::pointing::matching::Expected;
use crate::pointing::matching::matched;

/// How many images are weighed, brightest first.
pub(super) const MOST_IMAGES: usize = 200;
/// The share of images that are no star of the table: fainter stars, planets, lights, hot pixels.
const OTHERS: f64 = 0.6;
/// The least error of a place, in pixels.
const LEAST_PX: f64 = 0.8;
/// The error of a place in units of the residual of the fit.
const OF_RESIDUAL: f64 = 1.3;

/// The natural logarithm of the odds, at the number of images where they are best.
///
/// Takes: expected stars, and images in the order in which they are weighed; the residual of the fit in pixels, and the
/// area of the picture.
pub(super) fn log_odds(
    expected: &[Expected],
    images: &[(f64, f64)],
    residual_px: f64,
    area: f64,
) -> f64 {
    if expected.is_empty() {
        return 0.0;
    }
    let sigma = LEAST_PX.max(OF_RESIDUAL * residual_px);
    let peak =
        (1.0 - OTHERS) * area / (std::f64::consts::TAU * sigma * sigma * expected.len() as f64);
    let images = &images[..images.len().min(MOST_IMAGES)];
    let mut off = vec![f64::INFINITY; images.len()];
    for one in matched(expected, images, 5.0 * sigma) {
        off[one.image] = one.off_px / sigma;
    }
    let (mut sum, mut best) = (0.0, 0.0_f64);
    for off in off {
        sum += (OTHERS + peak * (-off * off / 2.0).exp()).ln();
        best = best.max(sum);
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stars_in_place_outweigh_chance_and_others_do_not() {
        let place = |k: u32| (f64::from(k * 7919 % 1600), f64::from(k * 104_729 % 1000));
        let expected: Vec<Expected> = (0..100)
            .map(|k| Expected::at(place(k).0, place(k).1))
            .collect();
        let right: Vec<(f64, f64)> = (0..20)
            .map(|k| (place(k).0 + 0.5, place(k).1 - 0.3))
            .collect();
        let wrong: Vec<(f64, f64)> = (0..200).map(|k| place(k + 1000)).collect();
        assert!(log_odds(&expected, &right, 0.5, 1.6e6) > 100.0);
        assert!(log_odds(&expected, &wrong, 0.5, 1.6e6) < 15.0);
        assert!(log_odds(&[], &right, 0.5, 1.6e6).abs() < 1e-12);
    }
}
