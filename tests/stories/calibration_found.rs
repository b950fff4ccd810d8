//! Darks, flats and bias frames for the lights of a list: from any night, with how well they match.

use crate::world;
use std::fs;

use crate::calibration::LATER;
use crate::calibration::LIGHTS;
use crate::calibration::NIGHT;
use crate::calibration::ingest;
use crate::calibration::manifest;
use crate::calibration::rows;
use crate::calibration::run;
use crate::calibration::warm;
use crate::frames::LIGHT;
use crate::frames::Taken;
use crate::world::World;
use serde_json::Value;

#[test]
fn darks_of_another_night_serve_with_how_well_they_match() {
    let world = World::new();
    run(&world, "light", NIGHT, 3600, 20, LIGHT);
    run(&world, "dark", LATER, 7200, 12, LIGHT);
    run(
        &world,
        "dark 1600",
        NIGHT,
        18_000,
        20,
        Taken { iso: 1600, ..LIGHT },
    );
    run(
        &world,
        "dark 20s",
        NIGHT,
        20_000,
        20,
        Taken {
            exposure: (20, 1),
            ..LIGHT
        },
    );
    run(
        &world,
        "dark other",
        NIGHT,
        22_000,
        20,
        Taken {
            serial: "0043",
            ..LIGHT
        },
    );
    ingest(&world);
    warm(&world, "light", 4.0, 0.0);
    warm(&world, "dark", 5.0, 0.0);

    let said = world
        .run(&["export", LIGHTS, "--to", "list.csv", "--with-darks"])
        .ended(0);
    assert!(
        said.err
            .contains("15 s, ISO 3200, 4 °C: 12, close; 1 °C warmer; 37 days apart"),
        "{}",
        said.err
    );
    let darks = rows(&world, "list.darks.csv");
    assert_eq!(darks.len(), 12);
    for (dark, number) in darks.iter().zip(1000..) {
        assert!(
            dark["path"].ends_with(&format!("/dark/N7_{number}.DNG")),
            "{dark:?}"
        );
        assert_eq!(dark["kind"], "dark");
        assert_eq!(dark["match"], "close");
        assert_eq!(dark["temperature_diff_c"], "1");
        assert_eq!(dark["exposure_diff_s"], "0");
        assert_eq!(dark["for_lights"], "20");
        assert!((dark["days"].parse::<f64>().unwrap() - 37.0).abs() < 0.1);
    }
    let told =
        fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/docs/manifest.md")).unwrap();
    for key in darks[0].keys() {
        assert!(told.contains(&format!("`{key}`")), "{key} stands nowhere");
    }
    assert_eq!(rows(&world, "list.csv").len(), 20, "the lights alone");

    let manifest = manifest(&world, "list.csv");
    assert_eq!(manifest["lists"][1]["file"], "list.darks.csv");
    assert_eq!(manifest["lists"][1]["serves_as"], "dark");
    assert_eq!(manifest["files"].as_array().unwrap().len(), 32);
    let set = &manifest["calibration"][0];
    assert_eq!(set["match"], "close");
    assert_eq!(set["for"]["settings"], "15 s, ISO 3200, 4 °C");
    assert_eq!(set["frames"].as_array().unwrap().len(), 12);
}

