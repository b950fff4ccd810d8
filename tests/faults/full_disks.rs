//! Full disks: what was there is as it was, nothing half is left, the words say what to do, and once there is room the same
//! command does its work.

use std::fs;
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::Command;

use crate::disk::Disk;
use crate::disk::names;
use crate::state::assert_whole;
use crate::state::difference;
use crate::state::put_back;
use crate::world::Said;
use crate::world::World;

fn night() -> World {
    let world = World::new();
    world.dump("geminids-body-a", "a", |_| true);
    world.run(&["ingest", "--quiet", "a"]);
    world
}

/// A refusal in the house's form: what, where, what to do.
fn told_full(said: &Said, file: &str) {
    for words in ["framefall: ", "the disk is full", file, "free some space"] {
        assert!(said.err.contains(words), "no '{words}' in\n{}", said.err);
    }
}

#[test]
fn lists_reports_and_trees() {
    let world = night();
    let Some(disk) = Disk::of_kib(world.path("disk"), 6_000) else {
        return;
    };
    let light: &[&str] = &["export", "kind = light", "--overwrite"];
    let cases: [(&str, &[&str], &[&str]); 8] = [
        ("l.csv", light, &["--to", "disk/l.csv"]),
        ("l.json", light, &["--to", "disk/l.json"]),
        ("l.jsonl", light, &["--to", "disk/l.jsonl"]),
        ("l.txt", light, &["--to", "disk/l.txt"]),
        (
            "s.session-",
            light,
            &["--to", "disk/s.csv", "--per-session"],
        ),
        ("d.", light, &["--to", "disk/d.csv", "--with-darks"]),
        (
            "r.html",
            &["report", "2023-12-13", "--overwrite"],
            &["--to", "disk/r.html"],
        ),
        (
            "tree",
            light,
            &["--link-into", "disk/tree", "--link-as", "copy"],
        ),
    ];
    for (file, words, to) in cases {
        let words = [words, to].concat();
        // First where no file is, then in place of a complete one.
        for round in ["new", "replaced"] {
            let before = contents(&disk.path(""));
            disk.fill(0);
            let said = world.run(&words).ended(2);
            told_full(&said, file);
            disk.empty();
            assert_eq!(contents(&disk.path("")), before, "{file}, {round}");
            let made = world.run(&words);
            assert!(made.code < 2, "{file}, {round}: {}", made.err);
        }
        for name in names(&disk.path("")) {
            let path = disk.path(&name);
            if path.is_dir() {
                fs::remove_dir_all(path).unwrap();
            } else {
                fs::remove_file(path).unwrap();
            }
        }
    }
    // Room for the list, none for the manifest: neither takes its place.
    world
        .run(&["export", "kind = light", "--to", "disk/l.txt"])
        .ended(0);
    let before = contents(&disk.path(""));
    disk.fill(8);
    let words = [
        "export",
        "kind = light and seq < 60",
        "--to",
        "disk/l.txt",
        "--overwrite",
    ];
    let said = world.run(&words).ended(2);
    told_full(&said, "l.txt.manifest.json");
    disk.empty();
    assert_eq!(contents(&disk.path("")), before);
}

/// Every file and folder below a folder, with its contents.
fn contents(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut found = Vec::new();
    for name in names(folder) {
        let path = folder.join(&name);
        if path.is_dir() {
            let within = contents(&path);
            found.push((name.clone(), Vec::new()));
            found.extend(
                within
                    .into_iter()
                    .map(|(below, b)| (format!("{name}/{below}"), b)),
            );
        } else {
            found.push((name, fs::read(path).unwrap()));
        }
    }
    found
}

