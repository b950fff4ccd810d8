//! Dumps change places: a folder is renamed, a disk is mounted elsewhere or not at all, a copy stays a copy.

use crate::world;
use std::fs;
use std::path::Path;
use std::time::Duration;

use crate::world::Said;
use crate::world::World;
use serde_json::Value;

/// A world with one dump of 80 files and 72 frames, ingested at a place.
fn with_card(at: &str) -> World {
    let world = World::new();
    world.dump("geminids-body-a", at, |_| true);
    world.run(&["ingest", at]).ended(0);
    world
}

fn go(world: &World, from: &str, to: &str) {
    let to = world.path(to);
    fs::create_dir_all(to.parent().unwrap()).unwrap();
    fs::rename(world.path(from), to).unwrap();
}

/// The numbers of frames and sessions, straight from the catalogue.
fn numbers(world: &World) -> Vec<(i64, i64, String)> {
    let db = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    db.prepare(
        "SELECT frame_id, ifnull(session_id, 0), name FROM written_file LEFT JOIN derived_time USING (frame_id)
         ORDER BY file_id",
    )
    .unwrap()
    .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
    .unwrap()
    .collect::<Result<_, _>>()
    .unwrap()
}

fn dumps(world: &World) -> Vec<Value> {
    let sheet = world.run(&["dump", "list", "--as", "json"]).ended(0).json();
    sheet.as_array().unwrap().clone()
}

/// Nothing was read, nothing is new; every file was known at its place.
fn only_moved(said: &Said, files: u64) {
    assert_eq!(said.number("unchanged, not read again"), files);
    for label in ["frames new", "known, read again", "further copies"] {
        assert_eq!(said.number(label), 0, "{label}");
    }
    assert!(said.out.contains("0.0 MB read"), "{}", said.out);
}

fn retimed(path: &Path, by: i64) {
    let file = fs::File::options().write(true).open(path).unwrap();
    let at = file.metadata().unwrap().modified().unwrap();
    let shift = Duration::from_secs(by.unsigned_abs());
    let at = if by < 0 { at - shift } else { at + shift };
    file.set_modified(at).unwrap();
}

#[test]
fn a_renamed_folder_is_the_same_dump_with_the_same_frames() {
    let world = with_card("old/card-a");
    let before = numbers(&world);
    go(&world, "old/card-a", "new/disk/card");
    let said = world.run(&["ingest", "new/disk/card/"]).ended(0);
    assert!(
        said.err.contains("dump card-a has moved from"),
        "{}",
        said.err
    );
    only_moved(&said, 80);
    assert_eq!(numbers(&world), before);
    let dumps = dumps(&world);
    assert_eq!(dumps.len(), 1);
    assert_eq!(dumps[0]["dump"], "card-a", "it keeps its label");
    let root = world.path("new/disk/card").canonicalize().unwrap();
    assert_eq!(dumps[0]["root"], root.to_str().unwrap());
    assert_eq!(dumps[0]["status"], "present");
    assert_eq!(
        (&dumps[0]["frames"], &dumps[0]["files"]),
        (&72.into(), &80.into())
    );
    world
        .run(&["export", "kind = light", "--to", "list.csv"])
        .ended(0);
    // At its place there is no further message.
    let again = world.run(&["ingest", "new/disk/card"]).ended(0);
    assert!(!again.err.contains("moved"), "{}", again.err);
}

#[test]
fn of_a_moved_dump_only_what_is_new_or_changed_is_read() {
    let world = with_card("card-a");
    go(&world, "card-a", "moved");
    world.write(
        "moved/DCIM/000FIRST/A.DNG",
        &world::frame_at("2023:12:13 22:31:00"),
    );
    let changed = world.path("moved/DCIM/101NCTRN");
    let changed = world::files_of(&changed).remove(1);
    retimed(&changed, 7200);
    let said = world.run(&["ingest", "moved"]).ended(0);
    assert!(said.err.contains("has moved"), "{}", said.err);
    assert_eq!(said.number("frames new"), 1);
    assert_eq!(said.number("known, read again"), 1);
    assert_eq!(said.number("unchanged, not read again"), 79);
}

