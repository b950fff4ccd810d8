//! Pictures are examined: their stars tell where the camera pointed, once; a corrected clock moves it without another look.
#![allow(clippy::unwrap_used)] // a test stops at the first surprise

use std::fs;
use std::path::Path;

use crate::content::content;
use crate::content::first_difference;
use crate::world::World;
use rusqlite::Connection;

/// A rendered preview (see tests/data/pointing/SOURCES.md).
fn preview(name: &str) -> Vec<u8> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/pointing");
    fs::read(folder.join(name)).unwrap()
}

/// Two frames of one tripod, one without stars, one cut off, at a site that is not stated yet.
fn world() -> World {
    let world = World::new();
    world.write("card/F015.JPG", &preview("F015.JPG"));
    world.write("card/F016.JPG", &preview("F016.JPG"));
    world.write("card/F013.JPG", &preview("F013.JPG"));
    let cut = preview("F007.JPG");
    world.write("card/F007.JPG", &cut[..cut.len() / 2]);
    world.run(&["ingest", "card"]);
    world
}

fn values(world: &World, query: &str, show: &str) -> Vec<Vec<String>> {
    let said = world
        .run(&["frames", query, "--show", show, "--as", "csv"])
        .ended(0);
    let rows = said.out.lines().skip(1);
    rows.map(|row| row.split(',').map(str::to_owned).collect())
        .collect()
}

fn number(text: &str) -> f64 {
    text.parse()
        .unwrap_or_else(|_| panic!("'{text}' is not a number"))
}

/// A tripod that was turned by 5 degrees before the second frame is noted; this one was not.
fn notes_a_tripod_that_was_turned(world: &World) {
    let moves = || {
        let said = world.run(&["audit", "--code", "tripod-moved", "--as", "json"]);
        said.ended(0).json().as_array().unwrap().clone()
    };
    assert_eq!(moves(), Vec::<serde_json::Value>::new());
    let (sin, cos) = 5.0_f64.to_radians().sin_cos();
    let db = Connection::open(world.path("catalogue.sqlite")).unwrap();
    db.execute(
        "UPDATE measured_pointing SET
             right_y = right_y * ?1 - right_z * ?2, right_z = right_y * ?2 + right_z * ?1,
             forward_y = forward_y * ?1 - forward_z * ?2, forward_z = forward_y * ?2 + forward_z * ?1
         WHERE frame_id = (SELECT written_frame.frame_id FROM written_frame JOIN written_file ON file_id = first_file_id
                           WHERE name = 'F016.JPG')",
        [cos, sin],
    )
    .unwrap();
    db.execute_batch("DELETE FROM derived_pointing; DELETE FROM derived_in_picture")
        .unwrap();
    drop(db);
    world.run(&["rebuild"]).ended(0);
    let told = moves();
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(
        told[0]
            .to_string()
            .contains("looks 5.0° away from F015.JPG"),
        "{told:?}"
    );
}

