//! A camera as cards of a FITS header: `TAN` where it draws so, else `ZPN`. Fits nothing but the polynomial.

use crate::pointing::camera::Camera;
use crate::pointing::law::Law;
use crate::pointing::lens::Lens;
use crate::pointing::vector::Vector;
use crate::pointing::vector::dot;
use crate::pointing::wcs::cards::Written;

/// Terms of the polynomial: odd powers up to 19.
const TERMS: usize = 10;
/// Points at which it is taken.
const NODES: usize = 64;
/// A lens that is off the gnomonic projection by no more than this in pixels is written as `TAN`.
const AS_TAN_PX: f64 = 0.01;
/// Farther from the axis, 120°, no lens of ours draws.
const FARTHEST_RAD: f64 = 2.1;
/// The polynomial may be off by no more than this in pixels.
const MOST_OFF_PX: f64 = 0.05;

/// The header of a camera among the stars (ICRS), as a whole FITS file without data. The first row is the top one.
///
/// Takes: the name of the file of the picture.
/// Gives: nothing for a lens that no polynomial follows to the corners of the picture.
pub fn written(camera: &Camera, file: &str) -> Option<Vec<u8>> {
    let lens = &camera.lens;
    let polynomial = polynomial(lens)?;
    let projection = if is_tan(lens) { "TAN" } else { "ZPN" };
    let [right, down, forward] = camera.rows;
    let dec = forward[2].atan2(forward[0].hypot(forward[1]));
    let ra = forward[1]
        .atan2(forward[0])
        .rem_euclid(std::f64::consts::TAU);
    let east = [-ra.sin(), ra.cos(), 0.0];
    let north = [-dec.sin() * ra.cos(), -dec.sin() * ra.sin(), dec.cos()];
    let scale = |a: Vector, b: Vector| (dot(a, b) / lens.f_px).to_degrees();
    let mut cards = Written::default();
    cards.plain("SIMPLE", "T", "FITS Standard 4.0");
    cards.plain("BITPIX", "8", "");
    cards.plain("NAXIS", "0", "no data: the picture is in another file");
    cards.plain("WCSAXES", "2", "");
    cards.text("CTYPE1", &format!("RA---{projection}"), "");
    cards.text("CTYPE2", &format!("DEC--{projection}"), "");
    cards.text("CUNIT1", "deg", "");
    cards.text("CUNIT2", "deg", "");
    cards.number(
        "CRVAL1",
        ra.to_degrees(),
        "right ascension of the optical axis",
    );
    cards.number(
        "CRVAL2",
        dec.to_degrees(),
        "declination of the optical axis",
    );
    cards.number("CRPIX1", lens.cx + 1.0, "its pixel; the first one is 1");
    cards.number("CRPIX2", lens.cy + 1.0, "its row; the top one is 1");
    cards.number("CD1_1", scale(right, east), "");
    cards.number("CD1_2", scale(down, east), "");
    cards.number("CD2_1", scale(right, north), "");
    cards.number("CD2_2", scale(down, north), "");
    cards.plain("LONPOLE", "180.0", "");
    cards.text("RADESYS", "ICRS", "");
    if projection == "ZPN" {
        for (number, value) in polynomial.iter().enumerate() {
            cards.number(&format!("PV2_{}", 2 * number + 1), *value, "");
        }
    }
    cards.plain(
        "IMAGEW",
        &format!("{}", lens.width),
        "width of the picture in pixels",
    );
    cards.plain(
        "IMAGEH",
        &format!("{}", lens.height),
        "height of the picture in pixels",
    );
    cards.text("FILE", file, "file of the picture");
    cards.comment("Rows count from the top of the picture as stored (EXIF orientation 1).");
    Some(cards.ended())
}

fn is_tan(lens: &Lens) -> bool {
    lens.law == Law::Rectilinear && {
        let corner = farthest_px(lens);
        let square = (corner / lens.half_diagonal_px()).powi(2);
        (corner * (square * (lens.k1.abs() + square * lens.k2.abs()))).abs() < AS_TAN_PX
    }
}

/// From the optical axis to the farthest corner.
fn farthest_px(lens: &Lens) -> f64 {
    let far = |centre: f64, size: f64| (centre + 0.5).max(size - 0.5 - centre);
    far(lens.cx, lens.width).hypot(far(lens.cy, lens.height))
}

