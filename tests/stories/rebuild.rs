//! Derived rows that are missing or by another program: a message says so, and one command recomputes them.
#![allow(clippy::unwrap_used)] // a test stops at the first surprise

use std::collections::BTreeMap;
use std::sync::OnceLock;

use crate::content::DERIVED;
use crate::content::content;
use crate::content::first_difference;
use crate::world;
use crate::world::World;
use rusqlite::Connection;

const TOLD: &str = "this answer may be out of date";

/// Two bodies' nights at one site, each with its sessions.
fn archive() -> World {
    static KEPT: OnceLock<Vec<u8>> = OnceLock::new();
    World::copied(&KEPT, two_bodies)
}

fn two_bodies() -> World {
    let world = World::new();
    world.site("Salt Ridge", "38.93N", "116.01W");
    for dump in ["geminids-body-a", "geminids-body-b", "quadrantids"] {
        let dump = world::demo(dump).to_string_lossy().into_owned();
        let said = world.run(&["ingest", "--site", "Salt Ridge", &dump]);
        assert!(said.code < 2 && !said.err.contains(TOLD), "{}", said.err);
    }
    world
}

fn at_prompt(world: &World, sql: &str) {
    let db = Connection::open(world.path("catalogue.sqlite")).unwrap();
    db.pragma_update(None, "foreign_keys", false).unwrap();
    db.execute_batch(sql).unwrap();
}

fn all_of(world: &World) -> BTreeMap<String, Vec<String>> {
    content(&world.path("catalogue.sqlite"))
}

fn delete_everything_derived(world: &World) {
    for (table, _) in DERIVED {
        at_prompt(world, &format!("DELETE FROM {table}"));
    }
}

/// Commands that answer from rows.
const ANSWERS: &[&[&str]] = &[
    &["frames", "GEM.alt > 10"],
    &["frames", "--count"],
    &["frames", "--per", "night", "--count"],
    &["sessions"],
    &[
        "report",
        "2023-12-13",
        "--no-pictures",
        "--to",
        "night.html",
        "--overwrite",
    ],
    &[
        "report",
        "--season",
        "2023",
        "--to",
        "season.html",
        "--overwrite",
    ],
    &[
        "export",
        "iso > 0",
        "--to",
        "list.csv",
        "--check",
        "none",
        "--overwrite",
    ],
];

fn each_answer_tells(world: &World, times: usize) {
    for words in ANSWERS {
        let said = world.run(words);
        assert_eq!(
            said.err.matches(TOLD).count(),
            times,
            "{words:?}: {}",
            said.err
        );
        assert_eq!(
            said.err.matches("framefall rebuild").count(),
            times,
            "{words:?}: {}",
            said.err
        );
        assert!(!said.out.contains(TOLD), "{words:?}");
    }
}

#[test]
fn rows_that_were_deleted_are_missed_and_made_again() {
    let world = archive();
    let before = all_of(&world);
    each_answer_tells(&world, 0);
    let session = world.run(&["sessions", "2"]).ended(0);
    delete_everything_derived(&world);
    each_answer_tells(&world, 1);
    let audit = world.run(&["audit", "--as", "json"]).ended(1).json();
    let rows = audit.as_array().unwrap();
    let stale: Vec<_> = rows
        .iter()
        .filter(|row| row["code"] == "rows-stale")
        .collect();
    assert_eq!(stale.len(), 1, "{stale:?}");
    let frames = before["written_frame"].len();
    assert_eq!(
        stale[0]["found"],
        format!("derived rows of {frames} frames are missing")
    );

    let said = world.run(&["rebuild"]).ended(0);
    assert_eq!(said.number("frames rebuilt"), frames as u64);
    assert_eq!(said.number("without rows before"), frames as u64);
    assert!(!said.out.contains("for the first time"), "{}", said.out);
    assert_eq!(first_difference(&before, &all_of(&world)), None);
    each_answer_tells(&world, 0);
    assert_eq!(world.run(&["sessions", "2"]).ended(0).out, session.out);
    let again = world.run(&["rebuild"]).ended(0);
    assert!(
        again
            .out
            .contains("nothing: times and radiants are unchanged"),
        "{}",
        again.out
    );
    assert!(!again.out.contains("without rows"), "{}", again.out);
}

