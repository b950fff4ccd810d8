//! Before a list is written, files are checked on the disk: missing and changed ones are named, and the list is refused.

use crate::world;
use std::fs;
use std::fs::File;
use std::io::Seek;
use std::io::SeekFrom;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;

use crate::world::World;
use crate::world::files_of;
use serde_json::Value;

const LIGHTS: &str = "kind = light and health = sound";
const LOST: &str = "card/DCIM/101NCTRN/N6A_0470.DNG";

fn night() -> World {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.run(&["ingest", "card"]).ended(0);
    world
}

fn export(world: &World, words: &[&str]) -> world::Said {
    world.run(&[&["export", LIGHTS, "--to", "list.txt"], words].concat())
}

fn manifest(world: &World) -> Value {
    let text = fs::read_to_string(world.path("list.txt.manifest.json")).unwrap();
    serde_json::from_str(&text).unwrap()
}

/// Files of the world's folder other than the card and the catalogue.
fn beside(world: &World) -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> = fs::read_dir(world.path(""))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| {
            let name = path.file_name().unwrap().to_string_lossy();
            name != "card" && !name.starts_with("catalogue.sqlite")
        })
        .collect();
    found.sort();
    found
}

/// Writes other bytes into a file and restores its time stamp, as a failing disk would.
fn rot(path: &Path, at: u64, bytes: &[u8]) {
    let modified = fs::metadata(path).unwrap().modified().unwrap();
    let mut file = File::options().write(true).open(path).unwrap();
    file.seek(SeekFrom::Start(at)).unwrap();
    file.write_all(bytes).unwrap();
    file.set_modified(modified).unwrap();
}

/// If a copy on another dump replaces one file, the rows after it name their own dump again.
#[test]
fn each_row_tells_of_the_file_that_it_names() {
    let world = night();
    world.dump("geminids-body-a", "copied", |_| true);
    world.run(&["ingest", "copied"]).ended(0);
    fs::remove_file(world.path(LOST)).unwrap();
    let show = ["--as", "csv", "--show", "path,dump,iso"];
    export(&world, &show).ended(0);
    let list = fs::read_to_string(world.path("list.txt")).unwrap();
    let mut stand_ins = Vec::new();
    let rows: Vec<&str> = list.lines().skip(1).collect();
    for (at, row) in rows.iter().enumerate() {
        let cells: Vec<&str> = row.split(',').collect();
        let lies_in = format!("/{}/DCIM/", cells[1]);
        assert!(cells[0].contains(&lies_in), "{row}");
        stand_ins.extend((cells[1] == "copied").then_some(at));
    }
    assert_eq!(stand_ins.len(), 1, "{list}");
    assert!(stand_ins[0] + 1 < rows.len(), "others stand behind it");
}

#[test]
fn a_missing_file_is_named_and_the_list_refused_until_it_may_be_left_out() {
    let world = night();
    fs::remove_file(world.path(LOST)).unwrap();
    let said = export(&world, &[]).ended(2);
    assert!(said.err.contains("warning: missing"), "{}", said.err);
    assert!(said.err.contains("N6A_0470.DNG"), "{}", said.err);
    assert!(
        said.err.contains("1 of 64 frames cannot be exported"),
        "{}",
        said.err
    );
    assert!(said.err.contains("--allow-missing"), "{}", said.err);
    assert!(beside(&world).is_empty(), "{:?}", beside(&world));

    let said = export(&world, &["--allow-missing"]).ended(1);
    assert!(said.err.contains("N6A_0470.DNG"), "{}", said.err);
    let list = fs::read_to_string(world.path("list.txt")).unwrap();
    assert!(!list.contains("N6A_0470.DNG"));
    assert_eq!(list.lines().count(), 63);
    let manifest = manifest(&world);
    assert_eq!(manifest["left_out"].as_array().unwrap().len(), 1);
    assert_eq!(manifest["left_out"][0]["code"], "missing");
    assert!(
        manifest["left_out"][0]["path"]
            .as_str()
            .unwrap()
            .ends_with(LOST)
    );
    assert_eq!(manifest["lists"][0]["frames"], 63);

    export(&world, &["--overwrite", "--check", "none"]).ended(0);
    let list = fs::read_to_string(world.path("list.txt")).unwrap();
    assert!(list.contains("N6A_0470.DNG"), "nothing was looked at");
}

