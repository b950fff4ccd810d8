//! What must hold of any archive: whatever derived rows are deleted or were made by others, a rebuild makes the catalogue what it
//! was, session numbers included.
#![allow(clippy::unwrap_used)] // Tests may panic.

#[path = "rebuild/archive.rs"]
pub mod archive;

use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::migrations::APPLICATION_ID;
use framefall::catalogue::migrations::MIGRATIONS;
use framefall::catalogue::pending::Missing;
use framefall::catalogue::purpose::Purpose;
use framefall::terms::picture::Look;
use framefall::usecase::derive::maker::stale;
use framefall::usecase::derive::rebuild::Rebuild;
use framefall::usecase::derive::rebuild::rebuild;
use framefall::usecase::derive::rebuild::rebuild_missing;
use proptest::prelude::*;
use rusqlite::Connection;
use std::path::Path;
use std::sync::atomic::AtomicBool;

use self::archive::Card;
use self::archive::Statement;
use self::archive::cards;
use self::archive::ingest;
use self::archive::state;
use self::archive::statements;
use crate::content;
use crate::content::DERIVED;
use crate::content::content;

/// A connection as an SQL prompt has it: foreign keys are not looked at.
fn prompt(path: &Path) -> Connection {
    let db = Connection::open(path).unwrap();
    db.pragma_update(None, "foreign_keys", false).unwrap();
    db
}

fn again(catalogue: &mut Catalogue) {
    let never = AtomicBool::new(false);
    let done = rebuild(catalogue, &Rebuild::All, &never, &mut |_| {}).unwrap();
    assert!(!done.stopped && !done.carried_on);
}

/// What another edition of the shower table, or another version of the formulas, would have left.
const BY_ANOTHER: &str = "
    UPDATE derived_maker SET shower_table = 'another', formulas = formulas + 1;
    UPDATE derived_radiant SET rates = rates + 7, stood = stood + 5 WHERE frame_id % 2 = 0;
    UPDATE derived_sky SET sun_alt = sun_alt - 3, moon_lit_ppm = 1;
    UPDATE derived_time SET start_ms = start_ms + 86400000, night_day = night_day + 1 WHERE frame_id % 3 = 0;
    UPDATE derived_time SET kind_no = 1, turn = 12, seq = seq + 1 WHERE frame_id % 5 = 0;
    UPDATE derived_session SET frames = 1, cadence_s = 2;";

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(40) })]

    #[test]
    fn whatever_is_deleted_is_made_again(
        cards in cards(),
        statements in statements(),
        between in 0_usize..4,
        deleted in prop::collection::vec(any::<bool>(), DERIVED.len()),
        turn in 0_usize..10,
    ) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("c.sqlite");
        let mut catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).unwrap();
        let mut names = Vec::new();
        // Statements come between cards, too.
        let (early, late) = statements.split_at(between.min(statements.len()));
        for (number, card) in cards.iter().enumerate() {
            ingest(&mut catalogue, number, card);
            if number == 0 {
                for statement in early {
                    state(&mut catalogue, folder.path(), &mut names, statement);
                }
            }
        }
        for statement in late {
            state(&mut catalogue, folder.path(), &mut names, statement);
        }
        let before = content(&path);
        prop_assert_eq!(stale(&catalogue).unwrap(), None);
        prop_assert!(before["derived_time"].len() >= 9);

        // A rebuild of a complete catalogue changes nothing.
        again(&mut catalogue);
        prop_assert_eq!(content::first_difference(&before, &content(&path)), None, "rebuilt");

        // Some tables, in any order; then all.
        let prompt = prompt(&path);
        let mut tables: Vec<&str> = DERIVED.iter().map(|(name, _)| *name).collect();
        tables.rotate_left(turn % DERIVED.len());
        let some: Vec<&str> = tables.iter().zip(&deleted).filter(|(_, gone)| **gone).map(|(t, _)| *t).collect();
        for gone in [some, tables] {
            for table in &gone {
                prompt.execute(&format!("DELETE FROM {table}"), []).unwrap();
            }
            let after = content(&path);
            let lost = gone.iter().any(|table| !before[*table].is_empty());
            prop_assert!(gone.iter().all(|table| after[*table].is_empty()));
            prop_assert_eq!(stale(&catalogue).unwrap().is_some(), lost, "{:?}", gone);
            again(&mut catalogue);
            prop_assert_eq!(content::first_difference(&before, &content(&path)), None, "{:?}", gone);
            prop_assert_eq!(stale(&catalogue).unwrap(), None);
        }

        // Rows by another edition, with its numbers; then some of them deleted as well.
        for gone in [None, tables_of_frames(turn)] {
            prompt.execute_batch(BY_ANOTHER).unwrap();
            if let Some(table) = gone {
                prompt.execute(&format!("DELETE FROM {table} WHERE frame_id % 4 < 2"), []).unwrap();
            }
            prop_assert!(stale(&catalogue).unwrap().is_some());
            again(&mut catalogue);
            prop_assert_eq!(content::first_difference(&before, &content(&path)), None, "{:?}", gone);
            prop_assert_eq!(stale(&catalogue).unwrap(), None);
        }
    }

    /// Rows that are missing while something is stated or taken in do not cost a session its number.
    #[test]
    fn numbers_do_not_hang_on_derived_rows(
        cards in cards(),
        statements in statements(),
        fast_s in -50_000_i64..50_000,
        late in cards(),
    ) {
        let folder = tempfile::tempdir().unwrap();
        let mut contents = Vec::new();
        for name in ["kept", "lost"] {
            let path = folder.path().join(name);
            let mut catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).unwrap();
            for (number, card) in cards.iter().enumerate() {
                ingest(&mut catalogue, number, card);
            }
            let mut names = Vec::new();
            for statement in &statements {
                state(&mut catalogue, folder.path(), &mut names, statement);
            }
            if name == "lost" {
                let prompt = prompt(&path);
                for (table, _) in DERIVED {
                    prompt.execute(&format!("DELETE FROM {table}"), []).unwrap();
                }
                // As the program does before it takes a statement.
                rebuild_missing(&mut catalogue, &AtomicBool::new(false), &mut |_, _| {}).unwrap();
            }
            // Sessions are split and joined differently.
            state(&mut catalogue, folder.path(), &mut names, &Statement::Fix(1_500, fast_s, true));
            again(&mut catalogue);
            for (number, card) in late.iter().enumerate() {
                ingest(&mut catalogue, cards.len() + number, card);
            }
            contents.push(content(&path));
        }
        prop_assert_eq!(content::first_difference(&contents[0], &contents[1]), None);
    }
}

