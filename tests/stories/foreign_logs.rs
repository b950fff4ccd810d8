//! Logs beside a catalogue: its own are applied; those of another catalogue, or of another state of it, are refused.

use crate::state;
use std::fs;
use std::path::Path;

use crate::state::beside;
use crate::world::World;
use rusqlite::Connection;

fn with_frames() -> World {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.run(&["ingest", "card"]).ended(0);
    world
}

/// Leaves a catalogue and its log as a killed run does.
fn killed(from: &Path, to: &Path) {
    for ending in ["", "-wal"] {
        fs::copy(beside(from, ending), beside(to, ending)).unwrap();
    }
}

/// Changes a catalogue while something keeps its log from being carried over and removed; as killed, it is at `kept`.
fn changed_and_killed(world: &World, kept: &Path, words: &[&[&str]]) {
    let path = world.path("catalogue.sqlite");
    let reader = Connection::open(&path).unwrap();
    reader
        .execute_batch("BEGIN; SELECT count(*) FROM stated_query")
        .unwrap();
    for words in words {
        world.run(words).ended(0);
    }
    killed(&path, kept);
    drop(reader);
}

#[test]
fn the_log_of_another_catalogue_is_refused_and_its_own_is_not() {
    let (world, other) = (with_frames(), with_frames());
    for one in [&world, &other] {
        one.run(&["query", "save", "first", "iso > 100"]).ended(0);
    }
    let path = world.path("catalogue.sqlite");
    let (older, left, of_other) = (
        world.path("older.sqlite"),
        world.path("left.sqlite"),
        other.path("left.sqlite"),
    );
    fs::copy(&path, &older).unwrap();
    changed_and_killed(&world, &left, &[&["query", "save", "second", "iso > 200"]]);
    changed_and_killed(
        &other,
        &of_other,
        &[&["query", "save", "third", "iso > 300"]],
    );
    world
        .run(&["query", "save", "fourth", "iso > 400"])
        .ended(0);
    let newer = world.path("newer.sqlite");
    fs::copy(&path, &newer).unwrap();
    fs::remove_file(&path).unwrap();

    // A restored backup: beside it is the log of the killed run, or the log of a catalogue with the same contents.
    for (case, file, log) in [
        ("another catalogue's", &older, &of_other),
        ("of a state before the backup", &newer, &left),
    ] {
        let before = fs::read(file).unwrap();
        let log_before = fs::read(beside(log, "-wal")).unwrap();
        fs::copy(file, &path).unwrap();
        fs::copy(beside(log, "-wal"), beside(&path, "-wal")).unwrap();
        for words in [
            &["query", "list"][..],
            &["query", "save", "fifth", "iso > 500"],
            &["ingest", "card"],
            &["site", "remove", "Nowhere", "--dry-run"],
        ] {
            let said = world.run(words).ended(2);
            assert!(
                said.err.contains("belongs to another catalogue")
                    && said.err.contains("catalogue.sqlite-wal")
                    && said.err.contains("move this log"),
                "{case}, {words:?}: {}",
                said.err
            );
        }
        assert_eq!(fs::read(&path).unwrap(), before, "{case}");
        assert_eq!(fs::read(beside(&path, "-wal")).unwrap(), log_before);
        // As the message says.
        fs::remove_file(beside(&path, "-wal")).unwrap();
        let _ = fs::remove_file(beside(&path, "-shm"));
        let listed = world.run(&["query", "list"]).ended(0);
        assert!(listed.out.contains("iso > 100"), "{}", listed.out);
    }

    // Its own log, whatever of it was carried over when the run was killed.
    killed(&left, &path);
    let listed = world.run(&["query", "list"]).ended(0);
    assert!(listed.out.contains("iso > 200"), "{}", listed.out);
    fs::copy(beside(&left, "-wal"), beside(&older, "-wal")).unwrap();
    let listed = world
        .run(&["--catalogue", "older.sqlite", "query", "list"])
        .ended(0);
    assert!(listed.out.contains("iso > 200"), "{}", listed.out);
}

