//! Places where nothing can be written: an answer is refused with what to do, a catalogue is still read.

use std::ffi::OsStr;
use std::fs;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::FileTypeExt;
use std::os::unix::fs::MetadataExt;
use std::os::unix::fs::PermissionsExt;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::Command;

use crate::disk::Disk;
use crate::disk::names;
use crate::kills_of_ingest::program;
use crate::state::beside;
use crate::world::World;

fn night() -> World {
    let world = World::new();
    world.dump("geminids-body-a", "a", |_| true);
    world.run(&["ingest", "--quiet", "a"]);
    world
}

/// An exit code, standard output, standard error.
type Ended = (Option<i32>, String, String);

/// Commands that only look.
const READING: [&[&str]; 6] = [
    &["frames", "kind = light", "--as", "csv"],
    &["sessions"],
    &["audit", "--as", "json"],
    &["site", "list"],
    &["clock", "list"],
    &["query", "list"],
];

/// Commands that change the catalogue.
const CHANGING: [&[&str]; 5] = [
    &["ingest", "a"],
    &["query", "save", "bright", "iso > 800"],
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
    &["clock", "zone", "6004127", "Europe/Rome"],
    &["sessions", "mark", "1", "--kind", "trial"],
];

/// Checks that a protected catalogue answers like a writable one, and that a change is refused.
fn reads_and_refuses(world: &World, run: &dyn Fn(&[&str]) -> Ended, at: &Path) {
    let before = fs::read(at).unwrap();
    for words in READING {
        let open = world.run(words);
        let (code, out, err) = run(words);
        assert_eq!(code, Some(open.code), "{words:?}: {err}");
        assert_eq!(out, open.out, "{words:?}");
    }
    for words in CHANGING {
        let (code, _, err) = run(words);
        assert_eq!(code, Some(2), "{words:?}: {err}");
        assert!(
            err.contains("cannot be written to")
                && err.contains("--catalogue")
                && err.contains("catalogue.sqlite"),
            "{words:?}: {err}"
        );
    }
    assert_eq!(fs::read(at).unwrap(), before);
}

#[test]
fn a_catalogue_on_a_write_protected_disk() {
    let world = night();
    let Some(disk) = Disk::of_kib(world.path("disk"), 8_000) else {
        return;
    };
    let at = disk.path("catalogue.sqlite");
    fs::copy(world.path("catalogue.sqlite"), &at).unwrap();
    // Names that could be taken for more than a name.
    let odd = [
        &b"a?immutable=0#b%41.sqlite"[..],
        "n\u{e4}chte 1.sqlite".as_bytes(),
        b"\xff.sqlite",
    ]
    .map(|name| disk.path("").join(OsStr::from_bytes(name)));
    for name in &odd {
        fs::copy(&at, name).unwrap();
    }
    disk.protect();
    for name in odd {
        let output = program(&world, &["frames", "kind = dark", "--count", "--catalogue"])
            .arg(&name)
            .output()
            .unwrap();
        assert_eq!(output.stdout, b"6\n", "{name:?}: {output:?}");
    }
    let run = |words: &[&str]| {
        let said = world.run(&[&["--catalogue", at.to_str().unwrap()], words].concat());
        (Some(said.code), said.out, said.err)
    };
    reads_and_refuses(&world, &run, &at);
    let (code, _, err) = run(&["export", "kind = light", "--to", "l.csv"]);
    assert_eq!(code, Some(0), "{err}");
    let (code, _, err) = run(&["report", "2023-12-13", "--to", "r.html"]);
    assert!(code < Some(2), "{err}");
    let (code, _, err) = run(&["export", "kind = light", "--to", "disk/l.csv"]);
    assert_eq!(code, Some(2));
    assert!(
        err.contains("write-protected") && err.contains("disk/l.csv"),
        "{err}"
    );
    let (code, _, err) = run(&["export", "kind = light", "--link-into", "disk/tree"]);
    assert_eq!(code, Some(2));
    assert!(
        err.contains("write-protected") && err.contains("disk/tree"),
        "{err}"
    );
}