#[test]
fn stars_tell_where_the_camera_pointed() {
    let world = world();
    let said = world.run(&["examine", "--all"]).ended(1);
    assert_eq!(said.number("frames examined"), 4);
    assert_eq!(said.number("pointing known"), 2);
    assert_eq!(said.number("too few stars for a pointing"), 1);
    assert!(said.out.contains("no picture: "), "{}", said.out);
    // What was examined is not examined again.
    let said = world.run(&["examine", "--all"]).ended(0);
    assert_eq!(said.number("frames examined"), 0);
    assert_eq!(said.number("examined before"), 4);
    let rows = values(&world, "pointing is known", "file,pointing,stars,point.alt");
    let row_of = |file: &str| rows.iter().find(|row| row[0] == file).unwrap().clone();
    assert_eq!(row_of("F013.JPG")[1], "too-few-stars");
    assert_eq!(row_of("F007.JPG")[1..3], ["no-picture", ""]);
    assert_eq!(row_of("F015.JPG")[1], "good");
    // Without a place nothing is known of the horizon.
    assert_eq!(row_of("F015.JPG")[3], "");
    assert!(number(&row_of("F015.JPG")[2]) > 300.0);

    // Stated afterwards, time and place give the direction: the truth of the rendered frame.
    let truth = truth();
    let site = |key: &str| truth["site"][key].as_f64().unwrap().to_string();
    let where_ = [site("lat"), site("lon"), site("h_m")];
    world
        .run(&[
            "site",
            "add",
            "Hill",
            "--lat",
            &where_[0],
            "--lon",
            &where_[1],
            "--elevation",
            &where_[2],
        ])
        .ended(0);
    let session = values(&world, "file = F015.JPG", "session")[0][0].clone();
    world.run(&["site", "assign", "Hill", "--session", &session]);
    let serial = values(&world, "file = F015.JPG", "serial,clock");
    let mid = truth["utc_mid"].as_str().unwrap();
    let start = framefall::terms::time::Utc::parse(&format!("{mid}Z")).unwrap();
    let exposure = number(&values(&world, "file = F015.JPG", "exposure")[0][0]);
    let start = start.plus_s(-exposure / 2.0).unwrap().to_string();
    world
        .run(&[
            "clock",
            "fix",
            &serial[0][0],
            "--read",
            &serial[0][1],
            "--true",
            &start,
        ])
        .ended(0);
    let seen = values(
        &world,
        "file = F015.JPG",
        "point.alt,point.az,point.roll,stars",
    );
    // The optical axis is a few pixels from the middle: a tenth of a degree at ten millimetres.
    assert!(
        (number(&seen[0][0]) - truth["alt_deg"].as_f64().unwrap()).abs() < 0.5,
        "{seen:?}"
    );
    let before = number(&seen[0][1]);
    let alt = number(&seen[0][0]).to_radians();
    assert!(
        (before - truth["az_deg"].as_f64().unwrap()).abs() * alt.cos() < 0.5,
        "{seen:?}"
    );

    // Examined again it is the same, now fitted to the horizon.
    world.run(&["examine", &session, "--again"]).ended(0);
    let again = values(&world, "file = F015.JPG", "point.alt,point.az,point.roll");
    assert!(
        (number(&again[0][1]) - before).abs() * alt.cos() < 0.05,
        "{again:?} {before}"
    );

    // One tripod: the two frames look the same way, as the list of sessions shows.
    let list = world
        .run(&["pointing", &session, "--as", "json"])
        .ended(0)
        .json();
    assert_eq!(list[0]["known"], 2);
    assert!(list[0]["moved_deg"].as_f64().unwrap() < 0.1, "{list}");

    shows_what_a_lens_does_to_stars(&world);

    // Rows that follow from it can be dropped and made again, from what was measured.
    let kept = content(&world.path("catalogue.sqlite"));
    let db = Connection::open(world.path("catalogue.sqlite")).unwrap();
    db.execute_batch("DELETE FROM derived_pointing; DELETE FROM derived_in_picture")
        .unwrap();
    drop(db);
    world.run(&["rebuild"]).ended(0);
    let made = content(&world.path("catalogue.sqlite"));
    assert_eq!(first_difference(&kept, &made), None);

    notes_a_tripod_that_was_turned(&world);
}

fn shows_what_a_lens_does_to_stars(world: &World) {
    let lenses = world
        .run(&["frames", "--per", "lens", "--as", "json"])
        .ended(0)
        .json();
    let of = |key: &str| -> Vec<f64> {
        let rows = lenses.as_array().unwrap().iter();
        rows.filter_map(|row| row[key].as_f64()).collect()
    };
    let sum = |key: &str| of(key).iter().sum::<f64>();
    assert!((sum("frames") - 4.0).abs() < 0.5, "{lenses}");
    assert!(sum("measured") >= 2.0, "{lenses}");
    assert!(
        of("corner_ratio")
            .iter()
            .any(|ratio| (0.5..4.0).contains(ratio)),
        "{lenses}"
    );
    // The page of a season is about lights, and these files do not tell their kind.
    let season = ["report", "--season", "1990..2030", "--to", "s.html"];
    let said = world.run(&season).ended(2);
    assert!(
        said.err
            .contains("no lights of the 41 years from 1990 to 2030"),
        "{}",
        said.err
    );
    let session = values(world, "file = F015.JPG", "session")[0][0].clone();
    let marked = ["sessions", "mark", &session, "--kind", "light"];
    world.run(&marked).ended(0);
    world.run(&season).ended(0);
    let page = fs::read_to_string(world.path("s.html")).unwrap();
    assert!(page.contains("Width of stars by lens and aperture"));
}

#[test]
fn ingesting_can_examine_at_once() {
    let world = World::new();
    world.write("card/F015.JPG", &preview("F015.JPG"));
    world.write("card/F016.JPG", &preview("F016.JPG"));
    let said = world.run(&["ingest", "--examine", "card"]).ended(0);
    assert_eq!(said.number("frames new"), 2);
    assert_eq!(said.number("pointing known"), 2);
    let said = world.run(&["ingest", "--examine", "card"]).ended(0);
    assert_eq!(said.number("frames examined"), 0);
    assert_eq!(said.number("examined before"), 2);
}

fn truth() -> serde_json::Value {
    serde_json::from_slice(&preview("F015.truth.json")).unwrap()
}

#[test]
fn a_query_that_finds_nothing_says_why_and_a_wrong_one_where() {
    let world = World::new();
    world.write("card/F013.JPG", &preview("F013.JPG"));
    world.run(&["ingest", "card"]);
    let said = world.run(&["examine", "focal > 500mm"]).ended(1);
    assert!(
        said.err.contains("none of the 1 frame has focal"),
        "{}",
        said.err
    );
    let said = world.run(&["examine", "focl > 500mm"]).ended(2);
    assert!(said.err.contains("focl"), "{}", said.err);
    world.run(&["examine"]).ended(2);
    let said = world.run(&["examine", "1"]).ended(0);
    assert_eq!(said.number("frames examined"), 1);
}
