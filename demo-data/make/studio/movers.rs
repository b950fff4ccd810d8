//! Satellites and aircraft: lights that cross the sky of a run. Only in large pictures; in small ones they would not be seen.

use super::heavens::{Arrow, apart_deg, arrow, cross, dot, to_length_one};
use super::night::Light;
use super::shots::Shot;

/// A light that moves at an even speed along a great circle.
struct Mover {
    /// Number of the first file of its run, and the letters of its body.
    run: (&'static str, u16),
    /// When it begins, in seconds after the run's first frame.
    begin_s: f64,
    /// How long it is seen.
    length_s: f64,
    /// Azimuth and altitude where it begins, and where it ends.
    way_deg: [(f64, f64); 2],
    /// Light on a degree of its way, in the unit of the sky.
    light: f64,
    /// Its colour.
    tint: Light,
    /// Seconds between two flashes, and their light; 0 for none.
    flashes: (f64, f64),
}

const SATELLITE: Mover = Mover {
    run: ("N6A_", 414),
    begin_s: 0.0,
    length_s: 60.0,
    way_deg: [(0.0, 0.0); 2],
    light: 0.5,
    tint: [1.0, 0.96, 0.9],
    flashes: (0.0, 0.0),
};

/// Every one.
const MOVERS: &[Mover] = &[
    Mover {
        begin_s: 190.0,
        length_s: 110.0,
        way_deg: [(40.0, 22.0), (100.0, 52.0)],
        ..SATELLITE
    },
    Mover {
        run: ("N6A_", 458),
        begin_s: 60.0,
        length_s: 90.0,
        way_deg: [(165.0, 45.0), (222.0, 18.0)],
        ..SATELLITE
    },
    Mover {
        run: ("N6A_", 458),
        begin_s: 215.0,
        length_s: 190.0,
        way_deg: [(232.0, 24.0), (160.0, 33.0)],
        light: 0.25,
        tint: [1.0, 0.75, 0.6],
        flashes: (1.3, 0.25),
    },
    Mover {
        run: ("N2M_", 2207),
        begin_s: 100.0,
        length_s: 120.0,
        way_deg: [(340.0, 30.0), (52.0, 55.0)],
        ..SATELLITE
    },
];

/// Points of light that leave their trails in a frame: directions over the site, light, colour. `scale` is pixels a radian.
pub fn lights(shot: &Shot, scale: f64) -> Vec<(Arrow, f64, Light)> {
    let Ok(begin) = shot.run.start_utc.parse::<jiff::Timestamp>() else {
        return Vec::new();
    };
    let open_s = (shot.start_ms - begin.as_millisecond()) as f64 / 1000.0;
    let shut_s = open_s + shot.exposure_ms() as f64 / 1000.0;
    let mut all = Vec::new();
    let of_run = |mover: &&Mover| mover.run == (shot.run.body.stem, shot.run.number);
    for mover in MOVERS.iter().filter(of_run) {
        let [from, to] = mover.way_deg.map(|(az, alt)| arrow(az, alt));
        let (whole_deg, ahead) = (apart_deg(from, to), ahead(from, to));
        let at = |second: f64| {
            let way = (second - mover.begin_s) / mover.length_s * whole_deg;
            let (sin, cos) = way.to_radians().sin_cos();
            [0, 1, 2].map(|k| from[k] * cos + ahead[k] * sin)
        };
        let (first, last) = (
            open_s.max(mover.begin_s),
            shut_s.min(mover.begin_s + mover.length_s),
        );
        // Three points on a pixel.
        let step_s = mover.length_s / (whole_deg.to_radians() * scale * 3.0);
        let light = mover.light / (3.0 * scale.to_radians());
        let mut second = first;
        while second < last {
            all.push((at(second), light, mover.tint));
            second += step_s;
        }
        let (every_s, flash) = mover.flashes;
        let mut second = every_s * (first / every_s).ceil();
        while every_s > 0.0 && second < last {
            all.push((at(second), flash, [1.0; 3]));
            second += every_s;
        }
    }
    all
}

/// The direction square to `from` that leads to `to`.
fn ahead(from: Arrow, to: Arrow) -> Arrow {
    let axis = to_length_one(cross(from, to));
    let ahead = cross(axis, from);
    if dot(ahead, to) < 0.0 {
        return ahead.map(|part| -part);
    }
    ahead
}
