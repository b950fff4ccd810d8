//! A copy that is killed at random points, reading back included: nothing is lost, nothing is half, nothing is called verified
//! that differs, and the same command carries on.

use std::cell::Cell;
use std::fs;
use std::path::Path;

use rusqlite::Connection;

use crate::killing::kill_at_random;
use crate::kills_of_ingest::program;
use crate::world::World;
use crate::world::files_of;

const WORDS: [&str; 8] = [
    "copy",
    "card",
    "--to",
    "one",
    "--to",
    "two",
    "--no-ingest",
    "--quiet",
];

fn is_part(file: &Path) -> bool {
    let name = file.file_name().unwrap().to_string_lossy().into_owned();
    name.starts_with(".framefall-copy-") && file.extension().is_some_and(|end| end == "part")
}

/// Every file with its final name is complete, and every row of a file that was read back matches its bytes.
fn assert_whole(world: &World) {
    for target in ["one", "two"] {
        let root = world.path(target);
        if !root.exists() {
            continue;
        }
        for file in files_of(&root).iter().filter(|file| !is_part(file)) {
            let below = file.strip_prefix(&root).unwrap();
            let card = world.path("card").join(below);
            assert!(
                fs::read(file).unwrap() == fs::read(&card).unwrap(),
                "{}",
                file.display()
            );
        }
    }
    let Ok(db) = Connection::open(world.path("catalogue.sqlite")) else {
        return;
    };
    // A catalogue that was killed while it was made has no tables.
    let Ok(mut read) = db.prepare(
        "SELECT root, path, blake3 FROM measured_content JOIN written_dump USING (dump_id) WHERE result = 'same'",
    ) else {
        return;
    };
    let rows = read
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
        .unwrap();
    for row in rows {
        let (root, path, blake3): (String, String, [u8; 32]) = row.unwrap();
        let bytes = fs::read(Path::new(&root).join(path)).unwrap();
        assert_eq!(*blake3::hash(&bytes).as_bytes(), blake3);
    }
}

fn assert_carried_on(world: &World) {
    world.run(&WORDS).ended(0);
    for target in ["one", "two"] {
        let files = files_of(&world.path(target));
        assert!(files.iter().all(|file| !is_part(file)), "{files:?}");
        assert_eq!(files.len(), files_of(&world.path("card")).len());
    }
    assert_whole(world);
}

#[test]
fn a_copy_killed_at_two_hundred_points() {
    let world = World::new();
    for number in 0..12_u8 {
        let size = 100_000 + usize::from(number) * 150_001;
        let bytes: Vec<u8> = (0..size)
            .map(|at| u8::try_from(at % 251).unwrap() ^ number)
            .collect();
        world.write(&format!("card/DCIM/100NIGHT/A_{number:04}.MOV"), &bytes);
    }
    let before: Vec<Vec<u8>> = files_of(&world.path("card"))
        .iter()
        .map(|f| fs::read(f).unwrap())
        .collect();
    let round = Cell::new(0_u32);
    kill_at_random(
        "copy",
        200,
        &|| program(&world, &WORDS),
        &mut || {
            for name in ["one", "two"] {
                let _ = fs::remove_dir_all(world.path(name));
            }
            for name in [
                "catalogue.sqlite",
                "catalogue.sqlite-wal",
                "catalogue.sqlite-shm",
                "one.sha256",
                "two.sha256",
            ] {
                let _ = fs::remove_file(world.path(name));
            }
        },
        &mut || {
            assert_whole(&world);
            round.set(round.get() + 1);
            if round.get().is_multiple_of(10) {
                assert_carried_on(&world);
            }
        },
    );
    assert_carried_on(&world);
    let after: Vec<Vec<u8>> = files_of(&world.path("card"))
        .iter()
        .map(|f| fs::read(f).unwrap())
        .collect();
    assert!(before == after, "the card is as it was");
}
