//! Points that stand out of the noise, and which of them are no stars: edges of ridges and clouds, trails of aircraft and
//! satellites that break up into rows of points. Measures nothing finely.

use crate::picture::filter::Noise;
use crate::picture::filter::Plane;

/// How many times the noise a point must stand above its surroundings.
const LEAST_SIGNIFICANCE: f32 = 5.0;
/// Pixels from the edge of the picture within which nothing is looked for.
const MARGIN: usize = 3;
/// How many points are kept, highest first.
const MOST_POINTS: usize = 4_000;
/// Eight places about a point, six pixels away.
const RING: [(i32, i32); 8] = [
    (6, 0),
    (4, 4),
    (0, 6),
    (-4, 4),
    (-6, 0),
    (-4, -4),
    (0, -6),
    (4, -4),
];
/// How much of a point's height its surroundings may vary.
const RING_SHARE: f32 = 0.55;
/// How far the neighbours in a row of points are apart at most, in pixels.
const ROW_REACH: f64 = 20.0;
/// How many points make a row.
const ROW_POINTS: usize = 4;
/// How much narrower than long a row is.
const ROW_NARROW: f64 = 0.22;

/// A pixel higher than all about it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Point {
    pub x: usize,
    pub y: usize,
    pub significance: f32,
    height: f32,
}

/// The points of a filtered picture that may be stars, highest first.
pub(super) fn points(smooth: &Plane, matched: &Plane, noise: &Noise) -> Vec<Point> {
    let (width, height) = (matched.width, matched.height);
    let mut found = Vec::new();
    if width <= 2 * MARGIN || height <= 2 * MARGIN {
        return found;
    }
    for y in MARGIN..height - MARGIN {
        let row = matched.row(y);
        for (x, value) in row.iter().enumerate().take(width - MARGIN).skip(MARGIN) {
            // The least noise is 0.12 levels: most pixels end here.
            if *value < 0.6 || *value < row[x - 1] || *value <= row[x + 1] {
                continue;
            }
            let sigma = noise.at(x, y);
            if *value < LEAST_SIGNIFICANCE * sigma || !is_highest(matched, x, y) {
                continue;
            }
            found.push(Point {
                x,
                y,
                significance: value / sigma,
                height: *value,
            });
        }
    }
    found.retain(|point| !is_on_edge(smooth, point));
    found.sort_by(|a, b| b.height.total_cmp(&a.height));
    found.truncate(MOST_POINTS);
    found
}

fn is_highest(plane: &Plane, x: usize, y: usize) -> bool {
    let value = plane.at(x, y);
    for row in y - 2..=y + 2 {
        for column in x - 2..=x + 2 {
            let other = plane.at(column, row);
            let earlier = (row, column) < (y, x);
            if other > value || (other >= value && earlier) {
                return false;
            }
        }
    }
    true
}

/// Whether the surroundings of a point vary about as much as it stands above them.
fn is_on_edge(smooth: &Plane, point: &Point) -> bool {
    let mut least = f32::MAX;
    let mut most = f32::MIN;
    for (dx, dy) in RING {
        let at = |from: usize, by: i32, size: usize| {
            from.saturating_add_signed(isize::try_from(by).unwrap_or(0))
                .min(size - 1)
        };
        let value = smooth.at(
            at(point.x, dx, smooth.width),
            at(point.y, dy, smooth.height),
        );
        least = least.min(value);
        most = most.max(value);
    }
    most - least > RING_SHARE * (smooth.at(point.x, point.y) - least)
}

/// Which of some places belong to rows: several close together on one line.
pub(super) fn in_rows(places: &[(f64, f64)]) -> Vec<bool> {
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.sort_by(|a, b| places[*a].1.total_cmp(&places[*b].1));
    let mut first = 0;
    let mut rows = vec![false; places.len()];
    for here in &order {
        let (x, y) = places[*here];
        while places[order[first]].1 < y - ROW_REACH {
            first += 1;
        }
        let near: Vec<(f64, f64)> = order[first..]
            .iter()
            .map(|at| places[*at])
            .take_while(|place| place.1 <= y + ROW_REACH)
            .filter(|place| (place.0 - x).powi(2) + (place.1 - y).powi(2) <= ROW_REACH * ROW_REACH)
            .collect();
        rows[*here] = near.len() >= ROW_POINTS && is_line(&near);
    }
    rows
}

fn is_line(places: &[(f64, f64)]) -> bool {
    let count = places.len() as f64;
    let (mx, my) = places
        .iter()
        .fold((0.0, 0.0), |sum, p| (sum.0 + p.0, sum.1 + p.1));
    let (mx, my) = (mx / count, my / count);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (x, y) in places {
        xx += (x - mx) * (x - mx);
        xy += (x - mx) * (y - my);
        yy += (y - my) * (y - my);
    }
    let (major, minor) = axes(xx, xy, yy);
    minor < ROW_NARROW * ROW_NARROW * major
}

/// The larger and the smaller of a symmetric matrix's two values.
pub(super) fn axes(xx: f64, xy: f64, yy: f64) -> (f64, f64) {
    let half = f64::midpoint(xx, yy);
    let apart = ((xx - yy) / 2.0).hypot(xy);
    (half + apart, half - apart)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_of_points_are_known_and_clusters_are_not() {
        let row: Vec<(f64, f64)> = (0..6)
            .map(|k| (100.0 + 5.0 * f64::from(k), 50.0 + 3.0 * f64::from(k)))
            .collect();
        assert!(in_rows(&row)[1..5].iter().all(|r| *r));
        let cluster = [(0.0, 0.0), (9.0, 1.0), (3.0, 8.0), (11.0, 9.0), (5.0, 4.0)];
        assert!(in_rows(&cluster).iter().all(|r| !r));
        assert!(
            in_rows(&[(0.0, 0.0), (5.0, 5.0), (10.0, 10.0)])
                .iter()
                .all(|r| !r)
        );
    }
}