#[test]
fn a_disk_of_many_dumps_is_recognised_from_any_folder_of_it() {
    let world = World::new();
    for (demo, at) in [
        ("geminids-body-a", "disk/2023/card-a"),
        ("geminids-body-b", "disk/2023/card-b"),
        ("eta-aquariids", "disk/2024/card-a"),
    ] {
        world.dump(demo, at, |_| true);
        world.run(&["ingest", at]);
    }
    let before = numbers(&world);
    go(&world, "disk", "media/elsewhere");
    let said = world.run(&["ingest", "media"]);
    assert_eq!(said.err.matches("has moved").count(), 3, "{}", said.err);
    assert_eq!(numbers(&world), before);
    assert_eq!(dumps(&world).len(), 3);
    // And from a folder within a dump.
    go(&world, "media/elsewhere/2023/card-a", "one");
    let said = world.run(&["ingest", "one/DCIM/101NCTRN"]).ended(0);
    assert!(said.err.contains("has moved"), "{}", said.err);
    only_moved(&said, 28);
    assert_eq!(numbers(&world), before);
}

#[test]
fn a_copy_beside_the_old_place_stays_a_copy() {
    let world = with_card("card-a");
    world.dump("geminids-body-a", "backup", |_| true);
    let said = world.run(&["ingest", "backup"]).ended(0);
    assert!(!said.err.contains("moved"), "{}", said.err);
    assert_eq!(said.number("further copies"), 80);
    assert_eq!(dumps(&world).len(), 2);
    // Either may have moved; the other is not a candidate.
    go(&world, "card-a", "third");
    let said = world.run(&["ingest", "third"]).ended(0);
    assert!(said.err.contains("dump card-a has moved"), "{}", said.err);
    only_moved(&said, 80);
}

#[test]
fn where_two_dumps_could_have_moved_nothing_is_guessed() {
    let world = with_card("card-a");
    world.dump("geminids-body-a", "backup", |_| true);
    world.run(&["ingest", "backup"]).ended(0);
    go(&world, "card-a", "present");
    fs::remove_dir_all(world.path("backup")).unwrap();
    let said = world.run(&["ingest", "present", "--quiet"]).ended(0);
    assert!(
        said.err.contains("may be the moved dump card-a or backup"),
        "{}",
        said.err
    );
    assert!(said.err.contains("treated as a new dump"), "{}", said.err);
    assert_eq!(dumps(&world).len(), 3);
}

#[test]
fn of_two_dumps_the_one_of_the_same_volume_has_moved() {
    let world = with_card("card-a");
    world.dump("geminids-body-a", "backup", |_| true);
    world.run(&["ingest", "backup"]).ended(0);
    let disk = |label: &str, id: &str, below: &str| {
        let db = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
        let changed = db
            .execute(
                "UPDATE written_dump SET volume_id = ?2, volume_path = ?3 WHERE label = ?1",
                [label, id, below],
            )
            .unwrap();
        assert_eq!(changed, 1);
    };
    go(&world, "card-a", "present");
    fs::remove_dir_all(world.path("backup")).unwrap();
    let volume =
        framefall::capture::volume::volume_of(&world.path("present").canonicalize().unwrap());
    let (Some(id), Some(below)) = (volume.id, volume.below) else {
        println!(
            "skipped: this platform tells no volume of {}",
            world.path("").display()
        );
        return;
    };
    disk("backup", &id, below.to_str().unwrap());
    disk("card-a", "another", below.to_str().unwrap());
    let said = world.run(&["ingest", "present"]).ended(0);
    assert!(said.err.contains("dump backup has moved"), "{}", said.err);
    // The copy had other time stamps: each file is recognised by its contents, and read to store its time stamp.
    assert_eq!(said.number("known, read again"), 80);
    assert_eq!(said.number("frames new") + said.number("further copies"), 0);
    assert_eq!(dumps(&world).len(), 2);
}

