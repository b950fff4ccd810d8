//! Empty answers say why; commands that cannot be done say why; files of others are left alone.

use std::fs;

use crate::world::World;

fn with_frames() -> World {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.run(&["ingest", "card"]).ended(0);
    world
}

#[test]
fn an_empty_answer_names_the_condition_that_took_the_last_frame() {
    let world = with_frames();
    let said = world
        .run(&[
            "frames",
            "night = 2023-12-13 and kind = light and GEM.alt > 88",
        ])
        .ended(1);
    assert!(
        said.err.contains("64 frames have night = 2023-12-13 and kind = light, but none of them has GEM.alt > 88°; it runs from 3"),
        "{}",
        said.err
    );
    let none = world
        .run(&["frames", "night = 2020-01-01", "--as", "json"])
        .ended(1);
    assert_eq!(
        none.json(),
        serde_json::json!([]),
        "an empty list is a list"
    );
}

#[test]
fn an_export_of_nothing_writes_nothing() {
    let world = with_frames();
    let list = world.path("list.txt");
    let said = world
        .run(&["export", "GEM.alt > 88", "--to", list.to_str().unwrap()])
        .ended(1);
    assert!(said.err.contains("nothing to export"), "{}", said.err);
    assert!(!list.exists());
    let left: Vec<_> = fs::read_dir(world.path(""))
        .unwrap()
        .map(|e| e.unwrap().file_name())
        .collect();
    assert!(
        !left
            .iter()
            .any(|name| name.to_string_lossy().contains(".part")),
        "{left:?}"
    );
    let nowhere = world
        .run(&["export", "iso > 1", "--to", "no/such/folder/list.txt"])
        .ended(2);
    assert!(nowhere.err.contains("no/such/folder"), "{}", nowhere.err);
}

#[test]
fn a_slip_in_a_query_points_at_its_place() {
    let world = World::new();
    let said = world
        .run(&["frames", "night = 2023-12-13 and GEM.alto > 30"])
        .ended(2);
    let lines: Vec<&str> = said.err.lines().collect();
    let at = lines
        .iter()
        .position(|l| l.contains("GEM.alto > 30"))
        .unwrap();
    let marked: String = lines[at]
        .chars()
        .zip(lines[at + 1].chars().chain(std::iter::repeat(' ')))
        .filter(|(_, mark)| *mark == '^')
        .map(|(letter, _)| letter)
        .collect();
    assert!(
        "GEM.alto".contains(&marked) && marked.contains("alto"),
        "{}",
        said.err
    );
    assert!(
        said.err.contains("GEM.alt"),
        "the nearest field is named: {}",
        said.err
    );
}

#[test]
fn what_cannot_be_done_ends_with_two() {
    let world = World::new();
    for (words, reason) in [
        (&["ingest", "no-such-card"][..], "there is no such folder"),
        (
            &["copy", "no-such-card", "--to", "disk"][..],
            "there is no such folder",
        ),
        (&["frames"][..], "there is no catalogue here yet"),
        (&["sessions"][..], "there is no catalogue here yet"),
        (&["ingest"][..], "required"),
        (&["observe"][..], "unrecognized"),
    ] {
        let said = world.run(words).ended(2);
        assert!(said.err.contains(reason), "{words:?}: {}", said.err);
    }
    assert!(
        !world.path("catalogue.sqlite").exists(),
        "a mistake makes no catalogue"
    );
    world.write("file", b"");
    let file = world.run(&["ingest", "file"]).ended(2);
    assert!(
        file.err.contains("a folder is needed; this is a file"),
        "{}",
        file.err
    );
}

#[test]
fn an_empty_file_is_no_catalogue_until_something_is_taken_in() {
    let world = World::new();
    world.write("catalogue.sqlite", b"");
    for words in [
        &["frames"][..],
        &["sessions"],
        &["audit"],
        &["export", "iso > 0", "--to", "list.csv"],
    ] {
        let said = world.run(words).ended(2);
        assert!(
            said.err.contains("this file is empty"),
            "{words:?}: {}",
            said.err
        );
        let length = std::fs::metadata(world.path("catalogue.sqlite"))
            .unwrap()
            .len();
        assert_eq!(length, 0, "{words:?} left it as it was");
    }
    world.dump("geminids-body-a", "card", |_| true);
    world.run(&["ingest", "card"]).ended(0);
}

#[test]
fn a_hyphen_is_no_place_for_a_list() {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.run(&["ingest", "card"]).ended(0);
    for words in [
        &["export", "iso > 0", "--to", "-"][..],
        &["export", "iso > 0", "--per-session", "--to", "-"],
        &["report", "2023-12-13", "--to", "-"],
    ] {
        let said = world.run(words).ended(2);
        assert!(
            said.err.contains("cannot go to standard output"),
            "{words:?}: {}",
            said.err
        );
    }
}

