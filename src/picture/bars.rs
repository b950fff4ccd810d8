//! The picture within black bars: small previews of 4:3 hold pictures of 3:2 with a bar above and below. Knows no stars.

use crate::terms::star_image::Grey;

/// The brightest level of a bar, after JPEG has blurred its edge a little.
const BLACK: u8 = 10;
/// How much the two bars may differ in pixels.
const UNEQUAL_PX: usize = 4;
/// How far the shape within the bars may be from the full picture's, as a ratio.
const SHAPE: f64 = 0.012;

/// Where the picture lies within a preview.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Area {
    /// Columns left of it.
    pub left: usize,
    /// Rows above it.
    pub top: usize,
    /// Its pixels in a row.
    pub width: usize,
    /// Its rows.
    pub height: usize,
}

/// Finds the picture within a preview.
///
/// Takes: width to height of the full picture, where that is known.
/// Gives: the whole preview where it has the full picture's shape already, or where its dark edges are no pair of bars that
/// leaves that shape: the night's foreground is dark as well.
pub fn area(preview: &Grey, full_shape: Option<f64>) -> Area {
    let (width, height) = (preview.width(), preview.height());
    let whole = Area {
        left: 0,
        top: 0,
        width,
        height,
    };
    let shape = |area: &Area| area.width as f64 / area.height.max(1) as f64;
    let fits = |area: &Area| match full_shape {
        Some(full) => (shape(area) / full - 1.0).abs() < SHAPE,
        None => [1.5, 16.0 / 9.0]
            .iter()
            .any(|s| (shape(area) / s - 1.0).abs() < SHAPE),
    };
    if full_shape.is_some() && fits(&whole) || full_shape.is_none() && shape(&whole) > 1.4 {
        return whole;
    }
    let black_row = |y: usize| preview.row(y).iter().all(|p| *p <= BLACK);
    let black_column = |x: usize| (0..height).all(|y| preview.row(y)[x] <= BLACK);
    let pair = |length: usize, black: &dyn Fn(usize) -> bool| {
        let first = (0..length).take_while(|at| black(*at)).count();
        let last = (0..length).rev().take_while(|at| black(*at)).count();
        (first.abs_diff(last) <= UNEQUAL_PX && first + last < length).then_some((first, last))
    };
    if let Some((top, bottom)) = pair(height, &black_row) {
        let within = Area {
            top,
            height: height - top - bottom,
            ..whole
        };
        if fits(&within) {
            return within;
        }
    }
    if let Some((left, right)) = pair(width, &black_column) {
        let within = Area {
            left,
            width: width - left - right,
            ..whole
        };
        if fits(&within) {
            return within;
        }
    }
    whole
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with_bars(width: usize, height: usize, bar: usize, black: u8) -> Grey {
        let luma = (0..width * height)
            .map(|at| {
                let y = at / width;
                if y < bar || y >= height - bar {
                    black
                } else {
                    30
                }
            })
            .collect();
        Grey::new(width, height, luma).unwrap()
    }

    #[test]
    fn bars_above_and_below_are_cut_off() {
        let found = area(&with_bars(640, 480, 27, 2), Some(1.5));
        assert_eq!((found.top, found.height, found.width), (27, 426, 640));
        let unknown = area(&with_bars(640, 480, 27, 2), None);
        assert_eq!(unknown.height, 426);
    }

    #[test]
    fn a_dark_foreground_is_no_bar() {
        // The full picture is 4:3 itself; or what lies within the dark rows is no 3:2.
        assert_eq!(
            area(&with_bars(640, 480, 27, 2), Some(4.0 / 3.0)).height,
            480
        );
        assert_eq!(area(&with_bars(640, 480, 90, 2), Some(1.5)).height, 480);
        assert_eq!(area(&with_bars(640, 480, 27, 30), Some(1.5)).height, 480);
        assert_eq!(
            area(
                &with_bars(640, 480, 27, 2).part(0, 0, 640, 427).unwrap(),
                None
            )
            .height,
            427
        );
    }

    #[test]
    fn a_black_picture_is_left_whole() {
        let black = Grey::new(160, 120, vec![0; 160 * 120]).unwrap();
        assert_eq!(area(&black, Some(1.5)).height, 120);
    }
}
