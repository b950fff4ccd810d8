//! Questions asked of the demo's archive: columns to choose, orders, counts by a key, queries by name, how an answer is
//! reached. Every answer is checked against the whole list, counted here.

use crate::world;
use std::collections::BTreeMap;
use std::io::Read;
use std::process::Command;
use std::process::Stdio;
use std::sync::OnceLock;

use crate::world::World;
use serde_json::Value;

/// The demo's Geminid and Eta-Aquariid dumps, placed.
fn archive() -> World {
    static KEPT: OnceLock<Vec<u8>> = OnceLock::new();
    World::copied(&KEPT, placed)
}

fn placed() -> World {
    let world = World::new();
    let site = |name: &str, lat: &str, lon: &str, elev: &str| {
        let words = [
            "site",
            "add",
            name,
            "--lat",
            lat,
            "--lon",
            lon,
            "--elevation",
            elev,
        ];
        world.run(&words).ended(0);
    };
    site("Salt Ridge", "38.93", "-116.01", "1905");
    let dump = |label: &str| world::demo(label).to_string_lossy().into_owned();
    world.run(&["ingest", &dump("geminids-body-a"), "--quiet"]);
    world.run(&[
        "ingest",
        &dump("geminids-body-b"),
        "--site",
        "Salt Ridge",
        "--quiet",
    ]);
    world.run(&["ingest", &dump("eta-aquariids"), "--quiet"]);
    world
}

fn all(world: &World) -> Vec<Value> {
    let frames = world.run(&["frames", "--as", "json"]).ended(0).json();
    frames.as_array().unwrap().clone()
}

/// Small angles too, whose last digit in a list is a large part of them.
#[test]
fn numbers_as_a_list_writes_them_find_their_frames() {
    let world = archive();
    for field in [
        "turn",
        "sun.alt",
        "moon.alt",
        "moon.az",
        "moon.lit",
        "lst",
        "solar_lon",
        "radiant.alt",
        "radiant.rate",
        "radiant.seen_az",
        "lat",
        "lon",
        "elev",
        "exposure",
        "aperture",
        "focal",
    ] {
        let known = format!("{field} is known");
        let list = world
            .run(&["frames", &known, "--show", field, "--as", "csv"])
            .ended(0);
        let values: Vec<&str> = list.out.lines().skip(1).collect();
        for some in values.chunks(20) {
            let query = format!("{field} in ({})", some.join(", "));
            let found = world
                .run(&["frames", &query, "--show", field, "--as", "csv"])
                .ended(0);
            for value in some {
                assert!(
                    found.out.lines().any(|line| line == *value),
                    "{field} = {value}"
                );
            }
        }
        assert!(!values.is_empty(), "{field}");
    }
}

#[test]
fn chosen_columns_are_all_that_is_shown() {
    let world = archive();
    let chosen = [
        "frames",
        "GEM.alt is known",
        "--show",
        "start,GEM.alt,moon.alt",
    ];
    let csv = world
        .run(&[&chosen[..], &["--as", "csv"]].concat())
        .ended(0)
        .out;
    assert!(
        csv.starts_with("start_utc,GEM_alt_deg,moon_alt_deg\r\n"),
        "{csv}"
    );
    let rows = world
        .run(&[&chosen[..], &["--as", "jsonl"]].concat())
        .ended(0)
        .out;
    let first: Value = serde_json::from_str(rows.lines().next().unwrap()).unwrap();
    let keys: Vec<&String> = first.as_object().unwrap().keys().collect();
    assert_eq!(keys, ["start_utc", "GEM_alt_deg", "moon_alt_deg"]);
    // The same values as in the whole frames.
    let whole = all(&world);
    let altitude = |frame: &Value| {
        let radiants = frame["radiants"].as_array().unwrap();
        radiants
            .iter()
            .find(|r| r["shower"] == "GEM")
            .map(|r| r["alt_deg"].clone())
    };
    let expect: Vec<Value> = whole.iter().filter_map(altitude).collect();
    let got: Vec<Value> = rows
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).unwrap()["GEM_alt_deg"].clone())
        .collect();
    assert_eq!(got, expect);
    let table = world
        .run(&[&chosen[..], &["--limit", "1"]].concat())
        .ended(0)
        .out;
    assert!(table.lines().next().unwrap().contains("GEM.alt"), "{table}");

    for (show, mark) in [("start,moon.atl", "moon.alt"), ("start,start", "once")] {
        let refused = world.run(&["frames", "--show", show]).ended(2);
        assert!(refused.err.contains(mark), "{}", refused.err);
    }
    let refused = world
        .run(&["frames", "--show", "start", "--as", "paths"])
        .ended(2);
    assert!(refused.err.contains("--show"), "{}", refused.err);
}

