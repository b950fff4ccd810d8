//! Measures a small picture in a few numbers: its brightness, its stars, how even it is after correction for the lens's
//! shading. Pure arithmetic on pixels; other files judge the numbers.

use crate::session::histogram::Histogram;
use crate::session::tone::linear;
use crate::terms::picture::Look;
use crate::terms::picture::MEASURES;
use crate::terms::picture::Picture;

/// The longer side at which pictures are measured, in pixels: the usual size of a thumbnail.
const SIDE: usize = 160;

/// Cells across and down, to whose brightness the shading is fitted.
const CELLS: (usize, usize) = (12, 8);

/// A star is at least this many steps of 255 above every pixel two away from it, and this many times the noise.
const STAR_STEP: usize = 5;
/// See [`STAR_STEP`].
const STAR_SIGMAS: f64 = 5.0;

/// Linear light below which shading is not measured: a step of 255 is a third of a stop there.
const DIM: f64 = 0.002;

/// A picture with fewer pixels to a side is not measured.
const LEAST: usize = 32;

/// Measures a small picture. `None` for one that is too small.
pub fn measure(picture: &Picture) -> Option<Look> {
    if picture.width().min(picture.height()) < LEAST {
        return None;
    }
    let luma = Luma::of(&picture.shrunk(SIDE)).without_bars();
    let cells = luma.cells();
    let mut all = Histogram::default();
    for cell in &cells {
        all.add(cell);
    }
    let shading = luma.shading(&cells);
    let (stars, edges) = luma.stars_and_edges();
    let look = Look {
        level: all.middle_mean() / 255.0,
        floor: all.at_share(0.05) / 255.0,
        stars,
        edges,
        uneven_stops: shading.residual,
        falloff_stops: shading.falloff,
        tilt_stops: shading.tilt,
        measures: MEASURES,
    };
    Some(look.as_kept())
}

/// A picture's luminance.
struct Luma {
    width: usize,
    height: usize,
    values: Vec<u8>,
}

/// The result of fitting a lens's shading, in stops.
struct Shading {
    falloff: f64,
    tilt: f64,
    residual: f64,
}

impl Luma {
    fn of(picture: &Picture) -> Self {
        // Source: ITU-R BT.601 (from memory), the luminance that JPEG files use.
        let luma = |p: &[u8]| {
            let thousandfold =
                299 * u32::from(p[0]) + 587 * u32::from(p[1]) + 114 * u32::from(p[2]);
            #[allow(clippy::cast_possible_truncation)] // a mean of bytes
            let mean = ((thousandfold + 500) / 1000) as u8;
            mean
        };
        Self {
            width: picture.width(),
            height: picture.height(),
            values: picture.rgb().chunks_exact(3).map(luma).collect(),
        }
    }

    fn row(&self, y: usize) -> &[u8] {
        &self.values[y * self.width..(y + 1) * self.width]
    }

    /// Without the black bars that bodies add to a thumbnail of another shape: as many rows above as below.
    fn without_bars(self) -> Self {
        let quarter = self.height / 4;
        if self.height < LEAST {
            return self;
        }
        let mean = |y: usize| {
            let sum: u32 = self.row(y).iter().map(|v| u32::from(*v)).sum();
            f64::from(sum) / self.width as f64
        };
        let inner = (quarter..self.height - quarter).map(mean).sum::<f64>()
            / (self.height - 2 * quarter) as f64;
        let limit = (inner / 4.0).min(4.0);
        let above = (0..quarter).take_while(|y| mean(*y) < limit).count();
        let below = (0..quarter)
            .take_while(|y| mean(self.height - 1 - y) < limit)
            .count();
        let bars = above.min(below);
        if bars == 0 {
            return self;
        }
        // JPEG compression smears the bar's edge over a row.
        let cut = bars + 1;
        Self {
            width: self.width,
            height: self.height - 2 * cut,
            values: self.values[cut * self.width..(self.height - cut) * self.width].to_vec(),
        }
    }