#[test]
fn a_file_of_another_size_or_time_has_changed() {
    let world = night();
    let path = world.path(LOST);
    let bytes = fs::read(&path).unwrap();
    let modified = fs::metadata(&path).unwrap().modified().unwrap();
    for (shorter, touched) in [(true, false), (false, true)] {
        let kept = if shorter {
            &bytes[..bytes.len() - 1]
        } else {
            &bytes[..]
        };
        fs::write(&path, kept).unwrap();
        let later = modified + std::time::Duration::from_secs(u64::from(touched));
        File::options()
            .write(true)
            .open(&path)
            .unwrap()
            .set_modified(later)
            .unwrap();
        let said = export(&world, &[]).ended(2);
        assert!(said.err.contains("warning: changed"), "{}", said.err);
        assert!(said.err.contains("ingest its dump again"), "{}", said.err);
        let saw = if shorter {
            "bytes instead of"
        } else {
            "its time stamp has changed"
        };
        assert!(said.err.contains(saw), "{}", said.err);
    }
    fs::write(&path, &bytes).unwrap();
    File::options()
        .write(true)
        .open(&path)
        .unwrap()
        .set_modified(modified)
        .unwrap();
    export(&world, &[]).ended(0);
    fs::remove_file(&path).unwrap();
    fs::create_dir(&path).unwrap();
    let said = export(&world, &["--overwrite"]).ended(2);
    assert!(said.err.contains("no longer a file"), "{}", said.err);
    let before = fs::read_to_string(world.path("list.txt")).unwrap();
    assert_eq!(before.lines().count(), 64, "the old list stays");
}

#[test]
fn contents_that_rot_under_the_same_size_and_time_are_found() {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    // Long enough that most of it is outside the fingerprint's samples.
    let path = world.path(LOST);
    let mut bytes = fs::read(&path).unwrap();
    bytes.extend((0..40_000_u32).map(|i| (i * i).to_le_bytes()[1]));
    fs::write(&path, &bytes).unwrap();
    world.run(&["ingest", "card"]).ended(0);
    export(&world, &["--check", "content"]).ended(0);
    let told = manifest(&world);
    let files = told["files"].as_array().unwrap();
    assert_eq!(files.len(), 64);
    for file in files {
        // The manifest's hash against the hash function's own crate over the file's bytes.
        let bytes = fs::read(file["path"].as_str().unwrap()).unwrap();
        assert_eq!(file["blake3"], blake3::hash(&bytes).to_hex().to_string());
        assert_eq!(file["bytes"], bytes.len());
    }
    // Past the first 16 KiB, before the middle: only the hash of all bytes sees it.
    rot(&path, 17_000, b"rot");
    export(&world, &["--overwrite"]).ended(0);
    let said = export(&world, &["--overwrite", "--check", "content"]).ended(2);
    assert!(said.err.contains("damage: contents-differ"), "{}", said.err);
    assert!(said.err.contains("N6A_0470.DNG"), "{}", said.err);
    assert!(
        said.err.contains("since they were last hashed"),
        "{}",
        said.err
    );
    // The stored hash is not overwritten by the new one.
    export(&world, &["--overwrite", "--check", "content"]).ended(2);
    let kept = manifest(&world);
    assert_eq!(kept["files"], told["files"], "the manifest of before stays");
}

#[test]
fn a_first_check_by_contents_compares_the_fingerprint_of_the_ingest() {
    let world = night();
    rot(&world.path(LOST), 200, b"rotten");
    export(&world, &[]).ended(0);
    let said = export(&world, &["--overwrite", "--check", "content"]).ended(2);
    assert!(said.err.contains("contents-differ"), "{}", said.err);
    assert!(said.err.contains("its fingerprint"), "{}", said.err);
}

#[test]
fn a_file_that_was_changed_on_purpose_is_hashed_anew_after_an_ingest() {
    let world = night();
    export(&world, &["--check", "content"]).ended(0);
    let path = world.path(LOST);
    let mut bytes = fs::read(&path).unwrap();
    bytes.extend([7; 100]);
    fs::write(&path, &bytes).unwrap();
    export(&world, &["--overwrite", "--check", "content"]).ended(2);
    world.run(&["ingest", "card"]);
    export(&world, &["--overwrite", "--check", "content"]).ended(0);
    let told = manifest(&world);
    let file = told["files"].as_array().unwrap().iter();
    let file = file
        .clone()
        .find(|f| f["path"].as_str().unwrap().ends_with(LOST))
        .unwrap();
    assert_eq!(file["blake3"], blake3::hash(&bytes).to_hex().to_string());
}

