//! Dumps that are not there, and dumps moved and renamed by command.

use crate::world;
use std::fs;
use std::path::Path;
use std::time::Duration;

use crate::world::World;
use serde_json::Value;

/// Where the move went wrong nothing has changed.
fn root_of(world: &World, label: &str) -> String {
    let sheet = world.run(&["dump", "list", "--as", "json"]).ended(0).json();
    let dumps = sheet.as_array().unwrap();
    let dump = dumps.iter().find(|dump| dump["dump"] == label).unwrap();
    dump["root"].as_str().unwrap().to_owned()
}

fn go(world: &World, from: &str, to: &str) {
    fs::rename(world.path(from), world.path(to)).unwrap();
}

/// Shifts the time stamp of every file of a folder.
fn retime(folder: &Path, change: impl Fn(std::time::SystemTime) -> std::time::SystemTime) {
    for file in world::files_of(folder) {
        let file = fs::File::options().write(true).open(file).unwrap();
        let at = file.metadata().unwrap().modified().unwrap();
        file.set_modified(change(at)).unwrap();
    }
}

#[test]
fn a_dump_is_moved_by_command_without_reading() {
    let world = World::new();
    world.dump("geminids-body-a", "card-a", |_| true);
    world.run(&["ingest", "card-a"]).ended(0);
    go(&world, "card-a", "archive");
    let said = world.run(&["dump", "move", "card-a", "archive/"]).ended(0);
    assert!(
        said.out.contains("32 of 32 files checked match"),
        "{}",
        said.out
    );
    assert!(
        !said.out.contains("ingest"),
        "nothing differs: {}",
        said.out
    );
    let here = world.path("archive").canonicalize().unwrap();
    assert_eq!(root_of(&world, "card-a"), here.to_str().unwrap());
    let again = world.run(&["dump", "move", "card-a", "archive"]).ended(0);
    assert!(again.out.contains("already"), "{}", again.out);
    world.run(&["audit", "--disk"]).ended(0);
}

#[test]
fn a_file_system_with_coarse_local_times_is_no_other_dump() {
    let world = World::new();
    world.dump("geminids-body-a", "card-a", |_| true);
    world.run(&["ingest", "card-a"]).ended(0);
    go(&world, "card-a", "fat");
    // Two seconds and a zone of one hour.
    retime(&world.path("fat"), |at| {
        let since = at.duration_since(std::time::UNIX_EPOCH).unwrap().as_secs();
        std::time::UNIX_EPOCH + Duration::from_secs(since / 2 * 2 + 3600)
    });
    let said = world.run(&["dump", "move", "card-a", "fat"]).ended(0);
    assert!(
        said.out.contains("32 of 32 files") && said.out.contains("32 with another time stamp"),
        "{}",
        said.out
    );
    let taken = world.run(&["ingest", "fat"]).ended(0);
    assert_eq!(taken.number("frames new"), 0);
    assert_eq!(taken.number("known, read again"), 80);
    world
        .run(&["export", "kind = light", "--to", "a.csv"])
        .ended(0);
}

#[test]
fn a_place_with_other_files_is_refused_with_what_was_seen() {
    let world = World::new();
    world.dump("geminids-body-a", "card-a", |_| true);
    world.run(&["ingest", "card-a"]).ended(0);
    let before = root_of(&world, "card-a");
    go(&world, "card-a", "moved");
    // Same size and time stamp would be enough; the contents of one with another time decide.
    let victim = world::files_of(&world.path("moved/DCIM/100NCTRN")).remove(0);
    let mut bytes = fs::read(&victim).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 0x55;
    fs::write(&victim, bytes).unwrap();
    let said = world.run(&["dump", "move", "card-a", "moved"]).ended(2);
    assert!(
        said.err.contains("31 match, 0 missing, 1 different"),
        "{}",
        said.err
    );
    assert!(
        said.err.contains("the same size, but different contents"),
        "{}",
        said.err
    );
    assert_eq!(root_of(&world, "card-a"), before);
    fs::write(&victim, b"short").unwrap();
    let said = world.run(&["dump", "move", "card-a", "moved"]).ended(2);
    assert!(said.err.contains("5 bytes instead of"), "{}", said.err);
    fs::remove_file(&victim).unwrap();
    let said = world.run(&["dump", "move", "card-a", "moved"]).ended(2);
    assert!(
        said.err.contains("1 missing") && said.err.contains("--mostly"),
        "{}",
        said.err
    );
    // An ingest is as strict as the command.
    let said = world
        .run(&["dump", "move", "card-a", "moved", "--mostly"])
        .ended(0);
    assert!(
        said.out.contains("31 of 32") && said.out.contains("1 missing"),
        "{}",
        said.out
    );
    // Little of it is not most of it.
    fs::create_dir_all(world.path("little/DCIM/101NCTRN")).unwrap();
    let kept = world::files_of(&world.path("moved/DCIM/101NCTRN")).remove(0);
    fs::copy(
        &kept,
        world
            .path("little/DCIM/101NCTRN")
            .join(kept.file_name().unwrap()),
    )
    .unwrap();
    world
        .run(&["dump", "move", "card-a", "little", "--mostly"])
        .ended(2);
}

