//! A run over noon while the Sun stays down: one night, one session, whatever came first.

use crate::content::content;
use crate::content::first_difference;
use crate::frames::LIGHT;
use crate::frames::Taken;
use crate::frames::raw_by;
use crate::frames::reading;
use crate::world::World;
use rusqlite::Connection;

const MINUTE_S: u32 = 60;
const HOUR_S: u32 = 3_600;

/// A world with an invented hut far north, where the Sun is below the horizon all December.
fn hut() -> World {
    let world = World::new();
    world.site("Lantern Hut", "78.6", "16.2");
    world
}

/// Frames every ten minutes from `from_s` on, `hours` long, in seconds after midnight of 2023-12-13.
fn run(world: &World, card: &str, model: &str, taken: Taken, from_s: u32, hours: u32) {
    for k in 0..=hours * 6 {
        let at = from_s + k * 10 * MINUTE_S;
        let day = format!("2023:12:{:02}", 13 + at / 86_400);
        world.write(
            &format!("{card}/L_{k:04}.DNG"),
            &raw_by(model, &reading(&day, at % 86_400), taken),
        );
    }
}

fn ingest(world: &World, card: &str) {
    world
        .run(&["ingest", "--site", "Lantern Hut", card])
        .ended(0);
}

/// Night, body, first and last moment and number of frames of every session, without their numbers.
fn sessions(world: &World) -> Vec<String> {
    let all = world.run(&["sessions", "--as", "json"]).json();
    let mut lines: Vec<String> = all
        .as_array()
        .unwrap()
        .iter()
        .map(|s| {
            format!(
                "{} {} {} {}",
                s["night"], s["camera"], s["start_utc"], s["frames"]
            )
            .replace('"', "")
        })
        .collect();
    lines.sort();
    lines
}

/// The night of each frame, by its path.
fn nights(world: &World) -> String {
    world
        .run(&["frames", "--as", "csv", "--show", "path,night,kind,start"])
        .ended(0)
        .out
        .replace(
            &format!("{}/", world.path("").display()).replace("//", "/"),
            "",
        )
}

const SECOND: Taken = Taken {
    serial: "0043",
    focal: 14,
    ..LIGHT
};

#[test]
fn a_run_over_noon_is_one_session_of_the_night_where_it_began() {
    let world = hut();
    run(&world, "card", "Umbra N7", LIGHT, 20 * HOUR_S, 30);
    ingest(&world, "card");
    assert_eq!(
        sessions(&world),
        ["2023-12-13 Umbra N7 0042 2023-12-13T19:00:00.000Z 181"]
    );
    let next = world.run(&["frames", "night = 2023-12-14", "--as", "paths"]);
    assert_eq!((next.code, &*next.out), (1, ""));
    // The night is drawn to the noon after its last frame.
    let drawn = world.run(&["sessions", "1"]).ended(0).out;
    let hours = drawn.lines().find(|l| l.trim().starts_with("12:00"));
    assert_eq!(
        hours.map(|l| l.matches("12:00").count()),
        Some(2),
        "{drawn}"
    );
}

/// Each frame's own noon is another night's: a rebuild finds the night of the run again.
#[test]
fn a_rebuild_leaves_the_run_whole() {
    let world = hut();
    run(&world, "card", "Umbra N7", LIGHT, 20 * HOUR_S, 30);
    run(&world, "second", "Umbra N8", SECOND, 22 * HOUR_S, 40);
    ingest(&world, "card");
    ingest(&world, "second");
    let path = world.path("catalogue.sqlite");
    let before = content(&path);
    let prompt = Connection::open(&path).unwrap();
    prompt.pragma_update(None, "foreign_keys", false).unwrap();
    for gone in [
        "UPDATE derived_maker SET formulas = 1",
        "DELETE FROM derived_time WHERE frame_id % 2 = 0; DELETE FROM derived_session",
        "DELETE FROM derived_time; DELETE FROM derived_sky; DELETE FROM derived_radiant; DELETE FROM derived_session",
    ] {
        prompt.execute_batch(gone).unwrap();
        world.run(&["rebuild"]).ended(0);
        assert_eq!(first_difference(&before, &content(&path)), None, "{gone}");
    }
    world.run(&["rebuild", "--night", "2023-12-13"]).ended(0);
    assert_eq!(first_difference(&before, &content(&path)), None);
}

#[test]
fn where_the_sun_is_up_at_noon_a_run_ends_there() {
    let world = World::new();
    world.site("Lantern Hut", "60.1", "16.2");
    run(&world, "card", "Umbra N7", LIGHT, 20 * HOUR_S, 30);
    ingest(&world, "card");
    assert_eq!(
        sessions(&world),
        [
            "2023-12-13 Umbra N7 0042 2023-12-13T19:00:00.000Z 96",
            "2023-12-14 Umbra N7 0042 2023-12-14T11:00:00.000Z 85"
        ]
    );
}

