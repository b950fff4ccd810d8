//! Nights with misleading settings and unhelpful names: the kinds of frames are detected from their small pictures.
#![allow(clippy::unwrap_used)] // Tests may panic.

use crate::camera::Camera;
use crate::camera::Setting;
use crate::camera::Thumb;
use crate::scene;
use crate::scene::Scene;
use crate::scene::Sky;
use crate::studio::random::Draws;
use crate::tiff_block::{ascii, lay_out, long, rational, short};
use crate::world::World;

fn body() -> Camera {
    Camera {
        pitch_um: 5.9,
        full_e: 50_000.0,
        read_e: 3.0,
        dark_e_s: 0.05,
        hot_share: 1e-4,
        hot_e_s: 20.0,
        glow: None,
        vignetting_stops: 1.5,
        vignetting_power: 2.5,
        contrast: 0.4,
        black_cut: 0.0,
        lift: 0.004,
        tint: [0.95, 1.0, 1.05],
        thumb: Thumb {
            width: 160,
            height: 120,
            bars: 7,
            decimated: false,
            quality: 85,
        },
    }
}

fn setting(exposure_s: f64, iso: f64, f_number: f64) -> Setting {
    Setting {
        exposure_s,
        iso,
        f_number,
        focal_mm: 20.0,
    }
}

fn sky(mag_arcsec2: f64) -> Scene {
    Scene::Sky(Sky {
        mag_arcsec2,
        horizon: 0.8,
        side: 0.1,
        moon: None,
        stars: scene::stars(&mut Draws::new(7), 0.1, 7.0),
        cloud: 0.0,
        cloud_light: 1.0,
        cloud_seed: 3,
        drift: 0.0,
        land: None,
        land_seed: 5,
        blur_px: 1.3,
    })
}

/// A card that is being filled.
struct Card<'w> {
    world: &'w World,
    camera: Camera,
    number: u32,
    /// Seconds since the evening's 20:00.
    at_s: f64,
}

impl<'w> Card<'w> {
    fn new(world: &'w World, camera: Camera) -> Self {
        Self {
            world,
            camera,
            number: 0,
            at_s: 0.0,
        }
    }

    /// So many frames, the next one so long after the end of the one before.
    fn take(&mut self, count: u32, setting: Setting, scene: &Scene, pause_s: f64) {
        for _ in 0..count {
            let mut draws = Draws::new(u64::from(self.number));
            let jpeg = self.camera.thumbnail(setting, scene, &mut draws);
            let bytes = raw(self.at_s, setting, "Umbra 20mm", &jpeg);
            let name = format!("card/DCIM/100NITES/NITE{:04}.DNG", 1 + self.number);
            self.world.write(&name, &bytes);
            self.number += 1;
            self.at_s += setting.exposure_s + pause_s;
        }
    }
}

/// A raw file whose thumbnail this is.
fn raw(at_s: f64, setting: Setting, lens: &str, jpeg: &[u8]) -> Vec<u8> {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a night's milliseconds
    let ms = (at_s * 1000.0).round() as u64 + 20 * 3_600_000;
    let (day, s) = (13 + ms / 86_400_000, ms / 1000 % 86_400);
    let reading = format!(
        "2023:12:{day} {:02}:{:02}:{:02}",
        s / 3600,
        s / 60 % 60,
        s % 60
    );
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let scaled = |value: f64, of: f64| (value * of).round() as u32;
    let block = |offset: u32| {
        let mut primary = vec![
            long(0x0100, 6000),
            long(0x0101, 4000),
            ascii(0x010F, "Umbra"),
            ascii(0x0110, "Umbra N7"),
            long(0x0201, offset),
            long(0x0202, u32::try_from(jpeg.len()).unwrap()),
            long(0x8769, 0),
        ];
        primary.push((0xC612, 1, vec![1, 4, 0, 0], 1));
        let exposure = scaled(setting.exposure_s, 100_000.0);
        let exif = vec![
            rational(0x829A, &[(exposure, 100_000)]),
            rational(0x829D, &[(scaled(setting.f_number, 10.0), 10)]),
            short(0x8827, u16::try_from(scaled(setting.iso, 1.0)).unwrap()),
            ascii(0x9003, &reading),
            ascii(0x9011, "-08:00"),
            ascii(0x9291, &format!("{:03}", ms % 1000)),
            rational(0x920A, &[(scaled(setting.focal_mm, 1.0), 1)]),
            ascii(0xA431, "0042"),
            ascii(0xA434, lens),
        ];
        lay_out(false, 0, &[primary, exif, Vec::new()])
    };
    let length = u32::try_from(block(0).len()).unwrap();
    [block(length), jpeg.to_vec()].concat()
}

/// The kinds one after the other, with how many of each.
fn kinds(world: &World) -> Vec<(String, usize)> {
    world.site("Salt Ridge", "38.93", "-116.01");
    world
        .run(&["ingest", "card", "--site", "Salt Ridge"])
        .ended(0);
    let rows = world
        .run(&["frames", "", "--by", "start", "--as", "json"])
        .ended(0)
        .json();
    let kinds: Vec<String> = rows
        .as_array()
        .unwrap()
        .iter()
        .map(|row| row["kind"].as_str().unwrap_or("unknown").to_owned())
        .collect();
    kinds
        .chunk_by(|a, b| a == b)
        .map(|run| (run[0].clone(), run.len()))
        .collect()
}

