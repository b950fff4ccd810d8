//! Checks of a catalogue from outside: whether it is intact, and whether its contents equal those of another.

use std::fs;
use std::path::Path;
use std::path::PathBuf;

use rusqlite::Connection;

/// What is not compared, and why.
const LEFT_OUT: &[&str] = &[
    // Times of runs.
    "first_seen_ms",
    "last_seen_ms",
    "saved_ms",
    // A session's number is never given twice: a run that was killed may have used some up. Which frames make up a
    // session is compared instead.
    "session_id",
    // Of a statement: random, or the time and the order in which it was made.
    "identity",
    "stated_ms",
    "number",
];

/// Tables that are not compared: present and earlier numbers of sessions, and the random number of the latest state.
const TABLES_LEFT_OUT: &[&str] = &["given_session", "catalogue_generation"];

/// The file beside a catalogue with this ending.
pub fn beside(catalogue: &Path, ending: &str) -> PathBuf {
    let mut name = catalogue.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

/// Replaces a catalogue by a copy of one that is not open; without a copy, removes it.
pub fn put_back(kept: Option<&Path>, catalogue: &Path) {
    for ending in ["", "-wal", "-shm", ".lock"] {
        let _ = fs::remove_file(beside(catalogue, ending));
    }
    if let Some(kept) = kept {
        fs::copy(kept, catalogue).unwrap();
    }
}

/// Copies a catalogue that is not open.
pub fn keep(catalogue: &Path, kept: &Path) {
    let log = fs::metadata(beside(catalogue, "-wal"));
    assert!(log.is_err(), "the run before left its log");
    fs::copy(catalogue, kept).unwrap();
}

/// Checks that a catalogue is intact, if there is one.
pub fn assert_whole(catalogue: &Path) {
    if !catalogue.exists() {
        return;
    }
    let db = Connection::open(catalogue).unwrap();
    let said: String = db
        .query_row("PRAGMA integrity_check", [], |row| row.get(0))
        .unwrap();
    assert_eq!(said, "ok");
    let mut broken = db.prepare("PRAGMA foreign_key_check").unwrap();
    assert!(!broken.exists([]).unwrap(), "a row points at nothing");
}

/// How many frames a catalogue holds, and how many nights await grouping; `None` where it is not yet a catalogue.
pub fn progress(catalogue: &Path) -> Option<(i64, i64)> {
    if !catalogue.exists() {
        return None;
    }
    let db = Connection::open(catalogue).unwrap();
    db.query_row(
        "SELECT (SELECT count(*) FROM written_frame), (SELECT count(*) FROM pending_night)",
        [],
        |row| Ok((row.get(0)?, row.get(1)?)),
    )
    .ok()
}

/// The first table in which two catalogues differ, with how many rows only one of them has; `None` where they hold the
/// same.
pub fn difference(catalogue: &Path, other: &Path) -> Option<String> {
    let db = Connection::open(catalogue).unwrap();
    db.execute("ATTACH ? AS other", [other.to_str().unwrap()])
        .unwrap();
    let tables: Vec<String> = db
        .prepare(
            "SELECT name FROM main.sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'",
        )
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .filter(|table: &String| !TABLES_LEFT_OUT.contains(&table.as_str()))
        .collect();
    assert!(tables.len() > 15, "{tables:?}");
    for table in tables {
        let mut columns: Vec<String> = db
            .prepare("SELECT name FROM pragma_table_info(?)")
            .unwrap()
            .query_map([&table], |row| row.get(0))
            .unwrap()
            .map(Result::unwrap)
            .filter(|column: &String| !LEFT_OUT.contains(&column.as_str()))
            .collect();
        let of_session = table == "derived_time";
        if of_session {
            columns.push("first_of_session".to_owned());
        }
        // A run that continues a killed one adds its own statement; the stated facts are the same.
        let of_statements = table == "stated_frames";
        if of_statements {
            columns = vec![
                "word_id".to_owned(),
                "content".to_owned(),
                "frames".to_owned(),
            ];
        }
        let columns = columns.join(", ");
        let from = |schema: &str| {
            if of_session {
                format!(
                    "(SELECT *, min(frame_id) OVER (PARTITION BY session_id) AS first_of_session FROM {schema}.{table})"
                )
            } else if of_statements {
                format!(
                    "(SELECT word_id, content, sum(frames) AS frames FROM {schema}.stated_log JOIN {schema}.stated_frames USING (number)
                      GROUP BY word_id, content)"
                )
            } else if table == "stated_log" {
                format!("(SELECT DISTINCT word_id, content, takes_back FROM {schema}.stated_log)")
            } else {
                format!("{schema}.{table}")
            }
        };
        let count = |sql: String| -> i64 { db.query_row(&sql, [], |row| row.get(0)).unwrap() };
        let only = |one: &str, two: &str| {
            count(format!(
                "SELECT count(*) FROM (SELECT {columns} FROM {} EXCEPT SELECT {columns} FROM {})",
                from(one),
                from(two)
            ))
        };
        let (here, there) = (only("main", "other"), only("other", "main"));
        let rows = |schema: &str| count(format!("SELECT count(*) FROM {}", from(schema)));
        let (all_here, all_other) = (rows("main"), rows("other"));
        if (here, there) != (0, 0) || all_here != all_other {
            return Some(format!(
                "{table}: {here} of {all_here} rows here alone, {there} of {all_other} there alone"
            ));
        }
    }
    None
}
