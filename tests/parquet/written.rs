//! Parquet exports read by the format's own reader; which options go together; folders that appear complete or not at all.

#![cfg(feature = "parquet")]

use crate::years;
use std::collections::BTreeMap;
use std::fs;
use std::fs::File;
use std::path::Path;
use std::path::PathBuf;

use crate::world::World;
use crate::world::files_of;
use parquet::file::reader::FileReader;
use parquet::file::reader::SerializedFileReader;
use parquet::record::RowAccessor;

fn reader(file: &Path) -> SerializedFileReader<File> {
    SerializedFileReader::new(File::open(file).unwrap()).unwrap()
}

/// The files of a data set below its folder, with their counts of rows.
fn counts(folder: &Path) -> BTreeMap<String, i64> {
    let below = |file: &PathBuf| {
        let below = file.strip_prefix(folder).unwrap();
        below.to_string_lossy().replace('\\', "/")
    };
    let files = files_of(folder);
    files
        .iter()
        .map(|file| {
            (
                below(file),
                reader(file).metadata().file_metadata().num_rows(),
            )
        })
        .collect()
}

/// Files of the world's folder that are neither dumps nor the catalogue.
fn left_behind(world: &World) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(world.path(""))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.contains("framefall-") || name.contains("parquet"))
        .collect();
    names.sort();
    names
}

#[test]
fn years_have_folders_and_frames_without_a_night_have_their_own() {
    let world = years::archive();
    let said = world
        .run(&["export", "", "--as", "parquet", "--per-year", "--to", "set"])
        .ended(0);
    let all: i64 = world
        .run(&["frames", "--count"])
        .out
        .trim()
        .parse()
        .unwrap();
    assert!(said.err.contains(&format!("{all} frames")), "{}", said.err);
    let counts = counts(&world.path("set"));
    let of = |file: &str| {
        counts
            .get(&format!("frames/night_year={file}.parquet"))
            .copied()
    };
    let years = world
        .run(&["frames", "--per", "year", "--as", "json"])
        .json();
    for row in years.as_array().unwrap() {
        let year = row["year"].as_str().unwrap_or("__HIVE_DEFAULT_PARTITION__");
        let parts = (0..9).filter_map(|part| of(&format!("{year}/part-{part}")));
        assert_eq!(Some(parts.sum()), row["frames"].as_i64(), "{year}");
    }
    // The night of New Year's Eve is the old year's; in 2022 there is that of August alone.
    assert_eq!(of("2021/part-0"), Some(3));
    assert_eq!(of("2022/part-0"), Some(1));
    assert_eq!(of("__HIVE_DEFAULT_PARTITION__/part-0"), Some(1));
    // A frame whose UTC is not known comes when its year's files are closed long since.
    assert_eq!(of("2017/part-0"), Some(1));
    assert_eq!(of("2017/part-1"), Some(1));
    let sum = |table: &str| -> i64 {
        let of_table = counts.iter().filter(|(file, _)| file.starts_with(table));
        of_table.map(|(_, rows)| rows).sum()
    };
    assert_eq!(sum("frames/"), all);
    // Engines need the same folders in both tables, with rows or without.
    let folders = |table: &str| -> Vec<String> {
        let of_table = counts.keys().filter_map(|file| file.strip_prefix(table));
        of_table.map(str::to_owned).collect()
    };
    assert_eq!(folders("frames/"), folders("radiants/"));
    let radiants: i64 = said.err.split_whitespace().nth(3).unwrap().parse().unwrap();
    assert_eq!(sum("radiants/"), radiants);
    assert_eq!(left_behind(&world), [""; 0]);
}

#[test]
fn a_file_says_where_it_comes_from_and_keeps_the_order_of_the_starts() {
    let world = years::archive();
    world
        .run(&["query", "save", "lights", "kind = light"])
        .ended(0);
    world
        .run(&[
            "export",
            "@lights",
            "--to",
            "lights.parquet",
            "--limit",
            "50",
        ])
        .ended(0);
    let frames = reader(&world.path("lights.parquet"));
    let about = frames.metadata().file_metadata();
    assert_eq!(about.num_rows(), 50);
    assert_eq!(
        about.created_by(),
        Some(concat!("framefall version ", env!("CARGO_PKG_VERSION")))
    );
    let notes: BTreeMap<&str, &str> = about
        .key_value_metadata()
        .unwrap()
        .iter()
        .map(|note| (note.key.as_str(), note.value.as_deref().unwrap_or_default()))
        .collect();
    assert_eq!(notes["framefall.schema"], "framefall.frames/1");
    assert_eq!(notes["framefall.query"], "@lights");
    assert_eq!(notes["framefall.meaning"], "kind = light");
    assert_eq!(notes["framefall.limit"], "50");
    assert_eq!(notes["framefall.version"], env!("CARGO_PKG_VERSION"));
    assert!(framefall::terms::time::Utc::parse(notes["framefall.written_utc"]).is_some());
    let listed = world
        .run(&[
            "frames", "@lights", "--limit", "50", "--show", "file", "--as", "csv",
        ])
        .ended(0);
    let listed: Vec<&str> = listed.out.lines().skip(1).collect();
    let names: Vec<String> = frames
        .get_row_iter(None)
        .unwrap()
        .map(|row| row.unwrap().get_string(2).unwrap().clone())
        .collect();
    assert_eq!(names, listed);
    let radiants = reader(&world.path("lights.radiants.parquet"));
    let ids: Vec<i64> = frames
        .get_row_iter(None)
        .unwrap()
        .map(|row| row.unwrap().get_long(0).unwrap())
        .collect();
    for row in radiants.get_row_iter(None).unwrap() {
        let row = row.unwrap();
        assert!(ids.contains(&row.get_long(0).unwrap()));
        assert_eq!(row.get_string(1).unwrap().len(), 3);
    }
}