#[test]
fn the_order_of_the_cards_and_a_fix_forth_and_back_leave_the_same_nights() {
    let cards: [(&str, &str, Taken, u32, u32); 4] = [
        ("a", "Umbra N7", LIGHT, 20 * HOUR_S, 12),
        ("b", "Umbra N7", LIGHT, 32 * HOUR_S + 10 * MINUTE_S, 30),
        ("c", "Umbra K2", SECOND, 38 * HOUR_S + 5 * MINUTE_S, 9),
        ("d", "Umbra K2", SECOND, 90 * HOUR_S, 30),
    ];
    let make = |order: [usize; 4]| {
        let world = hut();
        for at in order {
            let (card, model, taken, from, hours) = cards[at];
            run(&world, card, model, taken, from, hours);
            ingest(&world, card);
        }
        world
    };
    let first = make([0, 1, 2, 3]);
    assert_eq!(
        sessions(&first),
        [
            "2023-12-13 Umbra K2 0043 2023-12-14T13:05:00.000Z 55",
            "2023-12-13 Umbra N7 0042 2023-12-13T19:00:00.000Z 254",
            "2023-12-16 Umbra K2 0043 2023-12-16T17:00:00.000Z 181",
        ]
    );
    for order in [[3, 2, 1, 0], [1, 3, 0, 2], [2, 1, 3, 0]] {
        let other = make(order);
        assert_eq!(sessions(&other), sessions(&first), "{order:?}");
        assert!(nights(&other) == nights(&first), "{order:?}");
    }
    // Nine hours later the first card's run no longer reaches the second one's; after the removal all is as before.
    let before = (sessions(&first), nights(&first));
    let fix = ["clock", "fix", "0042", "--read", "2023-12-14 08:00:00"];
    let until = [
        "--true",
        "2023-12-14T16:00:00Z",
        "--until",
        "2023-12-14 08:00:10",
    ];
    first.run(&[&fix[..], &until[..]].concat()).ended(0);
    assert_ne!(sessions(&first), before.0);
    first.run(&["clock", "remove", "fix-1"]).ended(0);
    assert_eq!(sessions(&first), before.0);
    assert!(nights(&first) == before.1);
}

#[test]
fn a_card_that_links_two_nights_moves_the_frames_that_were_there() {
    let world = hut();
    run(&world, "early", "Umbra N7", LIGHT, 26 * HOUR_S, 8);
    run(&world, "late", "Umbra N7", LIGHT, 38 * HOUR_S, 9);
    run(
        &world,
        "between",
        "Umbra N7",
        LIGHT,
        34 * HOUR_S + 5 * MINUTE_S,
        4,
    );
    ingest(&world, "late");
    ingest(&world, "early");
    assert_eq!(sessions(&world).len(), 2);
    ingest(&world, "between");
    assert_eq!(
        sessions(&world),
        ["2023-12-13 Umbra N7 0042 2023-12-14T01:00:00.000Z 129"]
    );
    // The frames between are said to be of another lens: the run falls apart again, in the nights of before.
    let moved = world.run(&[
        "sessions", "mark", "1", "--frames", "50..74", "--focal", "50",
    ]);
    assert_eq!(moved.code, 0, "{}", moved.err);
    assert!(sessions(&world).iter().any(|s| s.starts_with("2023-12-14")));
}

#[test]
fn darks_and_flats_within_such_a_run_are_of_its_night() {
    let world = hut();
    run(&world, "card", "Umbra N7", LIGHT, 20 * HOUR_S, 24);
    let dark = Taken {
        exposure: (15, 1),
        ..LIGHT
    };
    for k in 0..12 {
        let at = reading("2023:12:14", 15 * HOUR_S + 3 + 20 * k);
        world.write(
            &format!("card/darks/D_{k:04}.DNG"),
            &raw_by("Umbra N7", &at, dark),
        );
    }
    let flat = Taken {
        exposure: (1, 100),
        focal: 50,
        ..LIGHT
    };
    for k in 0..12 {
        let at = reading("2023:12:14", 16 * HOUR_S + 3 + 5 * k);
        world.write(
            &format!("card/flats/F_{k:04}.DNG"),
            &raw_by("Umbra N7", &at, flat),
        );
    }
    ingest(&world, "card");
    assert!(
        sessions(&world).iter().all(|s| s.starts_with("2023-12-13")),
        "{:?}",
        sessions(&world)
    );
    let darks = world.run(&[
        "frames",
        "night = 2023-12-13 and kind = dark",
        "--as",
        "paths",
    ]);
    assert_eq!(darks.ended(0).out.lines().count(), 12);
}

#[test]
fn without_a_site_no_frame_moves() {
    let world = World::new();
    run(&world, "card", "Umbra N7", LIGHT, 20 * HOUR_S, 30);
    world.run(&["ingest", "card"]);
    let nights: Vec<String> = sessions(&world)
        .iter()
        .map(|s| s[..10].to_owned())
        .collect();
    assert_eq!(nights, ["2023-12-13", "2023-12-14"]);
    // And once it is stated, they do; taken away, they are back.
    world.site("Lantern Hut", "78.6", "16.2");
    world
        .run(&["site", "assign", "Lantern Hut", "--dump", "card"])
        .ended(0);
    assert_eq!(sessions(&world).len(), 1);
}
