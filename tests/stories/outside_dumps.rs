//! Nothing that is asked for is written into a dump, by whatever name the dump is reached.

#![cfg(unix)]

use std::fs;
use std::time::SystemTime;

use crate::tree::contents;
use crate::tree::night;

#[test]
fn a_place_in_a_dump_is_refused_before_anything_is_written_there() {
    let world = night();
    fs::create_dir(world.path("out")).unwrap();
    std::os::unix::fs::symlink(world.path("a/DCIM"), world.path("out/linked")).unwrap();
    let touched = |folder: &str| -> SystemTime {
        fs::metadata(world.path(folder))
            .unwrap()
            .modified()
            .unwrap()
    };
    let before = (contents(&world.path("a")), touched("a"), touched("a/DCIM"));
    let mut commands: Vec<Vec<&str>> = vec![
        vec!["export", "", "--to"],
        vec!["export", "", "--per-session", "--as", "csv", "--to"],
        vec!["export", "", "--check", "none", "--overwrite", "--to"],
        vec!["report", "2023-12-13", "--to"],
        vec!["report", "--season", "2023", "--to"],
    ];
    if cfg!(feature = "parquet") {
        commands.push(vec!["export", "", "--as", "parquet", "--to"]);
    }
    // A report is a page.
    let named = |command: &[&str], place: &str| {
        if command[0] == "report" {
            place.replace(".csv", ".html")
        } else {
            place.to_owned()
        }
    };
    for command in &commands {
        for place in [
            "a/x.csv",
            "a/DCIM/x.csv",
            "out/../a/x.csv",
            "out/linked/x.csv",
        ] {
            let place = named(command, place);
            let refused = world
                .run(&[command.as_slice(), &[place.as_str()]].concat())
                .ended(2);
            assert!(
                refused.err.contains("is inside a card dump"),
                "{command:?} {place}: {}",
                refused.err
            );
        }
        world
            .run(&[command.as_slice(), &[named(command, "out/x.csv").as_str()]].concat())
            .ended(0);
        for entry in fs::read_dir(world.path("out")).unwrap().flatten() {
            if entry.file_name() != "linked" {
                let at = entry.path();
                let _ = fs::remove_file(&at).or_else(|_| fs::remove_dir_all(&at));
            }
        }
    }
    // A manifest that was moved into a dump makes no list there.
    world
        .run(&["export", "", "--as", "paths", "--to", "out/l.txt"])
        .ended(0);
    for name in ["l.txt", "l.txt.manifest.json"] {
        fs::rename(
            world.path(&format!("out/{name}")),
            world.path(&format!("a/{name}")),
        )
        .unwrap();
    }
    let again = world
        .run(&["export", "--again", "a/l.txt.manifest.json"])
        .ended(2);
    assert!(again.err.contains("is inside a card dump"), "{}", again.err);
    for name in ["l.txt", "l.txt.manifest.json"] {
        fs::remove_file(world.path(&format!("a/{name}"))).unwrap();
    }
    assert_eq!(contents(&world.path("a")), before.0);
    assert_eq!(touched("a/DCIM"), before.2);
}

#[test]
fn a_catalogue_in_the_dump_that_is_to_be_taken_in_is_refused() {
    let world = night();
    let before = contents(&world.path("a"));
    std::os::unix::fs::symlink(world.path("a/DCIM"), world.path("linked")).unwrap();
    for place in [
        "a/catalogue.sqlite",
        "a/new/folder/catalogue.sqlite",
        "linked/catalogue.sqlite",
        "./a/../a/catalogue.sqlite",
    ] {
        let refused = world.run(&["ingest", "--catalogue", place, "a"]).ended(2);
        assert!(
            refused.err.contains("is inside a card dump"),
            "{}",
            refused.err
        );
        assert!(refused.err.contains("--catalogue"), "{}", refused.err);
        assert_eq!(contents(&world.path("a")), before, "{place}");
        assert!(!world.path("a/new").exists());
    }
    world
        .run(&["ingest", "--catalogue", "new/folder/catalogue.sqlite", "a"])
        .ended(0);
}

