//! The list for the stacking step: which file of a frame, which paths, which order, which reference frame.

use crate::world;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use crate::world::World;

const LIGHTS: &str = "kind = light and health = sound";

/// Two bodies' cards of one night.
fn night() -> World {
    let world = World::new();
    world.dump("geminids-body-a", "a", |_| true);
    world.dump("geminids-body-b", "b", |_| true);
    world.site("Salt Ridge", "38.93N", "116.01W");
    world.run(&["ingest", "--site", "Salt Ridge", "a", "b"]);
    world
}

fn rows(list: &Path) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_path(list).unwrap();
    reader.deserialize().map(Result::unwrap).collect()
}

fn lines(list: &Path) -> Vec<String> {
    let text = fs::read_to_string(list).unwrap();
    text.lines().map(str::to_owned).collect()
}

fn is_named(path: &str, ending: &str) -> bool {
    Path::new(path).extension().is_some_and(|e| e == ending)
}

/// The names of the files in the world's folder.
fn names(world: &World, with: &str) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(world.path(""))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.contains(with))
        .collect();
    names.sort();
    names
}

#[test]
fn a_frame_is_handed_on_by_its_raw_file_or_by_its_jpeg() {
    let world = night();
    let pairs = "file in (N6A_0459.DNG, N6A_0460.DNG, N6A_0461.DNG)";
    world.run(&["export", pairs, "--to", "first.txt"]).ended(0);
    let first = lines(&world.path("first.txt"));
    assert!(first.iter().all(|path| is_named(path, "DNG")), "{first:?}");
    world
        .run(&["export", pairs, "--to", "raw.txt", "--take", "raw"])
        .ended(0);
    assert_eq!(lines(&world.path("raw.txt")), first);
    world
        .run(&["export", pairs, "--to", "jpeg.csv", "--take", "jpeg"])
        .ended(0);
    let jpegs = rows(&world.path("jpeg.csv"));
    assert_eq!(jpegs.len(), first.len());
    for (jpeg, raw) in jpegs.iter().zip(&first) {
        assert_eq!(jpeg["path"], raw.replace(".DNG", ".JPG"));
        assert_eq!(jpeg["format"], "jpeg");
        assert!(jpeg["path"].ends_with(&jpeg["file"]));
        let bytes = fs::metadata(&jpeg["path"]).unwrap().len();
        assert_eq!(jpeg["bytes"], bytes.to_string());
    }
}

#[test]
fn a_frame_without_the_kind_asked_for_is_named_and_the_list_refused() {
    let world = night();
    let query = "file in (N6A_0456.DNG, N6A_0460.DNG, N6A_0461.DNG)";
    let said = world
        .run(&["export", query, "--to", "jpeg.txt", "--take", "jpeg"])
        .ended(2);
    assert!(said.err.contains("kind-lacking"), "{}", said.err);
    assert!(said.err.contains("N6A_0456.DNG"), "{}", said.err);
    assert!(said.err.contains("no JPEG, only dng"), "{}", said.err);
    assert_eq!(names(&world, "jpeg.txt"), [""; 0]);
    world
        .run(&[
            "export",
            query,
            "--to",
            "jpeg.txt",
            "--take",
            "jpeg",
            "--allow-missing",
        ])
        .ended(1);
    let list = lines(&world.path("jpeg.txt"));
    assert!(!list.is_empty() && list.iter().all(|path| is_named(path, "JPG")));
}

#[test]
fn a_frame_that_has_only_a_jpeg_is_told_of_among_raw_files() {
    let world = World::new();
    world.dump("geminids-body-a", "a", |name| {
        !matches!(name, "N6A_0460.DNG")
    });
    world.run(&["ingest", "a"]).ended(0);
    let said = world
        .run(&[
            "export",
            "file in (N6A_0460.JPG, N6A_0461.DNG)",
            "--to",
            "list.txt",
        ])
        .ended(0);
    assert!(
        said.err.contains("1 of them has no raw file"),
        "{}",
        said.err
    );
    let list = lines(&world.path("list.txt"));
    assert_eq!(list.iter().filter(|path| is_named(path, "JPG")).count(), 1);
    world
        .run(&[
            "export",
            "file in (N6A_0460.JPG, N6A_0461.DNG)",
            "--to",
            "raw.txt",
            "--take",
            "raw",
        ])
        .ended(2);
}

