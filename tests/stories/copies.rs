//! A card copied to two targets, what is proved of it, and whether it lasts.

use std::collections::BTreeMap;
use std::fs;
use std::os::unix::fs::MetadataExt;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

use crate::world::World;
use crate::world::files_of;

/// Size and times of everything in a folder, folders among them: modified, changed, and read (of files).
pub fn whole_tree(folder: &Path) -> BTreeMap<PathBuf, [i64; 6]> {
    let mut found = BTreeMap::new();
    let mut waiting = vec![folder.to_path_buf()];
    while let Some(path) = waiting.pop() {
        let about = fs::symlink_metadata(&path).unwrap();
        if about.is_dir() {
            waiting.extend(
                fs::read_dir(&path)
                    .unwrap()
                    .map(|entry| entry.unwrap().path()),
            );
        }
        // The test itself lists folders.
        let read = if about.is_dir() {
            0
        } else {
            about.atime_nsec()
        };
        let size = i64::try_from(about.size()).unwrap();
        let times = [
            about.mtime(),
            about.mtime_nsec(),
            about.ctime(),
            about.ctime_nsec(),
        ];
        found.insert(path, [size, times[0], times[1], times[2], times[3], read]);
    }
    found
}

pub fn bytes_of(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    files_of(folder)
        .into_iter()
        .filter(|file| !file.is_symlink())
        .map(|file| {
            (
                file.strip_prefix(folder).unwrap().to_owned(),
                fs::read(&file).unwrap(),
            )
        })
        .collect()
}

/// A card with a film, sidecars, a file of no kind, and names that need escaping.
pub fn card() -> World {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.write("card/PRIVATE/CLIP0001.MOV", &vec![7; 3_000_001]);
    world.write("card/DCIM/odd\nname\\.txt", b"odd");
    world.write("card/empty", b"");
    world
}

/// Whether the word for what was read back here is `verified`: the folder of tests may be in memory.
fn is_verified(world: &World) -> bool {
    let kind = Command::new("stat")
        .args(["-f", "-c", "%T"])
        .arg(world.path(""))
        .output()
        .unwrap();
    !matches!(
        String::from_utf8_lossy(&kind.stdout).trim(),
        "tmpfs" | "ramfs"
    )
}

#[test]
fn a_card_to_two_targets_proved_and_ingested() {
    let world = card();
    let times = whole_tree(&world.path("card"));
    let said = world
        .run(&["copy", "card", "--to", "one/night", "--to", "two/night"])
        .ended(0);
    // Looked at before any byte is read by the test itself.
    assert_eq!(
        whole_tree(&world.path("card")),
        times,
        "the card is as it was"
    );
    let card = bytes_of(&world.path("card"));
    for target in ["one/night", "two/night"] {
        assert_eq!(bytes_of(&world.path(target)), card, "{target}");
        for file in card.keys() {
            let [from, to] = ["card", target].map(|root| world.path(root).join(file));
            let modified = |path: &Path| fs::metadata(path).unwrap().modified().unwrap();
            assert_eq!(modified(&from), modified(&to));
        }
    }
    assert_eq!(said.number("frames new"), 72);
    assert_eq!(said.number("devices"), 1);
    assert!(said.err.contains("count as one copy"), "{}", said.err);
    if is_verified(&world) {
        assert_eq!(said.number("verified"), card.len() as u64);
    } else {
        assert!(
            said.err.contains("'copied' is not 'verified'"),
            "{}",
            said.err
        );
    }
    assert!(!(said.out + &said.err).contains("may be formatted"));
    // Checked without us.
    for folder in ["one", "two"] {
        let checked = Command::new("sha256sum")
            .args(["--check", "--strict", "night.sha256"])
            .current_dir(world.path(folder))
            .output()
            .unwrap();
        let words = String::from_utf8_lossy(&checked.stdout).into_owned();
        assert!(checked.status.success(), "{words}");
        assert_eq!(words.matches(": OK").count(), card.len(), "{words}");
    }
    // The same command again reads nothing and changes nothing.
    let files = |folder: &str| {
        let mut all = whole_tree(&world.path(folder));
        all.retain(|path, _| path.is_file());
        all
    };
    let before = files("one");
    let again = world
        .run(&[
            "copy",
            "card",
            "--to",
            "one/night",
            "--to",
            "two/night",
            "--no-ingest",
        ])
        .ended(0);
    assert_eq!(files("one"), before);
    assert_eq!(again.number("there before"), card.len() as u64);
}

