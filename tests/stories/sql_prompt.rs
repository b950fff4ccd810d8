//! The questions that the manual asks at an SQL prompt, put to the demo's catalogue.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use rusqlite::Connection;
use rusqlite::OpenFlags;
use rusqlite::types::Value;

use crate::world;
use crate::world::World;

/// The manual's questions, in its order.
fn questions() -> Vec<String> {
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/sql.md");
    let text = fs::read_to_string(page).unwrap();
    let blocks = text.split("```sql\n").skip(1);
    blocks
        .map(|block| block.split("```").next().unwrap().to_owned())
        .collect()
}

/// The demo's four dumps; those of body B and the Quadrantids are at stated sites.
fn catalogue() -> (World, Connection) {
    let world = World::new();
    world.site("Salt Ridge", "38.93", "-116.01");
    for (label, site) in [
        ("geminids-body-a", None),
        ("geminids-body-b", Some("Salt Ridge")),
        ("eta-aquariids", None),
        ("quadrantids", None),
    ] {
        let dump = world::demo(label).to_string_lossy().into_owned();
        let mut words = vec!["ingest", dump.as_str()];
        words.extend(site.into_iter().flat_map(|name| ["--site", name]));
        world.run(&words);
    }
    let path = world.path("catalogue.sqlite");
    let db = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap();
    (world, db)
}

fn rows(db: &Connection, sql: &str) -> Vec<Vec<Value>> {
    let mut statement = db.prepare(sql).unwrap();
    let columns = statement.column_count();
    let rows = statement.query_map([], |row| (0..columns).map(|at| row.get(at)).collect());
    rows.unwrap().map(Result::unwrap).collect()
}

fn texts(rows: &[Vec<Value>], column: usize) -> BTreeSet<String> {
    let text = |row: &Vec<Value>| match &row[column] {
        Value::Text(text) => text.clone(),
        other => panic!("{other:?} in {row:?}"),
    };
    rows.iter().map(text).collect()
}

fn number(value: &Value) -> f64 {
    match value {
        #[allow(clippy::cast_precision_loss)] // counts of frames
        Value::Integer(whole) => *whole as f64,
        Value::Real(real) => *real,
        other => panic!("{other:?} is no number"),
    }
}

/// Where framefall has a query for the same frames, both give the same answer.
#[test]
fn the_manuals_ten_questions_are_answered_as_framefall_answers_them() {
    let (world, db) = catalogue();
    let questions = questions();
    assert_eq!(questions.len(), 10);
    let answers: Vec<_> = questions.iter().map(|sql| rows(&db, sql)).collect();
    let paths = |query: &str| -> BTreeSet<String> {
        let said = world.run(&["frames", query, "--as", "json"]).ended(0);
        let frames = said.json();
        let path = |frame: &serde_json::Value| frame["path"].as_str().unwrap().to_owned();
        frames.as_array().unwrap().iter().map(path).collect()
    };
    let count = |query: &str| -> f64 {
        let said = world.run(&["frames", query, "--count"]);
        said.out.trim().parse().unwrap()
    };

    let by_kind: f64 = answers[0].iter().map(|row| number(&row[2])).sum();
    assert!((by_kind - count("night is known")).abs() < 0.5);
    let geminids = paths("GEM.alt > 30 and moon.alt < 0");
    assert!(geminids.len() > 50, "{}", geminids.len());
    assert_eq!(texts(&answers[1], 0), geminids);
    let seconds = |sheet: &[Vec<Value>], column: usize, unit_s: f64| -> f64 {
        sheet.iter().map(|row| number(&row[column]) * unit_s).sum()
    };
    assert!((seconds(&answers[2], 2, 3_600.0) - seconds(&answers[4], 3, 60.0)).abs() < 100.0);
    assert_eq!(texts(&answers[3], 1), paths("health != sound"));
    let by_lens: f64 = answers[4].iter().map(|row| number(&row[2])).sum();
    assert!((by_lens - count("kind = light")).abs() < 0.5);

    // The shower of a session in the list of sessions is the first of its meteors, and rises as high as shown.
    let mut compared = 0;
    let sessions = world.run(&["sessions", "--as", "json"]).ended(0).json();
    for session in sessions.as_array().unwrap() {
        let Some(shower) = session["shower"].as_str() else {
            continue;
        };
        let of_it =
            |row: &&Vec<Value>| row[0] == Value::Integer(session["session"].as_i64().unwrap());
        let meteors: Vec<_> = answers[5].iter().filter(of_it).collect();
        // Rounded to a tenth, some sessions have none.
        if let Some(most) = meteors.first() {
            assert_eq!(most[1], Value::Text(shower.to_owned()), "{session}");
            compared += 1;
        }
        let highest = answers[6]
            .iter()
            .filter(of_it)
            .find(|row| row[2] == Value::Text(shower.to_owned()));
        let query = format!(
            "session = {} and radiant.alt > {}",
            session["session"],
            number(&highest.unwrap()[3]) - 0.1
        );
        assert!(count(&query) >= 1.0, "{query}");
    }
    assert!(compared >= 2, "{compared}");
    assert!(!answers[7].is_empty());
    assert_eq!(
        texts(&answers[8], 1).len(),
        answers[8].len(),
        "a file name a frame"
    );
    let lost = count("start is unknown or site is unknown");
    assert!((number(&Value::Integer(i64::try_from(answers[8].len()).unwrap())) - lost).abs() < 0.5);
    assert!(!answers[9].is_empty());
    assert!(texts(&answers[9], 0).is_subset(&paths("kind = dark")));
}
