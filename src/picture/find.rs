//! The stars of a picture: the room's one door. Order of the steps, and what is kept.

use crate::picture::background::Background;
use crate::picture::centroid::Measure;
use crate::picture::centroid::Measured;
use crate::picture::maxima::Point;
use crate::picture::maxima::in_rows;
use crate::picture::maxima::points;
use crate::terms::star_image::Grey;
use crate::terms::star_image::StarField;
use crate::terms::star_image::StarImage;

/// The edition of the measures. Raise it where the same picture gives other stars.
pub const EDITION: u8 = 2;

/// A picture wider than this is made smaller by a whole number first.
const WIDEST_PX: usize = 2_100;
/// How many images are kept, brightest first.
const MOST_STARS: usize = 600;
/// Images closer together than this are one, in pixels.
const ONE_PX: f64 = 3.0;
/// How much longer than wide an image may be, and how many times the median of all: stars of a long exposure are long.
const LONGEST: (f64, f64) = (2.4, 1.8);
/// Only images this many times above the noise are judged by their shape, and by their width.
const SHAPE_FROM: f32 = 8.0;
/// Radius of the middle and of the corners, in half diagonals.
const MIDDLE_CORNERS: (f64, f64) = (0.35, 0.72);
/// Fewer widths than this make no median.
const LEAST_WIDTHS: usize = 5;

/// By how much a picture is made smaller for the search: a whole number, 1 for what is small enough.
pub fn binning(width: usize) -> usize {
    width.div_ceil(WIDEST_PX).max(1)
}

/// Finds the stars of a picture of a working size (see [`binning`]).
pub fn stars(picture: &Grey) -> StarField {
    let background = Background::of(picture);
    let measure = Measure::new(picture, &background);
    let images: Vec<(Point, Measured)> = points(picture, &background)
        .into_iter()
        .filter_map(|point| {
            let image = measure.image(point.x, point.y)?;
            (image.flux > 0.0).then_some((point, image))
        })
        .collect();
    let mut images = without_trails(images);
    images.sort_by(|(_, a), (_, b)| b.flux.total_cmp(&a.flux));
    let threshold = background.threshold();
    let stars: Vec<StarImage> = apart(images)
        .iter()
        .map(|(point, image)| StarImage {
            x: image.x,
            y: image.y,
            flux: image.flux,
            significance: f64::from(point.significance),
            width_px: (point.significance >= SHAPE_FROM)
                .then(|| measure.width(point.x, point.y, image))
                .flatten(),
            before_sky: background.near(image.x, image.y) >= threshold,
        })
        .collect();
    let (width, height) = (picture.width(), picture.height());
    let radius = |star: &StarImage| {
        let (dx, dy) = (star.x - width as f64 / 2.0, star.y - height as f64 / 2.0);
        dx.hypot(dy) / (width as f64).hypot(height as f64) * 2.0
    };
    StarField {
        width,
        height,
        sky_level: f64::from(background.median_from(threshold)) / 255.0,
        star_width_px: median_width(stars.iter().filter(|s| radius(s) < MIDDLE_CORNERS.0)),
        corner_width_px: median_width(stars.iter().filter(|s| radius(s) > MIDDLE_CORNERS.1)),
        stars,
    }
}

/// Takes out long images, and rows of images.
fn without_trails(mut images: Vec<(Point, Measured)>) -> Vec<(Point, Measured)> {
    let mut elongations: Vec<f64> = images
        .iter()
        .filter(|(point, _)| point.significance >= SHAPE_FROM)
        .map(|(_, image)| image.elongation)
        .collect();
    elongations.sort_by(f64::total_cmp);
    let median = elongations
        .get(elongations.len() / 2)
        .copied()
        .unwrap_or(1.0);
    let longest = LONGEST.0.max(LONGEST.1 * median);
    let places: Vec<(f64, f64)> = images.iter().map(|(_, image)| (image.x, image.y)).collect();
    let mut rows = in_rows(&places).into_iter();
    images.retain(|(point, image)| {
        let in_row = rows.next().unwrap_or(false);
        !in_row && (point.significance < SHAPE_FROM || image.elongation <= longest)
    });
    images
}

/// The brightest of images that are too close together, as many as are kept.
fn apart(images: Vec<(Point, Measured)>) -> Vec<(Point, Measured)> {
    let mut kept: Vec<(Point, Measured)> = Vec::new();
    for (point, image) in images {
        if kept.len() == MOST_STARS {
            break;
        }
        let far = |(_, k): &(Point, Measured)| {
            (k.x - image.x).powi(2) + (k.y - image.y).powi(2) >= ONE_PX * ONE_PX
        };
        if kept.iter().all(far) {
            kept.push((point, image));
        }
    }
    kept
}

fn median_width<'a>(stars: impl Iterator<Item = &'a StarImage>) -> Option<f64> {
    let mut widths: Vec<f64> = stars.filter_map(|star| star.width_px).collect();
    widths.sort_by(f64::total_cmp);
    (widths.len() >= LEAST_WIDTHS).then(|| widths[widths.len() / 2])
}
