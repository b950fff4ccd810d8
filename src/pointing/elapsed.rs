//! How much time passed between two pictures of one camera on a tripod, by the turn of the sky. Knows no clock and no site.
//!
//! The lens of one picture is kept for both: each fit puts the optical axis elsewhere, which alone is a turn of many seconds. What
//! a fit knows well is where each pixel looks, so the lens of the first is turned until its pixels look where those of the second
//! do.

use crate::pointing::camera::Camera;
use crate::pointing::fit::Freedom;
use crate::pointing::fit::Sight;
use crate::pointing::fit::fitted;
use crate::pointing::fit::residual_px;
use crate::pointing::region::holds;
use crate::pointing::vector::Matrix;
use crate::pointing::vector::Vector;
use crate::pointing::vector::dot;
use crate::pointing::vector::plus;
use crate::pointing::vector::scaled;
use crate::pointing::vector::turned_about;
use crate::pointing::vector::turned_back;
use crate::terms::pointing::MeasuredPointing;

/// The sky's turn in radians a second.
///
/// Source: IERS Conventions 2010, eq. 5.15 (from memory): 1.00273781191135448 turns a day.
pub const TURN_RAD_S: f64 = std::f64::consts::TAU * 1.002_737_811_911_354_5 / 86_400.0;
/// Points of the picture along and across that are compared.
const GRID: (usize, usize) = (24, 16);
/// Fewer of them in the sky tell nothing.
const LEAST_SIGHTS: usize = 12;
/// A turn of the camera aside of the Earth's axis, in radians, below which the tripod counts as unmoved: 2 arcminutes.
///
/// Source: measured on drawn previews: 0.1 arcminutes in the middle frame, 1.1 in the worst.
const UNMOVED_RAD: f64 = 0.000_58;
/// So many times wider is that limit for each second of error.
///
/// Source: measured on drawn previews with 25 to 60 stars: up to 2.3 arcminutes for a second.
const UNMOVED_A_SECOND: f64 = 1.25;
/// What one lens may leave of the other picture, as a share of the width: 4 pixels in 1,620. Another focal length leaves more.
///
/// Source: our choice; two fits of one lens differ by a tenth of that.
const SAME_LENS: f64 = 0.002_5;
/// A small turn in radians.
const SMALL_RAD: f64 = 1e-5;
/// What a fit leaves unknown of the turn, in residuals divided by the root of the stars.
///
/// Source: measured on drawn previews; one parameter alone would leave 0.7.
const OF_RESIDUAL: f64 = 1.0;

/// A camera among the stars, and how well it is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Pointed {
    /// Its directions are ICRS.
    pub camera: Camera,
    /// Root mean square of what the fit left, in pixels.
    pub residual_px: f64,
    /// Stars that it was fitted to.
    pub matched: u32,
    /// The corners of the hull of these stars, as [`crate::pointing::region::hull`] gives it; empty where it is not known.
    pub region: Vec<(f64, f64)>,
}

impl Pointed {
    /// A pointing that was kept, and its camera.
    pub fn of(kept: &MeasuredPointing, camera: Camera) -> Self {
        Self {
            camera,
            residual_px: kept.residual_px,
            matched: kept.matched,
            region: kept.region.clone(),
        }
    }
}

/// What the sky says of two pictures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Elapsed {
    /// Seconds from the first to the second; whole sidereal days are added so that it is nearest to what was expected.
    pub seconds: f64,
    /// One sigma of it.
    pub error_s: f64,
    /// The turn of the camera aside of the Earth's axis, in radians: how far the tripod was moved, as far as that shows.
    pub off_axis_rad: f64,
    /// Whether that is within its error: the tripod stood still, as far as the stars tell.
    pub unmoved: bool,
}