/// A table with rows of frames, by turns.
fn tables_of_frames(turn: usize) -> Option<&'static str> {
    [
        "derived_time",
        "derived_sky",
        "derived_radiant",
        "derived_finding",
    ]
    .get(turn % 4)
    .copied()
}

/// What a catalogue holds but for the log of statements, which an upgrade fills.
fn but_for_the_log(path: &Path) -> std::collections::BTreeMap<String, Vec<String>> {
    let mut found = content(path);
    found.retain(|table, _| table != "stated_log" && table != "stated_word");
    found
}

/// What tables of the version before rebuilds hold, where it is not a table of the same name and columns.
const BEFORE: &[(&str, &str)] = &[
    (
        "derived_session_number",
        "SELECT members, session_id FROM now.given_session",
    ),
    (
        "derived_pending",
        "SELECT date(night_day * 86400, 'unixepoch'), ifnull(camera_id, 0) FROM now.pending_night",
    ),
    ("derived_time.look", "NULL"),
    (
        "derived_session.night",
        "date(night_day * 86400, 'unixepoch')",
    ),
    (
        "derived_session.start_utc",
        "strftime('%Y-%m-%dT%H:%M:%fZ', start_ms / 1000.0, 'unixepoch')",
    ),
    (
        "derived_session.end_utc",
        "strftime('%Y-%m-%dT%H:%M:%fZ', end_ms / 1000.0, 'unixepoch')",
    ),
    (
        "written_dump.first_seen_utc",
        "strftime('%Y-%m-%dT%H:%M:%fZ', first_seen_ms / 1000.0, 'unixepoch')",
    ),
    (
        "written_dump.last_seen_utc",
        "strftime('%Y-%m-%dT%H:%M:%fZ', last_seen_ms / 1000.0, 'unixepoch')",
    ),
    // Empty here, and of another name or with other columns since.
    ("written_content", "SELECT 0, 0, 0, 0, 0 WHERE 0"),
    ("stated_track", "SELECT 0, 0, 0, 0, 0 WHERE 0"),
    ("stated_track_point", "SELECT 0, 0, 0, 0, 0, 0 WHERE 0"),
    ("stated_query", "SELECT 0, 0, 0 WHERE 0"),
    ("stated_clock_fix", "SELECT 0, 0, 0, 0, 0, 0, 0 WHERE 0"),
];

/// Replaces a catalogue by one of the version before rebuilds, with the same contents.
fn turn_back(path: &Path, version: usize) {
    let now = path.with_extension("now");
    std::fs::rename(path, &now).unwrap();
    let db = prompt(path);
    db.execute_batch("PRAGMA foreign_keys = OFF").unwrap();
    for (_, sql) in &MIGRATIONS[..version] {
        db.execute_batch(sql).unwrap();
    }
    db.execute("ATTACH ? AS now", [now.to_str()]).unwrap();
    let texts = |sql: &str| -> Vec<String> {
        let mut read = db.prepare(sql).unwrap();
        let rows = read.query_map([], |row| row.get(0)).unwrap();
        rows.map(Result::unwrap).collect()
    };
    let other = |name: &str| {
        BEFORE
            .iter()
            .find(|(known, _)| *known == name)
            .map(|(_, sql)| *sql)
    };
    for table in texts(
        "SELECT name FROM main.sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'",
    ) {
        let columns = texts(&format!(
            "SELECT name FROM pragma_table_info('{table}', 'main')"
        ));
        let select = other(&table).map_or_else(
            || {
                let taken = |column: &String| {
                    other(&format!("{table}.{column}"))
                        .unwrap_or(column)
                        .to_owned()
                };
                let taken: Vec<String> = columns.iter().map(taken).collect();
                format!("SELECT {} FROM now.{table}", taken.join(", "))
            },
            str::to_owned,
        );
        db.execute_batch(&format!(
            "INSERT OR REPLACE INTO main.{table} ({}) {select}",
            columns.join(", ")
        ))
        .unwrap();
    }
    db.execute_batch(&format!(
        "DELETE FROM main.sqlite_sequence; INSERT INTO main.sqlite_sequence SELECT * FROM now.sqlite_sequence;
         PRAGMA user_version = {version}; PRAGMA application_id = {APPLICATION_ID}; DETACH now"
    ))
    .unwrap();
    drop(db);
    std::fs::remove_file(now).unwrap();
}

