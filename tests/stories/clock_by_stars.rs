//! What the stars in pictures say of a clock: a reset within a night to a second or two, and an error of many hours.
#![allow(clippy::unwrap_used)] // a test stops at the first surprise

use std::fs;
use std::path::Path;

use crate::clock_in_doubt::found;
use crate::content::content;
use crate::content::first_difference;
use crate::world::World;
use framefall::terms::time::Utc;

pub fn data(name: &str) -> Vec<u8> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/pointing");
    fs::read(folder.join(name)).unwrap()
}

/// The same bytes with one text in place of another of the same length.
fn replaced(bytes: &[u8], from: &str, to: &str) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    let mut count = 0;
    for at in 0..bytes.len() - from.len() {
        if bytes[at..].starts_with(from.as_bytes()) {
            bytes[at..at + to.len()].copy_from_slice(to.as_bytes());
            count += 1;
        }
    }
    assert!(count > 0, "{from}");
    bytes
}

/// What is shown of the first frame of a query.
fn values(world: &World, query: &str, show: &str) -> Vec<String> {
    let said = world
        .run(&["frames", query, "--show", show, "--as", "csv"])
        .ended(0);
    let row = said.out.lines().nth(1).unwrap_or_default();
    row.split(',').map(str::to_owned).collect()
}

/// Frames at the site of the first, its clock stated to be right, or as many hours later. Examined.
pub fn world(frames: &[(&str, Vec<u8>)], later_h: f64) -> World {
    let world = World::new();
    for (name, bytes) in frames {
        world.write(&format!("card/{name}.JPG"), bytes);
    }
    world.run(&["ingest", "card"]);
    let first = frames[0].0;
    let truth: serde_json::Value =
        serde_json::from_slice(&data(&format!("{first}.truth.json"))).unwrap();
    let place = values(&world, &format!("file = {first}.JPG"), "file,lat");
    if place[1].is_empty() {
        let site = |key: &str| truth["site"][key].as_f64().unwrap().to_string();
        let words = [
            "site",
            "add",
            "Hill",
            "--lat",
            &site("lat"),
            "--lon",
            &site("lon"),
            "--elevation",
            &site("h_m"),
        ];
        world.run(&words).ended(0);
        let sessions = world.run(&["sessions", "--as", "json"]).json();
        for session in sessions.as_array().unwrap() {
            let number = session["session"].to_string();
            world.run(&["site", "assign", "Hill", "--session", &number]);
        }
    }
    let of = values(
        &world,
        &format!("file = {first}.JPG"),
        "serial,clock,exposure",
    );
    let mid = Utc::parse(&format!("{}Z", truth["utc_mid"].as_str().unwrap())).unwrap();
    let half_s = of[2].parse::<f64>().unwrap() / 2.0;
    let start = mid.plus_s(later_h * 3_600.0 - half_s).unwrap().to_string();
    world
        .run(&["clock", "fix", &of[0], "--read", &of[1], "--true", &start])
        .ended(0);
    world.run(&["examine", "--all"]).ended(0);
    world
}

/// Each frame's turn since the middle light and since the first frame, with the basis of both.
fn turns(world: &World) -> Vec<[String; 5]> {
    let session = values(world, "file = F015.JPG", "session")[0].clone();
    let words = ["sessions", "mark", &session, "--kind", "light"];
    world.run(&words).ended(0);
    let list = world.path("turns.csv");
    let words = [
        "export",
        "kind = light",
        "--to",
        "turns.csv",
        "--overwrite",
        "--reference",
        "F015.JPG",
        "--show",
        "file,turn,turn_basis,reference_turn,reference_turn_basis",
    ];
    world.run(&words).ended(0);
    let mut reader = csv::Reader::from_path(list).unwrap();
    let rows = reader.records().map(Result::unwrap);
    rows.map(|row| std::array::from_fn(|at| row[at].to_owned()))
        .collect()
}

/// The sky turns by the stars as it does by a right clock, and not by a minute that a clock was set ahead.
fn the_sky_turns_by_the_stars(right: &World, wrong: &World) {
    let (right, kept, wrong) = (turns(right), right, turns(wrong));
    let number = |text: &String| text.parse::<f64>().unwrap();
    // F016 37 s, F017 10 min 11 s and F018 an hour after the first, by the truth of the rendered frames.
    let mid = |name: &str| {
        let truth: serde_json::Value =
            serde_json::from_slice(&data(&name.replace("JPG", "truth.json"))).unwrap();
        Utc::parse(&format!("{}Z", truth["utc_mid"].as_str().unwrap())).unwrap()
    };
    for (row, other) in right.iter().zip(&wrong) {
        assert_eq!([&row[2], &row[4]], ["stars", "stars"]);
        assert_eq!([&other[2], &other[4]], ["stars", "stars"]);
        let expect = 15.041_067_2 / 3_600.0 * mid(&row[0]).seconds_since(mid("F015.JPG"));
        // A second of time is 0.004 degrees.
        assert!((number(&row[3]) - expect).abs() < 0.01, "{row:?} {expect}");
        assert!(
            (number(&row[3]) - number(&other[3])).abs() < 0.001,
            "{other:?}"
        );
        assert!(
            (number(&row[1]) - number(&other[1])).abs() < 0.001,
            "{other:?}"
        );
        let since = number(&row[1]) - number(&right[0][1]);
        assert!((since - number(&row[3])).abs() < 0.001, "{row:?}");
    }
    // It follows from what was measured alone.
    let before = content(&kept.path("catalogue.sqlite"));
    kept.run(&["rebuild"]).ended(0);
    let after = content(&kept.path("catalogue.sqlite"));
    assert_eq!(first_difference(&before, &after), None);
    // A mount that followed the stars does not turn; without the statement it is as before.
    let session = values(kept, "file = F015.JPG", "session")[0].clone();
    let export = ["pointing", "export", "F015.JPG", "--wcs", "a.fits"];
    kept.run(&export).ended(0);
    let state = [
        "pointing",
        "state",
        &session,
        "--frame",
        "F015.JPG",
        "--wcs",
        "a.fits",
        "--tracked",
    ];
    kept.run(&state).ended(0);
    for row in turns(kept) {
        assert_eq!(row[1..], ["0", "mount", "0", "mount"], "{row:?}");
    }
    kept.run(&["report", &session, "--to", "s.html"]).ended(0);
    let page = fs::read_to_string(kept.path("s.html")).unwrap();
    assert!(page.contains("the mount followed them"));
    kept.run(&["pointing", "remove", &session]).ended(0);
    assert_eq!(turns(kept), right);
}

