//! What a small picture shows, in a few numbers: how bright it is, its stars, how even it is once the lens's shading is taken
//! off. Pure arithmetic on pixels; the numbers are judged elsewhere.

use crate::terms::picture::Look;
use crate::terms::picture::Picture;

/// The longer side at which pictures are measured, in pixels: what bodies write as a thumbnail.
const SIDE: usize = 160;

/// Cells across and down whose medians the shading is fitted to.
const CELLS: (usize, usize) = (12, 8);

/// A star stands at least this many steps of 255 above every pixel two away from it, and this many times the noise.
const STAR_STEP: f32 = 5.0;
/// See [`STAR_STEP`].
const STAR_SIGMAS: f32 = 5.0;

/// Linear light below which shading is not measured: a step of 255 is a third of a stop there.
const DIM: f64 = 0.002;

/// A picture with fewer pixels to a side tells nothing.
const LEAST: usize = 32;

/// Measures a small picture. `None` for one that is too small.
pub fn measure(picture: &Picture) -> Option<Look> {
    if picture.width().min(picture.height()) < LEAST {
        return None;
    }
    let small = picture.shrunk(SIDE);
    let luma = Luma::of(&small).without_bars();
    let mut sorted: Vec<f32> = luma.values.clone();
    sorted.sort_unstable_by(f32::total_cmp);
    let at_share = |share: f64| f64::from(sorted[share_of(sorted.len() - 1, share)]);
    let middle = &sorted[sorted.len() / 4..=sorted.len() * 3 / 4];
    let level = middle.iter().map(|v| f64::from(*v)).sum::<f64>() / middle.len() as f64;
    let shading = luma.shading();
    let (stars, edges) = luma.stars_and_edges();
    let look = Look {
        level: level / 255.0,
        floor: at_share(0.05) / 255.0,
        stars,
        edges,
        uneven_stops: shading.residual,
        falloff_stops: shading.falloff,
        tilt_stops: shading.tilt,
    };
    Some(look.as_kept())
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a share of a picture's pixels
fn share_of(count: usize, share: f64) -> usize {
    (count as f64 * share) as usize
}

/// A picture's luminance, 0 to 255.
struct Luma {
    width: usize,
    height: usize,
    values: Vec<f32>,
}

/// What fitting a lens's shading gave, in stops.
struct Shading {
    falloff: f64,
    tilt: f64,
    residual: f64,
}

impl Luma {
    fn of(picture: &Picture) -> Self {
        // Source: ITU-R BT.601 (from memory), the luminance that JPEG files use.
        let luma =
            |p: &[u8]| 0.299 * f32::from(p[0]) + 0.587 * f32::from(p[1]) + 0.114 * f32::from(p[2]);
        Self {
            width: picture.width(),
            height: picture.height(),
            values: picture.rgb().chunks_exact(3).map(luma).collect(),
        }
    }

    fn row(&self, y: usize) -> &[f32] {
        &self.values[y * self.width..(y + 1) * self.width]
    }

    /// Without the black bars with which bodies fill a thumbnail of another shape: as many rows above as below.
    fn without_bars(self) -> Self {
        if self.height < LEAST {
            return self;
        }
        let quarter = self.height / 4;
        let mean = |y: usize| self.row(y).iter().sum::<f32>() / self.width as f32;
        let inner: f32 = (quarter..self.height - quarter).map(mean).sum::<f32>()
            / (self.height - 2 * quarter).max(1) as f32;
        let limit = (inner / 4.0).min(4.0);
        let black = |y: usize| mean(y) < limit;
        let above = (0..quarter).take_while(|y| black(*y)).count();
        let below = (0..quarter)
            .take_while(|y| black(self.height - 1 - y))
            .count();
        let bars = above.min(below);
        if bars == 0 {
            return self;
        }
        // The packing smears the bar's edge over a row.
        let cut = bars + 1;
        Self {
            width: self.width,
            height: self.height - 2 * cut,
            values: self.values[cut * self.width..(self.height - cut) * self.width].to_vec(),
        }
    }

    /// How many points stand out from what is around them, and the share of pixels that lie on an edge.
    fn stars_and_edges(&self) -> (f64, f64) {
        let (w, h) = (self.width, self.height);
        if w < 7 || h < 7 {
            return (0.0, 0.0);
        }
        let inner = || (2..h - 2).flat_map(|y| (2..w - 2).map(move |x| y * w + x));
        let step = |at: usize| {
            let v = &self.values;
            v[at] - (v[at - 2] + v[at + 2] + v[at - 2 * w] + v[at + 2 * w]) / 4.0
        };
        let mut steps: Vec<f32> = inner().map(|at| step(at).abs()).collect();
        let count = steps.len() as f64;
        let middle = steps.len() / 2;
        let (_, noise, _) = steps.select_nth_unstable_by(middle, f32::total_cmp);
        let limit = (*noise * 1.48 * STAR_SIGMAS).max(STAR_STEP);
        let (mut stars, mut beyond) = (0_usize, 0_usize);
        for at in inner() {
            if step(at).abs() <= limit {
                continue;
            }
            beyond += 1;
            let v = &self.values;
            let here = v[at];
            let is_top =
                here > v[at - 1] && here > v[at - w] && here >= v[at + 1] && here >= v[at + w];
            // The rim of the five by five pixels around it.
            let rim = |corner: usize, stride: usize| (0..5).map(move |k| corner + k * stride);
            let corner = at - 2 * w - 2;
            let stands_out = |at: usize| here - v[at] > limit;
            let alone = rim(corner, 1).all(stands_out)
                && rim(corner + 4 * w, 1).all(stands_out)
                && rim(corner, w).all(stands_out)
                && rim(corner + 4, w).all(stands_out);
            stars += usize::from(is_top && alone);
        }
        // A star is seen from itself and from the four points two pixels away.
        let of_stars = 9 * stars;
        (stars as f64, beyond.saturating_sub(of_stars) as f64 / count)
    }

    /// Fits a plane and a radial fall-off to the logarithm of linear light.
    fn shading(&self) -> Shading {
        let (columns, rows) = CELLS;
        let none = Shading {
            falloff: 0.0,
            tilt: 0.0,
            residual: 0.0,
        };
        if self.width < columns || self.height < rows {
            return none;
        }
        let mut points: Vec<([f64; 5], f64)> = Vec::with_capacity(columns * rows);
        let mut cell: Vec<f32> = Vec::new();
        for row in 0..rows {
            for column in 0..columns {
                cell.clear();
                let span = |n: usize, of: usize, side: usize| n * side / of..(n + 1) * side / of;
                for y in span(row, rows, self.height) {
                    cell.extend(&self.row(y)[span(column, columns, self.width)]);
                }
                let middle = cell.len() / 2;
                let (_, median, _) = cell.select_nth_unstable_by(middle, f32::total_cmp);
                let stops = (linear(f64::from(*median) / 255.0) + DIM).log2();
                let x = (column as f64 + 0.5) / columns as f64 * 2.0 - 1.0;
                let y = ((row as f64 + 0.5) / rows as f64 * 2.0 - 1.0) * self.height as f64
                    / self.width as f64;
                let corner2 = 1.0 + (self.height as f64 / self.width as f64).powi(2);
                let r2 = (x * x + y * y) / corner2;
                points.push(([1.0, x, y, r2, r2 * r2], stops));
            }
        }
        let Some(fit) = least_squares(&points) else {
            return none;
        };
        let value = |terms: &[f64; 5]| terms.iter().zip(fit).map(|(t, f)| t * f).sum::<f64>();
        let squares: f64 = points
            .iter()
            .map(|(t, stops)| (stops - value(t)).powi(2))
            .sum();
        Shading {
            falloff: -(fit[3] + fit[4]),
            tilt: 2.0 * fit[1].hypot(fit[2]),
            residual: (squares / points.len() as f64).sqrt(),
        }
    }
}

/// What an encoded value is in linear light. Source: IEC 61966-2-1 (from memory).
pub fn linear(encoded: f64) -> f64 {
    if encoded <= 0.040_45 {
        encoded / 12.92
    } else {
        ((encoded + 0.055) / 1.055).powf(2.4)
    }
}

/// Coefficients by normal equations and elimination. `None` where the points do not determine them.
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

    /// An even field behind a lens that loses so many stops towards the corners.
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