/// The time between two pictures of one camera.
///
/// Takes: the direction of the celestial pole among the stars; the seconds that are expected; which directions are sky, not
/// ground. Gives: nothing where the pictures are not of one size and one lens, or too little of them is sky with
/// stars in both.
pub fn elapsed(
    (first, second): (&Pointed, &Pointed),
    pole: Vector,
    expected_s: f64,
    is_sky: &mut dyn FnMut(Vector) -> bool,
) -> Option<Elapsed> {
    let (a, b) = (&first.camera, &second.camera);
    let mut sights = grid(b, is_sky);
    // Where one of them has no stars its fit knows no place, and the tripod holds the pixels still.
    for region in [&first.region, &second.region] {
        sights.retain(|sight| region.is_empty() || holds(region, (sight.x, sight.y)));
    }
    let turned = looking_there(a, b, &sights)?;
    let (mut angle, off_axis_rad) = twist(&a.rows, &turned.rows, pole);
    let turned_by = |angle: f64| Camera {
        lens: a.lens,
        rows: a.rows.map(|row| turned_about(row, pole, angle)),
    };
    let step_at = |angle: f64| step(&turned_by(angle), &turned_by(angle + SMALL_RAD), &sights);
    let share = |one: &Pointed| one.residual_px / f64::from(one.matched.max(1)).sqrt();
    let slope_px_s = step_at(angle)?.1 / SMALL_RAD * TURN_RAD_S;
    let error_s = OF_RESIDUAL * share(first).hypot(share(second)) / slope_px_s;
    let unmoved = off_axis_rad < UNMOVED_RAD * (UNMOVED_A_SECOND * error_s).max(1.0);
    if off_axis_rad < UNMOVED_RAD {
        // Nothing but time has changed.
        for _ in 0..3 {
            angle += step_at(angle)?.0 * SMALL_RAD;
        }
    }
    let days = ((expected_s * TURN_RAD_S - angle) / std::f64::consts::TAU).round();
    Some(Elapsed {
        seconds: (angle + days * std::f64::consts::TAU) / TURN_RAD_S,
        error_s,
        off_axis_rad,
        unmoved,
    })
}

/// How far a camera turned between two pictures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turned {
    /// About the pole, in radians, positive as the Earth turns.
    pub angle_rad: f64,
    /// Aside of it.
    pub aside_rad: f64,
}

/// How far a camera turned about the pole from one picture to another. Gives: nothing where they are not of one size and one lens.
pub fn turned_about_pole(first: &Camera, second: &Camera, pole: Vector) -> Option<Turned> {
    let turned = if first.lens == second.lens {
        *second
    } else {
        looking_there(first, second, &grid(second, &mut |_| true))?
    };
    let (angle_rad, aside_rad) = twist(&first.rows, &turned.rows, pole);
    Some(Turned {
        angle_rad,
        aside_rad,
    })
}

/// The lens of the first camera, turned to look where the second one does. Gives: nothing where too little is compared, or they are
/// not of one size and one lens.
fn looking_there(first: &Camera, second: &Camera, sights: &[Sight]) -> Option<Camera> {
    let size = |one: &Camera| (one.lens.width, one.lens.height);
    if size(first) != size(second) || sights.len() < LEAST_SIGHTS {
        return None;
    }
    let freedom = Freedom {
        parameters: 3,
        expected_f: None,
    };
    let start = Camera {
        lens: first.lens,
        rows: second.rows,
    };
    let turned = fitted(&start, sights, 1e9, freedom);
    (residual_px(&turned, sights)? <= SAME_LENS * first.lens.width).then_some(turned)
}

fn grid(camera: &Camera, is_sky: &mut dyn FnMut(Vector) -> bool) -> Vec<Sight> {
    let mut sights = Vec::new();
    let middle = |at: usize, of: usize, size: f64| (at as f64 + 0.5) / of as f64 * size - 0.5;
    for i in 0..GRID.0 {
        for j in 0..GRID.1 {
            let (x, y) = (
                middle(i, GRID.0, camera.lens.width),
                middle(j, GRID.1, camera.lens.height),
            );
            if let Some(direction) = camera.unproject((x, y)).filter(|d| is_sky(*d)) {
                sights.push(Sight { direction, x, y });
            }
        }
    }
    sights
}

