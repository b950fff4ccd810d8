//! Where cameras pointed, against rendered previews whose truth is known, and worked numbers.

use std::collections::HashMap;
use std::fs;
use std::path::PathBuf;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;
use std::thread;

use framefall::capture::claims::Allowance;
use framefall::capture::picture::Limits;
use framefall::capture::preview::decode_grey;
use framefall::picture::find::stars as find_stars;
use framefall::pointing::answer::Hint;
use framefall::pointing::answer::Refusal;
use framefall::pointing::camera::Attitude;
use framefall::pointing::camera::Camera;
use framefall::pointing::camera::attitude_rows;
use framefall::pointing::horizon::Misfit;
use framefall::pointing::horizon::over_horizon;
use framefall::pointing::law::Law;
use framefall::pointing::lens::Lens;
use framefall::pointing::solve::solve;
use framefall::pointing::stars::stars;
use framefall::pointing::vector::from_angles_rad;
use framefall::sky::horizon::Horizon;
use framefall::sky::look::Looker;
use framefall::terms::angle::Angle;
use framefall::terms::site::Place;
use framefall::terms::star_image::StarField;
use framefall::terms::time::Utc;
use serde_json::Value;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/pointing")
}

pub struct Preview {
    truth: Value,
    pub field: StarField,
}

impl Preview {
    pub fn read(name: &str) -> Self {
        let limits = Limits {
            allowed: Allowance::PREVIEW,
            stop: None,
        };
        let jpeg = fs::read(folder().join(format!("{name}.JPG"))).unwrap();
        let truth = fs::read(folder().join(format!("{name}.truth.json"))).unwrap();
        Self {
            truth: serde_json::from_slice(&truth).unwrap(),
            field: find_stars(&decode_grey(&jpeg, &limits).unwrap()),
        }
    }

    fn number(&self, key: &str) -> f64 {
        self.truth[key].as_f64().unwrap()
    }

    pub fn years(&self) -> f64 {
        let year = self.truth["utc_mid"].as_str().unwrap().get(..4).unwrap();
        year.parse::<f64>().unwrap() + 0.5 - 2000.0
    }

    pub fn hint(&self) -> Hint {
        let widths = self.number("focal_mm") / self.number("sensor_w_mm");
        Hint {
            f_px: Some(widths * self.field.width as f64),
            years: Some(self.years()),
            cameras: [None; 2],
        }
    }

    pub fn horizon(&self, later_s: f64) -> Horizon {
        let at = format!("{}Z", self.truth["utc_mid"].as_str().unwrap());
        let at = Utc::parse(&at).unwrap().plus_s(later_s).unwrap();
        let site = |key: &str| self.truth["site"][key].as_f64().unwrap();
        let place = Place::new(site("lat"), site("lon"), site("h_m")).unwrap();
        Looker::new().horizon(at, place).unwrap()
    }

    /// How far stars are from where they truly are, in pixels: root mean square, and worst.
    pub fn errors(&self, camera: &Camera, horizon: &Horizon) -> (f64, f64) {
        let by_id: HashMap<&str, usize> =
            stars().iter().enumerate().map(|(k, s)| (s.id, k)).collect();
        let (mut squares, mut worst, mut count) = (0.0, 0.0_f64, 0.0);
        for row in self.truth["stars"].as_array().unwrap() {
            // A handful of fainter stars are the renderer's alone.
            let Some(star) = by_id.get(row[0].as_str().unwrap()) else {
                continue;
            };
            let there = horizon.seen(stars()[*star].direction(self.years()));
            let (x, y) = camera.project(there).unwrap();
            let off = (x - row[1].as_f64().unwrap()).hypot(y - row[2].as_f64().unwrap());
            squares += off * off;
            worst = worst.max(off);
            count += 1.0;
        }
        (f64::sqrt(squares / count), worst)
    }
}