#[test]
fn rows_of_another_edition_are_told_signed_and_made_again_by_night_and_by_session() {
    let world = archive();
    let before = all_of(&world);
    let another = "UPDATE derived_maker SET shower_table = '2019-7';
                   UPDATE derived_radiant SET rates = rates + 1000";
    at_prompt(&world, another);
    each_answer_tells(&world, 1);
    let signed = |file: &str| std::fs::read_to_string(world.path(file)).unwrap();
    let (old, new) = ("shower table 2019-7", "shower table 2025-2");
    for page in ["night.html", "season.html", "list.csv.manifest.json"] {
        assert!(
            signed(page).contains(old) && !signed(page).contains(new),
            "{page}"
        );
    }
    let audit = world.run(&["audit"]).ended(1);
    assert!(audit.out.contains("rows-stale"), "{}", audit.out);

    // A session of it, then a night: each is signed by the program that made its rows, the night by both.
    let said = world.run(&["rebuild", "--session", "1"]).ended(0);
    assert!(said.number("frames rebuilt") > 0);
    each_answer_tells(&world, 1);
    assert!(signed("night.html").contains(old) && signed("night.html").contains(new));
    let manifest: serde_json::Value =
        serde_json::from_str(&signed("list.csv.manifest.json")).unwrap();
    assert_eq!(manifest["catalogue"]["shower_table"], "2019-7, 2025-2");
    assert_eq!(
        manifest["catalogue"]["derived_by"]
            .as_array()
            .unwrap()
            .len(),
        2
    );
    world.run(&["rebuild", "--night", "2023-12-13"]).ended(0);
    each_answer_tells(&world, 1);
    assert!(!signed("night.html").contains(old) && signed("night.html").contains(new));

    let said = world.run(&["rebuild"]).ended(0);
    assert!(said.number("sessions") > 0);
    assert_eq!(first_difference(&before, &all_of(&world)), None);
    each_answer_tells(&world, 0);
}

#[test]
fn a_version_of_the_program_alone_makes_nothing_stale() {
    let world = archive();
    at_prompt(
        &world,
        "UPDATE derived_maker SET program = 'framefall 0.0.1'",
    );
    each_answer_tells(&world, 0);
    let page = std::fs::read_to_string(world.path("night.html")).unwrap();
    assert!(
        page.contains("framefall 0.0.1, formulas"),
        "signed by who made the rows"
    );
    at_prompt(&world, "UPDATE derived_maker SET formulas = formulas + 1");
    each_answer_tells(&world, 1);
}

#[test]
fn what_is_asked_for_has_to_be_there() {
    let world = archive();
    let none = world.run(&["rebuild", "--session", "99"]).ended(2);
    assert!(none.err.contains("there is no session 99"), "{}", none.err);
    let none = world.run(&["rebuild", "--night", "2023-12-20"]).ended(2);
    assert!(
        none.err.contains("2023-12-13"),
        "the nearest nights: {}",
        none.err
    );
    world.run(&["rebuild", "--night", "soon"]).ended(2);
    world
        .run(&["rebuild", "--night", "2023-12-13", "--session", "1"])
        .ended(2);
}

#[test]
fn a_night_and_a_session_are_found_though_all_their_rows_are_missing() {
    let world = archive();
    let before = all_of(&world);
    delete_everything_derived(&world);
    let said = world.run(&["rebuild", "--session", "1"]).ended(0);
    let of_session = said.number("frames rebuilt");
    assert!(of_session > 0 && of_session < before["written_frame"].len() as u64);
    let listed = world.run(&["sessions", "--as", "json"]).ended(0).json();
    let numbers: Vec<_> = listed
        .as_array()
        .unwrap()
        .iter()
        .map(|row| row["session"].as_i64().unwrap())
        .collect();
    assert_eq!(numbers, [1]);
    let said = world.run(&["rebuild", "--night", "2023-12-13"]).ended(0);
    assert!(said.number("frames rebuilt") > of_session);
    world.run(&["rebuild"]).ended(0);
    assert_eq!(first_difference(&before, &all_of(&world)), None);
}