#[test]
fn a_night_that_cools_gets_darks_for_each_stretch_of_it() {
    let world = World::new();
    run(&world, "light", NIGHT, 3600, 60, LIGHT);
    run(&world, "dark warm", LATER, 3600, 15, LIGHT);
    run(&world, "dark cold", LATER, 9000, 15, LIGHT);
    ingest(&world);
    warm(&world, "light", 14.0, -0.15);
    warm(&world, "dark warm", 12.0, 0.0);
    warm(&world, "dark cold", 7.0, 0.0);
    world
        .run(&["export", LIGHTS, "--to", "list.jsonl", "--with-darks"])
        .ended(0);
    let text = fs::read_to_string(world.path("list.darks.jsonl")).unwrap();
    let darks: Vec<Value> = text
        .lines()
        .map(|l| serde_json::from_str(l).unwrap())
        .collect();
    assert_eq!(darks.len(), 30, "fifteen for either half");
    for dark in &darks {
        let cold = dark["path"].as_str().unwrap().contains("dark cold");
        let settings = if cold {
            "15 s, ISO 3200, 5 to 10 °C"
        } else {
            "15 s, ISO 3200, 10 to 14 °C"
        };
        assert_eq!(dark["for_settings"], settings);
        assert!(dark["temperature_diff_c"].as_f64().unwrap().abs() <= 2.0);
    }
    // A folder of links for each, named after the lights they serve.
    world
        .run(&["export", LIGHTS, "--with-darks", "--link-into", "tree"])
        .ended(0);
    let session = world.path("tree").join("2023-12-13 session 1");
    for folder in [
        "dark 15 s ISO 3200 10 to 14 C",
        "dark 15 s ISO 3200 5 to 10 C",
    ] {
        assert_eq!(world::files_of(&session.join(folder)).len(), 15, "{folder}");
    }
    assert_eq!(world::files_of(&session.join("light")).len(), 60);
}

#[test]
fn flats_and_bias_have_lists_of_their_own_for_each_session() {
    let world = World::new();
    run(&world, "light", NIGHT, 3600, 20, LIGHT);
    run(
        &world,
        "wide/light",
        NIGHT,
        9000,
        20,
        Taken { focal: 14, ..LIGHT },
    );
    run(
        &world,
        "flat",
        NIGHT,
        30_000,
        12,
        Taken {
            exposure: (1, 100),
            iso: 100,
            ..LIGHT
        },
    );
    run(
        &world,
        "wide/flat",
        NIGHT,
        33_000,
        12,
        Taken {
            exposure: (1, 100),
            iso: 100,
            focal: 14,
            ..LIGHT
        },
    );
    run(
        &world,
        "bias",
        LATER,
        3600,
        12,
        Taken {
            exposure: (1, 8000),
            ..LIGHT
        },
    );
    ingest(&world);
    world
        .run(&[
            "export",
            LIGHTS,
            "--to",
            "list.csv",
            "--with-flats",
            "--with-bias",
            "--per-session",
        ])
        .ended(0);
    let manifest = manifest(&world, "list.csv");
    let lists = manifest["lists"].as_array().unwrap();
    assert_eq!(lists.len(), 6);
    for list in &lists[2..] {
        let rows = rows(&world, list["file"].as_str().unwrap());
        assert_eq!(rows.len(), 12);
        let session = list["session"].as_i64().unwrap();
        assert!(
            list["file"]
                .as_str()
                .unwrap()
                .starts_with(&format!("list.session-{session}."))
        );
        for row in rows {
            assert_eq!(row["for_session"], session.to_string());
            if list["serves_as"] == "flat" {
                let wide = row["for_settings"].starts_with("14 mm, f/1.8");
                assert_eq!(row["path"].contains("/wide/flat/"), wide, "{row:?}");
                assert_eq!(row["match"], "usable", "another sensitivity");
            } else {
                assert!(row["path"].contains("/bias/") && row["match"] == "close");
            }
        }
    }
}

#[test]
fn darks_of_a_body_without_a_serial_number_may_be_anothers() {
    let world = World::new();
    let nameless = Taken {
        serial: "",
        ..LIGHT
    };
    run(&world, "light", NIGHT, 3600, 20, nameless);
    run(&world, "dark", NIGHT, 7200, 12, nameless);
    ingest(&world);
    for folder in ["light", "dark"] {
        warm(&world, folder, 4.0, 0.0);
    }
    let said = world
        .run(&["export", LIGHTS, "--to", "list.csv", "--with-darks"])
        .ended(0);
    assert!(said.err.contains("12, usable;"), "{}", said.err);
    assert!(
        said.err
            .contains("another of its model may have taken them"),
        "{}",
        said.err
    );
}
