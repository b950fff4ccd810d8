//! A list and its manifest: they belong together, and the list can be made again from it, years later.

use std::fs;

use crate::world::World;
use serde_json::Value;

const AGAIN: &[&str] = &["export", "--again", "list.csv.manifest.json"];

fn with_list(words: &[&str]) -> World {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.run(&["ingest", "card"]).ended(0);
    world
        .run(&["query", "save", "dark", "moon.alt < 0"])
        .ended(0);
    world
        .run(
            &[
                &["export", "@dark and kind = light", "--to", "list.csv"],
                words,
            ]
            .concat(),
        )
        .ended(0);
    world
}

fn manifest(world: &World) -> Value {
    let text = fs::read_to_string(world.path("list.csv.manifest.json")).unwrap();
    serde_json::from_str(&text).unwrap()
}

#[test]
fn a_manifest_says_what_was_asked_of_what_and_what_came_of_it() {
    let world = with_list(&["--limit", "40"]);
    let told = manifest(&world);
    assert_eq!(told["query"]["typed"], "@dark and kind = light");
    assert_eq!(told["query"]["meaning"], "moon.alt < 0° and kind = light");
    assert_eq!(told["options"]["as"], "csv");
    assert_eq!(told["options"]["limit"], 40);
    assert_eq!(
        told["program"],
        concat!("framefall ", env!("CARGO_PKG_VERSION"))
    );
    let list = fs::read(world.path("list.csv")).unwrap();
    assert_eq!(told["lists"][0]["file"], "list.csv");
    assert_eq!(told["lists"][0]["frames"], 40);
    assert_eq!(told["lists"][0]["bytes"], list.len());
    assert_eq!(
        told["lists"][0]["blake3"],
        blake3::hash(&list).to_hex().to_string()
    );
    let mut reader = csv::Reader::from_reader(list.as_slice());
    let rows: Vec<String> = reader
        .records()
        .map(|row| row.unwrap()[0].to_owned())
        .collect();
    let files = told["files"].as_array().unwrap();
    assert_eq!(files.len(), 40);
    for (file, path) in files.iter().zip(&rows) {
        assert_eq!(file["path"].as_str().unwrap(), path);
        let about = fs::metadata(path).unwrap();
        assert_eq!(file["bytes"], about.len());
        let since = about
            .modified()
            .unwrap()
            .duration_since(std::time::UNIX_EPOCH)
            .unwrap();
        let digits = file["modified_utc"].as_str().unwrap();
        assert!(
            digits.ends_with(&format!("{:09}Z", since.subsec_nanos())),
            "{digits}"
        );
    }
    // The middle light of the list.
    assert_eq!(
        told["lists"][0]["reference"]["path"].as_str().unwrap(),
        rows[20]
    );
}

#[test]
fn a_list_is_made_again_byte_for_byte() {
    let world = with_list(&[]);
    let list = fs::read(world.path("list.csv")).unwrap();
    let told = fs::read(world.path("list.csv.manifest.json")).unwrap();
    let said = world.run(AGAIN).ended(0);
    assert!(said.err.contains("byte for byte"), "{}", said.err);
    // Another meaning of the saved query is not this list's.
    world
        .run(&["query", "save", "dark", "moon.alt > 0"])
        .ended(0);
    fs::remove_file(world.path("list.csv")).unwrap();
    let said = world.run(AGAIN).ended(0);
    assert!(
        said.err.contains("made again byte for byte"),
        "{}",
        said.err
    );
    assert_eq!(fs::read(world.path("list.csv")).unwrap(), list);
    // And the manifest of a list made again speaks of the same list.
    let (then, now): (Value, Value) = (serde_json::from_slice(&told).unwrap(), manifest(&world));
    for key in [
        "query",
        "options",
        "catalogue",
        "lists",
        "files",
        "left_out",
    ] {
        if key != "query" {
            assert_eq!(then[key], now[key], "{key}");
        }
    }
    assert_eq!(then["query"]["meaning"], now["query"]["meaning"]);
}

