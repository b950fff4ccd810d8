//! An upgrade that is killed or finds the disk full: the file is the old catalogue or the new one, and nothing is lost.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use framefall::catalogue::migrations::APPLICATION_ID;
use framefall::catalogue::migrations::MIGRATIONS;
use rusqlite::Connection;

use crate::disk::Disk;
use crate::disk::names;
use crate::killing::kill_at_random;
use crate::kills_of_ingest::program;
use crate::state::assert_whole;
use crate::state::beside;
use crate::state::put_back;
use crate::world::World;

/// The last version before tables were rebuilt, which is the longest of the upgrades.
const BEFORE: usize = 12;

/// A catalogue of that version with so many tracks' points and frames' findings: enough for an upgrade to take a while.
fn earlier(path: &Path, rows: u32) {
    let db = Connection::open(path).unwrap();
    db.execute_batch("PRAGMA foreign_keys = OFF; PRAGMA journal_mode = WAL; BEGIN")
        .unwrap();
    for (_, sql) in &MIGRATIONS[..BEFORE] {
        db.execute_batch(sql).unwrap();
    }
    db.execute_batch(&format!(
        "INSERT INTO written_dump (dump_id, label, root, first_seen_utc, last_seen_utc) VALUES (1, 'winter', '/nowhere', 'x', 'x');
         INSERT INTO written_folder (folder_id, dump_id, path) VALUES (1, 1, 'DCIM');
         INSERT INTO derived_maker (maker_id, program, shower_table) VALUES (1, 'p', 's');
         WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < {rows})
         INSERT INTO written_frame (frame_id, first_file_id, clock_s, exposure_s) SELECT i, i, 1544736000 + i, 15.5 FROM n;
         INSERT INTO written_file (file_id, folder_id, name, frame_id, format, bytes, modified_ns, fingerprint, undated, health_no)
         SELECT frame_id, 1, 'N' || frame_id, frame_id, 'nef', frame_id, 1, frame_id * 65536, 0, 0 FROM written_frame;
         INSERT INTO derived_time (frame_id, start_ms, time_basis_no, place_basis_no, maker_id)
         SELECT frame_id, 1544736000000 + frame_id, 1, 3, 1 FROM written_frame;
         PRAGMA user_version = {BEFORE}; PRAGMA application_id = {APPLICATION_ID}; COMMIT"
    ))
    .unwrap();
}

/// Its version, and what may not be lost.
fn state(path: &Path) -> (i64, i64, i64) {
    let db = Connection::open(path).unwrap();
    let number = |sql: &str| db.query_row(sql, [], |row| row.get(0)).unwrap();
    (
        number("SELECT user_version FROM pragma_user_version"),
        number("SELECT sum(clock_s) + count(*) FROM written_frame"),
        number("SELECT sum(bytes) + count(*) FROM written_file"),
    )
}

fn remove_copies(folder: &Path) {
    for name in names(folder) {
        if name.contains(".version-") {
            fs::remove_file(folder.join(name)).unwrap();
        }
    }
}

#[test]
fn an_upgrade_that_is_killed() {
    let world = World::new();
    let (catalogue, before) = (world.path("catalogue.sqlite"), world.path("before.sqlite"));
    earlier(&before, 40_000);
    let (old, frames, files) = state(&before);
    let newest = i64::try_from(MIGRATIONS.len()).unwrap();
    let words = ["dump", "list"];
    let mut met = BTreeSet::new();
    kill_at_random(
        "upgrade",
        14,
        &|| program(&world, &words),
        &mut || {
            remove_copies(&world.path(""));
            put_back(Some(&before), &catalogue);
        },
        &mut || {
            assert_whole(&catalogue);
            let now = state(&catalogue);
            assert!(
                now == (old, frames, files) || now == (newest, frames, files),
                "{now:?}"
            );
            met.insert(now.0);
            world.run(&words).ended(0);
            assert_eq!(state(&catalogue), (newest, frames, files));
            let copies: Vec<String> = names(&world.path(""))
                .into_iter()
                .filter(|name| name.contains(".version-"))
                .collect();
            assert_eq!(copies, ["catalogue.sqlite.version-12"]);
            assert_eq!(
                state(&beside(&catalogue, ".version-12")),
                (old, frames, files)
            );
        },
    );
    println!("versions after a kill: {met:?}");
    assert!(met.contains(&old), "no kill fell before the upgrade's end");
}

#[test]
fn an_upgrade_without_room() {
    let world = World::new();
    earlier(&world.path("before.sqlite"), 10_000);
    let bytes = fs::metadata(world.path("before.sqlite")).unwrap().len();
    let old = state(&world.path("before.sqlite"));
    let Some(disk) = Disk::of_kib(world.path("disk"), bytes / 1024 * 6) else {
        return;
    };
    let at = disk.path("catalogue.sqlite");
    let run = |words: &[&str]| world.run(&[&["--catalogue", at.to_str().unwrap()], words].concat());
    // No room for the copy, some, room for the copy alone, and for some of the upgrade.
    for left_kib in [0, 64, bytes / 2048, bytes / 1024 + 200, bytes / 1024 + 900] {
        put_back(Some(&world.path("before.sqlite")), &at);
        disk.fill(left_kib);
        for words in [&["dump", "list"][..], &["query", "save", "a", "iso > 1"]] {
            let said = run(words).ended(2);
            assert!(
                said.err.to_lowercase().contains("free "),
                "{left_kib} KiB: {}",
                said.err
            );
        }
        disk.empty();
        assert_whole(&at);
        assert_eq!(state(&at), old, "{left_kib} KiB");
        let left = names(&disk.path(""));
        assert!(
            !left.iter().any(|name| name.contains(".version-")),
            "{left:?}"
        );
    }
    let said = run(&["dump", "list"]).ended(0);
    assert!(
        said.err.contains("catalogue.sqlite.version-12"),
        "{}",
        said.err
    );
}