#[test]
fn the_catalogue() {
    let world = night();
    world.dump("geminids-body-b", "b", |_| true);
    let Some(disk) = Disk::of_kib(world.path("disk"), 4_000) else {
        return;
    };
    let at = disk.path("catalogue.sqlite");
    let here =
        |words: &[&str]| world.run(&[&["--catalogue", at.to_str().unwrap()], words].concat());
    fs::copy(world.path("catalogue.sqlite"), &at).unwrap();
    here(&["query", "save", "bright", "iso > 800"]).ended(0);

    let changes: [&[&str]; 4] = [
        &["ingest", "b"],
        &["query", "save", "bright", "iso > 1600"],
        &[
            "site",
            "add",
            "Here",
            "--lat",
            "46.5",
            "--lon",
            "11.3",
            "--elevation",
            "600",
        ],
        &["query", "remove", "bright"],
    ];
    for left in [0, 24, 48, 96] {
        for words in changes {
            let before = world.path("kept.sqlite");
            put_back(Some(&at), &before);
            disk.fill(left);
            let said = here(words);
            if said.code == 0 {
                // So much room was enough.
                disk.empty();
                put_back(Some(&before), &at);
                continue;
            }
            told_full(&said.ended(2), "catalogue.sqlite");
            // Reading still works, and gives the same answers.
            let shown = here(&["frames", "--count"]);
            let log = fs::metadata(disk.path("catalogue.sqlite-wal")).map_or(0, |log| log.len());
            assert!(
                shown.code == 0 || log > 0,
                "{words:?}, {left} KiB: {}",
                shown.err
            );
            disk.empty();
            assert_whole(&at);
            if words[0] == "query" || words[0] == "site" {
                assert_eq!(difference(&at, &before), None, "{words:?}, {left} KiB");
            }
            put_back(Some(&before), &at);
        }
    }
    disk.fill(0);
    here(&["ingest", "b"]).ended(2);
    disk.empty();
    assert_whole(&at);
    // The next ingest brings it to where one with room would have.
    let said = here(&["ingest", "b"]);
    assert!(said.code < 2, "{}", said.err);
    world
        .run(&["query", "save", "bright", "iso > 800"])
        .ended(0);
    world.run(&["ingest", "b"]);
    assert_whole(&at);
    for table in [
        "derived_time",
        "derived_sky",
        "derived_radiant",
        "written_file",
    ] {
        assert_eq!(
            rows(&at, table),
            rows(&world.path("catalogue.sqlite"), table),
            "{table}"
        );
    }
}

fn rows(catalogue: &Path, table: &str) -> i64 {
    let db = rusqlite::Connection::open(catalogue).unwrap();
    db.query_row(&format!("SELECT count(*) FROM {table}"), [], |row| {
        row.get(0)
    })
    .unwrap()
}

/// A limit on the size of files needs no disk of one's own. Where the signal that comes with it is held off, as some
/// shells and batch systems do, the program says what is wrong; where it is not, the system ends the program.
#[test]
fn a_limit_on_the_size_of_files() {
    let world = night();
    let limited = |hold_off: &str, blocks: u32, words: &str| {
        let program = env!("CARGO_BIN_EXE_framefall");
        let output = Command::new("sh")
            .args([
                "-c",
                &format!("{hold_off} ulimit -c 0; ulimit -f {blocks}; exec {program} {words}"),
            ])
            .current_dir(world.path(""))
            .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
            .output()
            .unwrap();
        (output.status, String::from_utf8(output.stderr).unwrap())
    };
    world.run(&["export", "seq < 9", "--to", "l.csv"]).ended(0);
    let old = fs::read(world.path("l.csv")).unwrap();
    // SQLite's own files are not meant: it clears them away where it may write.
    let lists = || {
        let mut names = names(&world.path(""));
        names.retain(|name| !name.starts_with("catalogue.sqlite"));
        names
    };
    let before = lists();
    let held = "trap '' XFSZ;";
    let (ended, words) = limited(held, 16, "export 'kind = light' --to l.csv --overwrite");
    assert_eq!(ended.code(), Some(2), "{words}");
    assert!(
        words.contains("a file cannot become that large here") && words.contains("ulimit -f"),
        "{words}"
    );
    assert_eq!(fs::read(world.path("l.csv")).unwrap(), old);
    assert_eq!(lists(), before);

    world.dump("geminids-body-b", "b", |_| true);
    for (hold_off, code) in [(held, Some(2)), ("", None)] {
        let (ended, words) = limited(hold_off, 64, "--catalogue new.sqlite ingest b");
        assert_eq!(ended.code(), code, "{words}");
        if code.is_some() {
            assert!(words.contains("ulimit -f"), "{words}");
        } else {
            assert!(ended.signal().is_some());
        }
        assert_whole(&world.path("new.sqlite"));
        let (ended, _) = limited(hold_off, 16, "export 'kind = light' --to l.csv --overwrite");
        assert_eq!(ended.code(), code);
        assert_eq!(fs::read(world.path("l.csv")).unwrap(), old);
    }
    let said = world.run(&["--catalogue", "new.sqlite", "ingest", "b"]);
    assert!(said.code < 2, "{}", said.err);
    assert_whole(&world.path("new.sqlite"));
}
