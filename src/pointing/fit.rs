//! Least squares: the camera that draws some stars where their images are. Matches nothing.
//!
//! Source: K. Levenberg 1944, D. Marquardt 1963; weights of P. J. Huber 1964 (from memory).

use crate::pointing::camera::Camera;
use crate::pointing::vector::Vector;
use crate::pointing::vector::dot;
use crate::pointing::vector::turned;
use crate::pointing::vector::turned_further;

/// Three turns, focal length, k1, k2, cx, cy.
pub(super) const PARAMETERS: usize = 8;
/// Of these the turns: all that is free where the lens is known.
pub(super) const TURNS: usize = 3;
/// What distortion is likely, one sigma.
pub(super) const PRIOR_K: (f64, f64) = (0.04, 0.03);
/// How far the axis is from the middle, one sigma, in half diagonals.
const PRIOR_CENTRE: f64 = 0.004;
/// The error of a star's place that the expectations are weighed against, in pixels.
const PLACE_PX: f64 = 0.6;
/// Most steps.
const STEPS: u32 = 6;
/// A step shorter than this in pixels is the last.
const ENOUGH_PX: f64 = 2e-4;

/// A star and its image.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sight {
    pub direction: Vector,
    pub x: f64,
    pub y: f64,
}

/// What may be fitted, and what is expected.
#[derive(Clone, Copy, Debug)]
pub(super) struct Freedom {
    /// How many of the parameters, in their order; the axis' place counts as two.
    pub parameters: usize,
    /// The focal length in pixels that is expected, with its relative error; for a known focal length.
    pub expected_f: Option<(f64, f64)>,
}

impl Freedom {
    /// As many parameters as some matches can carry.
    pub fn for_matches(matches: usize, most: usize, expected_f: Option<(f64, f64)>) -> Self {
        let parameters = match matches {
            0..5 => TURNS,
            5..8 => 4,
            8..14 => 5,
            14..22 => 6,
            _ => 8,
        };
        Self {
            parameters: parameters.min(most),
            expected_f,
        }
    }
}

/// Normal equations.
struct Normal {
    a: [[f64; PARAMETERS]; PARAMETERS],
    b: [f64; PARAMETERS],
    cost: f64,
}

/// Fits a camera to what is seen. Weights go down beyond a distance in pixels.
pub(super) fn fitted(start: &Camera, sights: &[Sight], robust_px: f64, freedom: Freedom) -> Camera {
    let mut camera = *start;
    let mut damping = 1e-4;
    let mut normal = normal_equations(&camera, sights, robust_px, freedom);
    for _ in 0..STEPS {
        let Some(step) = solved(&normal, freedom.parameters, damping) else {
            return camera;
        };
        let next = moved(&camera, &step);
        let further = normal_equations(&next, sights, robust_px, freedom);
        if further.cost > normal.cost {
            damping *= 30.0;
            continue;
        }
        let reach = camera.lens.f_px
            * dot([step[0], step[1], step[2]], [step[0], step[1], step[2]]).sqrt()
            + camera.lens.half_diagonal_px() * (step[3].abs() + step[4].abs() + step[5].abs())
            + step[6].abs()
            + step[7].abs();
        camera = next;
        normal = further;
        damping *= 0.1;
        if reach < ENOUGH_PX {
            break;
        }
    }
    camera
}

fn moved(camera: &Camera, step: &[f64; PARAMETERS]) -> Camera {
    let mut next = *camera;
    next.rows = turned_further(&camera.rows, [step[0], step[1], step[2]]);
    next.lens.f_px *= step[3].exp();
    next.lens.k1 += step[4];
    next.lens.k2 += step[5];
    next.lens.cx += step[6];
    next.lens.cy += step[7];
    next
}

fn normal_equations(camera: &Camera, sights: &[Sight], robust_px: f64, freedom: Freedom) -> Normal {
    let mut normal = Normal {
        a: [[0.0; PARAMETERS]; PARAMETERS],
        b: [0.0; PARAMETERS],
        cost: 0.0,
    };
    let count = freedom.parameters;
    for sight in sights {
        let Some((x, y, by)) = derivatives(camera, sight.direction) else {
            normal.cost += robust_px * robust_px * 100.0;
            continue;
        };
        let (dx, dy) = (sight.x - x, sight.y - y);
        let off = dx.hypot(dy);
        let weight = if off > robust_px {
            robust_px / off
        } else {
            1.0
        };
        normal.cost += if off > robust_px {
            robust_px * (2.0 * off - robust_px)
        } else {
            off * off
        };
        for i in 0..count {
            normal.b[i] += weight * (by[0][i] * dx + by[1][i] * dy);
            for j in 0..=i {
                normal.a[i][j] += weight * (by[0][i] * by[0][j] + by[1][i] * by[1][j]);
            }
        }
    }
    let lens = &camera.lens;
    let half = lens.half_diagonal_px();
    let middle = ((lens.width - 1.0) / 2.0, (lens.height - 1.0) / 2.0);
    let mut expect = |at: usize, off: f64, sigma: f64| {
        if at < count {
            let weight = (PLACE_PX / sigma).powi(2);
            normal.a[at][at] += weight;
            normal.b[at] += weight * off;
            normal.cost += weight * off * off;
        }
    };
    if let Some((f_px, error)) = freedom.expected_f {
        expect(3, (f_px / lens.f_px).ln(), error);
    }
    expect(4, -lens.k1, PRIOR_K.0);
    expect(5, -lens.k2, PRIOR_K.1);
    expect(6, middle.0 - lens.cx, PRIOR_CENTRE * half);
    expect(7, middle.1 - lens.cy, PRIOR_CENTRE * half);
    normal
}