/// How many small turns bring the drawn places nearest to the pixels, and how far one moves them, root mean square in pixels.
fn step(now: &Camera, next: &Camera, sights: &[Sight]) -> Option<(f64, f64)> {
    let (mut along, mut square) = (0.0, 0.0);
    for sight in sights {
        let (x, y) = now.project(sight.direction)?;
        let (u, v) = next.project(sight.direction)?;
        let by = (u - x, v - y);
        along += by.0 * (sight.x - x) + by.1 * (sight.y - y);
        square += by.0 * by.0 + by.1 * by.1;
    }
    (square > 0.0).then(|| (along / square, (square / sights.len() as f64).sqrt()))
}

/// The turn from one attitude to another: its angle about a pole, and what is left of it.
///
/// Source: a rotation as a twist about an axis and a swing aside of it (quaternions, common practice).
fn twist(from: &Matrix, to: &Matrix, pole: Vector) -> (f64, f64) {
    // Columns: what the axes of the sky become.
    let of = |axis: usize| turned_back(to, [from[0][axis], from[1][axis], from[2][axis]]);
    let columns = [of(0), of(1), of(2)];
    let trace = columns[0][0] + columns[1][1] + columns[2][2];
    let axis = [
        columns[1][2] - columns[2][1],
        columns[2][0] - columns[0][2],
        columns[0][1] - columns[1][0],
    ];
    // Half of it is sin of the angle along the axis; four times the square of the quaternion's real part is 1 + trace.
    let real = 0.5 * (1.0 + trace).max(0.0).sqrt();
    let part = if real > 1e-6 {
        scaled(axis, 0.25 / real)
    } else {
        [0.0; 3]
    };
    let along = dot(part, pole);
    let angle = 2.0 * along.atan2(real);
    let swing = 2.0 * along.hypot(real).min(1.0).acos();
    // Arc cosines lose small angles: the part aside of the pole keeps them.
    let aside = plus(part, scaled(pole, -along));
    let small = 2.0 * dot(aside, aside).sqrt();
    (angle, if swing < 0.01 { small } else { swing })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pointing::law::Law;
    use crate::pointing::lens::Lens;
    use crate::pointing::vector::turned_further;

    const POLE: Vector = [0.0, 0.0, 1.0];

    fn pointed(f_px: f64) -> Pointed {
        let mut lens = Lens::plain(Law::Rectilinear, f_px, (6000.0, 4000.0));
        (lens.k1, lens.cx) = (-0.02, 3010.0);
        let still = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        Pointed {
            camera: Camera {
                lens,
                rows: turned_further(&still, [1.3, -0.4, 0.9]),
            },
            residual_px: 1.0,
            matched: 100,
            region: Vec::new(),
        }
    }

    fn later(one: &Pointed, seconds: f64) -> Pointed {
        let mut later = one.clone();
        let angle = TURN_RAD_S * seconds;
        later.camera.rows = one.camera.rows.map(|row| turned_about(row, POLE, angle));
        later
    }

    #[test]
    fn the_turn_of_the_sky_is_the_time() {
        for f_px in [2_300.0, 14_000.0] {
            for seconds in [
                -3_600.0, 0.0, 1.0, 61.5, 3_600.0, 30_000.0, 80_000.0, 90_000.0,
            ] {
                let first = pointed(f_px);
                let second = later(&first, seconds);
                let found = elapsed((&first, &second), POLE, seconds + 9.0, &mut |_| true).unwrap();
                assert!(
                    (found.seconds - seconds).abs() < 1e-3,
                    "{seconds} {found:?}"
                );
                assert!(found.unmoved, "{seconds} {found:?}");
            }
        }
    }

    #[test]
    fn whole_sidereal_days_are_what_is_expected() {
        let first = pointed(2_300.0);
        let second = later(&first, 40.0);
        let day_s = std::f64::consts::TAU / TURN_RAD_S;
        let found = elapsed((&first, &second), POLE, 2.0 * day_s, &mut |_| true).unwrap();
        assert!((found.seconds - 40.0 - 2.0 * day_s).abs() < 1e-3);
    }

    /// A fit that puts the axis elsewhere and turns the camera as much gives the same time: its map is the same.
    #[test]
    fn another_optical_axis_is_no_time() {
        let first = pointed(2_300.0);
        let mut second = later(&first, 600.0);
        let truth = second.camera;
        second.camera.lens.cx += 8.0;
        let sights = grid(&truth, &mut |_| true);
        let freedom = Freedom {
            parameters: 6,
            expected_f: None,
        };
        for _ in 0..3 {
            second.camera = fitted(&second.camera, &sights, 1e9, freedom);
        }
        let plain = twist(&first.camera.rows, &second.camera.rows, POLE);
        assert!(((plain.0 / TURN_RAD_S) - 600.0).abs() > 3.0, "{plain:?}");
        let found = elapsed((&first, &second), POLE, 600.0, &mut |_| true).unwrap();
        assert!((found.seconds - 600.0).abs() < 1.0, "{found:?}");
    }

    /// A lens that is right where its stars are and wrong elsewhere.
    #[test]
    fn only_where_both_have_stars_is_compared() {
        let first = pointed(2_300.0);
        let mut second = later(&first, 600.0);
        let region = vec![
            (0.0, 0.0),
            (2_000.0, 0.0),
            (2_000.0, 3_999.0),
            (0.0, 3_999.0),
        ];
        let mut sights = grid(&second.camera, &mut |_| true);
        sights.retain(|sight| holds(&region, (sight.x, sight.y)));
        second.camera.lens.k1 += 0.01;
        let freedom = Freedom {
            parameters: 3,
            expected_f: None,
        };
        second.camera = fitted(&second.camera, &sights, 1e9, freedom);
        let found = |second: &Pointed| elapsed((&first, second), POLE, 600.0, &mut |_| true);
        let everywhere = found(&second).unwrap().seconds - 600.0;
        second.region = region;
        let there = found(&second).unwrap().seconds - 600.0;
        assert!(
            everywhere.abs() > 3.0 && there.abs() < 1.0,
            "{everywhere} {there}"
        );
        second.region = vec![(0.0, 0.0), (90.0, 0.0), (0.0, 90.0)];
        assert_eq!(found(&second), None);
    }

    /// A tripod turned by five arcminutes about the vertical at latitude 45° shows.
    #[test]
    fn a_moved_tripod_shows_aside_of_the_axis() {
        let first = pointed(2_300.0);
        let mut second = later(&first, 60.0);
        let by = 5.0_f64.to_radians() / 60.0;
        let up = [0.5, 0.5, 0.5_f64.sqrt()];
        second.camera.rows = second.camera.rows.map(|row| turned_about(row, up, by));
        let found = elapsed((&first, &second), POLE, 60.0, &mut |_| true).unwrap();
        assert!(!found.unmoved);
        let expect = by * 0.5_f64.sqrt();
        assert!(
            (found.off_axis_rad / expect - 1.0).abs() < 0.01,
            "{found:?} {expect}"
        );
    }

    #[test]
    fn another_focal_length_says_nothing() {
        let first = pointed(2_300.0);
        let mut second = later(&first, 60.0);
        second.camera.lens.f_px *= 1.03;
        assert_eq!(elapsed((&first, &second), POLE, 60.0, &mut |_| true), None);
    }

    #[test]
    fn too_little_sky_says_nothing() {
        let first = pointed(2_300.0);
        assert_eq!(elapsed((&first, &first), POLE, 0.0, &mut |_| false), None);
    }
}