/// The odd powers of the distance in focal lengths by the angle in radians, as far as the corners.
///
/// Source: Chebyshev's series through nodes, common practice.
fn polynomial(lens: &Lens) -> Option<[f64; TERMS]> {
    let value = |angle: f64| {
        let (sin, cos) = angle.sin_cos();
        lens.draw([sin, 0.0, cos])
            .map(|drawn| drawn.distorted / lens.f_px)
    };
    // A little beyond the corner, or as far as the lens draws: a fisheye leaves the corners dark.
    let last = match lens.unproject((lens.cx + farthest_px(lens), lens.cy)) {
        Some([x, y, z]) => x.hypot(y).atan2(z) * 1.02,
        None => FARTHEST_RAD,
    };
    let last = (0..60)
        .map(|step| last - 0.05 * f64::from(step))
        .find(|angle| *angle > 0.0 && value(*angle).is_some())?;
    let mut series = [0.0; TERMS];
    let step = std::f64::consts::PI / NODES as f64;
    for node in 0..NODES {
        let at = (node as f64 + 0.5) * step;
        // Odd: the other side of the axis is the same turned round.
        let here = value((at.cos() * last).abs())?.copysign(at.cos());
        for (term, sum) in series.iter_mut().enumerate() {
            *sum += 2.0 / NODES as f64 * here * ((2 * term + 1) as f64 * at).cos();
        }
    }
    let powers = as_powers(&series, last);
    let worst = (0..=200)
        .map(|number| f64::from(number) / 200.0 * last / 1.02)
        .filter_map(|angle| {
            value(angle).map(|exact| (of(&powers, angle) - exact).abs() * lens.f_px)
        })
        .fold(0.0, f64::max);
    (worst < MOST_OFF_PX).then_some(powers)
}

fn of(powers: &[f64; TERMS], angle: f64) -> f64 {
    let square = angle * angle;
    powers
        .iter()
        .rev()
        .fold(0.0, |sum, power| sum * square + power)
        * angle
}

/// The same polynomial by its powers.
fn as_powers(series: &[f64; TERMS], last: f64) -> [f64; TERMS] {
    const ALL: usize = 2 * TERMS;
    let mut powers = [0.0; TERMS];
    let (mut before, mut now) = ([0.0; ALL], [0.0; ALL]);
    (before[0], now[1]) = (1.0, 1.0);
    for degree in 1..ALL {
        if degree % 2 == 1 {
            for term in 0..TERMS {
                powers[term] += series[degree / 2] * now[2 * term + 1];
            }
        }
        // T(n+1) = 2 x T(n) - T(n-1).
        let mut next = before.map(|power| -power);
        for power in 1..ALL {
            next[power] += 2.0 * now[power - 1];
        }
        (before, now) = (now, next);
    }
    let mut scale = 1.0 / last;
    for power in &mut powers {
        *power *= scale;
        scale /= last * last;
    }
    powers
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pointing::vector::angle_rad;
    use crate::pointing::vector::turned_further;
    use crate::pointing::wcs::cards::headers;
    use crate::pointing::wcs::fitted::Rows;
    use crate::pointing::wcs::fitted::camera_of;
    use crate::pointing::wcs::header::wcs_of;

    fn camera(law: Law, f_px: f64, distortion: (f64, f64)) -> Camera {
        let mut lens = Lens::plain(law, f_px, (6000.0, 4000.0));
        (lens.k1, lens.k2) = distortion;
        (lens.cx, lens.cy) = (3007.0, 1991.5);
        Camera {
            lens,
            rows: turned_further(
                &[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
                [0.7, -0.4, 1.9],
            ),
        }
    }

    /// What is written is read as the same directions, and the same camera is fitted to it.
    #[test]
    fn a_written_camera_comes_back() {
        for (law, f_px, distortion) in [
            (Law::Rectilinear, 2_333.0, (0.0, 0.0)),
            (Law::Rectilinear, 2_333.0, (-0.03, 0.008)),
            (Law::Rectilinear, 14_000.0, (0.01, -0.004)),
            (Law::Equisolid, 1_330.0, (0.01, 0.0)),
            (Law::Equidistant, 2_500.0, (0.0, 0.0)),
            (Law::Stereographic, 2_500.0, (-0.02, 0.01)),
        ] {
            let one = camera(law, f_px, distortion);
            let bytes = written(&one, "N6A_0442.DNG").unwrap();
            let wcs = wcs_of(&headers(&bytes).unwrap()).unwrap();
            assert_eq!(wcs.size, Some((6000.0, 4000.0)));
            for pixel in [
                (0.0, 0.0),
                (5999.0, 3999.0),
                (3007.0, 1991.5),
                (800.0, 3100.0),
            ] {
                let (x, y) = pixel;
                let Some(truth) = one.unproject(pixel) else {
                    continue;
                };
                let read = wcs.direction((x + 1.0, y + 1.0)).unwrap();
                let off_px = angle_rad(read, truth) * f_px;
                assert!(off_px < 0.05, "{law:?} {f_px} {pixel:?} {off_px}");
            }
            let back = camera_of(&wcs, (6000.0, 4000.0)).unwrap();
            assert_eq!(back.rows, Rows::TopFirst);
            assert!(
                back.residual_px < 0.5,
                "{law:?} {f_px} {}",
                back.residual_px
            );
            let direction = one.unproject((800.0, 3100.0)).unwrap();
            let (x, y) = back.camera.project(direction).unwrap();
            assert!((x - 800.0).hypot(y - 3100.0) < 0.5, "{law:?} {x} {y}");
            // Solved on a preview of another size.
            let half = camera_of(&wcs, (3000.0, 2000.0)).unwrap();
            let (x, y) = half.camera.project(direction).unwrap();
            assert!((x - 399.75).hypot(y - 1549.75) < 0.5, "{law:?} {x} {y}");
            assert!(
                camera_of(&wcs, (4000.0, 4000.0))
                    .unwrap_err()
                    .contains("shape")
            );
        }
    }
}