#[test]
fn a_catalogue_with_changes_in_its_log_is_not_read_without_them() {
    let world = night();
    let Some(disk) = Disk::of_kib(world.path("disk"), 8_000) else {
        return;
    };
    let at = disk.path("catalogue.sqlite");
    // As after a killed run: the log has changes that are not in the file yet.
    let db = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    db.execute_batch(
        "PRAGMA wal_autocheckpoint = 0; INSERT INTO stated_query VALUES ('q', 'iso > 1', 0)",
    )
    .unwrap();
    for ending in ["", "-wal"] {
        fs::copy(
            beside(&world.path("catalogue.sqlite"), ending),
            beside(&at, ending),
        )
        .unwrap();
    }
    disk.protect();
    let link = world.path("link.sqlite");
    std::os::unix::fs::symlink(&at, &link).unwrap();
    for named in [&at, &link] {
        let words = ["--catalogue", named.to_str().unwrap(), "query", "list"];
        let said = world.run(&words).ended(2);
        assert!(
            said.err.contains("catalogue.sqlite-wal") && said.err.contains("copy the catalogue"),
            "{}",
            said.err
        );
    }
    for ending in ["", "-wal"] {
        fs::copy(
            beside(&at, ending),
            beside(&world.path("copy.sqlite"), ending),
        )
        .unwrap();
    }
    let said = world
        .run(&["--catalogue", "copy.sqlite", "query", "list"])
        .ended(0);
    assert!(said.out.contains("iso > 1"), "{}", said.out);
}

/// Whether a user without rights can reach a file.
fn is_open_to_all(path: &Path) -> bool {
    path.ancestors()
        .all(|at| fs::metadata(at).is_ok_and(|about| about.permissions().mode() & 0o5 == 0o5))
}

#[test]
fn folders_that_are_somebody_elses() {
    let world = night();
    let program = Path::new(env!("CARGO_BIN_EXE_framefall"));
    let root = fs::metadata("/proc/self").is_ok_and(|own| own.uid() == 0);
    fs::set_permissions(world.path(""), fs::Permissions::from_mode(0o555)).unwrap();
    let mut done = "done";
    if root && !(is_open_to_all(program) && is_open_to_all(&world.path(""))) {
        println!("skipped: another user cannot reach the program");
        done = "skipped";
    }
    let run = |words: &[&str]| {
        let mut command = Command::new(program);
        command
            .args(words)
            .current_dir(world.path(""))
            .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"));
        if root {
            // The user that owns nothing: common practice.
            command.uid(65_534).gid(65_534);
        }
        let output = command.output().unwrap();
        let text = |bytes| String::from_utf8(bytes).unwrap();
        (
            output.status.code(),
            text(output.stdout),
            text(output.stderr),
        )
    };
    if done == "done" {
        let before = names(&world.path(""));
        if root {
            reads_and_refuses(&world, &run, &world.path("catalogue.sqlite"));
        }
        for words in [
            &["export", "kind = light", "--to", "l.csv"][..],
            &["export", "kind = light", "--link-into", "tree"],
            &["report", "2023-12-13", "--to", "r.html"],
        ] {
            let (code, _, err) = run(words);
            assert_eq!(code, Some(2), "{words:?}: {err}");
            assert!(
                err.contains("permission was denied") && err.contains("permissions"),
                "{words:?}: {err}"
            );
        }
        assert_eq!(names(&world.path("")), before);
    }
    fs::set_permissions(world.path(""), fs::Permissions::from_mode(0o755)).unwrap();
}

#[test]
fn targets_that_no_file_can_take() {
    let world = night();
    fs::create_dir(world.path("folder")).unwrap();
    fs::create_dir(world.path("full")).unwrap();
    world.write("file", b"mine");
    let before = names(&world.path(""));
    let long = format!("{}.csv", "n".repeat(300));
    let nearly = format!("{}.csv", "n".repeat(245));
    for (to, words) in [
        ("folder", "this is a folder"),
        ("nowhere/l.csv", "there is no such folder"),
        ("file/l.csv", "there is no such folder"),
        (long.as_str(), "the name is too long"),
        // The list's own name would do; its manifest's would not.
        (nearly.as_str(), "the name is too long"),
        ("/dev/full", "a device"),
        ("/dev/stdout", "a device"),
    ] {
        for more in [&[][..], &["--overwrite"]] {
            let said = world
                .run(&[&["export", "kind = light", "--to", to], more].concat())
                .ended(2);
            let named = Path::new(to).file_name().unwrap().to_str().unwrap();
            assert!(
                said.err.contains(words) && said.err.contains(named),
                "{to}: {}",
                said.err
            );
            // What went wrong, at what, and what to do.
            assert!(said.err.lines().count() >= 3, "{to}: {}", said.err);
            assert_eq!(names(&world.path("")), before, "{to}");
        }
    }
    assert!(
        fs::metadata("/dev/full")
            .unwrap()
            .file_type()
            .is_char_device()
    );
    let said = world
        .run(&[
            "export",
            "kind = light",
            "--link-into",
            "file",
            "--overwrite",
        ])
        .ended(2);
    assert!(said.err.contains("this is a file"), "{}", said.err);
    assert_eq!(fs::read(world.path("file")).unwrap(), b"mine");
}
