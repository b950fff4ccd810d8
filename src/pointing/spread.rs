//! Images in the order in which they are tried. Knows no sky.

use crate::terms::star_image::StarImage;

/// Images spread over the picture: at most three in each cell of a grid first, brightest first, then the next three of each.
///
/// The brightest of all may be lights on the ground, or crowd in one gap of the clouds.
pub(super) fn spread<'a>(
    images: impl Iterator<Item = &'a StarImage>,
    width: f64,
    height: f64,
) -> Vec<(f64, f64)> {
    let mut counts = [0_usize; 24];
    let mut ranked = Vec::new();
    for (number, star) in images.enumerate() {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to the grid
        let along =
            |at: f64, size: f64, cells: f64| (at / size * cells).clamp(0.0, cells - 1.0) as usize;
        let cell = along(star.y, height, 4.0) * 6 + along(star.x, width, 6.0);
        ranked.push((counts[cell] / 3, number, (star.x, star.y)));
        counts[cell] += 1;
    }
    ranked.sort_by_key(|(round, number, _)| (*round, *number));
    ranked.into_iter().map(|(_, _, pixel)| pixel).collect()
}
