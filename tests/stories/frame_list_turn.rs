//! Lists by session, and the turn of the sky to a list's reference frame.

use crate::world;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use crate::world::World;

const LIGHTS: &str = "kind = light and health = sound";

/// Two bodies' cards of one night.
fn night() -> World {
    let world = World::new();
    world.dump("geminids-body-a", "a", |_| true);
    world.dump("geminids-body-b", "b", |_| true);
    world.site("Salt Ridge", "38.93N", "116.01W");
    world.run(&["ingest", "--site", "Salt Ridge", "a", "b"]);
    world
}

fn rows(list: &Path) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_path(list).unwrap();
    reader.deserialize().map(Result::unwrap).collect()
}

/// The names of the files in the world's folder.
fn names(world: &World, with: &str) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(world.path(""))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.contains(with))
        .collect();
    names.sort();
    names
}

/// A frame with this reading, and different last bytes.
fn with_bytes(reading: &str, own: &str) -> Vec<u8> {
    let mut bytes = world::frame_at(reading);
    bytes.extend(own.bytes().cycle().take(64));
    bytes
}

#[test]
fn each_session_has_its_own_list_and_the_turn_of_a_whole_session_is_the_sessions_own() {
    let world = night();
    world
        .run(&[
            "export",
            "session is known",
            "--to",
            "night.csv",
            "--per-session",
            "--with-damaged",
        ])
        .ended(0);
    let sessions = world.run(&["sessions", "--as", "json"]).json();
    let mut lists: Vec<String> = sessions
        .as_array()
        .unwrap()
        .iter()
        .map(|s| format!("night.session-{}.csv", s["session"]))
        .collect();
    lists.sort();
    let mut expected = lists.clone();
    expected.push("night.csv.manifest.json".to_owned());
    expected.sort();
    assert_eq!(names(&world, "night."), expected);
    let mut turned = 0;
    for list in lists {
        let rows = rows(&world.path(&list));
        for row in &rows {
            assert_eq!(list, format!("night.session-{}.csv", row["session"]));
            if row["turn_deg"].is_empty() {
                continue; // a session without lights has no turn of its own
            }
            let (own, listed): (f64, f64) = (
                row["turn_deg"].parse().unwrap(),
                row["reference_turn_deg"].parse().unwrap(),
            );
            // The catalogue keeps tenths of an arcsecond.
            assert!((own - listed).abs() < 0.1 / 3600.0, "{own} {listed}");
            turned += 1;
        }
        let zero: Vec<_> = rows
            .iter()
            .filter(|row| row["reference_turn_deg"] == "0")
            .collect();
        assert!(
            zero.iter().any(|row| row["path"] == row["reference"]),
            "{list}"
        );
    }
    assert!(turned > 60);
}

/// 15.0410672 degrees an hour: the sky's turn in UT1 (IERS Conventions 2010, eq. 5.15, from memory).
#[test]
fn the_turn_to_a_chosen_frame_is_the_skys_turn_since_its_middle() {
    let world = night();
    for (name, to) in [
        ("N6A_0460.DNG", "by-name.csv"),
        ("a/DCIM/101NCTRN/N6A_0460.DNG", "by-path.csv"),
        ("101NCTRN/N6A_0460.DNG", "by-end.csv"),
    ] {
        world
            .run(&[
                "export",
                LIGHTS,
                "--to",
                to,
                "--reference",
                name,
                "--show",
                "file,mid,reference_turn,reference,session,seq",
            ])
            .ended(0);
    }
    let list = rows(&world.path("by-name.csv"));
    let bytes = |name: &str| fs::read(world.path(name)).unwrap();
    assert_eq!(bytes("by-name.csv"), bytes("by-path.csv"));
    assert_eq!(bytes("by-name.csv"), bytes("by-end.csv"));
    let reference = list
        .iter()
        .find(|row| row["file"] == "N6A_0460.DNG")
        .unwrap();
    let place = format!("{}/{}", reference["session"], reference["seq"]);
    world
        .run(&[
            "export",
            LIGHTS,
            "--to",
            "by-place.csv",
            "--reference",
            &place,
            "--show",
            "file,mid,reference_turn,reference,session,seq",
        ])
        .ended(0);
    assert_eq!(bytes("by-name.csv"), bytes("by-place.csv"));
    let at = |row: &BTreeMap<String, String>| {
        framefall::terms::time::Utc::parse(&row["mid_utc"]).unwrap()
    };
    for row in &list {
        let turn: f64 = row["reference_turn_deg"].parse().unwrap();
        let expected = at(row).seconds_since(at(reference)) / 3600.0 * 15.041_067_2;
        assert!((turn - expected).abs() < 1e-5, "{turn} {expected}");
        assert!(row["reference"].ends_with("/N6A_0460.DNG"));
    }
}

#[test]
fn a_doubtful_reference_frame_is_refused_with_those_it_could_be() {
    let world = World::new();
    for folder in ["one", "two"] {
        world.write(
            &format!("{folder}/X.DNG"),
            &with_bytes("2023:12:13 23:00:00", folder),
        );
    }
    world.run(&["ingest", "one", "two"]).ended(0);
    let refused = |reference: &str| {
        let said = world
            .run(&[
                "export",
                "iso > 0",
                "--to",
                "x.csv",
                "--reference",
                reference,
            ])
            .ended(2);
        assert_eq!(names(&world, "x.csv"), [""; 0]);
        said.err
    };
    let several = refused("x.dng");
    assert!(several.contains("2 frames of the list"), "{several}");
    assert!(
        several.contains("one/X.DNG") && several.contains("two/X.DNG"),
        "{several}"
    );
    assert!(refused("Y.DNG").contains("no frame of the list is Y.DNG"));
    assert!(refused("7/1").contains("no frame of the list is 7/1"));
    // Named well, but without UTC there is nothing to turn from.
    assert!(refused("one/X.DNG").contains("has no UTC"));
}
