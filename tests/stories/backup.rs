//! A backup is a whole catalogue: made while others work, checked, restored by a copy; and the audit misses one that is old.

use std::fs;
use std::path::Path;

use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use rusqlite::Connection;

use crate::content::content;
use crate::content::first_difference;
use crate::state::put_back;
use crate::world::World;

fn night() -> World {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.run(&["ingest", "card"]).ended(0);
    world
        .run(&["sessions", "mark", "1", "--kind", "dark"])
        .ended(0);
    world
        .run(&["query", "save", "dark-moon", "moon.alt < 0"])
        .ended(0);
    world
}

fn leftovers(world: &World) -> Vec<String> {
    fs::read_dir(world.path("."))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.contains(".part") || name.starts_with("b.sqlite-"))
        .collect()
}

#[test]
fn a_backup_holds_everything_and_is_restored_by_a_copy() {
    let world = night();
    let frames = world.run(&["frames", "--as", "json"]).ended(0).out;
    let statements = world
        .run(&["statement", "list", "--as", "json"])
        .ended(0)
        .out;
    let said = world.run(&["backup", "b.sqlite"]).ended(0);
    assert!(said.out.contains("the copy was checked"), "{}", said.out);
    assert_eq!(leftovers(&world), [""; 0]);
    // It needs no log beside it: it can be read where nothing can be written.
    assert_eq!(fs::read(world.path("b.sqlite")).unwrap()[18..20], [1, 1]);
    let difference = first_difference(
        &content(&world.path("catalogue.sqlite")),
        &content(&world.path("b.sqlite")),
    );
    assert_eq!(difference, None);
    // The catalogue is lost; the copy takes its place.
    put_back(
        Some(&world.path("b.sqlite")),
        &world.path("catalogue.sqlite"),
    );
    assert_eq!(world.run(&["frames", "--as", "json"]).ended(0).out, frames);
    let restored = world.run(&["statement", "list", "--as", "json"]).ended(0);
    assert_eq!(restored.out, statements);
    // And works as a catalogue.
    world.dump("geminids-body-b", "card-b", |name| name != "N2M_2219.DNG");
    world.run(&["ingest", "card-b"]).ended(0);
    world.run(&["audit", "--as", "json"]);
}

#[test]
fn a_writer_at_work_is_not_waited_for() {
    let world = night();
    let writer = Catalogue::open(&world.path("catalogue.sqlite"), Purpose::Change).unwrap();
    let said = world.run(&["backup", "b.sqlite"]).ended(0);
    assert_eq!(said.err, "");
    drop(writer);
    let made = "SELECT count(*) FROM catalogue_backup";
    for file in ["b.sqlite", "catalogue.sqlite"] {
        let db = Connection::open(world.path(file)).unwrap();
        let noted: i64 = db.query_row(made, [], |row| row.get(0)).unwrap();
        assert_eq!(noted, 1, "{file}");
    }
}

#[test]
fn what_is_no_backup_is_not_replaced() {
    let world = night();
    world.run(&["backup", "b.sqlite"]).ended(0);
    let before = fs::read(world.path("b.sqlite")).unwrap();
    let refused = |words: &[&str], why: &str| {
        let said = world.run(words).ended(2);
        assert!(said.err.contains(why), "{}", said.err);
    };
    refused(&["backup", "b.sqlite"], "already exists");
    assert_eq!(fs::read(world.path("b.sqlite")).unwrap(), before);
    world
        .run(&["sessions", "mark", "1", "--kind", "flat"])
        .ended(0);
    world.run(&["backup", "b.sqlite", "--overwrite"]).ended(0);
    assert_ne!(fs::read(world.path("b.sqlite")).unwrap(), before);
    world.write("picture.dng", b"not a catalogue");
    refused(&["backup", "picture.dng", "--overwrite"], "not a catalogue");
    // Another program's database.
    let other = Connection::open(world.path("other.db")).unwrap();
    other.execute_batch("CREATE TABLE t (a)").unwrap();
    drop(other);
    refused(&["backup", "other.db", "--overwrite"], "not a catalogue");
    refused(
        &["backup", "catalogue.sqlite", "--overwrite"],
        "the catalogue itself",
    );
    refused(
        &["backup", "catalogue.sqlite-wal"],
        "belongs to a catalogue",
    );
    refused(&["backup", "card/b.sqlite"], "card dump");
    refused(&["backup", "card"], "card dump");
    refused(&["backup", "no/such/b.sqlite"], "no such folder");
    refused(&["backup", "-"], "standard output");
    assert!(!world.path("card/b.sqlite").exists());
    assert_eq!(leftovers(&world), [""; 0]);
}

#[test]
fn a_damaged_catalogue_gives_no_backup() {
    let world = night();
    let db = Connection::open(world.path("catalogue.sqlite")).unwrap();
    db.execute_batch(
        "PRAGMA wal_checkpoint(TRUNCATE); PRAGMA journal_mode = DELETE; PRAGMA foreign_keys = OFF;
        DELETE FROM written_camera",
    )
    .unwrap();
    drop(db);
    world.run(&["backup", "b.sqlite"]).ended(2);
    assert!(!world.path("b.sqlite").exists());
    assert_eq!(leftovers(&world), [""; 0]);
}

fn set_back(catalogue: &Path, sql: &str) {
    Connection::open(catalogue)
        .unwrap()
        .execute_batch(sql)
        .unwrap();
}

#[test]
fn the_audit_misses_a_backup_that_is_old() {
    let world = night();
    let catalogue = world.path("catalogue.sqlite");
    let missed = || {
        let rows = world.run(&["audit", "--as", "json"]);
        let rows = rows.json();
        let rows = rows.as_array().unwrap().clone();
        rows.into_iter()
            .find(|row| row["code"] == "no-backup")
            .map(|row| row["found"].as_str().unwrap_or_default().to_owned())
    };
    assert_eq!(missed(), None, "a catalogue of today needs none");
    set_back(
        &catalogue,
        "UPDATE written_dump SET first_seen_ms = first_seen_ms - 91 * 86400000",
    );
    assert!(missed().unwrap().contains("91 days ago"));
    assert_eq!(world.run(&["audit"]).code, 1);
    world.run(&["backup", "b.sqlite"]).ended(0);
    assert_eq!(missed(), None);
    set_back(
        &catalogue,
        "UPDATE catalogue_backup SET made_ms = made_ms - 89 * 86400000",
    );
    assert_eq!(missed(), None);
    set_back(
        &catalogue,
        "UPDATE catalogue_backup SET made_ms = made_ms - 2 * 86400000",
    );
    assert!(
        missed()
            .unwrap()
            .contains("the last backup was made 91 days ago")
    );
}