#[test]
fn two_places_for_one_dump_are_in_doubt() {
    let world = with_card("card-a");
    world.dump("geminids-body-a", "copy", |_| true);
    go(&world, "card-a", "present");
    // Times are the same too, as a careful copy leaves them.
    for file in world::files_of(&world.path("present")) {
        let below = file.strip_prefix(world.path("present")).unwrap();
        let copy = fs::File::options()
            .write(true)
            .open(world.path("copy").join(below))
            .unwrap();
        copy.set_modified(file.metadata().unwrap().modified().unwrap())
            .unwrap();
    }
    let said = world.run(&["ingest", "present", "copy"]).ended(0);
    assert!(said.err.contains("could as well be"), "{}", said.err);
    assert!(!said.err.contains("has moved"), "{}", said.err);
    assert_eq!(dumps(&world).len(), 3);
}

#[test]
fn another_card_with_the_same_names_is_a_dump_of_its_own() {
    let world = World::new();
    world.write(
        "card-a/DCIM/100/A.DNG",
        &world::frame_at("2023:12:13 22:31:00"),
    );
    world.write(
        "card-a/DCIM/100/B.DNG",
        &world::frame_at("2023:12:13 22:31:20"),
    );
    world.run(&["ingest", "card-a"]).ended(0);
    fs::remove_dir_all(world.path("card-a")).unwrap();
    // Its first file is known, its second has changed.
    world.write(
        "card-b/DCIM/100/A.DNG",
        &world::frame_at("2023:12:13 22:31:00"),
    );
    world.write(
        "card-b/DCIM/100/B.DNG",
        &world::frame_at("2024:01:01 02:00:00"),
    );
    let said = world.run(&["ingest", "card-b"]).ended(0);
    assert!(!said.err.contains("moved"), "{}", said.err);
    assert_eq!(said.number("frames new"), 1);
    assert_eq!(said.number("further copies"), 1);
    assert_eq!(dumps(&world).len(), 2);
}

#[cfg(unix)]
#[test]
fn links_and_slashes_on_the_way_make_no_other_dump() {
    use std::os::unix::fs::symlink;
    let world = with_card("disk/card-a");
    symlink(world.path("disk"), world.path("link")).unwrap();
    let said = world.run(&["ingest", "link/card-a/"]).ended(0);
    assert!(!said.err.contains("moved"), "{}", said.err);
    only_moved(&said, 80);
    // The disk is mounted elsewhere; the link follows it.
    go(&world, "disk", "other");
    fs::remove_file(world.path("link")).unwrap();
    symlink(world.path("other"), world.path("link")).unwrap();
    let said = world.run(&["ingest", "link/card-a/"]).ended(0);
    assert!(said.err.contains("has moved"), "{}", said.err);
    only_moved(&said, 80);
    world
        .run(&["dump", "move", "card-a", "link/../other/card-a///"])
        .ended(0);
    assert_eq!(dumps(&world).len(), 1);
}

#[cfg(unix)]
#[test]
fn folders_whose_names_are_no_text_move_too_and_back() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let world = with_card("card-a");
    let before = numbers(&world);
    let odd = world.path("").join(OsStr::from_bytes(b"n\xFFght \xC3"));
    fs::create_dir(&odd).unwrap();
    fs::rename(world.path("card-a"), odd.join("card-a")).unwrap();
    let inner = odd.join("card-a");
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_framefall"))
        .arg("ingest")
        .arg(&inner)
        .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
        .output()
        .unwrap();
    let err = String::from_utf8_lossy(&output.stderr);
    assert!(
        output.status.success() && err.contains("has moved"),
        "{err}"
    );
    world
        .run(&[
            "export",
            "kind = light",
            "--to",
            "list.csv",
            "--check",
            "content",
        ])
        .ended(0);
    world.run(&["audit", "--disk", "--as", "json"]);
    let listed = world.run(&["dump", "list", "--as", "json"]).ended(0).json();
    let root = listed[0]["root"].as_str().unwrap();
    assert!(root.ends_with("n\\xFFght \\xC3/card-a"), "{root}");
    fs::rename(&inner, world.path("card-a")).unwrap();
    world.run(&["dump", "move", "card-a", "card-a"]).ended(0);
    assert_eq!(numbers(&world), before);
    let db = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    let bytes: Option<Vec<u8>> = db
        .query_row("SELECT root_bytes FROM written_dump", [], |row| row.get(0))
        .unwrap();
    assert_eq!(bytes, None, "a name that is text needs no bytes beside it");
}