#[test]
fn no_dump_is_moved_onto_another_or_into_its_files() {
    let world = World::new();
    world.dump("geminids-body-a", "card-a", |_| true);
    world.dump("geminids-body-a", "all/copy", |_| true);
    world.dump("eta-aquariids", "all/b", |_| true);
    world.run(&["ingest", "card-a"]).ended(0);
    world.run(&["ingest", "all"]).ended(0);
    for (to, words) in [
        ("all/copy", "as those of dump all"),
        ("all", "the root of dump all"),
        ("gone", "there is no such folder"),
        ("catalogue.sqlite", "this is a file"),
    ] {
        let said = world.run(&["dump", "move", "card-a", to]).ended(2);
        assert!(said.err.contains(words), "{to}: {}", said.err);
    }
    let said = world.run(&["dump", "move", "card-b", "all"]).ended(2);
    assert!(said.err.contains("did you mean 'card-a'?"), "{}", said.err);
    // A folder around another dump, where files of this one would be.
    world.dump("geminids-body-b", "outer/DCIM/100NCTRN", |_| true);
    world.run(&["ingest", "outer/DCIM/100NCTRN"]);
    go(&world, "card-a", "away");
    let said = world.run(&["dump", "move", "card-a", "outer"]).ended(2);
    let words = "is where files of this one would be";
    assert!(said.err.contains(words), "{}", said.err);
}

#[test]
fn labels_stay_unique() {
    let world = World::new();
    world.dump("geminids-body-a", "card-a", |_| true);
    world.dump("eta-aquariids", "card-b", |_| true);
    world.run(&["ingest", "card-a", "card-b"]).ended(0);
    // In a query the case of a label's letters does not matter.
    for taken in ["card-b", "CARD-B"] {
        let said = world.run(&["dump", "rename", "card-a", taken]).ended(2);
        assert!(
            said.err
                .contains(&format!("already a dump named '{taken}'")),
            "{}",
            said.err
        );
    }
    for bad in ["", "  ", "two\nlines"] {
        world.run(&["dump", "rename", "card-a", bad]).ended(2);
    }
    world
        .run(&["dump", "rename", "card-a", " Geminids 2023, first card "])
        .ended(0);
    let count = world.run(&["frames", "dump = 'Geminids 2023, first card'", "--count"]);
    assert_eq!(count.ended(0).out.trim(), "72");
    // The same label again, and a new dump whose folder has the old one's name.
    world.run(&["dump", "rename", "card-b", "card-b"]).ended(0);
    world.run(&["dump", "rename", "card-b", "Card-B"]).ended(0);
    world.write(
        "other/card-b/B.DNG",
        &world::frame_at("2023:12:13 22:41:00"),
    );
    world.run(&["ingest", "other/card-b"]).ended(0);
    assert!(root_of(&world, "card-b-2").ends_with("other/card-b"));
    go(&world, "card-a", "kept");
    world.run(&["ingest", "kept"]).ended(0);
    world.write("card-a/A.DNG", &world::frame_at("2023:12:13 22:31:00"));
    world.run(&["ingest", "card-a"]).ended(0);
    assert!(root_of(&world, "card-a").ends_with("card-a"));
    for form in ["table", "csv", "jsonl"] {
        let said = world.run(&["dump", "list", "--as", form]).ended(0);
        assert!(said.out.contains("first card"), "{}", said.out);
    }
}