#[test]
fn of_copies_on_several_dumps_the_first_that_is_there_is_taken() {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.dump("geminids-body-a", "backup", |_| true);
    world.run(&["ingest", "card"]).ended(0);
    world.run(&["ingest", "backup"]).ended(0);
    let export = |to: &str| {
        world
            .run(&["export", LIGHTS, "--to", to, "--relative"])
            .ended(0);
        lines(&world.path(to))
    };
    let all = export("all.txt");
    assert!(all.iter().all(|path| path.starts_with("card/")), "{all:?}");
    fs::remove_file(world.path(&all[3])).unwrap();
    let one = export("one.txt");
    assert_eq!(one[3], all[3].replace("card/", "backup/"));
    assert_eq!(
        one.iter()
            .filter(|path| path.starts_with("backup/"))
            .count(),
        1
    );
    fs::rename(world.path("card"), world.path("elsewhere")).unwrap();
    let away = export("away.txt");
    assert_eq!(away.len(), all.len());
    assert!(away.iter().all(|path| path.starts_with("backup/")));
}

#[test]
fn paths_are_absolute_or_lead_from_the_list_or_from_a_root() {
    let world = night();
    fs::create_dir(world.path("lists")).unwrap();
    let export = |to: &str, words: &[&str]| {
        let all = [&["export", LIGHTS, "--to", to], words].concat();
        world.run(&all)
    };
    export("lists/absolute.txt", &[]).ended(0);
    let absolute = lines(&world.path("lists/absolute.txt"));
    assert!(absolute.iter().all(|path| Path::new(path).is_file()));

    export("lists/relative.txt", &["--relative"]).ended(0);
    for (line, whole) in lines(&world.path("lists/relative.txt"))
        .iter()
        .zip(&absolute)
    {
        assert!(
            line.starts_with("../a/") || line.starts_with("../b/"),
            "{line}"
        );
        let found = fs::canonicalize(world.path("lists").join(line)).unwrap();
        assert_eq!(found, fs::canonicalize(whole).unwrap());
    }

    let root = world.path("");
    export("lists/root.csv", &["--root", root.to_str().unwrap()]).ended(0);
    for (row, whole) in rows(&world.path("lists/root.csv")).iter().zip(&absolute) {
        assert_eq!(
            fs::canonicalize(root.join(&row["path"])).unwrap(),
            fs::canonicalize(whole).unwrap()
        );
    }

    let narrow = world.path("a");
    let said = export("lists/narrow.txt", &["--root", narrow.to_str().unwrap()]).ended(2);
    assert!(said.err.contains("is outside"), "{}", said.err);
    assert!(
        said.err.contains("/b/DCIM/"),
        "the file is named: {}",
        said.err
    );
    assert!(!world.path("lists/narrow.txt").exists());
}

#[test]
fn rows_stand_in_the_order_of_their_starts_and_undated_ones_last_by_clock_then_path() {
    let world = World::new();
    // No site: body B's frames have a clock reading and no UTC.
    world.dump("geminids-body-a", "a", |_| true);
    world.dump("geminids-body-b", "b", |_| true);
    world.run(&["ingest", "a", "b"]);
    let reading = "2023:12:13 23:00:00";
    for name in ["z", "m", "a"] {
        world.write(&format!("c/{name}/X.DNG"), &with_bytes(reading, name));
    }
    world.run(&["ingest", "c"]).ended(0);
    // One without a clock reading either: unknown comes last.
    world.write("d/N.DNG", &with_bytes("0000:00:00 00:00:00", "n"));
    world.run(&["ingest", "d"]);
    let query = "kind = light or file = X.DNG or file = N.DNG";
    world
        .run(&["export", query, "--to", "list.csv", "--with-damaged"])
        .ended(0);
    let mut rows = rows(&world.path("list.csv"));
    let shown = world
        .run(&["frames", query, "--show", "path,clock", "--as", "csv"])
        .ended(0);
    for last in [rows.pop().unwrap()["path"].as_str(), shown.out.trim_end()] {
        assert!(last.trim_end_matches(',').ends_with("d/N.DNG"), "{last}");
    }
    let undated: Vec<_> = rows
        .iter()
        .skip_while(|row| !row["start_utc"].is_empty())
        .collect();
    assert!(undated.len() > 20 && undated.len() < rows.len());
    assert!(undated.iter().all(|row| row["start_utc"].is_empty()));
    let dated: Vec<&String> = rows
        .iter()
        .map(|row| &row["start_utc"])
        .filter(|s| !s.is_empty())
        .collect();
    assert!(dated.is_sorted());
    let keys: Vec<(&str, &str)> = undated
        .iter()
        .map(|row| (row["clock_local"].as_str(), row["path"].as_str()))
        .collect();
    assert!(keys.is_sorted(), "{keys:?}");
    let same: Vec<_> = keys.iter().filter(|key| key.1.ends_with("X.DNG")).collect();
    assert_eq!(same.len(), 3);
}