fn expect(found: &[(String, usize)], kinds: &[(&str, usize)]) {
    let found: Vec<(&str, usize)> = found.iter().map(|(k, n)| (k.as_str(), *n)).collect();
    assert_eq!(found, kinds);
}

fn missing(world: &World) -> Vec<i64> {
    let sessions = world.run(&["sessions", "--as", "json"]).ended(0).json();
    let sessions = sessions.as_array().unwrap();
    sessions
        .iter()
        .map(|s| s["missing"].as_i64().unwrap())
        .collect()
}

#[test]
fn darks_between_two_runs_of_lights_are_found_and_nothing_is_missing_for_them() {
    let world = World::new();
    let mut card = Card::new(&world, body());
    let lights = setting(15.0, 3200.0, 2.8);
    card.take(60, lights, &sky(21.3), 2.0);
    card.at_s += 40.0;
    card.take(20, lights, &Scene::Cap, 2.0);
    card.at_s += 30.0;
    card.take(60, lights, &sky(21.3), 2.0);
    expect(
        &kinds(&world),
        &[("light", 60), ("dark", 20), ("light", 60)],
    );
    assert_eq!(missing(&world), [0]);
}

#[test]
fn darks_with_corner_glow_after_lights_of_a_dark_site_are_darks() {
    let world = World::new();
    let camera = Camera {
        glow: Some(((1.0, 1.0), 6.0, 0.12)),
        ..body()
    };
    let mut card = Card::new(&world, camera);
    let lights = setting(10.0, 1600.0, 2.8);
    card.take(50, lights, &sky(21.9), 2.0);
    card.at_s += 60.0;
    card.take(30, lights, &Scene::Cap, 2.0);
    expect(&kinds(&world), &[("light", 50), ("dark", 30)]);
}

#[test]
fn lights_of_a_dark_site_alone_are_lights() {
    let world = World::new();
    let mut card = Card::new(&world, body());
    card.take(40, setting(10.0, 1600.0, 2.8), &sky(21.9), 2.0);
    expect(&kinds(&world), &[("light", 40)]);
}

#[test]
fn flats_behind_a_lens_of_two_and_a_half_stops_are_flats_and_count_as_no_gap() {
    let world = World::new();
    let camera = Camera {
        vignetting_stops: 2.5,
        ..body()
    };
    let mut card = Card::new(&world, camera);
    let lights = setting(8.0, 3200.0, 2.8);
    card.take(40, lights, &sky(20.5), 1.5);
    card.at_s += 300.0;
    let panel = Scene::Panel {
        share: 0.3,
        slope: (0.08, -0.05),
    };
    card.take(20, setting(2.0, 400.0, 2.8), &panel, 1.0);
    card.at_s += 60.0;
    card.take(30, setting(1.0 / 8000.0, 3200.0, 2.8), &Scene::Cap, 0.7);
    expect(&kinds(&world), &[("light", 40), ("flat", 20), ("bias", 30)]);
    assert_eq!(missing(&world), [0]);
}

#[test]
fn even_frames_under_a_cloud_are_lights_and_shots_at_iso_12800_are_trials() {
    let world = World::new();
    let mut card = Card::new(&world, body());
    let Scene::Sky(clear) = sky(19.5) else {
        unreachable!()
    };
    let under = |cloud: f64, blur_px: f64| {
        Scene::Sky(Sky {
            cloud,
            cloud_light: 2.5,
            blur_px,
            ..clear.clone()
        })
    };
    for _ in 0..3 {
        card.take(1, setting(2.0, 12_800.0, 2.8), &under(0.0, 30.0), 20.0);
    }
    card.at_s += 120.0;
    let lights = setting(4.0, 3200.0, 2.8);
    card.take(40, lights, &under(0.0, 1.3), 1.0);
    for step in 1..=10 {
        card.take(2, lights, &under(f64::from(step) / 10.0, 1.3), 1.0);
    }
    card.take(40, lights, &under(1.0, 1.3), 1.0);
    expect(&kinds(&world), &[("trial", 3), ("light", 100)]);
}

#[test]
fn what_cannot_be_told_says_why() {
    let world = World::new();
    let mut card = Card::new(&world, body());
    let land = Scene::Land {
        share: 0.3,
        seed: 4,
    };
    card.take(2, setting(0.01, 100.0, 4.0), &land, 30.0);
    expect(&kinds(&world), &[("unknown", 2)]);
    let rows = world.run(&["frames", "", "--as", "json"]).ended(0).json();
    let why = rows[0]["kind_evidence"].as_str().unwrap();
    assert!(why.starts_with("unknown: too short for a light"), "{why}");
}

#[test]
fn another_lens_of_the_same_focal_length_is_another_framing() {
    let world = World::new();
    for (i, lens) in (0..40_u32).map(|i| (i, if i < 20 { "Umbra 20mm" } else { "Corona 20mm" })) {
        let mut draws = Draws::new(u64::from(i));
        let set = setting(15.0, 3200.0, 2.8);
        let jpeg = body().thumbnail(set, &sky(21.0), &mut draws);
        let bytes = raw(f64::from(i) * 17.0, set, lens, &jpeg);
        world.write(&format!("card/DCIM/100NITES/NITE{:04}.DNG", 1 + i), &bytes);
    }
    expect(&kinds(&world), &[("light", 40)]);
    assert_eq!(missing(&world), [0, 0], "two sessions");
}