#[test]
fn an_absent_dump_is_one_finding_that_names_the_disk() {
    let world = World::new();
    world.dump("geminids-body-a", "card-a", |_| true);
    world.dump("eta-aquariids", "card-b", |_| true);
    world.run(&["ingest", "card-a", "card-b"]).ended(0);
    let db = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    db.execute(
        "UPDATE written_dump SET volume_label = 'ARCHIVE 2', volume_id = '1A2B-3C4D', last_seen_ms = unixepoch('2024-02-03T04:05:06Z') * 1000
         WHERE label = 'card-a'",
        [],
    )
    .unwrap();
    let root = root_of(&world, "card-a");
    go(&world, "card-a", "elsewhere");
    fs::remove_file(world::files_of(&world.path("card-b")).remove(0)).unwrap();
    let said = world
        .run(&["audit", "--disk", "--as", "json"])
        .ended(1)
        .json();
    let of = |code: &str| -> Vec<&Value> {
        let rows = said.as_array().unwrap();
        rows.iter().filter(|row| row["code"] == code).collect()
    };
    let away = of("dump-away");
    assert_eq!(
        (away.len(), of("missing").len()),
        (1, 1),
        "one line for 80 files"
    );
    assert_eq!(away[0]["dump"], "card-a");
    let words = format!(
        "{root} does not exist; dump card-a of 72 frames, last seen 2024-02-03 on the disk \
         ARCHIVE 2 (number 1A2B-3C4D)"
    );
    assert_eq!(away[0]["found"], words);

    // The list and the page have the same message, once.
    let said = world
        .run(&["export", "dump = card-a", "--to", "a.csv"])
        .ended(2);
    assert_eq!(said.err.matches(&words).count(), 1, "{}", said.err);
    let said = world
        .run(&["report", "2023-12-13", "--to", "a.html"])
        .ended(1);
    assert_eq!(said.err.matches(&words).count(), 1, "{}", said.err);
    let page = fs::read_to_string(world.path("a.html")).unwrap();
    assert_eq!(page.matches("ARCHIVE 2 (number 1A2B-3C4D)").count(), 1);
    let said = world
        .run(&["report", "2023-12-13", "--to", "b.html", "--no-pictures"])
        .ended(0);
    assert!(!said.err.contains("dump-away"), "{}", said.err);

    // The place where the disk was mounted stays behind, empty.
    fs::create_dir(world.path("card-a")).unwrap();
    let said = world.run(&["audit", "--disk"]).ended(1);
    assert!(said.out.contains("is empty; dump card-a"), "{}", said.out);
    let listed = world.run(&["dump", "list", "--as", "csv"]).ended(0);
    assert!(listed.out.contains("offline"), "{}", listed.out);
}

#[cfg(unix)]
#[test]
fn a_dump_on_a_read_only_place_moves_and_reads() {
    use std::os::unix::fs::PermissionsExt;
    let world = World::new();
    world.dump("geminids-body-a", "card-a", |_| true);
    world.run(&["ingest", "card-a"]).ended(0);
    go(&world, "card-a", "card");
    let set = |mode: u32, file_mode: u32| {
        for file in world::files_of(&world.path("card")) {
            fs::set_permissions(file, fs::Permissions::from_mode(file_mode)).unwrap();
        }
        for folder in [
            "card/DCIM/100NCTRN",
            "card/DCIM/101NCTRN",
            "card/DCIM",
            "card",
        ] {
            if world.path(folder).exists() {
                fs::set_permissions(world.path(folder), fs::Permissions::from_mode(mode)).unwrap();
            }
        }
    };
    set(0o555, 0o444);
    let said = world.run(&["ingest", "card"]).ended(0);
    assert!(said.err.contains("has moved"), "{}", said.err);
    assert_eq!(said.number("unchanged, not read again"), 80);
    set(0o755, 0o644);
}