/// Where a direction is drawn, and how that changes with each parameter.
#[allow(clippy::type_complexity)] // two rows of derivatives
fn derivatives(camera: &Camera, direction: Vector) -> Option<(f64, f64, [[f64; PARAMETERS]; 2])> {
    let drawn = camera.lens.draw(turned(&camera.rows, direction))?;
    let (e, t) = (drawn.about, (-drawn.about.1, drawn.about.0));
    let square = (drawn.r / camera.lens.half_diagonal_px()).powi(2);
    let around = if drawn.sin > 1e-9 {
        drawn.distorted / drawn.sin
    } else {
        drawn.per_theta
    };
    // A small turn w moves c by w x c: along the radius by w . phi, around by -w . theta.
    let theta = [drawn.cos * e.0, drawn.cos * e.1, -drawn.sin];
    let phi = [t.0, t.1, 0.0];
    let row = |e: f64, t: f64, centre: (f64, f64)| {
        let turn = |k: usize| e * drawn.per_theta * phi[k] - t * around * theta[k];
        [
            turn(0),
            turn(1),
            turn(2),
            e * drawn.slope * drawn.r,
            e * drawn.r * square,
            e * drawn.r * square * square,
            centre.0,
            centre.1,
        ]
    };
    Some((
        drawn.x,
        drawn.y,
        [row(e.0, t.0, (1.0, 0.0)), row(e.1, t.1, (0.0, 1.0))],
    ))
}

#[allow(clippy::needless_range_loop)] // indices as in the books
/// Solves the damped equations by Cholesky's decomposition.
fn solved(normal: &Normal, count: usize, damping: f64) -> Option<[f64; PARAMETERS]> {
    let mut l = [[0.0; PARAMETERS]; PARAMETERS];
    for i in 0..count {
        for j in 0..=i {
            let mut sum = normal.a[i][j];
            if i == j {
                sum *= 1.0 + damping;
            }
            for k in 0..j {
                sum -= l[i][k] * l[j][k];
            }
            if i == j {
                if sum <= 0.0 || !sum.is_finite() {
                    return None;
                }
                l[i][i] = sum.sqrt();
            } else {
                l[i][j] = sum / l[j][j];
            }
        }
    }
    let mut x = [0.0; PARAMETERS];
    for i in 0..count {
        let sum: f64 = (0..i).map(|k| l[i][k] * x[k]).sum();
        x[i] = (normal.b[i] - sum) / l[i][i];
    }
    for i in (0..count).rev() {
        let sum: f64 = (i + 1..count).map(|k| l[k][i] * x[k]).sum();
        x[i] = (x[i] - sum) / l[i][i];
    }
    Some(x)
}

/// Root mean square of what a camera leaves, in pixels; nothing where it does not draw a point.
pub(super) fn residual_px(camera: &Camera, sights: &[Sight]) -> Option<f64> {
    let mut sum = 0.0;
    for sight in sights {
        let (x, y) = camera.project(sight.direction)?;
        sum += (x - sight.x).powi(2) + (y - sight.y).powi(2);
    }
    Some((sum / sights.len() as f64).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pointing::law::Law;
    use crate::pointing::lens::Lens;

    fn camera() -> Camera {
        let mut lens = Lens::plain(Law::Equisolid, 700.0, (1620.0, 1080.0));
        (lens.k1, lens.k2, lens.cx) = (0.02, -0.01, 812.0);
        Camera {
            lens,
            rows: turned_further(
                &[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
                [0.5, -0.2, 0.3],
            ),
        }
    }

    #[test]
    fn derivatives_are_what_small_changes_do() {
        let camera = camera();
        let direction = camera.unproject((300.0, 200.0)).unwrap();
        let (x, y, by) = derivatives(&camera, direction).unwrap();
        for k in 0..PARAMETERS {
            let mut step = [0.0; PARAMETERS];
            let size = if k < 6 { 1e-6 } else { 1e-3 };
            step[k] = size;
            let (u, v) = moved(&camera, &step).project(direction).unwrap();
            assert!(
                ((u - x) / size - by[0][k]).abs() < 0.02 + 1e-4 * by[0][k].abs(),
                "{k}"
            );
            assert!(
                ((v - y) / size - by[1][k]).abs() < 0.02 + 1e-4 * by[1][k].abs(),
                "{k}"
            );
        }
    }

    #[test]
    fn a_camera_is_found_again_from_its_own_stars() {
        let truth = camera();
        let mut sights = Vec::new();
        for i in 0..9_u16 {
            for j in 0..6_u16 {
                let (x, y) = (f64::from(i) * 190.0 + 50.0, f64::from(j) * 200.0 + 30.0);
                if let Some(direction) = truth.unproject((x, y)) {
                    sights.push(Sight { direction, x, y });
                }
            }
        }
        let start = moved(&truth, &[0.01, -0.01, 0.02, 0.01, -0.02, 0.01, -2.0, 1.0]);
        let freedom = Freedom {
            parameters: 8,
            expected_f: None,
        };
        let mut found = fitted(&start, &sights, 1e6, freedom);
        found = fitted(&found, &sights, 1e6, freedom);
        for sight in &sights {
            let (x, y) = found.project(sight.direction).unwrap();
            // What is expected of lenses pulls a little.
            assert!((x - sight.x).hypot(y - sight.y) < 0.05);
        }
    }
}