#[test]
fn a_list_that_was_edited_is_told_and_stays_until_it_may_be_replaced() {
    let world = with_list(&[]);
    let list = fs::read(world.path("list.csv")).unwrap();
    fs::write(world.path("list.csv"), "edited\r\n").unwrap();
    let said = world.run(AGAIN).ended(1);
    assert!(
        said.err.contains("differs from the manifest"),
        "{}",
        said.err
    );
    assert_eq!(fs::read(world.path("list.csv")).unwrap(), b"edited\r\n");
    world.run(&[AGAIN, &["--overwrite"]].concat()).ended(1);
    assert_eq!(fs::read(world.path("list.csv")).unwrap(), list);
}

#[test]
fn a_list_and_its_manifest_may_be_given_another_name() {
    let again = ["export", "--again", "geminids.csv.manifest.json"];
    for (renamed, told) in [
        (
            &[".csv", ".csv.manifest.json"][..],
            "the one on the disk is unchanged",
        ),
        (
            &[".csv.manifest.json"][..],
            "was missing and has been made again",
        ),
    ] {
        let world = with_list(&[]);
        let list = fs::read(world.path("list.csv")).unwrap();
        for ending in renamed {
            let from = world.path(&format!("list{ending}"));
            fs::rename(from, world.path(&format!("geminids{ending}"))).unwrap();
        }
        let said = world.run(&again).ended(0);
        assert!(said.err.contains("byte for byte"), "{}", said.err);
        assert!(said.err.contains(told), "{}", said.err);
        assert_eq!(fs::read(world.path("geminids.csv")).unwrap(), list);
    }
}

#[test]
fn what_differs_is_said() {
    let world = with_list(&[]);
    let list = fs::read(world.path("list.csv")).unwrap();
    // A frame more, one less.
    world.dump("geminids-body-b", "more", |_| true);
    world.run(&["ingest", "--site", "38.93N 116.01W", "more"]);
    fs::remove_file(world.path("card/DCIM/101NCTRN/N6A_0470.DNG")).unwrap();
    world.run(AGAIN).ended(2);
    let said = world.run(&[AGAIN, &["--allow-missing"]].concat()).ended(1);
    assert!(said.err.contains("no longer in the list"), "{}", said.err);
    assert!(said.err.contains("N6A_0470.DNG"), "{}", said.err);
    assert!(said.err.contains("new in the list"), "{}", said.err);
    assert!(said.err.contains("N2M_22"), "{}", said.err);
    assert!(said.err.contains("newest_file"), "{}", said.err);
    assert_eq!(
        fs::read(world.path("list.csv")).unwrap(),
        list,
        "nothing was written"
    );
    world
        .run(&[AGAIN, &["--allow-missing", "--overwrite"]].concat())
        .ended(1);
    assert_ne!(fs::read(world.path("list.csv")).unwrap(), list);
    world.run(AGAIN).ended(1); // the one that is missing stays left out, which needs a person
}

#[test]
fn a_clock_put_right_shows_as_the_same_files_told_otherwise() {
    let world = with_list(&[]);
    world
        .run(&[
            "clock",
            "fix",
            "6004127",
            "--read",
            "2023-12-14 00:00:00",
            "--true",
            "2023-12-14T08:00:07Z",
        ])
        .ended(0);
    let said = world.run(AGAIN).ended(1);
    assert!(said.err.contains("the files are the same"), "{}", said.err);
    assert!(said.err.contains("newest_clock_fix"), "{}", said.err);
}

#[test]
fn lists_by_session_are_made_again_together() {
    let world = with_list(&[
        "--overwrite",
        "--per-session",
        "--relative",
        "--reference",
        "N6A_0460.DNG",
    ]);
    let lists: Vec<String> = manifest(&world)["lists"]
        .as_array()
        .unwrap()
        .iter()
        .map(|list| list["file"].as_str().unwrap().to_owned())
        .collect();
    assert!(lists.len() > 1);
    let before: Vec<Vec<u8>> = lists
        .iter()
        .map(|l| fs::read(world.path(l)).unwrap())
        .collect();
    for list in &lists {
        fs::remove_file(world.path(list)).unwrap();
    }
    world.run(AGAIN).ended(0);
    let now: Vec<Vec<u8>> = lists
        .iter()
        .map(|l| fs::read(world.path(l)).unwrap())
        .collect();
    assert_eq!(before, now);
}

