//! The catalogue as a file: upgraded only after a copy, not blocked by readers, checked by `audit`.

use std::fs;
use std::path::Path;
use std::time::Duration;

use crate::state::beside;
use crate::world::World;
use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::migrations::APPLICATION_ID;
use framefall::catalogue::migrations::MIGRATIONS;
use framefall::catalogue::purpose::Purpose;
use rusqlite::Connection;

fn with_frames() -> World {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.run(&["ingest", "card"]).ended(0);
    world
}

fn number(db: &Connection, pragma: &str) -> i64 {
    db.pragma_query_value(None, pragma, |row| row.get(0))
        .unwrap()
}

fn newest() -> i64 {
    i64::try_from(MIGRATIONS.len()).unwrap()
}

/// A catalogue of an earlier version with one dump.
fn of_version(path: &Path, version: usize) -> Connection {
    let db = Connection::open(path).unwrap();
    db.execute_batch("PRAGMA foreign_keys = OFF; PRAGMA journal_mode = WAL; PRAGMA wal_autocheckpoint = 0; BEGIN")
        .unwrap();
    for (_, sql) in &MIGRATIONS[..version] {
        db.execute_batch(sql).unwrap();
    }
    // Since version 20 instants are numbers.
    let (seen, at) = if version < 20 {
        ("utc", "'2023-12-14T00:00:00.000Z'")
    } else {
        ("ms", "1702512000000")
    };
    db.execute_batch(&format!(
        "INSERT INTO written_dump (dump_id, label, root, first_seen_{seen}, last_seen_{seen})
         VALUES (1, 'winter', '/nowhere/winter', {at}, {at});
         PRAGMA user_version = {version}; PRAGMA application_id = {APPLICATION_ID}; COMMIT"
    ))
    .unwrap();
    db
}

fn labels(path: &Path) -> Vec<String> {
    let db = Connection::open(path).unwrap();
    let mut read = db.prepare("SELECT label FROM written_dump").unwrap();
    let rows = read.query_map([], |row| row.get(0)).unwrap();
    rows.map(Result::unwrap).collect()
}

/// What is only in the log so far is in the copy too.
#[test]
fn a_catalogue_of_any_earlier_version_is_copied_before_it_is_upgraded_and_that_is_told() {
    let commands: [(bool, &[&str]); 2] = [
        (true, &["dump", "list"]),
        (false, &["-q", "dump", "rename", "winter", "winter"]),
    ];
    for version in 1..MIGRATIONS.len() {
        for (held_open, words) in commands {
            let world = World::new();
            let path = world.path("catalogue.sqlite");
            let db = of_version(&path, version);
            let db = held_open.then_some(db);
            let said = world.run(words).ended(0);
            let copy = beside(&path, &format!(".version-{version}"));
            let named = copy.file_name().unwrap().to_str().unwrap();
            assert!(
                said.err.contains(named) && said.err.contains(&format!("version {version}")),
                "{version}: {}",
                said.err
            );
            drop(db);
            assert_eq!(labels(&copy), ["winter"], "{version}");
            assert_eq!(labels(&path), ["winter"], "{version}");
            let [old, new] = [&copy, &path].map(|at| Connection::open(at).unwrap());
            assert_eq!(
                number(&old, "user_version"),
                i64::try_from(version).unwrap()
            );
            assert_eq!(number(&new, "user_version"), newest());
            // Once.
            let again = world.run(words).ended(0);
            assert!(!again.err.contains("version"), "{}", again.err);
        }
    }
}

/// An existing copy, perhaps of another state of that version, is kept; one with the same contents is used again.
#[test]
fn no_copy_takes_the_place_of_an_earlier_one() {
    let world = World::new();
    let path = world.path("catalogue.sqlite");
    drop(of_version(&path, 9));
    let before = world.path("kept.sqlite");
    fs::copy(&path, &before).unwrap();
    let copy = |ending: &str| beside(&path, &format!(".version-9{ending}"));
    fs::write(copy(""), "another").unwrap();
    for _ in 0..2 {
        fs::copy(&before, &path).unwrap();
        world.run(&["dump", "list"]).ended(0);
    }
    assert_eq!(fs::read(copy("")).unwrap(), b"another");
    assert_eq!(labels(&copy("-2")), ["winter"]);
    assert!(!copy("-3").exists() && !copy(".part").exists());
}

#[test]
fn a_dry_run_upgrades_nothing() {
    let world = World::new();
    let path = world.path("catalogue.sqlite");
    drop(of_version(&path, 9));
    let before = fs::read(&path).unwrap();
    let said = world
        .run(&["site", "remove", "Nowhere", "--dry-run"])
        .ended(2);
    assert!(said.err.contains("Nowhere"), "{}", said.err);
    assert_eq!(fs::read(&path).unwrap(), before);
    assert!(!beside(&path, ".version-9").exists());
}