#[test]
fn a_dry_run_counts_what_would_be_written_and_refuses_what_the_export_refuses() {
    let world = years::archive();
    for words in [
        &["--as", "parquet", "--per-year", "--to", "set"][..],
        &["--as", "parquet", "--to", "whole"],
        &["--to", "one.parquet"],
    ] {
        let export = [&["export", "kind = light"], words].concat();
        let dry = [&export[..], &["--dry-run"]].concat();
        let plan = world.run(&dry).ended(0).err;
        assert!(plan.contains("a dry run: nothing was written"), "{plan}");
        assert_eq!(left_behind(&world), Vec::<String>::new());
        assert!(!world.path(words[words.len() - 1]).exists());
        let done = world.run(&export).ended(0).err;
        let first = plan.lines().next().unwrap();
        assert_eq!(first.replace("would be written", "written"), done.trim());
        assert!(world.run(&dry).ended(2).err.contains("--overwrite"));
    }
}

#[test]
fn a_question_without_an_answer_writes_nothing() {
    let world = years::archive();
    let said = world
        .run(&["export", "iso > 1e6", "--as", "parquet", "--to", "none"])
        .ended(1);
    assert!(said.err.contains("none was not written"), "{}", said.err);
    assert!(!world.path("none").exists());
    assert_eq!(left_behind(&world), [""; 0]);
}

#[test]
fn a_folder_is_replaced_only_when_asked_and_when_it_holds_a_data_set_alone() {
    let world = years::archive();
    let set = world.path("set");
    let export = |query: &str, more: &[&str]| {
        let words = [&["export", query, "--as", "parquet", "--to", "set"], more].concat();
        world.run(&words)
    };
    export("", &["--per-year"]).ended(0);
    let before = counts(&set);
    let said = export("kind = light", &[]).ended(2);
    assert!(said.err.contains("already exists"), "{}", said.err);
    assert_eq!(counts(&set), before);
    export("kind = light", &["--overwrite"]).ended(0);
    let lights = world.run(&["frames", "kind = light", "--count"]).out;
    let after = counts(&set);
    assert_eq!(after.len(), 2, "nothing of the old one is left: {after:?}");
    assert_eq!(after["frames/part-0.parquet"].to_string(), lights.trim());
    // A file of the user, wherever it is.
    for own in [
        "notes.txt",
        "frames/notes.parquet",
        "frames/night_year=2023/more/part-0.parquet",
    ] {
        world.write(&format!("set/{own}"), b"mine");
        let said = export("", &["--overwrite"]).ended(2);
        assert!(
            said.err.contains("contains more than a Parquet export"),
            "{}",
            said.err
        );
        assert_eq!(fs::read(set.join(own)).unwrap(), b"mine");
        fs::remove_file(set.join(own)).unwrap();
        let folder = set.join(own);
        if own.contains("more") {
            fs::remove_dir_all(folder.parent().unwrap().parent().unwrap()).unwrap();
        }
        assert_eq!(counts(&set), after);
    }
    let said = world
        .run(&[
            "export",
            "",
            "--as",
            "parquet",
            "--to",
            "catalogue.sqlite",
            "--overwrite",
        ])
        .ended(2);
    assert!(said.err.contains("this is a file"), "{}", said.err);
    assert_eq!(left_behind(&world), [""; 0]);
}

