//! Nothing that reads a dump leaves a trace in the access times of its files and folders.

use std::collections::BTreeMap;
use std::fs;
use std::fs::File;
use std::fs::FileTimes;
use std::io::Read;
use std::path::Path;
use std::path::PathBuf;
use std::time::Duration;
use std::time::SystemTime;

use crate::world::World;

/// Every file and folder below and with a folder.
fn all_below(folder: &Path) -> Vec<PathBuf> {
    let mut found = vec![folder.to_path_buf()];
    let mut at = 0;
    while at < found.len() {
        if found[at].is_dir() {
            let inside = fs::read_dir(&found[at]).unwrap();
            found.extend(inside.map(|entry| entry.unwrap().path()));
        }
        at += 1;
    }
    found
}

/// Sets access times to before the last change: then the next reading moves them, even on volumes mounted `relatime`.
fn age(paths: &[PathBuf]) {
    let long_ago = SystemTime::now() - Duration::from_secs(10 * 86_400);
    for path in paths {
        let file = File::open(path).unwrap();
        let times = FileTimes::new().set_accessed(long_ago);
        file.set_times(times).unwrap();
    }
}

fn accessed(paths: &[PathBuf]) -> BTreeMap<&Path, SystemTime> {
    let time = |path: &PathBuf| fs::metadata(path).unwrap().accessed().unwrap();
    paths.iter().map(|p| (p.as_path(), time(p))).collect()
}

/// Whether this file system shows that a file was read at all.
fn is_shown(world: &World) -> bool {
    world.write("control/file", b"control");
    let paths = all_below(&world.path("control"));
    age(&paths);
    let before = accessed(&paths);
    for path in &paths {
        if path.is_file() {
            File::open(path)
                .unwrap()
                .read_to_end(&mut Vec::new())
                .unwrap();
        } else {
            assert_eq!(fs::read_dir(path).unwrap().count(), 1);
        }
    }
    before != accessed(&paths)
}

#[test]
fn access_times_of_files_and_folders_stay() {
    let world = World::new();
    if !is_shown(&world) {
        eprintln!("access times are not kept here: nothing to see");
        return;
    }
    world.site("Hakos", "-23.236", "16.361");
    world.dump("geminids-body-a", "card", |_| true);
    // A file of every kind that is opened: a damaged one, one that is not a picture, deleted files, notes.
    let whole = crate::world::frame_at("2023:12:13 22:31:00");
    world.write("card/DCIM/100NCTRN/N2M_0001.DNG", &whole[..12_000]);
    world.write("card/DCIM/100NCTRN/N2M_0002.DNG", b"no picture");
    world.write("card/DCIM/100NCTRN/README", b"no picture either");
    world.write("card/.Trashes/501/N2M_0003.DNG", &whole);
    let paths = all_below(&world.path("card"));
    assert!(paths.len() > 20);
    age(&paths);
    let before = accessed(&paths);
    let unread = |what: &str| {
        let after = accessed(&paths);
        let moved: Vec<_> = before.iter().filter(|(at, t)| after[*at] != **t).collect();
        assert!(moved.is_empty(), "{what} was seen in {moved:?}");
    };
    world.run(&["ingest", "card", "--site", "Hakos"]).ended(1);
    unread("ingest");
    world.run(&["ingest", "card"]).ended(1);
    unread("a second ingest");
    let nights = world.run(&["sessions", "--as", "json"]).ended(0).json();
    let night = nights[0]["night"].as_str().unwrap().to_owned();
    world
        .run(&["report", &night, "--to", "night.html"])
        .ended(0);
    unread("report");
    world
        .run(&[
            "export",
            "health = sound",
            "--to",
            "list.csv",
            "--check",
            "content",
        ])
        .ended(0);
    unread("export --check content");
    world
        .run(&[
            "export",
            "health = sound",
            "--link-into",
            "tree",
            "--link-as",
            "copy",
        ])
        .ended(0);
    unread("export --link-as copy");
    world.run(&["audit", "--disk"]);
    unread("audit --disk");
    // A dump that has moved is recognised by its files.
    fs::rename(world.path("card"), world.path("moved")).unwrap();
    let paths: Vec<PathBuf> = all_below(&world.path("moved"));
    age(&paths);
    let before = accessed(&paths);
    world.run(&["ingest", "moved"]).ended(1);
    assert_eq!(before, accessed(&paths), "a moved dump");
}
