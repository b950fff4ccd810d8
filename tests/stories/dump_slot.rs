//! Cards and disks change places with each other: another card in the slot, two disks swapped, a mount point without a disk.

use crate::world;
use std::fs;

use crate::dumps::dump;
use crate::dumps::dumps;
use crate::dumps::go;
use crate::dumps::only_moved;
use crate::world::World;

fn count(world: &World, query: &str) -> String {
    let said = world.run(&["frames", query, "--count"]).ended(0);
    said.out.trim().to_owned()
}

/// Two disks, each with a dump, in each other's slot.
fn swapped() -> World {
    let world = World::new();
    world.dump("geminids-body-a", "m/usb0", |_| true);
    world.dump("geminids-body-b", "m/usb1", |_| true);
    world.run(&["ingest", "m/usb0", "m/usb1"]);
    go(&world, "m/usb0", "m/t");
    go(&world, "m/usb1", "m/usb0");
    go(&world, "m/t", "m/usb1");
    world
}

#[test]
fn two_disks_in_each_others_slot_are_the_two_dumps() {
    for asked in [
        &["m/usb0", "m/usb1"][..],
        &["m"],
        &["m/usb1/DCIM", "m/usb0/DCIM"],
    ] {
        let world = swapped();
        let away: Vec<String> = dumps(&world).into_iter().map(|row| row.2).collect();
        assert_eq!(away, ["offline", "offline"]);
        let mut words = vec!["ingest"];
        words.extend(asked);
        let said = world.run(&words);
        assert_eq!(
            said.err.matches("has moved from").count(),
            2,
            "{}",
            said.err
        );
        only_moved(&said, 101);
        let now = [
            dump("usb0", "m/usb1", "present", 80),
            dump("usb1", "m/usb0", "present", 21),
        ];
        assert_eq!(dumps(&world), now, "{asked:?}");
    }
}

#[test]
fn one_of_two_swapped_disks_frees_the_others_root() {
    let world = swapped();
    let said = world.run(&["ingest", "m/usb0"]);
    assert!(
        said.err.contains("dump usb1 has moved from"),
        "{}",
        said.err
    );
    assert!(
        said.err.contains("dump usb0 is no longer at"),
        "{}",
        said.err
    );
    let now = [
        dump("usb0", "m/usb0", "offline", 80),
        dump("usb1", "m/usb0", "present", 21),
    ];
    assert_eq!(dumps(&world), now);
    let said = world.run(&["ingest", "m/usb1"]).ended(0);
    assert!(
        said.err.contains("dump usb0 has moved from"),
        "{}",
        said.err
    );
    only_moved(&said, 80);
    // By command as well.
    let world = swapped();
    world.run(&["dump", "move", "usb0", "m/usb1"]).ended(0);
    world.run(&["dump", "move", "usb1", "m/usb0"]).ended(0);
    let now = [
        dump("usb0", "m/usb1", "present", 80),
        dump("usb1", "m/usb0", "present", 21),
    ];
    assert_eq!(dumps(&world), now);
    // A dump that is at its root keeps it.
    world.run(&["dump", "move", "usb0", "m/usb0"]).ended(2);
}

#[test]
fn another_card_in_the_slot_is_another_dump_and_each_is_known_again() {
    let world = World::new();
    world.dump("geminids-body-a", "slot/CARD", |_| true);
    world.run(&["ingest", "slot/CARD"]).ended(0);
    go(&world, "slot/CARD", "pocket/one");
    world.dump("eta-aquariids", "slot/CARD", |_| true);
    let audit = world.run(&["audit", "--disk", "--as", "json"]).ended(1);
    let audit = audit.json();
    let rows = audit.as_array().unwrap();
    assert_eq!(rows.len(), 1, "one line for 80 files: {rows:?}");
    assert_eq!(rows[0]["code"], "dump-away");
    assert!(
        rows[0]["found"]
            .as_str()
            .unwrap()
            .contains("none of 32 files")
    );
    // The folder around it is named; the card is a separate dump all the same.
    let said = world.run(&["ingest", "slot"]).ended(0);
    assert!(
        said.err.contains("dump CARD is no longer at"),
        "{}",
        said.err
    );
    assert_eq!(said.number("frames new"), 38);
    let both = [
        dump("CARD", "slot/CARD", "offline", 80),
        dump("CARD-2", "slot/CARD", "present", 38),
    ];
    assert_eq!(dumps(&world), both);
    assert_eq!(
        (count(&world, "dump = CARD"), count(&world, "dump = CARD-2")),
        ("72".into(), "38".into())
    );
    let said = world
        .run(&["export", "dump = CARD", "--to", "a.csv"])
        .ended(2);
    assert!(said.err.contains("another dump is now at"), "{}", said.err);
    // No frame of the one is looked for among the files of the other.
    let paths = world
        .run(&["frames", "dump = CARD", "--as", "paths"])
        .ended(0);
    assert!(
        !paths
            .out
            .lines()
            .any(|path| std::path::Path::new(path).exists())
    );

    // The cards change places, again and again.
    for (inside, outside, label) in [("one", "two", "CARD"), ("two", "one", "CARD-2")] {
        go(&world, "slot/CARD", &format!("pocket/{outside}"));
        go(&world, &format!("pocket/{inside}"), "slot/CARD");
        let said = world.run(&["ingest", "slot/CARD"]).ended(0);
        let words = format!("dump {label} is back at");
        assert!(said.err.contains(&words), "{}", said.err);
        assert_eq!(said.number("frames new") + said.number("further copies"), 0);
        let here: Vec<String> = dumps(&world)
            .into_iter()
            .filter(|row| row.2 == "present")
            .map(|row| row.0)
            .collect();
        assert_eq!(here, [label]);
    }
    // Both are there.
    let said = world.run(&["ingest", "pocket/one"]).ended(0);
    assert!(
        said.err.contains("dump CARD has moved from"),
        "{}",
        said.err
    );
    let both = [
        dump("CARD", "pocket/one", "present", 80),
        dump("CARD-2", "slot/CARD", "present", 38),
    ];
    assert_eq!(dumps(&world), both);
    world.run(&["audit", "--disk"]).ended(0);
}