/// The lists by session, of which one is gone.
#[test]
fn a_list_that_is_gone_is_made_again_beside_those_that_are_there() {
    let world = with_list(&["--overwrite", "--per-session"]);
    let gone = world.path(manifest(&world)["lists"][1]["file"].as_str().unwrap());
    let before = fs::read(&gone).unwrap();
    fs::remove_file(&gone).unwrap();
    let said = world.run(AGAIN).ended(0);
    assert!(said.err.contains("a list was missing"), "{}", said.err);
    assert_eq!(fs::read(&gone).unwrap(), before);
    // Not beside one that was edited: that would be replaced with it.
    let other = world.path(manifest(&world)["lists"][0]["file"].as_str().unwrap());
    fs::write(&other, "edited").unwrap();
    fs::remove_file(&gone).unwrap();
    world.run(AGAIN).ended(1);
    assert!(!gone.exists());
    assert_eq!(fs::read(&other).unwrap(), b"edited");
}

#[test]
fn a_dump_that_moved_shows_as_files_at_another_place() {
    let world = with_list(&[]);
    fs::rename(world.path("card"), world.path("archive")).unwrap();
    world.run(&["dump", "move", "card", "archive"]).ended(0);
    let said = world.run(AGAIN).ended(1);
    let moved = said.err.lines().find(|line| line.starts_with("moved:"));
    let (old, new) = moved.unwrap().rsplit_once(" is now ").unwrap();
    assert!(
        old.ends_with(&new.rsplit_once("archive").unwrap().1.to_owned()),
        "{moved:?}"
    );
    assert!(!said.err.contains("new in the list"), "{}", said.err);
    assert!(!said.err.contains("no longer in the list"), "{}", said.err);
    world.run(&[AGAIN, &["--overwrite"]].concat()).ended(1);
    world.run(AGAIN).ended(0);
}

#[test]
fn a_list_from_a_root_is_the_same_from_where_the_disk_is_mounted_now() {
    let world = with_list(&[]);
    let before = "disk-one/list/card/DCIM/101NCTRN/N6A_0460.DNG";
    let old = ["export", "kind = light", "--to", "rooted.csv"];
    fs::create_dir_all(world.path("disk-one/list")).unwrap();
    fs::rename(world.path("card"), world.path("disk-one/list/card")).unwrap();
    world
        .run(&["dump", "move", "card", "disk-one/list/card"])
        .ended(0);
    let from = ["--root", "disk-one", "--reference", before];
    world.run(&[&old[..], &from].concat()).ended(0);
    fs::rename(world.path("disk-one"), world.path("disk-two")).unwrap();
    world
        .run(&["dump", "move", "card", "disk-two/list/card"])
        .ended(0);
    let again = ["export", "--again", "rooted.csv.manifest.json"];
    let refused = world.run(&again).ended(2);
    assert!(refused.err.contains("--root"), "{}", refused.err);
    let now = before.replace("one", "two");
    let there = ["--root", "disk-two", "--reference", &now];
    let said = world.run(&[&again[..], &there].concat()).ended(0);
    assert!(said.err.contains("byte for byte"), "{}", said.err);
    // A list with absolute paths has no root.
    world.run(&[AGAIN, &there].concat()).ended(2);
}

#[test]
fn what_is_no_manifest_is_refused() {
    let world = with_list(&[]);
    world.write("x.manifest.json", b"{\"schema\": \"framefall.manifest/9\"}");
    world.write("y.manifest.json", b"[1, 2");
    fs::copy(
        world.path("list.csv.manifest.json"),
        world.path("renamed.json"),
    )
    .unwrap();
    for (name, why) in [
        ("x.manifest.json", "framefall.manifest/1"),
        ("y.manifest.json", "not the manifest"),
        ("none.manifest.json", "cannot be read"),
        ("renamed.json", "a manifest must be named"),
    ] {
        let said = world.run(&["export", "--again", name]).ended(2);
        assert!(said.err.contains(why), "{name}: {}", said.err);
    }
    let both = world
        .run(&["export", "iso > 0", "--again", "list.csv.manifest.json"])
        .ended(2);
    assert!(both.err.contains("cannot be used with"), "{}", both.err);
    world.run(&["export", "iso > 0"]).ended(2);
}