#[test]
fn rows_stand_in_the_order_asked_for_and_unknown_values_last() {
    let world = archive();
    let values = |by: &str, key: &str| -> Vec<Value> {
        let said = world
            .run(&["frames", "--by", by, "--as", "json"])
            .ended(0)
            .json();
        said.as_array()
            .unwrap()
            .iter()
            .map(|frame| frame[key].clone())
            .collect()
    };
    for (by, key, down) in [
        ("moon.alt desc", "moon_alt_deg", true),
        ("sun.alt", "sun_alt_deg", false),
        ("temperature", "temperature_c", false),
        ("exposure desc,start", "exposure_s", true),
    ] {
        let got = values(by, key);
        let known: Vec<f64> = got.iter().filter_map(Value::as_f64).collect();
        let sorted = known.is_sorted_by(|a, b| if down { a >= b } else { a <= b });
        assert!(sorted, "{by}: {got:?}");
        let unknown = got.iter().position(Value::is_null).unwrap_or(got.len());
        assert_eq!(unknown, known.len(), "{by}: unknown ones come last");
    }
    let names: Vec<String> = values("file desc", "file")
        .iter()
        .map(|name| name.as_str().unwrap().to_lowercase())
        .collect();
    assert!(names.is_sorted_by(|a, b| a >= b), "{names:?}");
    let clocks = values("clock", "clock_local");
    assert!(clocks.is_sorted_by(|a, b| a.as_str() <= b.as_str() || b.is_null()));
}

#[test]
fn counts_by_a_key_are_those_of_the_list() {
    let world = archive();
    let whole = all(&world);
    for (per, key, value) in [
        (
            "session",
            "session",
            (|f| f["session"].clone()) as fn(&Value) -> Value,
        ),
        ("night", "night", |f| f["night"].clone()),
        ("site", "site", |f| f["site"].clone()),
        ("camera", "camera", |f| f["camera"].clone()),
        ("year", "year", |f| match f["night"].as_str() {
            Some(night) => night[..4].into(),
            None => Value::Null,
        }),
    ] {
        let mut expect: BTreeMap<String, u64> = BTreeMap::new();
        for frame in &whole {
            *expect.entry(value(frame).to_string()).or_default() += 1;
        }
        let said = world
            .run(&["frames", "--per", per, "--as", "json"])
            .ended(0)
            .json();
        let got: BTreeMap<String, u64> = said
            .as_array()
            .unwrap()
            .iter()
            .map(|row| (row[key].to_string(), row["frames"].as_u64().unwrap()))
            .collect();
        assert_eq!(got, expect, "{per}");
    }
    let said = world
        .run(&[
            "frames",
            "night = 2023-12-13",
            "--per",
            "shower",
            "--as",
            "json",
        ])
        .ended(0)
        .json();
    let showers = said.as_array().unwrap();
    assert!(showers.len() > 1);
    for row in showers {
        let query = format!(
            "night = 2023-12-13 and shower = {}",
            row["shower"].as_str().unwrap()
        );
        let count = world.run(&["frames", &query, "--count"]).ended(0).out;
        assert_eq!(row["frames"].to_string(), count.trim(), "{query}");
    }
    let csv = world
        .run(&["frames", "--per", "year", "--as", "csv"])
        .ended(0)
        .out;
    assert!(csv.starts_with("year,frames\r\n"), "{csv}");
    assert_eq!(
        world.run(&["frames", "--count"]).ended(0).out.trim(),
        whole.len().to_string()
    );
    let said = world.run(&["frames", "--count", "--as", "jsonl"]).ended(0);
    assert_eq!(said.json()["frames"].as_u64(), Some(whole.len() as u64));
    let none = world.run(&["frames", "iso = 7", "--per", "night"]).ended(1);
    assert_eq!(none.out.trim(), "no frames");
    assert!(none.err.contains("has iso = 7"), "{}", none.err);
    // Of what the list of fields cannot be asked for, nothing is passed over in silence.
    for words in [&["--as", "json"][..], &["--count"], &["--show", "start"]] {
        world
            .run(&[&["frames", "--fields"], words].concat())
            .ended(2);
    }
    world.run(&["frames", "--fields"]).ended(0);
    // Any limit that is beyond the answer is none.
    for limit in ["9223372036854775808", "18446744073709551615"] {
        let words = ["frames", "--limit", limit, "--as", "json"];
        let all = world.run(&words).ended(0).json();
        assert_eq!(all.as_array().map(Vec::len), Some(whole.len()));
    }
    world
        .run(&["frames", "--per", "night", "--as", "paths"])
        .ended(2);
}