/// Four frames of one tripod over an hour; the clock of the last two is ahead by a minute.
#[test]
fn a_clock_that_was_set_within_a_night_is_told_to_seconds() {
    let right: Vec<(&str, Vec<u8>)> = ["F015", "F016", "F017", "F018"]
        .map(|name| (name, data(&format!("{name}.JPG"))))
        .to_vec();
    let all_right = self::world(&right, 0.0);
    let rows = found(&all_right, "clock-against-stars");
    assert!(rows.is_empty(), "{rows:?}");

    let mut wrong = right;
    wrong[2].1 = replaced(&wrong[2].1, "2021:04:24 01:56:43", "2021:04:24 01:57:43");
    wrong[3].1 = replaced(&wrong[3].1, "2021:04:24 02:46:31", "2021:04:24 02:47:31");
    let world = world(&wrong, 0.0);
    let rows = found(&world, "clock-against-stars");
    assert_eq!(rows.len(), 1, "{}", world.run(&["audit"]).out);
    assert_eq!(rows[0]["file"], "F017.JPG");
    let saw = rows[0]["found"].as_str().unwrap();
    let by = saw.split("set ahead by ").nth(1).unwrap();
    let by: f64 = by.split(' ').next().unwrap().parse().unwrap();
    assert!((by - 60.0).abs() < 1.0, "{saw}");
    let cure = rows[0]["what_to_do"].as_str().unwrap();
    assert!(cure.contains("--reset-before"), "{cure}");
    // It is offered, never applied.
    let clock = world
        .run(&[
            "frames",
            "file = F017.JPG",
            "--show",
            "start",
            "--as",
            "csv",
        ])
        .ended(0);
    assert!(clock.out.contains("19:57:32"), "{}", clock.out);
    the_sky_turns_by_the_stars(&all_right, &world);
}

/// Looking south-east at 36°; half a day later the same stars are below the horizon.
#[test]
fn stars_below_the_horizon_tell_of_a_clock_that_is_wrong_by_hours() {
    let frame = [("F001", data("F001.JPG"))];
    let rows = found(&world(&frame, 0.0), "stars-below-horizon");
    assert!(rows.is_empty(), "{rows:?}");
    let rows = found(&world(&frame, 12.0), "stars-below-horizon");
    assert_eq!(rows.len(), 1);
    let saw = rows[0]["found"].as_str().unwrap();
    assert!(
        saw.contains("below the horizon") && saw.contains(" h would"),
        "{saw}"
    );
}

/// A nearly full Moon in the picture: an error of three hours is told to some minutes, and none where the clock is right.
#[test]
fn the_moon_in_the_picture_tells_of_a_clock_that_is_wrong_by_hours() {
    let frame = [("F020", data("F020.JPG"))];
    let rows = found(&world(&frame, 0.0), "moon-elsewhere");
    assert!(rows.is_empty(), "{rows:?}");
    let rows = found(&world(&frame, 3.0), "moon-elsewhere");
    assert_eq!(rows.len(), 1);
    let saw = rows[0]["found"].as_str().unwrap();
    assert!(saw.contains("earlier, at 2022-02-18T01:"), "{saw}");
    let cure = rows[0]["what_to_do"].as_str().unwrap();
    let told = cure.split("--true ").nth(1).unwrap();
    let told = Utc::parse(told.split_whitespace().next().unwrap()).unwrap();
    let truth = Utc::parse("2022-02-18T01:53:43.733Z").unwrap();
    assert!(told.seconds_since(truth).abs() < 1_200.0, "{told}");
}

/// Mars among the stars, in a picture by a lens of 40 mm: an error of half a day is told to some hours.
#[test]
fn a_planet_in_the_picture_tells_of_a_clock_that_is_wrong_by_half_a_day() {
    let frame = [("F004", data("F004.JPG"))];
    let rows = found(&world(&frame, 0.0), "planet-elsewhere");
    assert!(rows.is_empty(), "{rows:?}");
    let world = world(&frame, 12.0);
    let rows = found(&world, "planet-elsewhere");
    assert_eq!(rows.len(), 1, "{}", world.run(&["audit"]).out);
    let saw = rows[0]["found"].as_str().unwrap();
    assert!(saw.contains("Mars was elsewhere"), "{saw}");
    let cure = rows[0]["what_to_do"].as_str().unwrap();
    let told = cure.split("--true ").nth(1).unwrap();
    let told = Utc::parse(told.split_whitespace().next().unwrap()).unwrap();
    let truth = Utc::parse("2019-12-13T17:25:10.410Z").unwrap();
    assert!(told.seconds_since(truth).abs() < 3.0 * 3_600.0, "{told}");
}
