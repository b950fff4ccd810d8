//! Meteors on the plane that touches the sky at their radiant: against the printed example, and against astropy's TAN.

use framefall::pointing::gnomonic::gnomonic;
use framefall::pointing::vector::angle_rad;
use framefall::pointing::vector::cross;
use framefall::pointing::vector::dot;
use framefall::pointing::vector::from_angles_rad;
use framefall::pointing::vector::unit;

const POLE: [f64; 3] = [0.0, 0.0, 1.0];

fn direction(longitude_deg: f64, latitude_deg: f64) -> [f64; 3] {
    from_angles_rad(longitude_deg.to_radians(), latitude_deg.to_radians())
}

/// Source: Snyder 1987 (USGS Professional Paper 1395), numerical example of the gnomonic projection of the sphere, forward: centre
/// 40° N 100° W, point 30° N 110° W, radius 1: x = -0.1542826, y = -0.1694739 (from memory).
#[test]
fn the_printed_example_comes_out() {
    let (x, y) = gnomonic(direction(-100.0, 40.0), POLE, direction(-110.0, 30.0), 80.0).unwrap();
    assert!(
        (x + 0.154_282_6).abs() < 5e-8 && (y + 0.169_473_9).abs() < 5e-8,
        "{x} {y}"
    );
}

#[test]
fn directions_are_where_astropy_has_them() {
    let table = include_str!("../data/wcs/tangent.csv");
    let rows: Vec<Vec<f64>> = table
        .lines()
        .skip(1)
        .map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
        .collect();
    assert_eq!(rows.len(), 7);
    for row in rows {
        let at = gnomonic(
            direction(row[0], row[1]),
            POLE,
            direction(row[2], row[3]),
            89.0,
        );
        let (east, north) = at.unwrap();
        let off = (east.to_degrees() - row[4]).hypot(north.to_degrees() - row[5]);
        assert!(off < 1e-8, "{row:?} {off}");
    }
    // Behind the plane, and beyond what a chart shows.
    let centre = direction(262.0, 54.0);
    assert_eq!(gnomonic(centre, POLE, direction(100.0, -30.0), 89.0), None);
    assert_eq!(gnomonic(centre, POLE, direction(262.0, -30.0), 78.0), None);
}

/// What the chart is for: the points of a great circle are on a straight line, and one through the centre passes the middle.
#[test]
fn a_great_circle_is_straight() {
    let centre = direction(112.0, 33.0);
    let (a, b) = (direction(140.0, 20.0), direction(150.0, 48.0));
    let pole_of_circle = unit(cross(a, b));
    let at = |d| gnomonic(centre, POLE, d, 78.0).unwrap();
    let (from, to) = (at(a), at(b));
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    for share in [-0.5, 0.3, 0.8, 1.2] {
        let between: [f64; 3] = std::array::from_fn(|k| a[k] + share * (b[k] - a[k]));
        let (x, y) = at(unit(between));
        let off = ((x - from.0) * dy - (y - from.1) * dx) / dx.hypot(dy);
        assert!(off.abs() < 1e-12, "{share} {off}");
    }
    // Its distance from the middle is the tangent of how far the circle passes the centre.
    let off = (from.0 * dy - from.1 * dx).abs() / dx.hypot(dy);
    let miss = dot(pole_of_circle, centre).asin().abs();
    assert!((off.atan() - miss).abs() < 1e-12, "{off} {miss}");
    assert!((at(a).0.hypot(at(a).1).atan() - angle_rad(centre, a)).abs() < 1e-12);
}