#[test]
fn a_saved_query_stands_for_what_it_says() {
    let world = archive();
    world
        .run(&["query", "save", "dark", "moon.alt < 0 or moon.lit < 0.1"])
        .ended(0);
    world
        .run(&["query", "save", "@dark-geminids", "@dark and GEM.alt > 30"])
        .ended(0);
    let count = |query: &str| {
        world
            .run(&["frames", query, "--count"])
            .out
            .trim()
            .to_owned()
    };
    assert_eq!(count("@DARK"), count("moon.alt < 0 or moon.lit < 0.1"));
    assert_ne!(count("@dark"), "0");
    assert_eq!(
        count("not @dark-geminids and iso >= 1600"),
        count("not ((moon.alt < 0 or moon.lit < 0.1) and GEM.alt > 30) and iso >= 1600")
    );
    // What was saved with another's name in it does not change with that other.
    world
        .run(&["query", "save", "dark", "sun.alt < -18"])
        .ended(0);
    assert_eq!(
        count("@dark-geminids"),
        count("(moon.alt < 0 or moon.lit < 0.1) and GEM.alt > 30")
    );
    let list = world
        .run(&["query", "list", "--as", "json"])
        .ended(0)
        .json();
    assert_eq!(list[0]["query"], "sun.alt < -18");
    assert_eq!(list[1]["name"], "dark-geminids");

    let slip = world.run(&["frames", "iso > 100 and @drak"]).ended(2);
    assert!(
        slip.err.contains("did you mean @dark?") && slip.err.contains("^^^^^"),
        "{}",
        slip.err
    );
    world.run(&["query", "save", "no name", "iso > 1"]).ended(2);
    world
        .run(&["query", "save", "wrong", "moon.alt > 20mm"])
        .ended(2);
    world.run(&["query", "save", "every", ""]).ended(2);
    world.run(&["query", "remove", "dark"]).ended(0);
    world.run(&["query", "remove", "dark"]).ended(2);
    world.run(&["frames", "@dark"]).ended(2);
}

#[test]
fn an_explanation_names_the_index_of_each_step_and_holds_no_words_of_the_query() {
    let world = archive();
    let steps = |query: &str| -> Vec<(String, String)> {
        let said = world
            .run(&["frames", query, "--explain", "--as", "json"])
            .ended(0)
            .json();
        let rows = said.as_array().unwrap().clone();
        rows.iter()
            .map(|row| {
                let part = row["part"].as_str().unwrap();
                let index = row["index"].as_str().unwrap_or("");
                (
                    part.to_owned(),
                    format!("{index}|{}", row["text"].as_str().unwrap()),
                )
            })
            .collect()
    };
    let night = steps("night = 2023-12-13 and lens = 'x'' OR 1'");
    assert!(
        night[0].1.contains("SELECT") && !night[0].1.contains("OR 1"),
        "{night:?}"
    );
    assert_eq!(night[1].1, "|19704", "2023-12-13 as a day");
    assert_eq!(night[2].1, "|'x'' OR 1'");
    assert!(
        night
            .iter()
            .any(|(part, words)| part.starts_with("step")
                && words.starts_with("derived_time_night|"))
    );
    let every = steps("exposure > 1");
    assert!(
        every
            .iter()
            .any(|(_, words)| words.starts_with("none: every row is read|SCAN")),
        "{every:?}"
    );
    let text = world
        .run(&["frames", "night = 2023-12-13", "--explain"])
        .ended(0)
        .out;
    assert!(
        text.contains("derived_time_night") && text.contains("the table's key"),
        "{text}"
    );
}

#[cfg(unix)]
#[test]
fn a_reader_that_goes_away_ends_the_answer_quietly() {
    let world = archive();
    for form in ["table", "csv", "json", "jsonl", "paths0"] {
        let mut child = Command::new(env!("CARGO_BIN_EXE_framefall"))
            .args(["frames", "--as", form])
            .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut first = [0];
        let mut out = child.stdout.take().unwrap();
        out.read_exact(&mut first).unwrap();
        drop(out);
        let ended = child.wait_with_output().unwrap();
        assert_eq!(ended.status.code(), Some(0), "{form}");
        assert_eq!(String::from_utf8_lossy(&ended.stderr), "", "{form}");
    }
}
