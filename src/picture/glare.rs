//! The largest burnt-out spot of a picture: the Moon, or a lamp. Does not know which.

use crate::terms::star_image::Grey;

/// A value from which on a pixel is burnt out.
const BURNT: u8 = 248;
/// The share of the way from the sky to the burnt-out values that still belongs to the spot.
const SHARE: f64 = 0.9;
/// A smaller spot in pixels is a star.
const LEAST: usize = 28;
/// A larger share of the picture is no spot.
const MOST: f64 = 0.1;

/// A burnt-out spot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Glare {
    /// Its middle.
    pub x: f64,
    /// The same, downwards.
    pub y: f64,
    /// The radius of a disc of its area, in pixels.
    pub radius_px: f64,
}

/// The largest spot of a picture that does not touch its edge.
pub fn glare(picture: &Grey, sky_level: u8) -> Option<Glare> {
    let (width, height) = (picture.width(), picture.height());
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // between two bytes
    let threshold = (f64::from(sky_level)
        + SHARE * (f64::from(BURNT.max(sky_level)) - f64::from(sky_level)))
        as u8;
    let luma = picture.luma();
    let mut taken = vec![false; luma.len()];
    let mut best: Option<(usize, Glare)> = None;
    let mut open = Vec::new();
    // Few rows hold a burnt-out pixel.
    let is_burnt = |row: usize| picture.row(row).iter().fold(0, |most, p| (*p).max(most)) >= BURNT;
    let rows = (0..height).filter(|row| is_burnt(*row));
    for start in rows.flat_map(|row| row * width..(row + 1) * width) {
        if taken[start] || luma[start] < BURNT {
            continue;
        }
        let (mut count, mut x_sum, mut y_sum, mut at_edge) = (0_usize, 0.0, 0.0, false);
        taken[start] = true;
        open.push(start);
        while let Some(at) = open.pop() {
            let (x, y) = (at % width, at / width);
            count += 1;
            x_sum += x as f64;
            y_sum += y as f64;
            if x == 0 || y == 0 || x + 1 == width || y + 1 == height {
                at_edge = true;
                continue;
            }
            for next in [at - 1, at + 1, at - width, at + width] {
                if !taken[next] && luma[next] >= threshold {
                    taken[next] = true;
                    open.push(next);
                }
            }
        }
        let is_spot = count >= LEAST && (count as f64) < MOST * luma.len() as f64 && !at_edge;
        if is_spot && best.is_none_or(|(most, _)| count > most) {
            let area = count as f64;
            best = Some((
                count,
                Glare {
                    x: x_sum / area,
                    y: y_sum / area,
                    radius_px: (area / std::f64::consts::PI).sqrt(),
                },
            ));
        }
    }
    best.map(|(_, glare)| glare)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture(discs: &[(f64, f64, f64)]) -> Grey {
        let (width, height) = (300, 200);
        let mut luma = vec![30_u8; width * height];
        for (x, y, radius) in discs {
            for row in 0..height {
                for column in 0..width {
                    if (column as f64 - x).hypot(row as f64 - y) <= *radius {
                        luma[row * width + column] = 255;
                    }
                }
            }
        }
        Grey::new(width, height, luma).unwrap()
    }

    #[test]
    fn the_largest_spot_is_found_and_stars_and_edges_are_not() {
        assert_eq!(glare(&picture(&[(50.0, 60.0, 1.5)]), 30), None);
        assert_eq!(glare(&picture(&[(2.0, 60.0, 12.0)]), 30), None);
        let found = glare(&picture(&[(50.0, 60.0, 5.0), (200.5, 120.0, 14.0)]), 30).unwrap();
        assert!((found.x - 200.5).abs() < 0.1 && (found.y - 120.0).abs() < 0.1);
        assert!((found.radius_px - 14.0).abs() < 0.3, "{found:?}");
    }
}
