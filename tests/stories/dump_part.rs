//! A dump that is not all there at its new place, or whose files have other names there.

use crate::world;
use std::fs;

use crate::dumps::dump;
use crate::dumps::dumps;
use crate::dumps::go;
use crate::dumps::only_moved;
use crate::world::World;

/// A dump of 80 files, moved, and its first file taken away.
fn culled() -> World {
    let world = World::new();
    world.dump("geminids-body-a", "card-a", |_| true);
    world.run(&["ingest", "card-a"]).ended(0);
    go(&world, "card-a", "moved");
    fs::remove_file(world::files_of(&world.path("moved")).remove(0)).unwrap();
    world
}

#[test]
fn most_of_a_dump_is_not_taken_in_before_it_is_said_what_it_is() {
    let world = culled();
    let said = world.run(&["ingest", "moved"]).ended(2);
    for words in [
        "looks like dump card-a",
        "31 match, 1 missing",
        "missing",
        "framefall dump move card-a",
        "--mostly",
        "--as-new",
    ] {
        assert!(said.err.contains(words), "{words}: {}", said.err);
    }
    assert_eq!(dumps(&world), [dump("card-a", "card-a", "offline", 80)]);
    world
        .run(&["dump", "move", "card-a", "moved", "--mostly"])
        .ended(0);
    only_moved(&world.run(&["ingest", "moved"]).ended(0), 79);
    assert_eq!(dumps(&world), [dump("card-a", "moved", "present", 80)]);
}

#[test]
fn a_dump_is_new_where_that_is_said() {
    let world = culled();
    let said = world.run(&["ingest", "moved", "--as-new"]).ended(0);
    assert_eq!(said.number("further copies"), 79);
    let both = [
        dump("card-a", "card-a", "offline", 80),
        dump("moved", "moved", "present", 79),
    ];
    assert_eq!(dumps(&world), both);
    // It is known from now on.
    only_moved(&world.run(&["ingest", "moved"]).ended(0), 79);
    // And the whole dump is still recognised where it appears.
    let world = World::new();
    world.dump("eta-aquariids", "card", |_| true);
    world.run(&["ingest", "card"]).ended(0);
    go(&world, "card", "copy");
    world.run(&["ingest", "copy", "--as-new"]).ended(0);
    world.dump("eta-aquariids", "third", |_| true);
    let said = world.run(&["ingest", "third"]).ended(0);
    assert!(said.err.contains("dump card has moved"), "{}", said.err);
}

#[test]
fn a_part_of_a_dump_beside_the_whole_is_a_copy() {
    let world = culled();
    world.dump("geminids-body-a", "whole", |_| true);
    let said = world.run(&["ingest", "moved", "whole"]).ended(0);
    assert!(said.err.contains("dump card-a has moved"), "{}", said.err);
    assert_eq!(said.number("further copies"), 79);
    assert_eq!(dumps(&world).len(), 2);
}

#[test]
fn a_little_of_a_dump_is_taken_as_new_and_said() {
    let world = World::new();
    world.dump("geminids-body-a", "card-a", |_| true);
    world.run(&["ingest", "card-a"]).ended(0);
    go(&world, "card-a/DCIM/101NCTRN", "part/DCIM/101NCTRN");
    fs::remove_dir_all(world.path("card-a")).unwrap();
    let said = world.run(&["ingest", "part", "--quiet"]).ended(0);
    assert!(
        said.err.contains("11 of 32 files checked of dump card-a")
            && said.err.contains("as a new dump"),
        "{}",
        said.err
    );
    assert_eq!(dumps(&world).len(), 2);
}

#[test]
fn a_renamed_folder_within_a_moved_dump_is_said() {
    let world = World::new();
    world.dump("geminids-body-a", "card-a", |_| true);
    world.run(&["ingest", "card-a"]).ended(0);
    // At its place the dump stays the same one.
    go(&world, "card-a/DCIM", "card-a/raw");
    let said = world.run(&["ingest", "card-a"]).ended(0);
    assert!(!said.err.contains("card-a is not"), "{}", said.err);
    assert_eq!(dumps(&world), [dump("card-a", "card-a", "present", 160)]);
    let world = World::new();
    world.dump("geminids-body-a", "card-a", |_| true);
    world.run(&["ingest", "card-a"]).ended(0);
    go(&world, "card-a", "moved");
    go(&world, "moved/DCIM", "moved/raw");
    let said = world.run(&["ingest", "moved"]).ended(0);
    assert_eq!(
        said.err.matches("is a file of dump card-a").count(),
        1,
        "{}",
        said.err
    );
    // With its name given back, the folder is that dump; the copy that it was taken for is not there any more.
    go(&world, "moved/raw", "moved/DCIM");
    let said = world.run(&["dump", "move", "card-a", "moved"]).ended(0);
    assert!(
        said.out.contains("dump moved is no longer there"),
        "{}",
        said.out
    );
    let both = [
        dump("card-a", "moved", "present", 80),
        dump("moved", "moved", "offline", 80),
    ];
    assert_eq!(dumps(&world), both);
    // Beside the dump itself it is a copy like any other.
    let world = World::new();
    world.dump("geminids-body-a", "card-a", |_| true);
    world.run(&["ingest", "card-a"]).ended(0);
    world.dump("geminids-body-a", "copy", |_| true);
    go(&world, "copy/DCIM", "copy/raw");
    let said = world.run(&["ingest", "copy"]).ended(0);
    assert!(!said.err.contains("is a file of dump"), "{}", said.err);
}

#[test]
fn what_is_left_of_a_dump_at_its_place_stays_its_own() {
    let world = World::new();
    world.dump("geminids-body-a", "card-a", |_| true);
    world.run(&["ingest", "card-a"]).ended(0);
    // One that is not among those looked for: of 80 every second or third is.
    let files = world::files_of(&world.path("card-a"));
    for file in files.iter().filter(|file| **file != files[1]) {
        fs::remove_file(file).unwrap();
    }
    let said = world.run(&["ingest", "card-a"]).ended(0);
    assert_eq!(said.err, "");
    only_moved(&said, 1);
    assert_eq!(dumps(&world).len(), 1);
    // Unless it is stated to be another.
    let said = world.run(&["ingest", "card-a", "--as-new"]).ended(0);
    assert!(
        said.err.contains("dump card-a is no longer at"),
        "{}",
        said.err
    );
    assert_eq!(said.number("further copies"), 1);
    let both = [
        dump("card-a", "card-a", "offline", 80),
        dump("card-a-2", "card-a", "present", 1),
    ];
    assert_eq!(dumps(&world), both);
}