/// A frame with this reading, and different last bytes.
fn with_bytes(reading: &str, own: &str) -> Vec<u8> {
    let mut bytes = world::frame_at(reading);
    bytes.extend(own.bytes().cycle().take(64));
    bytes
}

#[test]
fn the_earliest_frames_alone_and_the_columns_chosen() {
    let world = night();
    world.run(&["export", LIGHTS, "--to", "all.csv"]).ended(0);
    world
        .run(&[
            "export",
            LIGHTS,
            "--to",
            "five.jsonl",
            "--limit",
            "5",
            "--show",
            "file,start,GEM.alt,reference_turn",
        ])
        .ended(0);
    let five = lines(&world.path("five.jsonl"));
    assert_eq!(five.len(), 5);
    for (line, row) in five.iter().zip(rows(&world.path("all.csv"))) {
        let object: serde_json::Value = serde_json::from_str(line).unwrap();
        let keys: Vec<&String> = object.as_object().unwrap().keys().collect();
        assert_eq!(
            keys,
            ["file", "start_utc", "GEM_alt_deg", "reference_turn_deg"]
        );
        assert_eq!(object["file"].as_str().unwrap(), row["file"]);
    }
    let twice = world
        .run(&[
            "export",
            LIGHTS,
            "--to",
            "x.csv",
            "--show",
            "file,reference,reference",
        ])
        .ended(2);
    assert!(twice.err.contains("is named twice"), "{}", twice.err);
    let paths = world
        .run(&["export", LIGHTS, "--to", "x.txt", "--show", "file"])
        .ended(2);
    assert!(
        paths.err.contains("a list of paths has no columns"),
        "{}",
        paths.err
    );
}

/// A folder of dumps went to another disk, and a link was left in its place.
#[cfg(unix)]
#[test]
fn a_root_and_a_reference_are_found_over_a_link_too() {
    let world = World::new();
    world.dump("geminids-body-b", "photos/b", |_| true);
    world.site("Salt Ridge", "38.93N", "116.01W");
    world.run(&["ingest", "--site", "Salt Ridge", "photos/b"]);
    fs::rename(world.path("photos"), world.path("disk")).unwrap();
    std::os::unix::fs::symlink(world.path("disk"), world.path("photos")).unwrap();
    let reference = "photos/b/DCIM/100NCTRN/N2M_2208.DNG";
    for (list, root) in [("one.csv", "photos"), ("two.csv", "disk")] {
        let named = ["--root", root, "--reference", reference];
        let words = ["export", LIGHTS, "--to", list];
        world.run(&[&words[..], &named].concat()).ended(0);
        let rows = rows(&world.path(list));
        let referred: Vec<&str> = rows
            .iter()
            .filter(|row| row["reference_turn_deg"] == "0")
            .map(|row| row["path"].as_str())
            .collect();
        assert_eq!(referred, ["b/DCIM/100NCTRN/N2M_2208.DNG"]);
        for row in &rows {
            assert!(world.path("disk").join(&row["path"]).is_file());
        }
    }
}
