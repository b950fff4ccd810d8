//! A picture without its slow changes of brightness: each pixel less the mean of the square around it. Compares nothing.

use crate::terms::star_image::Grey;

/// Half the side of the square: wider than a trail, narrower than a drifting cloud.
const REACH: usize = 4;
/// Its area in pixels.
const AREA: i32 = 81;
/// Units in a level of the picture.
pub(super) const UNITS: i16 = 16;

/// Numbers for the pixels of a picture, row after row.
#[derive(Clone, Debug)]
pub(super) struct Plane {
    pub width: usize,
    pub height: usize,
    pub values: Vec<i16>,
}

impl Plane {
    pub fn row(&self, y: usize) -> &[i16] {
        &self.values[y * self.width..(y + 1) * self.width]
    }

    /// The value of a pixel; nothing outside of the picture.
    pub fn at(&self, x: i32, y: i32) -> Option<i16> {
        let (x, y) = (usize::try_from(x).ok()?, usize::try_from(y).ok()?);
        (x < self.width && y < self.height).then(|| self.values[y * self.width + x])
    }
}

/// The light of a picture above its surroundings, in [`UNITS`] of a level.
#[allow(clippy::cast_possible_truncation)] // 255 levels of 16 units fit
pub(super) fn flattened(picture: &Grey) -> Plane {
    let (width, height) = (picture.width(), picture.height());
    let mut values = vec![0_i16; width * height];
    let mut columns = vec![0_i32; width + 2 * REACH];
    let mut squares = vec![0_i32; width];
    let row = |y: usize| picture.row(y.min(height - 1));
    for y in 0..=2 * REACH {
        add(&mut columns[REACH..], row(y.saturating_sub(REACH)), 1);
    }
    for y in 0..height {
        if y > 0 {
            add(&mut columns[REACH..], row(y + REACH), 1);
            add(
                &mut columns[REACH..],
                row((y - 1).saturating_sub(REACH)),
                -1,
            );
        }
        for k in 0..REACH {
            columns[k] = columns[REACH];
            columns[width + REACH + k] = columns[width + REACH - 1];
        }
        let mut sum: i32 = columns[..2 * REACH].iter().sum();
        for (square, (left, right)) in squares
            .iter_mut()
            .zip(columns.iter().zip(&columns[2 * REACH..]))
        {
            sum += right;
            *square = sum;
            sum -= left;
        }
        let out = values[y * width..(y + 1) * width].iter_mut();
        for ((value, pixel), square) in out.zip(picture.row(y)).zip(&squares) {
            let mean = (square * i32::from(UNITS) + AREA / 2) / AREA;
            *value = (i32::from(*pixel) * i32::from(UNITS) - mean) as i16;
        }
    }
    Plane {
        width,
        height,
        values,
    }
}

fn add(columns: &mut [i32], row: &[u8], sign: i32) {
    for (column, pixel) in columns.iter_mut().zip(row) {
        *column += sign * i32::from(*pixel);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slope_vanishes_and_a_point_stays() {
        let (width, height) = (60, 40);
        let luma = (0..width * height)
            .map(|at| {
                let (x, y) = (at % width, at / width);
                u8::try_from(2 * x + if (x, y) == (30, 20) { 81 } else { 0 }).unwrap()
            })
            .collect();
        let flat = flattened(&Grey::new(width, height, luma).unwrap());
        assert_eq!(flat.at(30, 20), Some(80 * UNITS));
        assert_eq!(flat.at(32, 22), Some(-UNITS));
        assert_eq!(flat.at(10, 5), Some(0));
        assert_eq!(flat.at(-1, 5), None);
    }
}