#[test]
fn what_is_proved_is_said_file_by_file_and_in_sum() {
    let world = card();
    world
        .run(&[
            "copy",
            "card",
            "--to",
            "one/night",
            "--to",
            "two/night",
            "--label",
            "First card",
        ])
        .ended(0);
    if !is_verified(&world) {
        println!("skipped: the folder of tests is in memory");
        return;
    }
    let proof = |code| {
        world
            .run(&["dump", "proof", "First card", "--as", "json"])
            .ended(code)
            .json()
    };
    let rows = proof(0);
    let rows = rows.as_array().unwrap();
    assert_eq!(rows.len(), bytes_of(&world.path("card")).len());
    for row in rows {
        assert_eq!(row["proof"], "verified", "{row}");
        assert_eq!(row["verified_copies"], 2, "{row}");
        assert_eq!(row["devices"], 1, "two folders of one disk are one: {row}");
        assert!(row["read_back_utc"].as_str().unwrap().ends_with('Z'));
    }
    let said = world.run(&["dump", "proof", "First card"]).ended(0);
    assert_eq!(said.number("verified on one device"), rows.len() as u64);
    assert!(
        said.out
            .contains(&format!("all its {} files are in this dump", rows.len())),
        "{}",
        said.out
    );
    // The camera has taken one more since.
    world.write("card/DCIM/100NCTRN/N6A_9999.DNG", b"new");
    let rows = proof(1);
    let alone: Vec<_> = rows
        .as_array()
        .unwrap()
        .iter()
        .filter(|row| row["proof"] == "unread")
        .collect();
    assert_eq!(alone.len(), 1);
    assert_eq!(alone[0]["file"], "DCIM/100NCTRN/N6A_9999.DNG");
    assert_eq!(alone[0]["verified_copies"], 0);
    // Another card in the slot proves nothing.
    fs::remove_dir_all(world.path("card")).unwrap();
    world.write("card/DCIM/100OTHER/A.DNG", b"another card");
    let said = world.run(&["dump", "proof", "First card"]).ended(0);
    assert!(said.out.contains("it may be another card"), "{}", said.out);
    let list = world.run(&["dump", "list", "--as", "json"]).ended(0).json();
    assert_eq!(list[0]["last_proved"], "today", "{list}");
    let sessions = world.run(&["sessions", "--as", "json"]).ended(0).json();
    assert_eq!(sessions[0]["last_proved"], "today");
    let help = world.run(&["dump", "proof", "First kard"]).ended(2);
    assert!(help.err.contains("First card"), "{}", help.err);
}