#[test]
fn a_card_of_the_same_body_with_the_same_names_is_another_dump() {
    let world = World::new();
    let card = |times: [&str; 2]| {
        let _ = fs::remove_dir_all(world.path("CARD"));
        for (name, time) in ["A", "B"].iter().zip(times) {
            world.write(&format!("CARD/DCIM/100/{name}.DNG"), &world::frame_at(time));
        }
    };
    card(["2023:12:13 22:31:00", "2023:12:13 22:31:20"]);
    world.run(&["ingest", "CARD"]).ended(0);
    card(["2024:01:01 02:00:00", "2024:01:01 02:00:20"]);
    let said = world.run(&["ingest", "CARD"]).ended(0);
    assert_eq!(
        (said.number("frames new"), said.number("known, read again")),
        (2, 0)
    );
    assert_eq!(dumps(&world).len(), 2);
    // The same pictures, changed by another program, are still the dump's.
    for file in world::files_of(&world.path("CARD")) {
        let mut bytes = fs::read(&file).unwrap();
        bytes.extend_from_slice(&[0; 64]);
        fs::write(&file, bytes).unwrap();
    }
    let audit = world.run(&["audit", "--disk", "--as", "csv"]).ended(1);
    assert_eq!(audit.out.matches("changed,").count(), 2, "{}", audit.out);
    let said = world.run(&["ingest", "CARD"]).ended(0);
    assert_eq!(said.number("known, read again"), 2);
    assert_eq!(dumps(&world).len(), 2);
}

#[test]
fn a_stray_file_at_a_mount_point_is_no_dump() {
    let world = World::new();
    world.dump("geminids-body-a", "CARD", |_| true);
    world.run(&["ingest", "CARD"]).ended(0);
    let at = |column: &str| -> String {
        let db = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
        let sql = format!("SELECT CAST({column} AS TEXT) FROM written_dump WHERE label = 'CARD'");
        db.query_row(&sql, [], |row| row.get(0)).unwrap()
    };
    let db = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    db.execute("UPDATE written_dump SET volume_id = 'ITS OWN'", [])
        .unwrap();
    drop(db);
    let seen = at("last_seen_ms");
    go(&world, "CARD", "elsewhere");
    world.write("CARD/.keep", b"");
    assert_eq!(dumps(&world), [dump("CARD", "CARD", "offline", 80)]);
    let audit = world.run(&["audit", "--disk", "--as", "csv"]).ended(1);
    assert_eq!(audit.out.matches("dump-away").count(), 1, "{}", audit.out);
    assert!(!audit.out.contains("missing"), "{}", audit.out);
    // Named by mistake: nothing is there, and nothing is noted of a dump that was not seen.
    world.run(&["ingest", "CARD"]).ended(0);
    assert_eq!(dumps(&world), [dump("CARD", "CARD", "offline", 80)]);
    assert_eq!(
        (at("last_seen_ms"), at("volume_id")),
        (seen, "ITS OWN".into())
    );
    let said = world.run(&["ingest", "elsewhere"]).ended(0);
    assert!(said.err.contains("dump CARD has moved"), "{}", said.err);
    only_moved(&said, 80);
}

#[test]
fn unknown_folders_ahead_of_a_moved_dump_do_not_hide_it() {
    let world = World::new();
    world.dump("geminids-body-a", "disk/2024/z", |_| true);
    world.run(&["ingest", "disk/2024/z"]).ended(0);
    go(&world, "disk", "other");
    for at in 0..40 {
        for end in ["00", "40"] {
            let time = format!("2024:03:{:02} 22:{:02}:{end}", at % 28 + 1, at);
            let name = format!("other/2024/a{at:02}/{end}.DNG");
            world.write(&name, &world::frame_at(&time));
        }
    }
    let said = world.run(&["ingest", "other"]);
    assert!(said.err.contains("dump z has moved"), "{}", said.err);
    assert!(!said.err.contains("not all folders"), "{}", said.err);
    assert_eq!(said.number("frames new"), 80);
}

#[test]
fn a_look_that_ends_early_is_said() {
    let world = World::new();
    world.dump("eta-aquariids", "card", |_| true);
    world.run(&["ingest", "card"]).ended(0);
    let many = |under: &str, day: u32| {
        for at in 0..140 {
            let time = format!("2024:03:{day:02} {:02}:{:02}:00", at / 60, at % 60);
            let at = format!("{under}/a{at:03}/A.DNG");
            world.write(&at, &world::frame_at(&time));
        }
    };
    many("many", 1);
    let said = world.run(&["ingest", "many"]);
    assert!(
        !said.err.contains("not all folders"),
        "nothing is away: {}",
        said.err
    );
    fs::rename(world.path("card"), world.path("many/zz")).unwrap();
    many("again", 2);
    let said = world.run(&["ingest", "again"]);
    assert!(
        said.err.contains("not all folders were searched"),
        "{}",
        said.err
    );
}