/// All twenty, with the focal length as EXIF has it: those with stars are solved to a third of a pixel over the whole sky, those
/// without are refused.
#[test]
fn rendered_previews_are_solved_to_a_third_of_a_pixel() {
    let names: Vec<String> = (1..=20).map(|k| format!("F{k:03}")).collect();
    let next = AtomicUsize::new(0);
    let mut all: Vec<(usize, f64)> = Vec::new();
    let work = || {
        let mut errors = Vec::new();
        while let Some(name) = names.get(next.fetch_add(1, Ordering::Relaxed)) {
            let preview = Preview::read(name);
            let answer = solve(&preview.field, preview.hint());
            if preview.truth["kind"] == "negative" {
                assert!(answer.is_err(), "{name} shows no star");
                continue;
            }
            let solution = answer.unwrap_or_else(|why| panic!("{name} {why:?}"));
            let horizon = preview.horizon(0.0);
            let over = over_horizon(&preview.field, &solution, preview.years(), &mut |d| {
                horizon.seen(d)
            });
            let over = over.unwrap_or_else(|why| panic!("{name} {why:?}"));
            let (error, worst) = preview.errors(&over.camera, &horizon);
            println!(
                "{name} {} stars, {:.2} px left, {error:.3} px off, {worst:.2} at worst",
                over.matched, over.residual_px
            );
            assert!(error < 0.35 && worst < 1.0, "{name} {error} {worst}");
            for radiant in preview.truth["radiants"].as_array().unwrap() {
                let angle = |k: usize| radiant[k].as_f64().unwrap().to_radians();
                let pixel = (
                    radiant[3][0].as_f64().unwrap(),
                    radiant[3][1].as_f64().unwrap(),
                );
                if !over.camera.lens.contains(pixel, 0.0) {
                    continue;
                }
                let there = horizon.seen(from_angles_rad(angle(1), angle(2)));
                let (x, y) = over.camera.project(there).unwrap();
                assert!((x - pixel.0).hypot(y - pixel.1) < 0.5, "{name} {radiant}");
            }
            let axis = over.camera.attitude();
            assert!(
                (axis.alt.deg() - preview.number("alt_deg")).abs() < 0.2,
                "{name}"
            );
            errors.push((over.matched, error));
        }
        errors
    };
    thread::scope(|scope| {
        let others: Vec<_> = (0..3).map(|_| scope.spawn(work)).collect();
        for other in others {
            all.extend(other.join().unwrap());
        }
    });
    assert_eq!(all.len(), 18);
    let mut errors: Vec<f64> = all.iter().map(|(_, error)| *error).collect();
    errors.sort_by(f64::total_cmp);
    assert!(errors[errors.len() / 2] < 0.12, "{errors:?}");
}

/// Stars mirrored or scattered are no sky, whatever the focal length is said to be.
#[test]
fn no_sky_is_found_where_there_is_none() {
    let preview = Preview::read("F003");
    let (width, height) = (preview.field.width as f64, preview.field.height as f64);
    let mut mirrored = preview.field.clone();
    mirrored.stars.truncate(120);
    for star in &mut mirrored.stars {
        star.x = width - 1.0 - star.x;
    }
    assert_eq!(
        solve(&mirrored, preview.hint()).unwrap_err(),
        Refusal::NoMatch
    );
    let mut seed = 7_u64;
    let mut random = || {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (seed >> 11) as f64 / (1_u64 << 53) as f64
    };
    let mut scattered = mirrored.clone();
    for star in &mut scattered.stars {
        (star.x, star.y) = (random() * width, random() * height);
    }
    assert_eq!(
        solve(&scattered, preview.hint()).unwrap_err(),
        Refusal::NoMatch
    );
    let mut few = preview.field.clone();
    few.stars.truncate(5);
    assert_eq!(
        solve(&few, preview.hint()).unwrap_err(),
        Refusal::TooFewStars
    );
}

/// Against a horizon of twelve hours later the stars of a picture would be below it, or refracted otherwise.
#[test]
fn a_clock_that_is_wrong_by_half_a_day_does_not_fit_the_horizon() {
    let preview = Preview::read("F009");
    let solution = solve(&preview.field, preview.hint()).unwrap();
    let horizon = preview.horizon(12.0 * 3600.0);
    let over = over_horizon(&preview.field, &solution, preview.years(), &mut |d| {
        horizon.seen(d)
    });
    assert!(
        matches!(
            over,
            Err(Misfit::StarsBelow | Misfit::Worse | Misfit::TooFewStars)
        ),
        "{over:?}"
    );
}