#[test]
fn a_byte_that_turns_over_is_found_and_the_copy_that_matches_is_named() {
    let world = card();
    world
        .run(&["copy", "card", "--to", "one/night", "--to", "two/night"])
        .ended(0);
    let file = world.path("one/night/PRIVATE/CLIP0001.MOV");
    let modified = fs::metadata(&file).unwrap().modified().unwrap();
    let mut bytes = fs::read(&file).unwrap();
    bytes[2_222_222] ^= 1;
    fs::write(&file, &bytes).unwrap();
    fs::File::options()
        .write(true)
        .open(&file)
        .unwrap()
        .set_modified(modified)
        .unwrap();
    assert_eq!(
        world.run(&["audit", "--disk"]).code,
        0,
        "size and time tell nothing"
    );
    let said = world.run(&["audit", "--content", "--as", "json"]).ended(1);
    let found = said.json();
    assert_eq!(found.as_array().unwrap().len(), 1, "{found}");
    assert_eq!(found[0]["code"], "contents-differ");
    assert_eq!(found[0]["file"], "CLIP0001.MOV");
    let saw = found[0]["found"].as_str().unwrap();
    assert!(
        saw.contains("still matches") && saw.contains("two/night/PRIVATE/CLIP0001.MOV"),
        "{saw}"
    );
    assert!(
        said.err.contains("169 files matching the kept hashes"),
        "{}",
        said.err
    );
    // The finding is stored, and disappears once the file is restored.
    let kept = world.run(&["audit", "--as", "json"]).ended(1).json();
    assert!(
        kept.as_array()
            .unwrap()
            .iter()
            .any(|row| row["code"] == "contents-differ")
    );
    let proof = world.run(&["dump", "proof", "night"]).ended(1);
    assert_eq!(proof.number("differ from their hash in this dump"), 1);
    // No copy replaces it: it is refused, both are named, and the rest continues.
    world.write("card/DCIM/more.txt", b"more");
    let refused = world
        .run(&[
            "copy",
            "card",
            "--to",
            "one/night",
            "--again",
            "--no-ingest",
        ])
        .ended(1);
    for words in [
        "name-taken",
        "one/night/PRIVATE/CLIP0001.MOV",
        "card/PRIVATE/CLIP0001.MOV",
    ] {
        assert!(refused.err.contains(words), "{words}: {}", refused.err);
    }
    assert_eq!(fs::read(&file).unwrap(), bytes);
    assert!(world.path("one/night/DCIM/more.txt").exists());
    fs::copy(world.path("two/night/PRIVATE/CLIP0001.MOV"), &file).unwrap();
    fs::File::options()
        .write(true)
        .open(&file)
        .unwrap()
        .set_modified(modified)
        .unwrap();
    world
        .run(&["audit", "--content", "--dump", "night"])
        .ended(0);
    assert!(!world.run(&["audit"]).out.contains("contents-differ"));
}

/// What was proved of a file says nothing of it once it is gone or was written anew.
#[test]
fn copies_that_are_gone_or_changed_are_not_counted() {
    let world = card();
    let said = world.run(&[
        "copy",
        "card",
        "--to",
        "one/a",
        "--to",
        "two/b",
        "--no-ingest",
    ]);
    said.ended(0);
    if !is_verified(&world) {
        println!("skipped: the folder of tests is in memory");
        return;
    }
    fs::remove_file(world.path("two/b/empty")).unwrap();
    fs::write(world.path("two/b/PRIVATE/CLIP0001.MOV"), b"edited").unwrap();
    let proof = |label| {
        let said = world.run(&["dump", "proof", label, "--as", "json"]);
        let rows = said.json();
        let row = |name: &str| {
            let mut rows = rows.as_array().unwrap().iter();
            let row = rows.find(|row| row["file"] == name).unwrap();
            (
                row["verified_copies"].as_u64().unwrap(),
                row["where"].to_string(),
            )
        };
        (
            said.code,
            row("empty"),
            row("PRIVATE/CLIP0001.MOV"),
            row("DCIM/odd\nname\\.txt"),
        )
    };
    let (code, gone, changed, whole) = proof("a");
    assert_eq!((code, gone.0, changed.0, whole.0), (0, 1, 1, 2));
    assert!(gone.1.contains("b: missing"), "{}", gone.1);
    assert!(changed.1.contains("b: changed"), "{}", changed.1);
    assert_eq!(proof("b").0, 1);
    let said = world.run(&["dump", "proof", "b"]).ended(1);
    assert_eq!(said.number("missing or changed in this dump"), 2);
    // A disk that is not here says nothing: what was proved stays.
    fs::rename(world.path("two"), world.path("away")).unwrap();
    assert_eq!(proof("a").1.0, 2);
}
