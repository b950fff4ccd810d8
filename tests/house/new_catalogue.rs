//! A catalogue made directly equals one made by all migrations.
#![allow(clippy::unwrap_used)] // Tests may panic.

use std::fs;
use std::path::Path;

use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::make::WHOLE;
use framefall::catalogue::migrations::APPLICATION_ID;
use framefall::catalogue::migrations::MIGRATIONS;
use framefall::catalogue::purpose::Purpose;
use rusqlite::Connection;

/// Type, name and words of everything in a schema.
type Schema = Vec<(String, String, Option<String>)>;

fn schema(db: &Connection) -> Schema {
    db.prepare("SELECT type, name, sql FROM sqlite_schema ORDER BY 1, 2")
        .unwrap()
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap()
}

fn by_steps() -> Connection {
    let db = Connection::open_in_memory().unwrap();
    for (_, sql) in MIGRATIONS {
        db.execute_batch(sql).unwrap();
    }
    db
}

/// What the schema holds, in the order in which it came to be.
fn in_words(db: &Connection) -> String {
    let all: Vec<String> = db
        .prepare("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' ORDER BY rowid")
        .unwrap()
        .query_map([], |row| row.get::<_, String>(0).map(|sql| sql + ";"))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap();
    format!(
        "-- What the migrations come to; tests/house/new_catalogue.rs writes it.\n\n{}\n",
        all.join("\n\n")
    )
}

#[test]
fn the_whole_schema_is_what_the_migrations_come_to() {
    let words = in_words(&by_steps());
    if words != WHOLE {
        let put = Path::new(env!("CARGO_TARGET_TMPDIR")).join("whole.sql");
        fs::write(&put, words).unwrap();
        panic!(
            "src/catalogue/whole.sql is not what the migrations come to: put {} in its place",
            put.display()
        );
    }
}

#[test]
fn a_new_catalogue_is_the_one_that_an_empty_file_grows_into_step_by_step() {
    let folder = tempfile::tempdir().unwrap();
    let (new, grown) = (folder.path().join("new"), folder.path().join("grown"));
    fs::write(&grown, "").unwrap();
    for path in [&new, &grown] {
        drop(Catalogue::open(path, Purpose::ChangeOrMake).unwrap());
    }
    let (new, grown) = (
        Connection::open(new).unwrap(),
        Connection::open(grown).unwrap(),
    );
    let (of_new, of_grown) = (schema(&new), schema(&grown));
    assert!(of_new.len() > 50, "{}", of_new.len());
    assert_eq!(of_new, of_grown);
    let ask = |db: &Connection, pragma: &str| -> String {
        db.query_row(&format!("SELECT * FROM pragma_{pragma}"), [], |row| {
            row.get_ref(0)
                .map(|v| format!("{:?}", rusqlite::types::Value::try_from(v)))
        })
        .unwrap()
    };
    for pragma in [
        "user_version",
        "application_id",
        "page_size",
        "journal_mode",
        "encoding",
        "auto_vacuum",
    ] {
        assert_eq!(ask(&new, pragma), ask(&grown, pragma), "{pragma}");
    }
    assert!(ask(&new, "application_id").contains(&APPLICATION_ID.to_string()));
    assert!(ask(&new, "journal_mode").contains("wal"));
    assert!(ask(&new, "integrity_check").contains("ok"));
    // Nothing but the schema and the words of its lists is in it: no other table of a catalogue holds a row from the start.
    for (kind, name, _) in of_grown {
        if kind == "table" {
            for db in [&new, &grown] {
                let rows: i64 = db
                    .query_row(&format!("SELECT count(*) FROM \"{name}\""), [], |row| {
                        row.get(0)
                    })
                    .unwrap();
                assert_eq!(rows > 0, name.starts_with("word_"), "{name}: {rows}");
            }
        }
    }
}

#[test]
fn what_a_killed_run_left_behind_does_not_hinder_a_new_catalogue() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.sqlite");
    fs::write(folder.path().join("catalogue.sqlite.new"), vec![7; 100_000]).unwrap();
    drop(Catalogue::open(&path, Purpose::ChangeOrMake).unwrap());
    drop(Catalogue::open(&path, Purpose::Read).unwrap());
    let mut left: Vec<String> = fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    left.sort();
    assert_eq!(left, ["catalogue.sqlite", "catalogue.sqlite.lock"]);
}

#[cfg(unix)]
#[test]
fn a_new_catalogue_has_the_permissions_of_any_new_file_and_may_be_named_by_a_link() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.sqlite");
    drop(Catalogue::open(&path, Purpose::ChangeOrMake).unwrap());
    let plain = folder.path().join("plain");
    fs::write(&plain, "").unwrap();
    let mode = |at: &Path| at.metadata().unwrap().permissions().mode();
    assert_eq!(mode(&path), mode(&plain));

    let (elsewhere, link) = (folder.path().join("elsewhere"), folder.path().join("link"));
    std::os::unix::fs::symlink(&elsewhere, &link).unwrap();
    let opened = Catalogue::open(&link, Purpose::ChangeOrMake);
    // Whether SQLite follows a dangling link is not checked; the link stays a link and is not replaced.
    assert!(link.symlink_metadata().unwrap().is_symlink());
    assert_eq!(opened.is_ok(), elsewhere.exists());
}