/// What counts is the file at the end of the links, whether it is there yet or not.
#[test]
fn a_catalogue_that_a_link_leads_into_the_dump_is_refused() {
    let world = night();
    let link = |to: &str, at: &str| {
        std::os::unix::fs::symlink(world.path(to), world.path(at)).unwrap();
    };
    link("a/new.sqlite", "to-nothing.sqlite");
    link("to-nothing.sqlite", "by-two.sqlite");
    std::os::unix::fs::symlink("a/../a/DCIM/new.sqlite", world.path("relative.sqlite")).unwrap();
    let names = ["to-nothing.sqlite", "by-two.sqlite", "relative.sqlite"];
    let before = contents(&world.path("a"));
    for name in names {
        let refused = world.run(&["ingest", "--catalogue", name, "a"]).ended(2);
        assert!(
            refused.err.contains("is inside a card dump") && refused.err.contains(name),
            "{name}: {}",
            refused.err
        );
        assert!(contents(&world.path("a")) == before, "{name}");
    }
    // One that is there, put there by hand: for every command that would write, and for those that look.
    fs::copy(world.path("catalogue.sqlite"), world.path("a/here.sqlite")).unwrap();
    link("a/here.sqlite", "to-it.sqlite");
    let before = contents(&world.path("a"));
    for name in ["to-it.sqlite", "a/here.sqlite", "./a/../a/here.sqlite"] {
        for words in [
            &["ingest", "a"][..],
            &["ingest", "elsewhere"],
            &["query", "save", "x", "iso > 1"],
            &[
                "site",
                "add",
                "Here",
                "--lat",
                "46",
                "--lon",
                "11",
                "--elevation",
                "1",
            ],
            &["frames"],
        ] {
            fs::create_dir_all(world.path("elsewhere")).unwrap();
            let refused = world
                .run(&[&["--catalogue", name], words].concat())
                .ended(2);
            assert!(
                refused.err.contains("is inside a card dump"),
                "{name} {words:?}: {}",
                refused.err
            );
            assert!(contents(&world.path("a")) == before, "{name} {words:?}");
        }
    }
}

/// By whatever name the folder is called, and whoever moves the dump there.
#[test]
fn no_dump_is_moved_to_where_the_catalogue_is() {
    let world = night();
    fs::create_dir(world.path("home")).unwrap();
    for ending in ["", ".lock"] {
        let name = format!("catalogue.sqlite{ending}");
        fs::rename(world.path(&name), world.path(&format!("home/{name}"))).unwrap();
    }
    fs::rename(world.path("a/DCIM"), world.path("home/DCIM")).unwrap();
    std::os::unix::fs::symlink(world.path("home"), world.path("linked")).unwrap();
    // The lock names its latest holder.
    let without_lock = || {
        let mut all = contents(&world.path("home"));
        all.remove(&world.path("home/catalogue.sqlite.lock"));
        all
    };
    let before = without_lock();
    let catalogue = ["--catalogue", "home/catalogue.sqlite"];
    for words in [
        &["dump", "move", "a", "home"][..],
        &["dump", "move", "a", "linked"],
        &["dump", "move", "a", "home/../home/.", "--mostly"],
        &["ingest", "home"],
        &["ingest", "linked"],
        &["ingest", "home/DCIM/.."],
    ] {
        let refused = world.run(&[&catalogue[..], words].concat()).ended(2);
        assert!(
            refused.err.contains("is inside a card dump"),
            "{words:?}: {}",
            refused.err
        );
        assert!(without_lock() == before, "{words:?}");
    }
}

/// Neither the catalogue in use, nor another one, nor the files beside one.
#[test]
fn no_catalogue_is_replaced() {
    let world = night();
    let catalogue = world.path("catalogue.sqlite");
    let another = world.path("older.sqlite");
    fs::copy(&catalogue, &another).unwrap();
    std::os::unix::fs::symlink(&another, world.path("link.csv")).unwrap();
    let before = fs::read(&another).unwrap();
    for place in [
        "catalogue.sqlite",
        "older.sqlite",
        "./older.sqlite-wal",
        "older.sqlite-shm",
        "older.sqlite-journal",
        "older.sqlite.lock",
    ] {
        for command in [
            &["export", "", "--overwrite", "--as", "csv", "--to"][..],
            &["report", "2023-12-13", "--overwrite", "--to"][..],
        ] {
            let refused = world.run(&[command, &[place]].concat()).ended(2);
            let said = "this is a catalogue, or belongs to one";
            assert!(refused.err.contains(said), "{place}: {}", refused.err);
        }
    }
    let frames = world.run(&["frames", "--count"]).ended(0).out;
    assert_ne!(frames, "0\n");
    // A file that replaces a link leaves the link's target alone.
    world
        .run(&["export", "", "--overwrite", "--to", "link.csv"])
        .ended(0);
    assert_eq!(fs::read(&another).unwrap(), before);
}