    /// How many points are brighter than their surroundings, and the fraction of pixels that are on an edge.
    fn stars_and_edges(&self) -> (f64, f64) {
        let (w, h) = (self.width, self.height);
        if w < 7 || h < 7 {
            return (0.0, 0.0);
        }
        let mut steps: Vec<u16> = Vec::with_capacity(w * h);
        for y in 2..h - 2 {
            let (above, own, below) = (self.row(y - 2), self.row(y), self.row(y + 2));
            let sides = own.iter().zip(&own[4..]);
            let ends = above[2..].iter().zip(&below[2..]);
            // Four times the difference between a pixel and the mean of the four pixels two away from it.
            steps.extend(own[2..].iter().zip(sides.zip(ends)).map(
                |(here, ((left, right), (up, down)))| {
                    let around = [left, right, up, down].map(|v| u16::from(*v));
                    (4 * u16::from(*here)).abs_diff(around.iter().sum())
                },
            ));
        }
        let mut counts = [0_usize; 1021];
        for step in &steps {
            counts[usize::from(*step)] += 1;
        }
        let count: usize = counts.iter().sum();
        let mut below = 0;
        let middle = counts.iter().position(|of| {
            below += of;
            2 * below > count
        });
        // Source: 1.48 median deviations are a standard deviation of a bell curve (from memory).
        let noise = middle.unwrap_or(0) as f64 * 1.48;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a few steps
        let limit = ((noise * STAR_SIGMAS) as usize).max(4 * STAR_STEP);
        let (mut stars, mut beyond) = (0_usize, 0_usize);
        let at = |place: usize| usize::from(self.values[place]);
        for (nth, _) in (0..).zip(&steps).filter(|(_, s)| usize::from(**s) > limit) {
            beyond += 1;
            let place = (nth / (w - 4) + 2) * w + nth % (w - 4) + 2;
            let here = at(place);
            let is_top = here > at(place - 1)
                && here > at(place - w)
                && here >= at(place + 1)
                && here >= at(place + w);
            // The rim of the five by five pixels around it.
            let rim = |corner: usize, stride: usize| (0..5).map(move |k| corner + k * stride);
            let corner = place - 2 * w - 2;
            let stands_out = |other: usize| 4 * here > 4 * at(other) + limit;
            let alone = rim(corner, 1).all(stands_out)
                && rim(corner + 4 * w, 1).all(stands_out)
                && rim(corner, w).all(stands_out)
                && rim(corner + 4, w).all(stands_out);
            stars += usize::from(is_top && alone);
        }
        // A star is detected from itself and from the four points two pixels away.
        let of_stars = 9 * stars;
        (
            stars as f64,
            beyond.saturating_sub(of_stars) as f64 / count as f64,
        )
    }

    /// The pixels of each cell, row after row.
    fn cells(&self) -> Vec<Histogram> {
        let (columns, rows) = CELLS;
        let mut cells: Vec<Histogram> = Vec::new();
        cells.resize_with(columns * rows, Histogram::default);
        for y in 0..self.height {
            let first = y * rows / self.height * columns;
            for (column, cell) in cells[first..first + columns].iter_mut().enumerate() {
                let begins = |column: usize| (column * self.width).div_ceil(columns);
                cell.extend(&self.row(y)[begins(column)..begins(column + 1)]);
            }
        }
        cells
    }

    /// Fits a plane and a fall-off from the middle, which need not be round, to the logarithm of linear light.
    fn shading(&self, cells: &[Histogram]) -> Shading {
        let (columns, rows) = CELLS;
        let none = Shading {
            falloff: 0.0,
            tilt: 0.0,
            residual: 0.0,
        };
        let shape = self.height as f64 / self.width as f64;
        let terms = |x: f64, y: f64| {
            let r2 = (x * x + y * y) / (1.0 + shape * shape);
            [1.0, x, y, x * x, x * y, y * y, r2 * r2]
        };
        let points: Vec<([f64; 7], f64)> = cells
            .iter()
            .enumerate()
            .map(|(at, cell)| {
                let stops = (linear(cell.middle_mean() / 255.0) + DIM).log2();
                let x = ((at % columns) as f64 + 0.5) / columns as f64 * 2.0 - 1.0;
                let y = ((at / columns) as f64 + 0.5) / rows as f64 * 2.0 - 1.0;
                (terms(x, y * shape), stops)
            })
            .collect();
        let Some(fit) = least_squares(&points) else {
            return none;
        };
        let value = |terms: &[f64; 7]| terms.iter().zip(fit).map(|(t, f)| t * f).sum::<f64>();
        let squares: f64 = points
            .iter()
            .map(|(t, stops)| (stops - value(t)).powi(2))
            .sum();
        Shading {
            falloff: -(fit[3] + fit[5] * shape * shape + fit[6]),
            tilt: 2.0 * fit[1].hypot(fit[2]),
            residual: (squares / points.len() as f64).sqrt(),
        }
    }
}

