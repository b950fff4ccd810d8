//! The demo's dumps, ingested as a photographer would, compared with their scenario.

use crate::world;
use std::fs;

use crate::world::World;
use framefall::terms::time::Utc;
use serde_json::Value;

fn expected() -> toml::Table {
    let file = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/expected.toml");
    fs::read_to_string(file).unwrap().parse().unwrap()
}

fn ingested() -> World {
    let world = World::new();
    let add = |name: &str, lat: &str, lon: &str, elev: &str| {
        world.site_with(name, lat, lon, &["--elevation", elev]);
    };
    add("Salt Ridge", "38.93", "-116.01", "1905");
    add("Snow Fell", "63°03'N", "13°21'E", "640");
    let dump = |label: &str| world::demo(label).to_string_lossy().into_owned();
    world.run(&["ingest", &dump("geminids-body-a")]).ended(0);
    world
        .run(&["ingest", "--site", "Salt Ridge", &dump("geminids-body-b")])
        .ended(1);
    world.run(&["ingest", &dump("eta-aquariids")]).ended(0);
    world
        .run(&["ingest", "--site", "Snow Fell", &dump("quadrantids")])
        .ended(0);
    world
}

#[test]
fn every_dump_comes_to_what_its_story_says() {
    let world = ingested();
    let expected = expected();
    let total = expected["total"].as_table().unwrap();
    let frames = world.run(&["frames", "--as", "json"]).ended(0).json();
    let frames = frames.as_array().unwrap();
    assert_eq!(
        frames.len(),
        usize::try_from(total["frames"].as_integer().unwrap()).unwrap()
    );
    let files: usize = frames
        .iter()
        .map(|f| f["files"].as_array().unwrap().len())
        .sum();
    assert_eq!(
        files,
        usize::try_from(total["files"].as_integer().unwrap()).unwrap()
    );
    let copies = frames
        .iter()
        .flat_map(|f| f["files"].as_array().unwrap())
        .filter(|file| file["further_copy"] == true)
        .count();
    assert_eq!(
        copies,
        usize::try_from(total["copies"].as_integer().unwrap()).unwrap()
    );
    let count = |query: &str| {
        world
            .run(&["frames", query, "--count"])
            .out
            .trim()
            .parse::<i64>()
            .unwrap()
    };
    assert_eq!(
        count("health = truncated"),
        total["truncated"].as_integer().unwrap()
    );
    assert_eq!(
        count("clock is unknown"),
        total["undated"].as_integer().unwrap()
    );
    assert_eq!(
        count("start is unknown"),
        total["undated"].as_integer().unwrap()
    );
}

#[test]
fn every_session_is_found_with_its_gap() {
    let world = ingested();
    let found = world.run(&["sessions", "--as", "json"]).ended(0).json();
    let mut found: Vec<&Value> = found.as_array().unwrap().iter().collect();
    for dump in expected()["dump"].as_array().unwrap() {
        for session in dump["session"].as_array().unwrap() {
            let first = session["first_file"].as_str().unwrap();
            let query = format!(
                "file = '{}' and dump = '{}'",
                first.rsplit('/').next().unwrap(),
                dump["label"].as_str().unwrap()
            );
            let frame = world
                .run(&["frames", &query, "--as", "json"])
                .ended(0)
                .json();
            let number = frame[0]["session"].as_i64().unwrap();
            let at = found.iter().position(|s| s["session"] == number).unwrap();
            let row = found.remove(at);
            assert_eq!(
                row["frames"].as_i64(),
                session["frames"].as_integer(),
                "{first}"
            );
            assert_eq!(
                row["missing"].as_i64(),
                session["missing"].as_integer(),
                "{first}"
            );
            let cadence = session["cadence_s"].as_float().unwrap();
            assert!(
                (row["cadence_s"].as_f64().unwrap() - cadence).abs() < 0.011,
                "{first}"
            );
            // Body B's clock was an hour ahead, which is not stated yet.
            let error_s = session["clock_error_s"].as_integer().unwrap();
            let true_start = session["first_start_utc"].as_str().unwrap();
            let start = Utc::parse(frame[0]["start_utc"].as_str().unwrap()).unwrap();
            let late_s = start.seconds_since(Utc::parse(true_start).unwrap());
            assert!((late_s - error_s as f64).abs() < 0.02, "{first}: {late_s}");
            if session["kind"].as_str() != Some("trial") {
                assert_eq!(
                    frame[0]["kind"].as_str(),
                    session["kind"].as_str(),
                    "{first}"
                );
            }
            assert_eq!(frame[0]["seq"], 1, "{first} is the first of its session");
        }
    }
    assert!(found.is_empty(), "sessions of no story: {found:?}");
}

