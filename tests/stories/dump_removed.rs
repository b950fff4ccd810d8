//! A dump is removed from the catalogue, and the statements about its frames come back with it.

use serde_json::Value;

use crate::world::World;

/// A damaged frame of the cards, and one of another body, left out.
fn is_of_body_b(name: &str) -> bool {
    name != "N2M_2219.DNG" && !name.starts_with("N6A")
}

/// Three cards; of the second everything is stated that can be stated of frames and dumps.
fn archive() -> World {
    let world = World::new();
    world.site_with("Salt Ridge", "38.93N", "116.01W", &["--elevation", "1905"]);
    world.dump("geminids-body-a", "cards/a", |_| true);
    world.dump("geminids-body-b", "cards/b", is_of_body_b);
    world.dump("eta-aquariids", "cards/c", |_| true);
    world.run(&["ingest", "cards/a"]);
    world.run(&["ingest", "cards/b"]).ended(0);
    world.run(&["ingest", "--site", "Salt Ridge", "cards/c"]);
    let of_b = world.run(&["frames", "dump = b", "--as", "json"]).json();
    let session = of_b[0]["session"].to_string();
    for words in [
        &["site", "assign", "Salt Ridge", "--dump", "b"][..],
        &[
            "sessions", "mark", &session, "--kind", "trial", "--frames", "1..3",
        ],
        &["sessions", "mark", &session, "--focal", "24"],
        &[
            "sessions", "mark", &session, "--kind", "light", "--frames", "2",
        ],
        &["frames", "mark", "dump = b", "--looked", "yes"],
        &[
            "frames",
            "mark",
            "dump = b and seq = 2",
            "--chosen",
            "yes",
            "--note",
            "a bright one",
        ],
        &[
            "trails",
            "add",
            "dump = b and seq = 2",
            "--from",
            "1,2",
            "--to",
            "30,40.5",
            "--is",
            "meteor",
            "--shower",
            "GEM",
        ],
        &[
            "trails",
            "add",
            "dump = b and seq = 2",
            "--from",
            "5,2",
            "--to",
            "30,4",
            "--is",
            "aircraft",
        ],
        &["trails", "judge", "1", "--is", "satellite"],
        &["trails", "remove", "2"],
        &["clock", "fix", "2B-00318", "--fast", "1h"],
        &["dump", "rename", "b", "winter"],
    ] {
        world.run(words).ended(0);
    }
    world
}

fn frames(world: &World) -> Vec<Value> {
    let said = world.run(&["frames", "--as", "json"]).json();
    said.as_array().unwrap().clone()
}

fn of(frames: &[Value], dump: &str) -> Vec<Value> {
    let of = frames.iter().filter(|frame| frame["dump"] == dump);
    of.cloned().collect()
}

fn whole(world: &World) {
    let rows = world.run(&["audit", "--as", "json"]);
    assert!(!rows.out.contains("catalogue-damaged"), "{}", rows.out);
}

#[test]
fn what_was_stated_comes_back_with_the_dump() {
    let world = archive();
    let before = frames(&world);
    let sessions = world.run(&["sessions", "--as", "csv"]).out;
    let statements = world.run(&["statement", "list", "--as", "json"]).json();
    let count = statements.as_array().unwrap().len();
    assert_eq!(of(&before, "winter").len(), 19);

    let said = world.run(&["dump", "remove", "winter"]).ended(2);
    assert!(said.out.contains("would be removed"), "{}", said.out);
    assert!(said.err.contains("add --yes"), "{}", said.err);
    world
        .run(&["dump", "remove", "winter", "--dry-run"])
        .ended(0);
    assert_eq!(frames(&world), before, "nothing was removed yet");

    let said = world.run(&["dump", "remove", "winter", "--yes"]).ended(0);
    assert!(said.out.contains("19 frames, 19 files"), "{}", said.out);
    assert!(
        said.out
            .contains("of 19 frames, until the dump is ingested again"),
        "{}",
        said.out
    );
    let without = frames(&world);
    assert_eq!(of(&without, "winter").len(), 0);
    for dump in ["a", "c"] {
        assert_eq!(of(&without, dump), of(&before, dump), "{dump}");
    }
    let now = world.run(&["statement", "list", "--as", "json"]).json();
    assert_eq!(
        now.as_array().unwrap().len(),
        count,
        "every statement is kept"
    );
    let dumps = world.run(&["dump", "list", "--as", "json"]).json();
    assert_eq!(dumps.as_array().unwrap().len(), 2);
    assert!(
        world.path("cards/b/DCIM").exists(),
        "the disk is not touched"
    );
    whole(&world);

    let again = world.run(&["ingest", "cards/b"]).ended(0);
    assert_eq!(again.number("frames that statements waited for"), 19);
    assert_eq!(
        frames(&world),
        before,
        "places, kinds, times, sessions, labels"
    );
    assert_eq!(world.run(&["sessions", "--as", "csv"]).out, sessions);
    whole(&world);
    // And a second time.
    world.run(&["dump", "remove", "winter", "--yes"]).ended(0);
    world.run(&["ingest", "cards/b"]).ended(0);
    assert_eq!(frames(&world), before);
}

#[test]
fn frames_that_another_dump_has_stay() {
    let world = archive();
    world.dump("geminids-body-b", "copy/b", is_of_body_b);
    world.run(&["ingest", "copy/b"]).ended(0);
    let before = frames(&world);
    let said = world.run(&["dump", "remove", "winter", "--yes"]).ended(0);
    assert!(
        said.out.contains("19 frames, which another dump has too"),
        "{}",
        said.out
    );
    let after = frames(&world);
    assert_eq!(after.len(), before.len());
    for (was, is) in before.iter().zip(&after) {
        for key in ["start_utc", "kind", "focal_mm", "site", "session", "seq"] {
            assert_eq!(was[key], is[key], "{key} of {}", was["path"]);
        }
        assert!(!is["path"].as_str().unwrap().contains("/cards/b/"), "{is}");
    }
    whole(&world);
    // The card is a copy of the copy now.
    let again = world.run(&["ingest", "cards/b"]).ended(0);
    assert_eq!(again.number("further copies"), 19);
    whole(&world);
}

#[test]
fn no_other_frame_gets_the_numbers_of_removed_ones() {
    let world = World::new();
    world.site_with("Salt Ridge", "38.93N", "116.01W", &["--elevation", "1905"]);
    world.dump("geminids-body-b", "b", is_of_body_b);
    world.dump("eta-aquariids", "c", |_| true);
    world.run(&["ingest", "--site", "Salt Ridge", "b"]).ended(0);
    let first = frames(&world)[0]["session"].clone();
    world.run(&["dump", "remove", "b", "--yes"]).ended(0);
    assert_eq!(world.run(&["frames", "--count"]).out, "0\n");
    world.run(&["ingest", "--site", "Salt Ridge", "c"]);
    assert!(frames(&world).iter().all(|frame| frame["session"] != first));
    world.run(&["ingest", "b"]).ended(0);
    let back = frames(&world);
    assert!(of(&back, "b").iter().all(|frame| frame["session"] == first));
    let said = world.run(&["dump", "remove", "d", "--yes"]).ended(2);
    assert!(said.err.contains("no dump named 'd'"), "{}", said.err);
}