/// A limit on file sizes replaces a full disk: the write fails in the same place, with another error number.
#[cfg(target_os = "linux")]
#[test]
fn a_disk_that_is_full_leaves_the_old_data_set() {
    let world = years::archive();
    world
        .run(&[
            "export", "", "--as", "parquet", "--to", "set", "--limit", "3",
        ])
        .ended(0);
    world
        .run(&["export", "", "--to", "one.parquet", "--limit", "3"])
        .ended(0);
    let (before, file) = (
        counts(&world.path("set")),
        fs::read(world.path("one.parquet")).unwrap(),
    );
    let program = env!("CARGO_BIN_EXE_framefall");
    // Whoever has the catalogue open has made the file that its readers share.
    let open = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    let frames: i64 = open
        .query_row("SELECT count(*) FROM written_frame", [], |row| row.get(0))
        .unwrap();
    assert!(frames > 0);
    for words in [
        format!("exec '{program}' export '' --as parquet --to set --overwrite"),
        format!("exec '{program}' export '' --as parquet --per-year --to new"),
        format!("exec '{program}' export '' --to one.parquet --overwrite"),
    ] {
        let said = std::process::Command::new("sh")
            .args(["-c", &format!("trap '' XFSZ; ulimit -f 8; {words}")])
            .current_dir(world.path(""))
            .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
            .output()
            .unwrap();
        let err = String::from_utf8(said.stderr).unwrap();
        assert_eq!(said.status.code(), Some(2), "{err}");
        assert!(err.contains("could not be written"), "{err}");
    }
    assert_eq!(counts(&world.path("set")), before);
    assert_eq!(fs::read(world.path("one.parquet")).unwrap(), file);
    assert!(!world.path("new").exists());
    assert_eq!(left_behind(&world), ["one.parquet", "one.radiants.parquet"]);
}

#[test]
fn words_of_lists_and_of_data_sets_are_not_mixed() {
    let world = World::new();
    let folder: &[&str] = &["--as", "parquet", "--to", "set"];
    for (words, told) in [
        (
            [folder, &["--take", "raw"]].concat(),
            "--take applies to lists",
        ),
        (
            [folder, &["--relative"]].concat(),
            "--relative applies to lists",
        ),
        (
            [folder, &["--show", "file"]].concat(),
            "--show applies to lists",
        ),
        (
            [folder, &["--check", "files"]].concat(),
            "--check applies to lists",
        ),
        (
            vec!["--as", "csv", "--to", "set", "--per-year"],
            "applies only to Parquet",
        ),
        (vec!["--to", "set", "--per-year"], "add --as parquet"),
        (vec!["--to", "set.parquet", "--per-year"], "name a folder"),
    ] {
        let said = world
            .run(&[&["export", "kind = light"], words.as_slice()].concat())
            .ended(2);
        assert!(said.err.contains(told), "{}", said.err);
    }
}

/// More rows than a group holds, unknown values at every border of a stretch, texts that repeat and texts that do not.
#[test]
fn rows_of_many_groups_come_back_as_they_went() {
    use framefall::framelist::dataset::{About, DataColumn, Presence, TableFile};
    use framefall::terms::field::{FRAME_ID, field_keyed};
    use framefall::terms::records::Cell;

    const ROWS: i64 = 230_000;
    let optional = |key| DataColumn {
        field: field_keyed(key).unwrap(),
        presence: Presence::Optional,
    };
    let always = DataColumn {
        field: &FRAME_ID,
        presence: Presence::Always,
    };
    let columns = [always, optional("file"), optional("camera")];
    let about = About {
        table: "frames",
        made_by: "framefall version 0",
        notes: &[],
        ordered_by: "frame_id",
    };
    let file = |at: i64| (at % 4_096 > 2).then(|| format!("N{at}.DNG"));
    let camera = |at: i64| (at / 5_000 % 3 > 0).then(|| format!("body {}", at / 50_000));
    let cell = |text: Option<String>| text.map_or(Cell::Unknown, Cell::Text);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("many.parquet");
    let mut table = TableFile::begin(&columns, &about, File::create(&path).unwrap()).unwrap();
    for at in 0..ROWS {
        table
            .row(&[Cell::Whole(at), cell(file(at)), cell(camera(at))])
            .unwrap();
    }
    assert!(table.row(&[Cell::Whole(0), Cell::Unknown]).is_err());
    table.finish().unwrap();
    let reader = reader(&path);
    assert_eq!(reader.metadata().num_row_groups(), 3);
    let mut rows = 0;
    for (row, at) in reader.get_row_iter(None).unwrap().zip(0..) {
        let row = row.unwrap();
        assert_eq!(row.get_long(0).unwrap(), at);
        assert_eq!(row.get_string(1).ok(), file(at).as_ref());
        assert_eq!(row.get_string(2).ok(), camera(at).as_ref());
        rows += 1;
    }
    assert_eq!(rows, ROWS);
}

/// The signal of the limit is held off by the shell, so that the error arrives.
#[cfg(unix)]
#[test]
fn a_disk_that_takes_no_more_is_told_with_what_to_do() {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.run(&["ingest", "card"]).ended(0);
    for to in ["set", "one.parquet"] {
        let script = "trap '' XFSZ; ulimit -f 2; exec \"$0\" export '' --as parquet --to \"$1\"";
        let said = std::process::Command::new("sh")
            .args(["-c", script, env!("CARGO_BIN_EXE_framefall"), to])
            .current_dir(world.path(""))
            .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
            .output()
            .unwrap();
        assert_eq!(said.status.code(), Some(2));
        let err = String::from_utf8_lossy(&said.stderr);
        assert!(
            err.contains("a file cannot become that large here"),
            "{err}"
        );
        assert!(err.contains("raise the limit"), "{err}");
    }
    assert_eq!(left_behind(&world), Vec::<String>::new());
}
