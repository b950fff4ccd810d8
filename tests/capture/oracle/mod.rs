//! Real camera files against general-purpose metadata libraries: every field that is read, every file.
//!
//! The oracle lines were made with `Image::ExifTool` 12.57, libexiv2 0.28.9, `ExifRead` 3.5.1, Pillow 13.0 and
//! rawpy 0.28.0 (widths and heights only). A field on which those agree must come out the same here.

// Tests may panic, and print what they skipped and measured.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod exceptions;
mod maker_notes;
mod table;

use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use framefall::capture::class::{FileClass, classify};
use framefall::capture::read::FileReader;
use framefall::terms::basis::{ClockTag, Health};
use framefall::terms::records::{CaptureRecord, FileReading};
use serde_json::Value;

use crate::oracle::exceptions::{EXCEPTIONS, NOT_WHOLE, SEEM_WHOLE, fits};
use crate::oracle::maker_notes::MakerNotes;
use crate::oracle::table::{Came, Table};

fn shared() -> Option<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/frames");
    folder.join("oracle.jsonl").is_file().then_some(folder)
}

fn lines(folder: &Path) -> Vec<Value> {
    std::fs::read_to_string(folder.join("oracle.jsonl"))
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

fn read(folder: &Path, path: &str) -> FileReading {
    let file = folder.join(path);
    let bytes = std::fs::metadata(&file).unwrap().len();
    let class = match classify(file.file_name().unwrap_or(OsStr::new(""))) {
        // Sidecars are passed over by ingest; here every file is read.
        FileClass::PassedOver(_) => FileClass::Picture,
        class => class,
    };
    let read = FileReader::new().read(&file, bytes, class);
    read.unwrap().unwrap()
}

/// One field: its name in the oracle, and our value in the oracle's form.
type Ours = (&'static str, Option<Value>);

fn number(value: Option<f64>) -> Option<Value> {
    value.map(Value::from)
}

fn text(value: Option<&String>) -> Option<Value> {
    value.map(|t| Value::from(t.as_str()))
}

fn ours(record: &CaptureRecord) -> Vec<Ours> {
    let reading = record.clock_local.map(|c| c.to_string());
    let split = reading
        .as_deref()
        .map(|r| r.split_once('.').unwrap_or((r, "")));
    let time = split.map(|(whole, _)| Value::from(whole));
    let fraction = split
        .map(|(_, fraction)| fraction)
        .filter(|f| !f.is_empty())
        .map(Value::from);
    let mut fields = vec![
        ("ExposureTime", number(record.exposure_s)),
        ("FNumber", number(record.f_number)),
        ("ISO", number(record.iso)),
        ("FocalLength", number(record.focal_mm)),
        ("FocalLengthIn35mmFormat", number(record.focal35_mm)),
        ("Make", text(record.make.as_ref())),
        ("Model", text(record.model.as_ref())),
        ("SerialNumber", text(record.serial.as_ref())),
        ("LensModel", text(record.lens.as_ref())),
        ("Orientation", number(record.orientation.map(f64::from))),
        ("ImageWidth", number(record.width_px.map(f64::from))),
        ("ImageHeight", number(record.height_px.map(f64::from))),
        ("GPSLatitude", number(record.gps_lat_deg)),
        ("GPSLongitude", number(record.gps_lon_deg)),
        ("GPSAltitude", number(record.gps_elev_m)),
        (
            "GPSDateTimeUTC",
            record.gps_utc.map(|t| Value::from(t.to_string())),
        ),
    ];
    let offset = record.utc_offset_s.map(|s| {
        let sign = if s < 0 { '-' } else { '+' };
        let minutes = s.abs() / 60;
        Value::from(format!("{sign}{:02}:{:02}", minutes / 60, minutes % 60))
    });
    match record.clock_source {
        Some(ClockTag::Original) | None => {
            fields.push(("DateTimeOriginal", time));
            fields.push(("SubSecTimeOriginal", fraction));
        }
        Some(ClockTag::Digitised) => {
            fields.push(("DateTimeOriginal", None));
            fields.push(("CreateDate", time));
        }
        Some(ClockTag::File) => {
            fields.push(("DateTimeOriginal", None));
            fields.push(("CreateDate", None));
            fields.push(("ModifyDate", time));
        }
    }
    fields.push(("OffsetTimeOriginal", offset));
    fields
}

fn same(field: &str, theirs: &Value, ours: &Value) -> bool {
    match (theirs.as_f64(), ours.as_f64()) {
        (Some(a), Some(b)) => (a - b).abs() <= 1e-9 * a.abs().max(1.0),
        _ => match (theirs.as_str(), ours.as_str()) {
            // GPS seconds with the digits they were written with; ours are milliseconds.
            (Some(a), Some(b)) if field == "GPSDateTimeUTC" => {
                framefall::terms::time::Utc::parse(a).is_some_and(|a| a.to_string() == b)
            }
            (Some(a), Some(b)) => a.trim_end() == b,
            // A name that is all digits.
            _ => theirs.to_string().trim_matches('"') == ours.to_string().trim_matches('"'),
        },
    }
}

/// The oracle's value of a field. For the offset also the two tags that can replace it.
fn theirs<'a>(line: &'a Value, field: &str) -> Option<&'a Value> {
    let value = |name: &str| line["fields"].get(name).filter(|v| !v.is_null());
    match field {
        "OffsetTimeOriginal" => value(field).or_else(|| {
            line["other"]
                .get("OffsetTimeDigitized")
                .filter(|v| v["value"].as_str().is_some_and(|t| t.len() == 6))
                .or_else(|| value("OffsetTime"))
        }),
        _ => value(field),
    }
}