#[test]
fn a_question_of_the_radiant_is_answered_and_handed_on_in_order() {
    let world = ingested();
    let query = "GEM.alt > 30 and moon.alt < 0 and kind = light and health = sound";
    let list = world.path("geminids.csv");
    world
        .run(&["export", query, "--to", list.to_str().unwrap()])
        .ended(0);
    let mut reader = csv::Reader::from_path(&list).unwrap();
    let headings = reader.headers().unwrap().clone();
    let column = |name: &str| {
        headings
            .iter()
            .position(|h| h == name)
            .unwrap_or_else(|| panic!("no column {name}"))
    };
    let (start, path, alt) = (column("start_utc"), column("path"), column("GEM_alt_deg"));
    let mut before = String::new();
    let mut rows = 0;
    for row in reader.records() {
        let row = row.unwrap();
        assert!(row[start] >= *before, "in the order of their starts");
        before = row[start].to_owned();
        assert!(fs::metadata(&row[path]).is_ok(), "{}", &row[path]);
        assert!(row[alt].parse::<f64>().unwrap() > 30.0);
        rows += 1;
    }
    // Both evening and zenith runs of body A, and body B's frames but the truncated one.
    assert_eq!(rows, 44 + 20 + 19);
    let again = world
        .run(&["export", query, "--to", list.to_str().unwrap()])
        .ended(2);
    assert!(
        again.err.contains("already exists") && again.err.contains("--overwrite"),
        "{}",
        again.err
    );
    world
        .run(&[
            "export",
            query,
            "--to",
            list.to_str().unwrap(),
            "--overwrite",
        ])
        .ended(0);
}

#[test]
fn frames_in_json_carry_every_key_of_the_vocabulary() {
    let world = ingested();
    let frame = world
        .run(&["frames", "file = 'N6A_0458.DNG'", "--as", "jsonl"])
        .ended(0);
    assert!(
        frame.out.starts_with("{\"schema\":\"framefall.frame/1\","),
        "{}",
        frame.out
    );
    let frame = frame.json();
    for field in framefall::terms::field::FIELDS {
        assert!(frame.get(field.key).is_some(), "no key {}", field.key);
    }
    assert_eq!(frame["files"].as_array().unwrap().len(), 2, "raw and JPEG");
    assert_eq!(frame["format"], "dng", "raw before JPEG");
    // Its GPS time stamp confirms the clock, which is read by its own offset.
    assert_eq!(frame["time_basis"], "gps");
    assert_eq!(frame["place_basis"], "exif");
    assert_eq!(frame["clock_local"], "2023-12-14T01:40:03.55");
    assert_eq!(frame["utc_offset"], "-08:00");
    assert_eq!(frame["start_utc"], "2023-12-14T09:40:03.550Z");
    assert_eq!(
        frame["mid_utc"], "2023-12-14T09:40:11.050Z",
        "the altitudes are of the middle of the exposure"
    );
    assert_eq!(frame["night"], "2023-12-13");
    let radiants = frame["radiants"].as_array().unwrap();
    let geminids = radiants.iter().find(|r| r["shower"] == "GEM").unwrap();
    for key in [
        "alt_deg",
        "az_deg",
        "seen_alt_deg",
        "seen_az_deg",
        "moon_sep_deg",
        "rate",
    ] {
        assert!(geminids[key].is_number(), "{key}");
    }
}

#[test]
fn the_demo_data_alone_places_and_dates_the_frames_of_the_body_with_gps() {
    let world = World::new();
    let demo_data = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data");
    let said = world.run(&["ingest", demo_data.to_str().unwrap()]).ended(1);
    assert_eq!(said.number("frames new"), 165);
    let by_gps = world
        .run(&["frames", "place_basis = exif and start is known", "--count"])
        .ended(0);
    assert_eq!(by_gps.out.trim(), "110", "both dumps of body A");
    let sky = world.run(&["frames", "GEM.alt > 30", "--count"]).ended(0);
    assert_eq!(sky.out.trim(), "70", "its evening, zenith and dark frames");
    let sites = world.run(&["site", "list", "--as", "json"]).ended(0).json();
    assert_eq!(sites.as_array().unwrap().len(), 2, "{sites}");
    let mut zones: Vec<&str> = sites
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|s| s["zone"].as_str())
        .collect();
    zones.sort_unstable();
    assert_eq!(zones, ["America/Los_Angeles", "Australia/Adelaide"]);
}

#[test]
fn a_dump_is_the_same_to_the_byte_after_its_ingest() {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    let state = || {
        world::files_of(&world.path("card"))
            .into_iter()
            .map(|file| {
                let there = fs::metadata(&file).unwrap();
                (
                    file.clone(),
                    blake3::hash(&fs::read(&file).unwrap()),
                    there.modified().unwrap(),
                )
            })
            .collect::<Vec<_>>()
    };
    let before = state();
    world.run(&["ingest", "card"]).ended(0);
    assert_eq!(state(), before);
}