#[test]
fn a_catalogue_of_before_is_taken_over_and_what_it_lacks_is_noted() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("c.sqlite");
    let mut catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).unwrap();
    for number in 0..3 {
        let card = Card {
            body: if number == 1 { "B" } else { "A" },
            minute: 700 + 1_440 * i64::try_from(number).unwrap(),
            north_deg: Some(0.0),
            step: 7,
            writes_offset: false,
        };
        ingest(&mut catalogue, number, &card);
    }
    let looks = [4, 12, 27].map(|frame_id: i32| {
        let look = Look {
            level: f64::from(frame_id) / 100.0,
            stars: 16.0,
            uneven_stops: 0.25,
            falloff_stops: -1.0,
            tilt_stops: 0.5,
            ..Look::unpacked(0)
        };
        (i64::from(frame_id), look)
    });
    let batch = catalogue.batch().unwrap();
    batch.put_looks(&looks).unwrap();
    batch.commit().unwrap();
    again(&mut catalogue);
    drop(catalogue);
    let before = but_for_the_log(&path);
    let version = MIGRATIONS
        .iter()
        .position(|(name, _)| name.ends_with("_rebuild"))
        .unwrap();
    let turn_back = |more: &str| {
        turn_back(&path, version);
        let db = prompt(&path);
        for (frame_id, look) in looks {
            db.execute(
                "UPDATE derived_time SET look = ?2 WHERE frame_id = ?1",
                [frame_id, look.packed()],
            )
            .unwrap();
        }
        db.execute_batch(more).unwrap();
    };
    // Rows by the program of that version are those that this one would make, but for kinds, which have other formulas since.
    turn_back("UPDATE stated_site SET origin = 'stated'");
    let mut catalogue = Catalogue::open(&path, Purpose::Change).unwrap();
    let of_before = stale(&catalogue).unwrap().unwrap();
    assert!(of_before.missing == Missing::default() && of_before.makers[0].maker.formulas == 2);
    again(&mut catalogue);
    assert_eq!(stale(&catalogue).unwrap(), None);
    drop(catalogue);
    prompt(&path)
        .execute("UPDATE stated_site SET origin = 'exif'", [])
        .unwrap();
    assert_eq!(
        content::first_difference(&before, &but_for_the_log(&path)),
        None
    );

    // Two sites three kilometres apart, made from positions, may have each other's frames; and of rows by an earlier program
    // only the sky was computed again.
    for more in [
        "SELECT 1",
        "UPDATE derived_maker SET maker_id = 2; UPDATE derived_time SET maker_id = 2;
         UPDATE stated_site SET origin = 'stated'",
    ] {
        turn_back(more);
        let mut catalogue = Catalogue::open(&path, Purpose::Change).unwrap();
        let of_before = stale(&catalogue).unwrap().unwrap();
        assert_eq!(of_before.missing, Missing::default());
        assert_eq!(of_before.makers[0].frames, 27);
        assert_eq!(of_before.makers[0].maker.formulas, 1);
        again(&mut catalogue);
        assert_eq!(stale(&catalogue).unwrap(), None);
        drop(catalogue);
        prompt(&path)
            .execute("UPDATE stated_site SET origin = 'exif'", [])
            .unwrap();
        assert_eq!(
            content::first_difference(&before, &but_for_the_log(&path)),
            None
        );
    }

    // Rows that an earlier program had lost without a word, and a session that no number was remembered for.
    turn_back(
        "DELETE FROM derived_time WHERE frame_id = 3; DELETE FROM derived_sky WHERE frame_id = 12;
         DELETE FROM derived_session_number WHERE session_id = 2;",
    );
    let mut catalogue = Catalogue::open(&path, Purpose::Change).unwrap();
    let missing = stale(&catalogue).unwrap().unwrap().missing;
    assert!(missing.frames && missing.nights);
    again(&mut catalogue);
    assert_eq!(
        content::first_difference(&before, &but_for_the_log(&path)),
        None
    );
    assert_eq!(stale(&catalogue).unwrap(), None);
}
