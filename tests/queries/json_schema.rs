//! What the program writes as JSON, held to the JSON Schemas that the project ships (draft 2020-12) by a validator that is
//! not ours. The schemas themselves are held to the meta-schema, and to refusing what they should.

use std::fs;

use crate::world::World;
use framefall::terms::field::FIELDS;
use framefall::terms::field_radiant::RADIANT_FIELDS;
use jsonschema::Validator;
use serde_json::Value;
use serde_json::json;

fn schema(name: &str) -> Value {
    let path = format!("{}/docs/schema/{name}", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

fn validator(name: &str) -> Validator {
    let schema = schema(name);
    assert!(jsonschema::meta::is_valid(&schema), "{name} is no schema");
    jsonschema::validator_for(&schema).unwrap()
}

fn holds(validator: &Validator, value: &Value) {
    let wrong: Vec<String> = validator
        .iter_errors(value)
        .map(|e| format!("{} at {}", e, e.instance_path()))
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}\n{value:#}");
}

const FRAME: &str = "framefall.frame.1.json";
const MANIFEST: &str = "framefall.manifest.1.json";
const LINKS: &str = "framefall.links.1.json";

/// Frames of every story of the demo data: with and without UTC, place, session; damaged; pairs.
fn archive() -> World {
    let world = World::new();
    for card in ["geminids-body-a", "geminids-body-b", "eta-aquariids"] {
        world.dump(card, card, |_| true);
    }
    world.write("broken/EMPTY.NEF", b"");
    world.write("broken/ZERO.CR2", &[0; 5000]);
    world.run(&[
        "ingest",
        "geminids-body-a",
        "geminids-body-b",
        "eta-aquariids",
        "broken",
    ]);
    world
}

#[test]
fn every_frame_holds_to_its_schema() {
    let world = archive();
    let frame = validator(FRAME);
    let array = world.run(&["frames", "--as", "json"]).json();
    let frames = array.as_array().unwrap();
    assert!(frames.len() > 90);
    for one in frames {
        holds(&frame, one);
    }
    let lines = world.run(&["frames", "--as", "jsonl"]).ended(0);
    for line in lines.out.lines() {
        holds(&frame, &serde_json::from_str(line).unwrap());
    }
    for to in ["list.json", "list.jsonl"] {
        world
            .run(&["export", "", "--to", to, "--with-damaged"])
            .ended(0);
        let text = fs::read_to_string(world.path(to)).unwrap();
        let rows: Vec<Value> = if to.ends_with('l') {
            text.lines()
                .map(|line| serde_json::from_str(line).unwrap())
                .collect()
        } else {
            serde_json::from_str(&text).unwrap()
        };
        assert_eq!(rows.len(), frames.len());
        for row in &rows {
            holds(&frame, row);
            assert!(row.get("reference_turn_deg").is_some() && row.get("reference").is_some());
        }
    }
}

#[test]
fn the_schema_of_a_frame_names_every_key_and_no_other() {
    let schema = schema(FRAME);
    let mut keys: Vec<&String> = schema["properties"].as_object().unwrap().keys().collect();
    // Beside the names whose text is not their bytes.
    keys.retain(|key| !key.ends_with("_hex"));
    let mut expected = vec!["schema"];
    expected.extend(FIELDS.iter().map(|field| field.key));
    expected.extend([
        "reference",
        "reference_turn_deg",
        "reference_turn_basis",
        "files",
        "radiants",
    ]);
    assert_eq!(keys, expected);
    let radiant = &schema["properties"]["radiants"]["items"]["properties"];
    let keys: Vec<&String> = radiant.as_object().unwrap().keys().collect();
    let mut expected = vec!["shower"];
    expected.extend(RADIANT_FIELDS.iter().map(|field| field.key));
    assert_eq!(keys, expected);
    for field in FIELDS {
        let said = schema["properties"][field.key]["description"]
            .as_str()
            .unwrap();
        assert!(said.starts_with(field.sentence), "{}: {said}", field.key);
    }
}

#[test]
fn what_is_no_frame_does_not_hold() {
    let world = archive();
    let frame = validator(FRAME);
    let good = world
        .run(&["frames", "kind = light", "--as", "json", "--limit", "1"])
        .json()[0]
        .clone();
    holds(&frame, &good);
    for (key, value) in [
        ("schema", json!("framefall.frame/2")),
        ("start_utc", json!("2023-12-14 00:12:07")),
        ("kind", json!("lights")),
        ("lat_deg", json!(91)),
        ("exposure_s", json!("15")),
        ("radiants", json!([{"shower": "GEM"}])),
        ("colour", json!("blue")),
    ] {
        let mut bad = good.clone();
        bad[key] = value;
        assert!(!frame.is_valid(&bad), "{key}");
    }
    let mut bad = good;
    bad.as_object_mut().unwrap().remove("turn_deg");
    assert!(!frame.is_valid(&bad));
}

#[test]
fn every_manifest_holds_to_its_schema() {
    let world = archive();
    let manifest = validator(MANIFEST);
    let root = world.path("").canonicalize().unwrap();
    let lists: &[&[&str]] = &[
        &["--to", "a.csv"],
        &["--to", "b.txt", "--per-session", "--relative"],
        &[
            "--to",
            "c.json",
            "--check",
            "content",
            "--take",
            "raw",
            "--allow-missing",
        ],
        &[
            "--to",
            "d.csv",
            "--root",
            root.to_str().unwrap(),
            "--limit",
            "3",
            "--show",
            "file,reference",
        ],
        &[
            "--to",
            "e.csv",
            "--check",
            "none",
            "--reference",
            "N6A_0460.DNG",
        ],
        &[
            "--to",
            "f.csv",
            "--with-darks",
            "--with-flats",
            "--with-bias",
        ],
    ];
    for words in lists {
        let said = world.run(&[&["export", "", "--quiet"], *words].concat());
        assert!(said.code < 2, "{}", said.err);
        let text = fs::read_to_string(world.path(&format!("{}.manifest.json", words[1]))).unwrap();
        let value: Value = serde_json::from_str(&text).unwrap();
        holds(&manifest, &value);
        for (key, bad) in [
            ("schema", json!("framefall.manifest/2")),
            ("files", json!([{}])),
            ("more", json!(1)),
        ] {
            let mut wrong = value.clone();
            wrong[key] = bad;
            assert!(!manifest.is_valid(&wrong), "{key}");
        }
    }
}

#[test]
fn the_record_of_a_tree_holds_to_its_schema() {
    let world = archive();
    let links = validator(LINKS);
    let ways: &[&[&str]] = &[&[], &["--link-as", "copy", "--with-darks", "--with-flats"]];
    for (tree, words) in ["a", "b"].into_iter().zip(ways) {
        let query = ["export", "kind = light", "--link-into", tree];
        let said = world.run(&[&query, *words].concat());
        assert!(said.code < 2, "{}", said.err);
        let text = fs::read_to_string(world.path(tree).join("framefall-links.json")).unwrap();
        let value: Value = serde_json::from_str(&text).unwrap();
        holds(&links, &value);
        assert_eq!(value["calibration"] == json!([]), words.is_empty());
        for (key, bad) in [("link_as", json!("soft")), ("links", json!([{}]))] {
            let mut wrong = value.clone();
            wrong[key] = bad;
            assert!(!links.is_valid(&wrong), "{key}");
        }
    }
}

#[test]
fn every_statement_holds_to_its_schema() {
    let world = archive();
    world.site("Ridge", "10", "10");
    world.write(
        "walk.gpx",
        b"<gpx version=\"1.1\" creator=\"x\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>\
          <trkpt lat=\"38\" lon=\"-116\"><time>2001-12-14T01:00:00Z</time></trkpt>\
          <trkpt lat=\"38.1\" lon=\"-116\"><ele>12</ele><time>2001-12-14T02:00:00Z</time></trkpt></trkseg></trk></gpx>",
    );
    let frames = world
        .run(&["frames", "session = 1 and seq = 1", "--as", "json"])
        .ended(0);
    let size = |key: &str| frames.json()[0][key].as_u64().unwrap();
    let header = format!(
        "CTYPE1  = 'RA---TAN'\nCTYPE2  = 'DEC--TAN'\nCRVAL1  = 10.0\nCRVAL2  = 20.0\nCRPIX1  = 1.0\nCRPIX2  = 1.0\n\
         CD1_1   = -0.01\nCD2_2   = 0.01\nIMAGEW  = {}\nIMAGEH  = {}\n",
        size("width_px"),
        size("height_px")
    );
    world.write("solved.fits", header.as_bytes());
    for words in [
        &["site", "assign", "Ridge", "--dump", "broken"][..],
        &["site", "track", "walk.gpx"],
        &["site", "track", "--remove", "walk.gpx"],
        &[
            "clock",
            "zone",
            "6004127",
            "+03:00",
            "--until",
            "2001-01-01",
        ],
        &["clock", "remove", "zone-1"],
        &[
            "clock",
            "fix",
            "6004127",
            "--read",
            "2001-12-14 01:00:00",
            "--true",
            "2001-12-14T00:00:01Z",
        ],
        &["clock", "remove", "fix-1"],
        &["sessions", "mark", "1", "--kind", "light"],
        &["sessions", "mark", "1", "--focal", "24"],
        &["sessions", "mark", "1", "--clear"],
        &[
            "frames", "mark", "iso > 1", "--looked", "yes", "--chosen", "no", "--note", "dew",
        ],
        &["frames", "mark", "iso > 1", "--clear", "looked,chosen,note"],
        &[
            "trails",
            "add",
            "session = 1 and seq = 1",
            "--from",
            "1,2",
            "--to",
            "3.25,4",
            "--is",
            "meteor",
            "--shower",
            "GEM",
        ],
        &["trails", "judge", "1", "--is", "other"],
        &["trails", "remove", "1"],
        &[
            "pointing",
            "state",
            "session = 1 and seq = 1",
            "--wcs",
            "solved.fits",
        ],
        &["pointing", "remove", "session = 1 and seq = 1"],
        &["query", "save", "a", "iso > 1"],
        &["query", "remove", "a"],
        &["dump", "rename", "broken", "bad"],
        &["site", "change", "Ridge", "--sky-brightness", "21"],
        &["site", "remove", "Ridge", "--yes"],
    ] {
        world.run(words).ended(0);
    }
    world.run(&["statement", "save", "log.jsonl"]).ended(0);
    let statement = validator("framefall.statement.1.json");
    let text = fs::read_to_string(world.path("log.jsonl")).unwrap();
    let mut words = std::collections::BTreeSet::new();
    for line in text.lines() {
        let value: Value = serde_json::from_str(line).unwrap();
        holds(&statement, &value);
        words.insert(value["what"].as_str().unwrap().to_owned());
        for (key, wrong) in [
            ("what", json!("other")),
            ("identity", json!("12")),
            ("content", json!({"other": 1})),
            ("frames", json!([{"dump": "a"}])),
        ] {
            let mut spoilt = value.clone();
            spoilt[key] = wrong;
            assert!(!statement.is_valid(&spoilt), "{key}: {line}");
        }
    }
    assert_eq!(words.len(), 20, "{words:?}");
}
