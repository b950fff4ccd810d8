//! A killed or stopped rebuild: the catalogue stays intact, the next one continues, and in the end every row is the same.

use std::cell::Cell;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;

use crate::killing::kill_at_random;
use crate::kills_of_ingest::program;
use crate::many::SecondBody;
use crate::many::card;
use crate::state::assert_whole;
use crate::state::difference;
use crate::state::keep;
use crate::state::put_back;
use crate::world::World;

/// Several batches of a rebuild.
const FILES: usize = 5_000;

/// A catalogue of one card, at a site.
fn ingested(second: SecondBody) -> World {
    let world = World::new();
    card(&world.path("card"), FILES, "2023:12", second);
    world.site("Here", "38.9", "-116.0");
    let said = world.run(&["ingest", "--quiet", "--site", "Here", "card"]);
    assert!(said.code < 2, "{}", said.err);
    world
}

/// What the catalogue says of its frames, once nothing is stale. Not its tables: rows that many frames share may get other numbers;
/// the laws compare those.
fn rows(world: &World) -> String {
    let shown = "file,start,session,seq,kind,sun.alt,shower,GEM.alt";
    let said = world.run(&["frames", "--as", "csv", "--show", shown]);
    assert!(said.err.is_empty(), "{}", said.err);
    said.out
}

#[test]
fn it_is_carried_on_by_the_next() {
    let world = ingested(SecondBody::WritesNone);
    let (catalogue, whole, stale) = (
        world.path("catalogue.sqlite"),
        world.path("whole.sqlite"),
        world.path("stale.sqlite"),
    );
    keep(&catalogue, &whole);
    let before = rows(&world);
    for (what, sql) in [
        (
            "of another maker",
            "UPDATE derived_maker SET formulas = 0; UPDATE derived_sky SET sun_alt = 1",
        ),
        (
            "missing",
            "DELETE FROM derived_time; DELETE FROM derived_radiant; DELETE FROM derived_session; DELETE FROM derived_sky",
        ),
        ("fresh", "SELECT 1"),
    ] {
        put_back(Some(&whole), &catalogue);
        let db = rusqlite::Connection::open(&catalogue).unwrap();
        db.execute_batch(sql).unwrap();
        drop(db);
        let _ = std::fs::remove_file(&stale);
        keep(&catalogue, &stale);
        let carried_on = Cell::new(0);
        kill_at_random(
            what,
            5,
            &|| program(&world, &["rebuild"]),
            &mut || put_back(Some(&stale), &catalogue),
            &mut || {
                assert_whole(&catalogue);
                let said = world.run(&["rebuild"]).ended(0);
                if said.out.contains("the rest of a stopped rebuild") {
                    carried_on.set(carried_on.get() + 1);
                    assert!(said.number("frames rebuilt") < FILES as u64, "{}", said.out);
                }
                // Numbers of rows that many frames share may come in another order; the same rows are compared in the laws.
                assert_eq!(rows(&world), before, "{what}");
            },
        );
        assert!(
            carried_on.get() > 0,
            "{what}: no run was hit between two batches"
        );
    }
    put_back(Some(&whole), &catalogue);
    world.run(&["rebuild"]).ended(0);
    assert_eq!(difference(&catalogue, &whole), None);
}

#[test]
fn ctrl_c_ends_it_after_the_batch_in_hand() {
    let world = ingested(SecondBody::WritesOffset);
    let (catalogue, whole) = (world.path("catalogue.sqlite"), world.path("whole.sqlite"));
    keep(&catalogue, &whole);
    // The run may be over before the signal comes, or not have begun to listen: then another moment is tried.
    let stopped = (1..20).find(|round| {
        put_back(Some(&whole), &catalogue);
        let child = program(&world, &["rebuild"])
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_millis(60 * round));
        let signal = Command::new("kill")
            .args(["-INT", &child.id().to_string()])
            .status();
        assert!(signal.is_ok());
        let ended = child.wait_with_output().unwrap();
        let words =
            String::from_utf8(ended.stdout).unwrap() + &String::from_utf8(ended.stderr).unwrap();
        ended.status.code() == Some(130) && words.contains("the same command continues")
    });
    assert!(stopped.is_some(), "no run was stopped");
    assert_whole(&catalogue);
    let told = world.run(&["sessions"]).ended(0);
    assert!(
        told.err.contains("a rebuild was not finished"),
        "{}",
        told.err
    );
    let audit = world.run(&["audit", "--all"]).ended(1);
    assert!(
        audit
            .out
            .contains("a rebuild was stopped before this frame"),
        "{}",
        audit.out
    );
    let said = world.run(&["rebuild"]).ended(0);
    assert!(
        said.out.contains("the rest of a stopped rebuild"),
        "{}",
        said.out
    );
    assert_eq!(difference(&catalogue, &whole), None);
}