#[test]
fn a_full_catalogue_without_a_version_is_not_taken_for_an_empty_one() {
    let world = with_frames();
    let path = world.path("catalogue.sqlite");
    for version in [0, -3] {
        let db = Connection::open(&path).unwrap();
        db.pragma_update(None, "user_version", version).unwrap();
        drop(db);
        let before = fs::read(&path).unwrap();
        for words in [
            &["frames"][..],
            &["ingest", "card"],
            &["query", "save", "a", "iso > 1"],
            &["clock", "zone", "6004127", "Europe/Rome", "--dry-run"],
        ] {
            let said = world.run(words).ended(2);
            assert!(
                said.err.contains("version number") && said.err.contains("backup"),
                "{words:?}: {}",
                said.err
            );
        }
        assert_eq!(fs::read(&path).unwrap(), before);
    }
}

/// Each way to keep others from writing, for as long as the command runs.
#[test]
fn a_dry_run_needs_no_lock_and_changes_nothing() {
    let world = with_frames();
    world.site("Here", "46.5", "11.3");
    let path = world.path("catalogue.sqlite");
    let dry: [&[&str]; 3] = [
        &["clock", "zone", "6004127", "+03:00", "--dry-run"],
        &["site", "change", "Here", "--lat", "46.6", "--dry-run"],
        &["site", "assign", "Here", "--session", "1", "--dry-run"],
    ];
    let free: Vec<String> = dry
        .iter()
        .map(|words| world.run(words).ended(0).out)
        .collect();
    let before = fs::read(&path).unwrap();
    let writer = Catalogue::open(&path, Purpose::Change).unwrap();
    let other = Connection::open(&path).unwrap();
    other
        .execute_batch("BEGIN IMMEDIATE; DELETE FROM stated_query")
        .unwrap();
    for (words, free) in dry.iter().zip(&free) {
        let said = world.run(words).ended(0);
        assert_eq!(&said.out, free, "{words:?}");
        assert!(said.err.contains("dry run"), "{}", said.err);
    }
    other.execute_batch("ROLLBACK").unwrap();
    drop((other, writer));
    assert_eq!(fs::read(&path).unwrap(), before);
    // The real run does what the dry run says.
    for (words, free) in dry.iter().zip(&free).take(1) {
        let said = world.run(&words[..words.len() - 1]).ended(0);
        assert_eq!(&said.out, free, "{words:?}");
    }
    assert_ne!(fs::read(&path).unwrap(), before);
}

#[test]
fn a_second_writer_waits_a_while() {
    let world = with_frames();
    let writer = Catalogue::open(&world.path("catalogue.sqlite"), Purpose::Change).unwrap();
    std::thread::scope(|scope| {
        let second = scope.spawn(|| world.run(&["query", "save", "a", "iso > 1"]));
        std::thread::sleep(Duration::from_millis(1_200));
        assert!(!second.is_finished(), "it did not wait");
        drop(writer);
        second.join().unwrap().ended(0);
    });
    let listed = world.run(&["query", "list"]).ended(0);
    assert!(listed.out.contains("iso > 1"), "{}", listed.out);
}

#[test]
fn audit_looks_through_the_catalogue_itself() {
    let world = with_frames();
    let path = world.path("catalogue.sqlite");
    let whole = fs::read(&path).unwrap();
    let spoilt: [(&str, &str); 3] = [
        (
            "sessions have a wrong count of frames",
            "UPDATE derived_session SET frames = frames + 1",
        ),
        ("point at rows", "DELETE FROM written_camera"),
        (
            "without a derived time",
            // Lost without the notes that a deletion leaves.
            "DELETE FROM derived_time WHERE frame_id = 1; DELETE FROM pending_frame; DELETE FROM pending_night",
        ),
    ];
    for (what, sql) in spoilt {
        let db = Connection::open(&path).unwrap();
        db.execute_batch(&format!("PRAGMA foreign_keys = OFF; {sql}"))
            .unwrap();
        drop(db);
        let said = world.run(&["audit", "--as", "json"]);
        assert_eq!(said.code, 1, "{what}: {}", said.out);
        let rows = said.json();
        assert_eq!(rows[0]["code"], "catalogue-damaged", "{what}: {rows}");
        assert!(rows[0]["found"].as_str().unwrap().contains(what), "{rows}");
        fs::write(&path, &whole).unwrap();
    }
    // Two pages in each other's place, neither of the schema.
    let mut swapped = whole.clone();
    let page = 8_192;
    let of_schema = |at: usize| {
        whole[at * page..][..page]
            .windows(7)
            .any(|part| part == b"CREATE ")
    };
    let leaves: Vec<usize> = (1..whole.len() / page)
        .filter(|at| whole[at * page] == 0x0D && whole[at * page + 4] > 20 && !of_schema(*at))
        .collect();
    let (one, two) = (
        leaves[leaves.len() - 2] * page,
        leaves[leaves.len() - 1] * page,
    );
    let first: Vec<u8> = swapped[one..one + page].to_vec();
    swapped.copy_within(two..two + page, one);
    swapped[two..two + page].copy_from_slice(&first);
    fs::write(&path, &swapped).unwrap();
    let said = world.run(&["audit", "--as", "json"]).ended(1);
    assert_eq!(said.json()[0]["code"], "catalogue-damaged", "{}", said.out);
    fs::write(&path, &whole).unwrap();
    world.run(&["audit"]).ended(0);
}
