//! Points that stand out of the noise, and which of them are no stars: edges of ridges and clouds, trails of aircraft and
//! satellites that break up into rows of points. Measures nothing finely.

use std::collections::VecDeque;

use crate::picture::background::Background;
use crate::picture::filter::Rows;
use crate::picture::filter::noise;
use crate::picture::filter::noise_cells;
use crate::terms::star_image::Grey;

/// How many times the noise a point must stand above its surroundings.
const LEAST_SIGNIFICANCE: f32 = 5.0;
/// Pixels from the edge of the picture within which nothing is looked for.
const MARGIN: usize = 3;
/// How many points are kept, highest first.
const MOST_POINTS: usize = 4_000;
/// Eight places about a point, and how far they are away.
const RING_PX: usize = 6;
const RING: [(isize, isize); 8] = [
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

/// The points of a picture that may be stars, highest first.
pub(super) fn points(picture: &Grey, background: &Background) -> Vec<Point> {
    let (width, height) = (picture.width(), picture.height());
    let mut found = Vec::new();
    if width <= 2 * MARGIN || height <= 2 * MARGIN {
        return found;
    }
    let (across, down) = noise_cells(width, height);
    let mut rows = Rows::of(picture, background);
    let mut band = Band::default();
    for j in 0..down {
        let (from, to) = (j * height / down, (j + 1) * height / down);
        band.hold(
            from.saturating_sub(RING_PX),
            (to + RING_PX).min(height),
            |y, row| {
                row.resize(width);
                rows.filter(y, &mut row.smooth, &mut row.matched);
            },
        );
        let sigmas = noise(&(from..to).map(|y| &band.row(y).matched[..]), across);
        for y in from.max(MARGIN)..to.min(height - MARGIN) {
            let row = &band.row(y).matched;
            for (i, sigma) in sigmas.iter().enumerate() {
                let least = LEAST_SIGNIFICANCE * sigma;
                let cell = (i * width / across).max(MARGIN)
                    ..((i + 1) * width / across).min(width - MARGIN);
                // Most cells hold nothing that is high enough.
                let high = row[cell.clone()].iter().map(|height| *height >= least);
                if !high.fold(false, |any, one| any | one) {
                    continue;
                }
                for x in cell {
                    let height = row[x];
                    if height < least || height < row[x - 1] || height <= row[x + 1] {
                        continue;
                    }
                    if band.is_highest(x, y) && !band.is_on_edge(x, y) {
                        let significance = height / sigma;
                        found.push(Point {
                            x,
                            y,
                            significance,
                            height,
                        });
                    }
                }
            }
        }
    }
    found.sort_by(|a, b| b.height.total_cmp(&a.height));
    found.truncate(MOST_POINTS);
    found
}

/// One filtered row.
#[derive(Default)]
struct Row {
    smooth: Vec<f32>,
    matched: Vec<f32>,
}

impl Row {
    fn resize(&mut self, width: usize) {
        self.smooth.resize(width, 0.0);
        self.matched.resize(width, 0.0);
    }
}

/// Some filtered rows in a row.
#[derive(Default)]
struct Band {
    first: usize,
    rows: VecDeque<Row>,
}

impl Band {
    /// Holds other rows: those that it held already are kept.
    fn hold(&mut self, from: usize, to: usize, mut fill: impl FnMut(usize, &mut Row)) {
        let mut free = Vec::new();
        while self.first < from {
            free.extend(self.rows.pop_front());
            self.first += 1;
        }
        for y in self.first + self.rows.len()..to {
            let mut row = free.pop().unwrap_or_default();
            fill(y, &mut row);
            self.rows.push_back(row);
        }
    }

    fn row(&self, y: usize) -> &Row {
        &self.rows[y - self.first]
    }

    fn is_highest(&self, x: usize, y: usize) -> bool {
        let value = self.row(y).matched[x];
        for row in y - 2..=y + 2 {
            for (column, other) in self.row(row).matched[x - 2..=x + 2].iter().enumerate() {
                let earlier = (row, column + x - 2) < (y, x);
                if *other > value || (*other >= value && earlier) {
                    return false;
                }
            }
        }
        true
    }

    /// Whether the surroundings of a point vary about as much as it stands above them.
    fn is_on_edge(&self, x: usize, y: usize) -> bool {
        let value = &self.row(y).smooth;
        let (right, bottom) = (value.len() - 1, self.first + self.rows.len() - 1);
        let (mut least, mut most) = (f32::MAX, f32::MIN);
        for (dx, dy) in RING {
            let row = y.saturating_add_signed(dy).min(bottom);
            let value = self.row(row).smooth[x.saturating_add_signed(dx).min(right)];
            least = least.min(value);
            most = most.max(value);
        }
        most - least > RING_SHARE * (value[x] - least)
    }
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