/// The numbers of the exceptions that cover a field of a file.
fn exceptions_for<'a>(path: &'a str, field: &'a str) -> impl Iterator<Item = usize> + 'a {
    EXCEPTIONS
        .iter()
        .enumerate()
        .filter(move |(_, (p, f, _))| fits(p, path) && fits(f, field))
        .map(|(i, _)| i)
}

fn compare(line: &Value, field: &'static str, mine: Option<&Value>) -> (Came, String) {
    let path = line["path"].as_str().unwrap();
    let say = |theirs: &str| {
        let mine = mine.map_or("nothing".to_owned(), ToString::to_string);
        format!("{path}  {field}: oracle {theirs}, here {mine}")
    };
    let excepted = exceptions_for(path, field).next().is_some();
    let differs = |theirs: &str| {
        let came = if excepted {
            Came::Excepted
        } else {
            Came::Differs
        };
        (came, say(theirs))
    };
    if line["disputed"].get(field).is_some() {
        return (Came::Disputed, say(&line["disputed"][field].to_string()));
    }
    let Some(value) = theirs(line, field) else {
        return match mine {
            None => (Came::BothSilent, String::new()),
            Some(_) if line["other"].get(field).is_some() => (Came::Disputed, say("other")),
            // Only the Exif directory has a size; the libraries do not take it from there.
            Some(mine)
                if line["other"][format!("Exif{field}")]["value"]
                    .as_str()
                    .and_then(|v| v.parse::<f64>().ok())
                    .is_some_and(|v| Some(v) == mine.as_f64()) =>
            {
                (Came::Disputed, say("Exif only"))
            }
            Some(_) => differs("nothing"),
        };
    };
    let source = value["src"].as_str().unwrap_or("");
    let zero = value["note"]
        .as_str()
        .is_some_and(|n| n.starts_with("zero"));
    match mine {
        None if zero => (Came::Same, String::new()),
        None if source.starts_with("makernote") => (Came::Declined, say(&value.to_string())),
        Some(mine) if !zero && same(field, &value["value"], mine) => (Came::Same, String::new()),
        // A name from a table of lens numbers; the camera's own text is beside it.
        Some(mine)
            if source.starts_with("makernote-lookup")
                && line["lens_alternates"]
                    .as_array()
                    .is_some_and(|all| all.iter().any(|a| same(field, &a["value"], mine))) =>
        {
            (Came::Same, String::new())
        }
        _ => differs(&value.to_string()),
    }
}

