//! The camera that draws as a solution of FITS says: one of our lenses, fitted to it on a grid. Reads nothing.

use crate::pointing::camera::Camera;
use crate::pointing::fit::Freedom;
use crate::pointing::fit::PARAMETERS;
use crate::pointing::fit::Sight;
use crate::pointing::fit::fitted;
use crate::pointing::fit::residual_px;
use crate::pointing::law::Law;
use crate::pointing::lens::Lens;
use crate::pointing::vector::Vector;
use crate::pointing::vector::cross;
use crate::pointing::vector::dot;
use crate::pointing::vector::orthonormal;
use crate::pointing::vector::plus;
use crate::pointing::vector::scaled;
use crate::pointing::wcs::header::Wcs;

/// Points of the grid along and across.
const GRID: (usize, usize) = (25, 17);
/// The share of the grid that must be on the sky.
const LEAST: f64 = 0.6;
/// Pictures whose shapes differ more than this are not the same.
const SHAPE: f64 = 0.01;
/// The greatest root mean square of what a lens of ours leaves, as a share of the picture's width: 4 pixels in 1,620.
const MOST_LEFT: f64 = 0.002_5;
/// Rounds of a fit.
const ROUNDS: u32 = 6;

/// In which order a file has the rows of a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rows {
    /// The first row is the top one.
    TopFirst,
    /// The first row is the bottom one.
    BottomFirst,
}

/// A camera fitted to a solution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FromWcs {
    /// The camera; its directions are ICRS.
    pub camera: Camera,
    /// Root mean square of what is left, in pixels of the full picture.
    pub residual_px: f64,
    /// The order of the rows: the sky is not mirrored in one of them.
    pub rows: Rows,
}

/// The camera for a solution, over a full picture of this size.
///
/// Refuses: a picture of another shape, a projection that leaves most of the picture without sky, a distortion that none of our
/// lenses has.
pub fn camera_of(wcs: &Wcs, (width, height): (f64, f64)) -> Result<FromWcs, String> {
    let (solved_width, solved_height) = wcs.size.unwrap_or((width, height));
    let (by_x, by_y) = (solved_width / width, solved_height / height);
    if (by_x / by_y - 1.0).abs() > SHAPE {
        return Err(format!(
            "it solves a picture of {solved_width} by {solved_height} pixels, another shape than the frame's {width} by {height}"
        ));
    }
    let direction = |(x, y): (f64, f64), rows: Rows| {
        let down = (y + 0.5) * by_y;
        let row = match rows {
            Rows::TopFirst => down + 0.5,
            Rows::BottomFirst => solved_height + 0.5 - down,
        };
        wcs.direction(((x + 0.5) * by_x + 0.5, row))
    };
    let middle = ((width - 1.0) / 2.0, (height - 1.0) / 2.0);
    let off_sky = || "most of the frame's picture is outside its projection".to_owned();
    let scale = |rows: Rows| {
        let at = |x: f64, y: f64| direction((middle.0 + x, middle.1 + y), rows);
        let forward = at(0.0, 0.0)?;
        let right = plus(at(1.0, 0.0)?, scaled(at(-1.0, 0.0)?, -1.0));
        let down = plus(at(0.0, 1.0)?, scaled(at(0.0, -1.0)?, -1.0));
        Some((forward, right, down))
    };
    let (forward, right, down) = scale(Rows::TopFirst).ok_or_else(off_sky)?;
    // Seen from within, right by down is forward: rows in the wrong order mirror the sky.
    let rows = if dot(cross(right, down), forward) > 0.0 {
        Rows::TopFirst
    } else {
        Rows::BottomFirst
    };
    let sights = grid((width, height), |pixel| direction(pixel, rows));
    if sights.len() < 12 || (sights.len() as f64) < LEAST * (GRID.0 * GRID.1) as f64 {
        return Err(off_sky());
    }
    let f_px = 2.0 / dot(right, right).sqrt();
    let start = orthonormal(&[right, cross(forward, right), forward]);
    let best = best_lens(start, f_px, (width, height), &sights).ok_or_else(off_sky)?;
    if best.1 > MOST_LEFT * width {
        return Err(format!(
            "no lens of ours draws as it says: {:.1} pixels are left",
            best.1
        ));
    }
    Ok(FromWcs {
        camera: best.0,
        residual_px: best.1,
        rows,
    })
}

/// The camera that draws as a function from pixels to directions says, near another one; and what is left, root mean square in
/// pixels. Gives nothing where the function knows less than half of the picture.
pub fn camera_near(
    start: &Camera,
    direction: impl FnMut((f64, f64)) -> Option<Vector>,
) -> Option<(Camera, f64)> {
    let sights = grid((start.lens.width, start.lens.height), direction);
    if sights.len() * 2 < GRID.0 * GRID.1 {
        return None;
    }
    in_rounds(*start, &sights)
}

/// A camera fitted to the grid, and what is left.
fn in_rounds(mut camera: Camera, sights: &[Sight]) -> Option<(Camera, f64)> {
    let freedom = Freedom {
        parameters: PARAMETERS,
        expected_f: None,
    };
    for _ in 0..ROUNDS {
        camera = fitted(&camera, sights, 1e9, freedom);
    }
    Some((camera, residual_px(&camera, sights)?))
}

/// Points over the whole picture, edges included, with their directions where there are any.
fn grid(
    (width, height): (f64, f64),
    mut direction: impl FnMut((f64, f64)) -> Option<Vector>,
) -> Vec<Sight> {
    let mut sights = Vec::new();
    for i in 0..GRID.0 {
        for j in 0..GRID.1 {
            let x = (width - 1.0) * i as f64 / (GRID.0 - 1) as f64;
            let y = (height - 1.0) * j as f64 / (GRID.1 - 1) as f64;
            if let Some(direction) = direction((x, y)) {
                sights.push(Sight { direction, x, y });
            }
        }
    }
    sights
}

/// The lens of all laws that leaves least.
fn best_lens(
    rows: [Vector; 3],
    f_px: f64,
    size: (f64, f64),
    sights: &[Sight],
) -> Option<(Camera, f64)> {
    Law::ALL
        .into_iter()
        .filter_map(|law| {
            let lens = Lens::plain(law, f_px, size);
            in_rounds(Camera { lens, rows }, sights)
        })
        .min_by(|a, b| a.1.total_cmp(&b.1))
}