/// Numbers worked for this model by another program, its star places by astropy 7 (`SkyCoord` with proper motion to `AltAz`, no
/// pressure; Castor's, Regulus' and Sirius' Hipparcos places at 2023-12-14T09:12:14.5 from 38.93 N, 116.01 W, 1905 m).
#[test]
fn worked_places_of_stars_and_pixels_of_four_cameras() {
    let at = Utc::parse("2023-12-14T09:12:14.5Z").unwrap();
    let place = Place::new(38.93, -116.01, 1905.0).unwrap();
    let horizon = Looker::new().horizon(at, place).unwrap();
    for (name, alt, az) in [
        ("Castor", 79.68711, 130.66673),
        ("Regulus", 39.99040, 109.45181),
        ("Sirius", 34.23769, 183.80293),
    ] {
        let star = stars().iter().find(|star| star.name == Some(name)).unwrap();
        let [east, north, up] = horizon.geometric(star.direction(23.95));
        let (found_alt, found_az) = (
            up.asin().to_degrees(),
            east.atan2(north).to_degrees().rem_euclid(360.0),
        );
        assert!((found_alt - alt).abs() < 2e-5, "{name} {found_alt}");
        assert!(
            (found_az - az).abs() * alt.to_radians().cos() < 2e-5,
            "{name} {found_az}"
        );
    }
    let seen = [
        ("Castor", 79.68970, 130.66673),
        ("Regulus", 40.00742, 109.45181),
        ("Sirius", 34.25864, 183.80293),
    ];
    for (law, f_px, (width, height), (k1, k2), centre, (alt, roll), pixels) in [
        (
            Law::Rectilinear,
            630.0,
            (1620, 1080),
            (-0.03, 0.008),
            (809.5, 539.5),
            (40.0, 1.5),
            [(882.542, -16.642), (931.843, 526.214), (2145.122, -184.183)],
        ),
        (
            Law::Equisolid,
            675.0,
            (1620, 1080),
            (0.0, 0.0),
            (809.5, 539.5),
            (40.0, 1.5),
            [(872.420, 60.431), (938.811, 525.457), (1472.994, 179.998)],
        ),
        (
            Law::Stereographic,
            693.6416,
            (1600, 1200),
            (0.01, 0.0),
            (801.2, 598.4),
            (40.0, 90.0),
            [(274.483, 515.143), (790.200, 464.539), (373.631, -242.555)],
        ),
        (
            Law::Equidistant,
            739.8844,
            (1600, 1200),
            (0.0, 0.0),
            (799.5, 599.5),
            (88.0, 0.0),
            [(877.014, 681.935), (958.988, 1199.246), (1519.076, 597.419)],
        ),
    ] {
        let mut lens = Lens::plain(law, f_px, (f64::from(width), f64::from(height)));
        (lens.k1, lens.k2, lens.cx, lens.cy) = (k1, k2, centre.0, centre.1);
        let attitude = Attitude {
            alt: Angle::from_deg(alt),
            az: Angle::from_deg(95.0),
            roll: Angle::from_deg(roll),
        };
        let camera = Camera {
            lens,
            rows: attitude_rows(attitude),
        };
        for ((name, alt, az), (x, y)) in seen.iter().zip(pixels) {
            let there = framefall::sky::direction::Direction::from_alt_az(
                Angle::from_deg(*alt),
                Angle::from_deg(*az),
            );
            let alt_rad = there.altitude().rad();
            let az_rad = there.azimuth().rad();
            let direction = [
                alt_rad.cos() * az_rad.sin(),
                alt_rad.cos() * az_rad.cos(),
                alt_rad.sin(),
            ];
            let (u, v) = camera.project(direction).unwrap();
            // The worked altitudes have five digits.
            assert!((u - x).hypot(v - y) < 0.01, "{law:?} {name} {u} {v}");
        }
        let back = camera.attitude();
        assert!((back.alt.deg() - alt).abs() < 1e-9 && (back.roll.deg() - roll).abs() < 1e-6);
    }
}