/// A rollback journal that is applied to whatever file has its name: left by another program that was killed.
#[test]
fn the_journal_of_another_database_is_refused() {
    let world = with_frames();
    let path = world.path("catalogue.sqlite");
    let before = fs::read(&path).unwrap();
    for spilt in [true, false] {
        let other = world.path("other.sqlite");
        let _ = fs::remove_file(&other);
        let db = Connection::open(&other).unwrap();
        db.execute_batch(
            "PRAGMA page_size = 8192; PRAGMA cache_size = 8; CREATE TABLE t (x);
             WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 3000)
             INSERT INTO t SELECT randomblob(300) FROM n;
             BEGIN IMMEDIATE; UPDATE t SET x = randomblob(301);",
        )
        .unwrap();
        if !spilt {
            // The first page is among those kept: a table more.
            db.execute_batch("CREATE TABLE u (x); UPDATE t SET x = randomblob(302)")
                .unwrap();
        }
        let journal = fs::read(beside(&other, "-journal")).unwrap();
        assert!(
            journal.len() > 100_000 && journal[0] == 0xd9,
            "{}",
            journal.len()
        );
        fs::write(beside(&path, "-journal"), &journal).unwrap();
        for words in [&["frames"][..], &["ingest", "card"]] {
            let said = world.run(words).ended(2);
            assert!(
                said.err.contains("belongs to another catalogue")
                    && said.err.contains("catalogue.sqlite-journal"),
                "{words:?}: {}",
                said.err
            );
        }
        assert_eq!(fs::read(&path).unwrap(), before);
        fs::remove_file(beside(&path, "-journal")).unwrap();
        world.run(&["frames", "--count"]).ended(0);
    }
}

/// A journal of its own is rolled back as ever: here of a catalogue that came back from SQLite's own tools without a
/// write-ahead log.
#[test]
fn a_journal_of_its_own_is_not_refused() {
    let world = with_frames();
    let path = world.path("catalogue.sqlite");
    let db = Connection::open(&path).unwrap();
    db.execute_batch("PRAGMA journal_mode = DELETE; PRAGMA cache_size = 4")
        .unwrap();
    let left = world.path("left.sqlite");
    for more in ["", "CREATE TABLE u (x);"] {
        db.execute_batch(&format!(
            "BEGIN IMMEDIATE; {more} UPDATE written_file SET modified_ns = modified_ns + 1"
        ))
        .unwrap();
        for ending in ["", "-journal"] {
            fs::copy(beside(&path, ending), beside(&left, ending)).unwrap();
        }
        db.execute_batch("ROLLBACK").unwrap();
        world
            .run(&["--catalogue", "left.sqlite", "frames", "--count"])
            .ended(0);
        state::assert_whole(&left);
        assert!(!beside(&left, "-journal").exists());
        fs::remove_file(&left).unwrap();
    }
}

/// After a run that was killed the file is looked through before its log is carried over; what is damaged stays as it is.
#[test]
fn damage_is_found_where_a_run_was_killed() {
    let world = with_frames();
    let (path, left) = (world.path("catalogue.sqlite"), world.path("left.sqlite"));
    changed_and_killed(&world, &left, &[&["query", "save", "first", "iso > 100"]]);
    world.run(&["frames", "--count"]).ended(0);
    let log = fs::read(beside(&left, "-wal")).unwrap();
    let mut spoilt = fs::read(&left).unwrap();
    // The number of rows of a page that the log does not hold: the last leaf with many.
    let page = 8_192;
    let leaf = (1..spoilt.len() / page)
        .rfind(|at| spoilt[at * page] == 0x0D && spoilt[at * page + 4] > 20)
        .unwrap();
    spoilt[leaf * page + 4] ^= 1;
    fs::write(&path, &spoilt).unwrap();
    fs::write(beside(&path, "-wal"), &log).unwrap();
    for words in [
        &["query", "list"][..],
        &["query", "save", "a", "iso > 1"],
        &["ingest", "card"],
    ] {
        let said = world.run(words).ended(2);
        assert!(
            said.err.contains("not closed properly") && said.err.contains("backup"),
            "{words:?}: {}",
            said.err
        );
    }
    assert!(fs::read(&path).unwrap() == spoilt);
    assert!(fs::read(beside(&path, "-wal")).unwrap() == log);
}