#[test]
fn an_ingest_makes_missing_rows_again_first_and_leaves_those_of_others_and_says_both() {
    // The second half of a card joins a session whose rows are missing.
    let world = World::new();
    world.site("Salt Ridge", "38.93N", "116.01W");
    world.dump("geminids-body-b", "card", |name| name < "N2M_2211");
    world.run(&["ingest", "--site", "Salt Ridge", "card"]);
    let first = all_of(&world)["written_frame"].len();
    assert!(first > 0);
    delete_everything_derived(&world);
    world.dump("geminids-body-b", "card", |_| true);
    let said = world.run(&["ingest", "--site", "Salt Ridge", "card"]);
    assert!(said.err.contains("recomputing them first"), "{}", said.err);
    assert_eq!(said.number("missing rows recomputed"), first as u64);
    assert!(!said.err.contains(TOLD), "{}", said.err);

    let straight = World::new();
    straight.site("Salt Ridge", "38.93N", "116.01W");
    straight.dump("geminids-body-b", "card", |name| name < "N2M_2211");
    straight.run(&["ingest", "--site", "Salt Ridge", "card"]);
    straight.dump("geminids-body-b", "card", |_| true);
    straight.run(&["ingest", "--site", "Salt Ridge", "card"]);
    let derived = |world: &World| -> BTreeMap<String, Vec<String>> {
        let mut all = all_of(world);
        all.retain(|table, _| table.starts_with("derived_") || table.starts_with("given_"));
        all
    };
    assert_eq!(
        first_difference(&derived(&straight), &derived(&world)),
        None
    );

    // Rows by another maker stay: there may be millions.
    at_prompt(&world, "UPDATE derived_maker SET formulas = 0");
    world.dump("quadrantids", "more", |_| true);
    let said = world.run(&["ingest", "--site", "Salt Ridge", "more"]);
    assert_eq!(said.err.matches(TOLD).count(), 1, "{}", said.err);
    let makers = &all_of(&world)["derived_maker"];
    assert_eq!(makers.len(), 2, "{makers:?}");
    world.run(&["rebuild"]).ended(0);
    assert_eq!(all_of(&world)["derived_maker"].len(), 1);
}

#[test]
fn a_statement_reaches_frames_whose_rows_are_missing() {
    let world = archive();
    let frames = |query: &str| {
        let said = world.run(&["frames", query, "--count"]);
        said.out.trim().parse::<u64>().unwrap()
    };
    let listed = world.run(&["sessions", "--as", "json"]).json();
    let sessions = listed.as_array().unwrap().iter();
    let largest = sessions.max_by_key(|one| one["frames"].as_u64()).unwrap();
    let number = largest["session"].to_string();
    let of_session = format!("session = {number}");
    let all = frames(&of_session);
    assert!(all > 3);
    at_prompt(&world, "DELETE FROM derived_time WHERE frame_id % 2 = 1");
    assert!(frames(&of_session) < all);
    let said = world
        .run(&["sessions", "mark", &number, "--kind", "trial"])
        .ended(0);
    assert!(said.err.contains("recomputing them first"), "{}", said.err);
    assert_eq!(frames(&format!("{of_session} and kind = trial")), all);
    each_answer_tells(&world, 0);
}

/// Sessions of the earliest catalogues have numbers that no set of frames is known for.
#[test]
fn a_session_whose_frames_were_never_noted_keeps_its_number() {
    let world = archive();
    let before = all_of(&world);
    at_prompt(
        &world,
        "DELETE FROM given_session WHERE session_id = 2; DELETE FROM derived_session WHERE session_id = 2",
    );
    each_answer_tells(&world, 1);
    world.run(&["rebuild"]).ended(0);
    assert_eq!(first_difference(&before, &all_of(&world)), None);
}

#[test]
fn what_is_in_force_is_put_back_from_the_log_of_statements() {
    let world = archive();
    for words in [
        &[
            "clock",
            "fix",
            "--session",
            "1",
            "--fast",
            "90s",
            "--files",
            "N6A_0412.DNG..N6A_0413.DNG",
        ][..],
        &["sessions", "mark", "1", "--kind", "dark"],
        &["frames", "mark", "session = 1", "--note", "clouds at two"],
        &["query", "save", "dark-sky", "moon.alt < 0"],
        &["site", "change", "Salt Ridge", "--name", "Salt Hill"],
    ] {
        world.run(words).ended(0);
    }
    let differs = || {
        let audit = world.run(&["audit", "--all", "--as", "json"]);
        audit.out.contains("statements-differ")
    };
    let before = all_of(&world);
    let stated = || {
        let words = [
            "frames",
            "",
            "--show",
            "file,site,kind,start,note",
            "--as",
            "csv",
        ];
        world.run(&words).ended(0).out
    };
    let was = stated();
    assert!(!differs());
    let none = world.run(&["rebuild", "--statements"]).ended(0);
    assert!(none.out.contains("nothing"), "{}", none.out);
    assert_eq!(first_difference(&before, &all_of(&world)), None);
    at_prompt(
        &world,
        "DELETE FROM stated_kind; DELETE FROM stated_place; DELETE FROM stated_fix_frame; DELETE FROM stated_clock_fix;
         DELETE FROM stated_query; UPDATE stated_look SET note = 'rain'",
    );
    assert!(differs());
    let told = world.run(&["rebuild", "--statements"]).ended(0);
    assert!(told.out.contains("put in force"), "{}", told.out);
    assert!(!differs());
    assert_eq!(stated(), was);
    world.run(&["frames", "@dark-sky", "--count"]).ended(0);
    world
        .run(&["rebuild", "--statements", "--night", "2023-12-13"])
        .ended(2);
}