#[test]
fn a_file_that_is_no_catalogue_is_refused_and_left_as_it_is() {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    let text =
        b"not a database, but somebody's diary, long enough to be looked at twice".repeat(50);
    world.write("catalogue.sqlite", &text);
    world.run(&["ingest", "card"]).ended(2);
    assert_eq!(fs::read(world.path("catalogue.sqlite")).unwrap(), text);

    fs::remove_file(world.path("catalogue.sqlite")).unwrap();
    let other = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    other
        .execute_batch("CREATE TABLE diary (day TEXT); INSERT INTO diary VALUES ('today')")
        .unwrap();
    drop(other);
    let before = fs::read(world.path("catalogue.sqlite")).unwrap();
    let said = world.run(&["ingest", "card"]).ended(2);
    assert!(
        said.err.contains("not a framefall catalogue"),
        "{}",
        said.err
    );
    assert_eq!(fs::read(world.path("catalogue.sqlite")).unwrap(), before);
}

#[test]
fn a_newer_catalogue_is_refused() {
    let world = with_frames();
    let db = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    db.pragma_update(None, "user_version", 99).unwrap();
    drop(db);
    for words in [&["frames"][..], &["ingest", "card"][..]] {
        let said = world.run(words).ended(2);
        assert!(
            said.err.contains("this framefall supports versions up to"),
            "{}",
            said.err
        );
    }
}

#[test]
fn a_catalogue_that_another_framefall_writes_is_not_written() {
    let world = with_frames();
    let held = framefall::catalogue::handle::Catalogue::open(
        &world.path("catalogue.sqlite"),
        framefall::catalogue::purpose::Purpose::Change,
    )
    .unwrap();
    let mut names = vec!["catalogue.sqlite"];
    #[cfg(unix)]
    {
        let link = world.path("link.sqlite");
        std::os::unix::fs::symlink(world.path("catalogue.sqlite"), link).unwrap();
        names.push("link.sqlite");
    }
    for name in names {
        let said = world.run(&["ingest", "card", "--catalogue", name]).ended(2);
        let holder = format!(
            "another framefall, process {}, is writing",
            std::process::id()
        );
        assert!(said.err.contains(&holder), "{}", said.err);
    }
    world.run(&["frames", "--count"]).ended(0);
    drop(held);
    world.run(&["ingest", "card"]).ended(0);
}

/// SQLite itself would keep the first in memory alone, and take the others for addresses.
#[cfg(unix)]
#[test]
fn a_catalogue_lies_in_the_file_that_is_named_whatever_its_name() {
    let world = with_frames();
    let count = world.run(&["frames", "--count"]).ended(0).out;
    for name in [":memory:", "file:x.sqlite", "file:y.sqlite?mode=memory"] {
        world.run(&["ingest", "card", "--catalogue", name]).ended(0);
        assert!(world.path(name).is_file(), "{name}");
        let again = world.run(&["frames", "--count", "--catalogue", name]);
        assert_eq!(again.ended(0).out, count, "{name}");
    }
}

#[test]
fn a_reader_that_goes_away_ends_the_list_quietly() {
    use std::io::Read;
    use std::process::Command;
    use std::process::Stdio;
    let world = with_frames();
    let mut child = Command::new(env!("CARGO_BIN_EXE_framefall"))
        .args(["frames", "--as", "json"])
        .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut some = [0; 16];
    child.stdout.take().unwrap().read_exact(&mut some).unwrap();
    let mut err = String::new();
    child
        .stderr
        .take()
        .unwrap()
        .read_to_string(&mut err)
        .unwrap();
    assert!(child.wait().unwrap().success(), "{err}");
    assert_eq!(err, "");
}

#[test]
fn licences_are_shown() {
    let world = World::new();
    let said = world.run(&["--version", "--licences"]).ended(0);
    for word in ["framefall", "SOFA", "ODbL", "OpenStreetMap"] {
        assert!(said.out.contains(word), "{word}");
    }
    let version = world.run(&["--version"]).ended(0);
    assert_eq!(
        version.out.trim(),
        format!("framefall {}", env!("CARGO_PKG_VERSION"))
    );
}

#[cfg(unix)]
#[test]
fn a_pipe_or_a_device_in_the_catalogues_place_is_refused_and_not_waited_for() {
    let world = with_frames();
    let pipe = world.path("pipe");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status();
    assert!(made.unwrap().success());
    for place in [pipe.to_str().unwrap(), "/dev/null"] {
        for words in [&["frames"][..], &["ingest", "card"]] {
            let said = world
                .run(&[words, &["--catalogue", place]].concat())
                .ended(2);
            assert!(said.err.contains("a device or a pipe"), "{}", said.err);
        }
    }
}