#[test]
fn a_dump_that_is_away_is_one_line_and_names_the_disk() {
    let world = night();
    fs::rename(world.path("card"), world.path("card-away")).unwrap();
    let said = export(&world, &[]).ended(2);
    assert!(said.err.contains("dump-away"), "{}", said.err);
    assert!(said.err.contains("dump card"), "{}", said.err);
    assert!(said.err.contains("64 frames"), "{}", said.err);
    assert!(!said.err.contains(".DNG"), "no line a file: {}", said.err);
    // The folder where a disk is mounted stays behind without it.
    fs::create_dir(world.path("card")).unwrap();
    let empty = export(&world, &[]).ended(2);
    assert!(empty.err.contains("dump-away"), "{}", empty.err);
    fs::remove_dir(world.path("card")).unwrap();
    let none = export(&world, &["--allow-missing"]).ended(1);
    assert!(none.err.contains("nothing to export"), "{}", none.err);
    assert!(!world.path("list.txt").exists());
    fs::rename(world.path("card-away"), world.path("card")).unwrap();
    export(&world, &[]).ended(0);
}

#[cfg(unix)]
#[test]
fn a_newline_in_a_name_is_refused_before_anything_is_written() {
    for name in ["N6A\n0470.DNG", "N6A\r0470.DNG"] {
        let world = World::new();
        world.dump("geminids-body-a", "card", |name| {
            name.starts_with("N6A_047")
        });
        let odd = format!("card/DCIM/101NCTRN/{name}");
        fs::rename(world.path(LOST), world.path(&odd)).unwrap();
        world.run(&["ingest", "card"]).ended(0);
        // Whether it is seen when the files are looked at or when the list is written.
        for more in [&[][..], &["--check", "none"]] {
            let said = export(&world, more).ended(2);
            assert!(
                said.err.contains("line break") && said.err.contains("paths0"),
                "{}",
                said.err
            );
            assert!(beside(&world).is_empty(), "{:?}", beside(&world));
        }
        export(&world, &["--as", "paths0"]).ended(0);
        let list = fs::read(world.path("list.txt")).unwrap();
        let paths: Vec<&[u8]> = list
            .split(|byte| *byte == 0)
            .filter(|p| !p.is_empty())
            .collect();
        assert!(paths.iter().any(|path| path.ends_with(name.as_bytes())));
    }
}

#[cfg(unix)]
#[test]
fn a_name_that_is_not_text_goes_out_byte_for_byte() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let world = World::new();
    world.dump("geminids-body-a", "card", |name| name == "N6A_0470.DNG");
    let odd = world
        .path("card/DCIM/101NCTRN")
        .join(OsStr::from_bytes(b"N6A\xff0470.DNG"));
    if fs::rename(world.path(LOST), &odd).is_err() {
        println!("skipped: this file system takes no such name");
        return;
    }
    world.run(&["ingest", "card"]).ended(0);
    let words = ["export", "", "--to", "list.txt", "--relative"];
    world.run(&words).ended(0);
    let list = fs::read(world.path("list.txt")).unwrap();
    assert_eq!(list, b"card/DCIM/101NCTRN/N6A\xff0470.DNG\n");
    let hex = manifest(&world)["files"][0]["path_hex"]
        .as_str()
        .unwrap()
        .to_owned();
    assert!(hex.ends_with(&"4e3641ff303437302e444e47"), "{hex}");
}

/// A manifest is JSON, and names its lists.
#[cfg(target_os = "linux")]
#[test]
fn a_list_whose_own_name_is_not_text_is_refused() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let world = night();
    let refused = std::process::Command::new(env!("CARGO_BIN_EXE_framefall"))
        .args(["export", "kind = light", "--to"])
        .arg(OsStr::from_bytes(b"n\xFFight.csv"))
        .current_dir(world.path("."))
        .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
        .output()
        .unwrap();
    assert_eq!(refused.status.code(), Some(2));
    let said = String::from_utf8_lossy(&refused.stderr);
    assert!(said.contains("give the list a name in UTF-8"), "{said}");
}

#[test]
fn an_export_writes_nothing_to_a_card() {
    let world = night();
    let state = || -> Vec<_> {
        files_of(&world.path("card"))
            .into_iter()
            .map(|file| {
                let about = fs::metadata(&file).unwrap();
                (
                    blake3::hash(&fs::read(&file).unwrap()),
                    about.modified().unwrap(),
                    file,
                )
            })
            .collect()
    };
    let before = state();
    export(&world, &["--check", "content"]).ended(0);
    assert_eq!(state(), before);
}

#[test]
fn what_a_killed_run_left_behind_is_taken_away_by_a_later_one() {
    let world = night();
    let (old, young) = (
        world.path(".framefall-old.part"),
        world.path(".framefall-young.part"),
    );
    for part in [&old, &young] {
        fs::write(part, b"half a li").unwrap();
    }
    let two_days_ago = std::time::SystemTime::now() - std::time::Duration::from_secs(2 * 86_400);
    File::options()
        .write(true)
        .open(&old)
        .unwrap()
        .set_modified(two_days_ago)
        .unwrap();
    export(&world, &[]).ended(0);
    assert!(!old.exists());
    assert!(young.exists(), "another run may be writing it");
}