/// The format, the state of the file, and the embedded JPEG files.
fn check_state(folder: &Path, line: &Value, reading: &FileReading) {
    let path = line["path"].as_str().unwrap();
    let format = match line["filetype"].as_str().unwrap() {
        "HEIC" => "heif".to_owned(),
        "THM" => "jpeg".to_owned(),
        "Extended WEBP" => "webp".to_owned(),
        // The libraries call a DNG's metadata in a JPEG a DNG.
        "DNG" if path.starts_with("jpeg-meta/") => "jpeg".to_owned(),
        "BTF" | "Canon 1D RAW" => "tiff".to_owned(),
        other => other.to_lowercase(),
    };
    assert_eq!(reading.format, format, "{path}");
    let flag = |name: &str| line["flags"].as_array().unwrap().iter().any(|f| f == name);
    let cut = flag("header_only") || flag("cut_here") || flag("exv_unwrapped");
    let not_whole = cut || NOT_WHOLE.iter().any(|(p, _)| fits(p, path));
    let seems_whole = !flag("cut_here") && SEEM_WHOLE.iter().any(|(p, _)| *p == path);
    if not_whole && !seems_whole {
        assert_eq!(reading.health, Health::Truncated, "{path}");
    } else if !flag("pruned_by_source") {
        let undated = reading.record.clock_local.is_none();
        let state = if undated {
            Health::NoMetadata
        } else {
            Health::Sound
        };
        assert_eq!(reading.health, state, "{path}: {:?}", reading.findings);
    }
    for finding in &reading.findings {
        assert!(framefall::terms::finding::finding_code(finding.code).is_some());
    }
    let whole = std::fs::read(folder.join(path)).unwrap();
    for jpeg in [reading.thumbnail, reading.preview].into_iter().flatten() {
        let start = usize::try_from(jpeg.offset).unwrap();
        let is_jpeg = whole[start..].starts_with(&[0xFF, 0xD8]);
        assert!(is_jpeg || flag("pruned_by_source"), "{path}: {jpeg:?}");
        let listed = |p: &Value| p["offset"] == jpeg.offset && p["length"] == jpeg.length;
        // The libraries list no JPEG items of HEIF files, no JPEG sections of X3F, and no offsets within PNG.
        let previews = line["previews"].as_array();
        assert!(
            path.starts_with("png/")
                || path.starts_with("heif/")
                || path.starts_with("x3f/")
                || previews.is_none_or(|all| all.iter().any(listed)),
            "{path}: the libraries see no preview at {jpeg:?}"
        );
    }
}

fn check(folder: &Path) {
    let mut table = Table::new();
    let mut notes = MakerNotes::read();
    for line in lines(folder) {
        let path = line["path"].as_str().unwrap();
        if path.starts_with("hostile/") {
            continue;
        }
        let reading = read(folder, path);
        check_state(folder, &line, &reading);
        notes.check(path, &reading.record);
        for (field, mine) in ours(&reading.record) {
            let (came, saying) = compare(&line, field, mine.as_ref());
            table.note(field, came);
            if came == Came::Excepted {
                table
                    .used
                    .extend(exceptions_for(line["path"].as_str().unwrap(), field));
            }
            if matches!(came, Came::Differs) {
                table.differences.push(saying);
            } else if matches!(came, Came::Disputed | Came::Excepted) {
                println!("{came:?}: {saying}");
            }
        }
    }
    // An exception that nothing needs any more must go; the committed set needs only some of them.
    if folder.ends_with("shared/frames") {
        let unused: Vec<_> = (0..EXCEPTIONS.len())
            .filter(|i| !table.used.contains(i))
            .collect();
        assert!(
            unused.is_empty(),
            "exceptions that nothing needs: {unused:?}"
        );
    }
    table.print();
    println!("maker notes: {} values the same", notes.same);
    assert!(notes.same > 5, "hardly a maker note was read");
    assert!(notes.differences.is_empty(), "{:#?}", notes.differences);
    assert!(
        table.differences.is_empty(),
        "{} differences, listed above",
        table.differences.len()
    );
}

#[test]
fn every_shared_frame_agrees_with_the_libraries() {
    let Some(folder) = shared() else {
        println!("skipped: the shared frames are not here");
        return;
    };
    check(&folder);
}

#[test]
fn every_committed_frame_agrees_with_the_libraries() {
    check(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/frames"));
}
