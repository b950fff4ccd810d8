//! A killed ingest: the catalogue is intact, and after the next ingest it equals that of an undisturbed one.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

use crate::killing::kill_at_random;
use crate::many::SecondBody;
use crate::many::card;
use crate::state::assert_whole;
use crate::state::difference;
use crate::state::keep;
use crate::state::progress;
use crate::state::put_back;
use crate::world::World;

/// More than a batch.
const FILES: usize = 3_000;

pub fn program(world: &World, words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_framefall"));
    command
        .args(words)
        .current_dir(world.path(""))
        .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"));
    command
}

/// Kills ingests of `card` into a copy of `before`.
fn kill_ingests(name: &str, world: &World, before: &Path, rounds: u32) {
    let (catalogue, whole) = (world.path("catalogue.sqlite"), world.path("whole.sqlite"));
    let words = ["ingest", "--quiet", "--site", "Here", "card"];
    let ingest = || {
        let said = world.run(&words);
        assert!(said.code < 2, "{}", said.err);
    };
    put_back(Some(before), &catalogue);
    ingest();
    keep(&catalogue, &whole);
    let (all, _) = progress(&whole).unwrap();
    let (first, _) = progress(before).unwrap();
    let mut met = BTreeSet::new();
    let mut check = || {
        assert_whole(&catalogue);
        met.extend(progress(&catalogue));
        let counted = world.run(&["frames", "--count"]);
        assert!(counted.code < 2, "{}", counted.err);
        ingest();
        assert_eq!(difference(&catalogue, &whole), None);
        assert_whole(&catalogue);
        // Some of it is in, and not all that follows from it.
        met.iter()
            .any(|(frames, nights)| *frames > first && (*frames < all || *nights > 0))
    };
    let mut between = false;
    // On a busy machine all kills of one round may come too early.
    for _ in 0..4 {
        kill_at_random(
            name,
            rounds,
            &|| program(world, &words),
            &mut || put_back(Some(before), &catalogue),
            &mut || between = check(),
        );
        if between {
            break;
        }
    }
    println!("{name}: frames in the catalogue and nights to be grouped after a kill: {met:?}");
    assert!(between, "no kill fell between two batches");
}

#[test]
fn an_ingest_into_an_empty_catalogue() {
    let world = World::new();
    card(
        &world.path("card"),
        FILES,
        "2023:12",
        SecondBody::WritesNone,
    );
    world.site("Here", "38.9", "-116.0");
    keep(
        &world.path("catalogue.sqlite"),
        &world.path("before.sqlite"),
    );
    kill_ingests(
        "into an empty catalogue",
        &world,
        &world.path("before.sqlite"),
        16,
    );
}

/// The new card's frames write the offset that says how a clock fix of the older card is to be read: the older frames must
/// follow, however the run ends.
#[test]
fn an_ingest_into_a_filled_catalogue() {
    let world = World::new();
    card(&world.path("older"), 400, "2023:11", SecondBody::WritesNone);
    card(
        &world.path("card"),
        FILES,
        "2023:12",
        SecondBody::WritesOffset,
    );
    world.site("Here", "38.9", "-116.0");
    world
        .run(&["ingest", "--quiet", "--site", "Here", "older"])
        .ended(0);
    world
        .run(&[
            "clock",
            "fix",
            "0077",
            "--read",
            "2023-11-30 20:00:00",
            "--true",
            "2023-12-01T04:00:50Z",
        ])
        .ended(0);
    let before = world.path("before.sqlite");
    keep(&world.path("catalogue.sqlite"), &before);
    kill_ingests("into a filled catalogue", &world, &before, 10);
    let ask = "SELECT group_concat(start_ms) FROM (SELECT start_ms FROM derived_time ORDER BY frame_id LIMIT 400)";
    let starts = |catalogue: &Path| -> String {
        let db = rusqlite::Connection::open(catalogue).unwrap();
        db.query_row(ask, [], |row| row.get(0)).unwrap()
    };
    let followed = starts(&before) != starts(&world.path("whole.sqlite"));
    assert!(followed, "the fix is read as before");
}

/// The first run makes the catalogue: killed within its migrations, the next one carries on.
#[test]
fn the_run_that_makes_the_catalogue() {
    let world = World::new();
    let (catalogue, whole) = (world.path("catalogue.sqlite"), world.path("whole.sqlite"));
    let words = ["query", "save", "bright", "iso > 3200"];
    world.run(&words).ended(0);
    keep(&catalogue, &whole);
    kill_at_random(
        "making the catalogue",
        16,
        &|| program(&world, &words),
        &mut || put_back(None, &catalogue),
        &mut || {
            assert_whole(&catalogue);
            world.run(&words).ended(0);
            assert_whole(&catalogue);
            let listed = world.run(&["query", "list"]).ended(0);
            assert_eq!(listed.out.lines().count(), 2, "{}", listed.out);
        },
    );
}