/// Coefficients by normal equations and elimination. `None` if the points do not determine them.
fn least_squares<const N: usize>(points: &[([f64; N], f64)]) -> Option<[f64; N]> {
    let mut rows = [[0.0; N]; N];
    let mut right = [0.0; N];
    for (terms, value) in points {
        for i in 0..N {
            for j in 0..N {
                rows[i][j] += terms[i] * terms[j];
            }
            right[i] += terms[i] * value;
        }
    }
    for i in 0..N {
        let pivot = (i..N).max_by(|a, b| rows[*a][i].abs().total_cmp(&rows[*b][i].abs()))?;
        rows.swap(i, pivot);
        right.swap(i, pivot);
        if rows[i][i].abs() < 1e-9 {
            return None;
        }
        let (pivot, solved) = (rows[i], right[i]);
        for (row, value) in rows.iter_mut().zip(&mut right).skip(i + 1) {
            let share = row[i] / pivot[i];
            for (term, above) in row.iter_mut().zip(pivot).skip(i) {
                *term -= share * above;
            }
            *value -= share * solved;
        }
    }
    let mut found = [0.0; N];
    for i in (0..N).rev() {
        let known: f64 = (i + 1..N).map(|j| rows[i][j] * found[j]).sum();
        found[i] = (right[i] - known) / rows[i][i];
    }
    Some(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grey(width: usize, height: usize, at: impl Fn(usize, usize) -> f64) -> Picture {
        let mut rgb = Vec::new();
        for y in 0..height {
            for x in 0..width {
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                rgb.extend([at(x, y).clamp(0.0, 255.0) as u8; 3]);
            }
        }
        Picture::new(width, height, rgb).unwrap()
    }

    fn measure(picture: &Picture) -> Look {
        super::measure(picture).unwrap()
    }

    /// An even field behind a lens that loses this many stops towards the corners.
    fn shaded(stops: f64) -> impl Fn(usize, usize) -> f64 {
        move |x, y| {
            let r2 = ((x as f64 - 79.5).powi(2) + (y as f64 - 59.5).powi(2))
                / (79.5_f64.powi(2) + 59.5_f64.powi(2));
            let light = 0.5 * 2_f64.powf(-stops * r2);
            255.0 * (1.055 * light.powf(1.0 / 2.4) - 0.055)
        }
    }

    #[test]
    fn a_dark_is_black_a_flat_is_even_a_sky_has_stars() {
        let dark = measure(&grey(160, 120, |_, _| 1.0));
        assert!(dark.level < 0.01 && dark.uneven_stops < 0.02 && dark.stars < 1.0);
        let star = |x: usize, y: usize| {
            if x % 20 == 5 && y % 20 == 5 {
                220.0
            } else {
                30.0
            }
        };
        let sky = measure(&grey(160, 120, star));
        assert!(
            (40.0..60.0).contains(&sky.stars) && sky.level > 0.1,
            "{sky:?}"
        );
    }

    #[test]
    fn shading_of_any_depth_is_no_unevenness_and_a_horizon_is() {
        for stops in [0.0, 1.0, 2.5] {
            let flat = measure(&grey(160, 120, shaded(stops)));
            assert!(flat.uneven_stops < 0.03, "{stops}: {flat:?}");
            assert!(
                (flat.falloff_stops - stops).abs() < 0.4,
                "{stops}: {flat:?}"
            );
            assert!(flat.stars < 1.0 && flat.edges < 0.001);
        }
        // A lens hood, or a panel at an angle: not a circle.
        let long = measure(&grey(160, 120, |x, y| {
            shaded(1.5)(x, y.abs_diff(60) / 2 + 60)
        }));
        assert!(long.uneven_stops < 0.03, "{long:?}");
        let land = |x: usize, y: usize| if y > 80 { 10.0 } else { shaded(1.0)(x, y) };
        let horizon = measure(&grey(160, 120, land));
        assert!(
            horizon.uneven_stops > 0.5 && horizon.edges > 0.01,
            "{horizon:?}"
        );
    }

    #[test]
    fn black_bars_are_no_part_of_the_picture() {
        let barred = |x: usize, y: usize| {
            if (7..113).contains(&y) {
                shaded(1.0)(x, y)
            } else {
                0.0
            }
        };
        let look = measure(&grey(160, 120, barred));
        assert!(look.uneven_stops < 0.05 && look.floor > 0.2, "{look:?}");
    }

    #[test]
    fn what_is_too_small_tells_nothing() {
        for (width, height) in [(1, 1), (8, 8), (160, 1), (31, 90)] {
            assert_eq!(super::measure(&grey(width, height, |_, _| 100.0)), None);
        }
        for (width, height) in [(32, 32), (2_000, 50), (50, 2_000)] {
            let look = super::measure(&grey(width, height, |_, _| 100.0));
            assert!(super::measure(&grey(width, height, |_, y| (y % 50) as f64)).is_some());
            assert!(look.is_none_or(|l| (l.level - 100.0 / 255.0).abs() < 0.01));
        }
    }
}
