//! The demo dumps: generated again they are the same, small, complete, and match their scenario.
//!
//! The files are read here by readers that are not ours (kamadak-exif, zune-jpeg), never by framefall.

use crate::studio;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use crate::studio::{Dump, RUNS, Shot};
use exif::{Context, Exif, In, Tag, Value};
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;

/// What a binary carries when it embeds the demo.
const EMBEDDED: &[(&str, &[u8])] = include!("../../demo-data/files.rs");

fn demo_data() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data")
}

/// Every file under `demo-data/cards`, by its path below `demo-data`.
fn on_disk() -> BTreeMap<String, Vec<u8>> {
    let root = demo_data();
    walkdir::WalkDir::new(root.join("cards"))
        .into_iter()
        .map(Result::unwrap)
        .filter(|entry| entry.file_type().is_file())
        .map(|entry| {
            let below = entry.path().strip_prefix(&root).unwrap();
            let names: Vec<_> = below.iter().map(|name| name.to_str().unwrap()).collect();
            (names.join("/"), fs::read(entry.path()).unwrap())
        })
        .collect()
}

fn has_extension(path: &str, extension: &str) -> bool {
    Path::new(path)
        .extension()
        .is_some_and(|one| one == extension)
}

fn is_made_again(dump: Dump) {
    let made = studio::dump_files(dump).unwrap();
    assert!(made.len() > 20, "a dump of {} files", made.len());
    for file in made {
        let here = fs::read(demo_data().join(&file.path)).unwrap_or_default();
        assert!(here == file.bytes, "{} is made otherwise now", file.path);
    }
}

#[test]
fn geminids_of_body_a_are_made_again() {
    is_made_again(Dump::GeminidsA);
}

#[test]
fn geminids_of_body_b_are_made_again() {
    is_made_again(Dump::GeminidsB);
}

#[test]
fn eta_aquariids_are_made_again() {
    is_made_again(Dump::EtaAquariids);
}

#[test]
fn quadrantids_are_made_again() {
    is_made_again(Dump::Quadrantids);
}

#[test]
fn the_lists_are_made_again() {
    let paths = on_disk();
    let list = fs::read_to_string(demo_data().join("files.rs")).unwrap();
    assert_eq!(list, studio::list(paths.keys().map(String::as_str)));
    let expected = fs::read_to_string(demo_data().join("expected.toml")).unwrap();
    assert_eq!(expected, studio::expected().unwrap());
}

#[test]
fn what_a_binary_embeds_is_what_lies_on_the_disk() {
    let embedded: BTreeMap<String, Vec<u8>> = EMBEDDED
        .iter()
        .map(|(path, bytes)| ((*path).to_owned(), bytes.to_vec()))
        .collect();
    assert!(embedded == on_disk(), "demo-data/files.rs is not the demo");
}

#[test]
fn the_demo_is_small() {
    let total: usize = on_disk().values().map(Vec::len).sum();
    assert!(total < 3_000_000, "{total} bytes");
}

#[test]
fn every_picture_can_be_opened() {
    let (mut jpegs, mut previews) = (0, 0);
    for (path, bytes) in on_disk() {
        if has_extension(&path, "JPG") {
            assert_eq!(jpeg_sides(&bytes), (240, 160), "{path}");
            jpegs += 1;
        } else if has_extension(&path, "DNG") {
            let exif = read_tags(&path, &bytes);
            let at = |tag| exif.get_field(tag, In::PRIMARY).unwrap().value.get_uint(0);
            let start = at(Tag::StripOffsets).unwrap() as usize;
            let length = at(Tag::StripByteCounts).unwrap() as usize;
            let sides = jpeg_sides(&bytes[start..start + length]);
            assert_eq!(Some(u32::from(sides.0)), at(Tag::ImageWidth), "{path}");
            assert_eq!(Some(u32::from(sides.1)), at(Tag::ImageLength), "{path}");
            previews += 1;
        }
    }
    assert!(jpegs > 40 && previews > 100, "{jpegs} and {previews}");
}

fn jpeg_sides(bytes: &[u8]) -> (u16, u16) {
    let mut decoder = JpegDecoder::new(ZCursor::new(bytes));
    let pixels = decoder.decode().unwrap();
    let (width, height) = decoder.dimensions().unwrap();
    assert_eq!(pixels.len(), width * height * 3);
    (width.try_into().unwrap(), height.try_into().unwrap())
}

fn read_tags(path: &str, bytes: &[u8]) -> Exif {
    let mut reader = std::io::Cursor::new(bytes);
    exif::Reader::new()
        .read_from_container(&mut reader)
        .unwrap_or_else(|error| panic!("{path}: {error}"))
}

fn words(exif: &Exif, tag: Tag) -> Option<String> {
    match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Ascii(parts) => Some(String::from_utf8(parts[0].clone()).unwrap()),
        other => panic!("{tag}: {other:?}"),
    }
}

fn numbers(exif: &Exif, tag: Tag) -> Vec<f64> {
    match exif.get_field(tag, In::PRIMARY).map(|field| &field.value) {
        Some(Value::Rational(parts)) => parts.iter().map(exif::Rational::to_f64).collect(),
        Some(Value::Short(parts)) => parts.iter().map(|&part| f64::from(part)).collect(),
        other => panic!("{tag}: {other:?}"),
    }
}

/// Every value below is compared bit for bit, but for places, which a receiver finds within metres.
#[test]
fn the_files_say_what_the_story_says() {
    let files = on_disk();
    let mut compared = 0;
    for shot in RUNS.iter().flat_map(|run| Shot::of_run(run).unwrap()) {
        for extension in shot.extensions() {
            let label = shot.run.dump.label();
            let path = format!("cards/{label}/{}.{extension}", shot.path());
            let exif = read_tags(&path, &files[&path]);
            the_settings_agree(&exif, &shot);
            the_clock_agrees(&exif, &shot);
            the_receiver_agrees(&exif, &shot);
            compared += 1;
        }
    }
    // The copied frame is compared with its original instead.
    assert_eq!(compared, 173);
    let copy = &files["cards/geminids-body-b/DCIM/101NCTRN/N6A_0430.DNG"];
    assert!(copy == &files["cards/geminids-body-a/DCIM/100NCTRN/N6A_0430.DNG"]);
}

fn the_settings_agree(exif: &Exif, shot: &Shot) {
    let ratio = |(n, d): (u32, u32)| vec![f64::from(n) / f64::from(d)];
    let (body, lens) = (&shot.run.body, &shot.run.lens);
    assert_eq!(words(exif, Tag::Make).unwrap(), "Nocturne");
    assert_eq!(words(exif, Tag::Model).unwrap(), body.model);
    assert_eq!(words(exif, Tag::BodySerialNumber).unwrap(), body.serial);
    assert_eq!(words(exif, Tag::LensModel).unwrap(), lens.name);
    assert_eq!(numbers(exif, Tag::FocalLength), [f64::from(lens.focal_mm)]);
    assert_eq!(
        numbers(exif, Tag::ExposureTime),
        ratio(shot.setting.exposure_s)
    );
    assert_eq!(numbers(exif, Tag::FNumber), ratio(shot.setting.f_number));
    let iso = f64::from(shot.setting.iso);
    assert_eq!(numbers(exif, Tag::PhotographicSensitivity), [iso]);
    assert_eq!(exif.little_endian(), !body.knows_place);
}

fn the_clock_agrees(exif: &Exif, shot: &Shot) {
    let written = words(exif, Tag::DateTimeOriginal).unwrap();
    let Some(clock) = shot.clock().unwrap() else {
        assert_eq!(written, "0000:00:00 00:00:00");
        return;
    };
    let (seconds, fraction) = clock.split_once('.').unwrap_or((&clock, ""));
    let date = &seconds.replace('-', ":").replace('T', " ");
    assert_eq!(&written, date);
    let part = words(exif, Tag::SubSecTimeOriginal);
    assert_eq!(part.unwrap_or_default(), fraction);
    // Clock and offset together give the true instant; reckoned by jiff from the text in the file.
    if let Some(offset) = words(exif, Tag::OffsetTimeOriginal) {
        let instant: jiff::Timestamp = format!("{clock}{offset}").parse().unwrap();
        assert_eq!(instant.as_millisecond(), shot.start_ms);
    } else {
        assert!(!shot.run.body.knows_place);
    }
}

fn the_receiver_agrees(exif: &Exif, shot: &Shot) {
    if !shot.run.body.knows_place {
        assert!(
            exif.fields()
                .all(|field| field.tag.context() != Context::Gps)
        );
        return;
    }
    let site = &shot.run.site;
    let degrees = |tag, side| {
        let parts = numbers(exif, tag);
        let angle = parts[0] + parts[1] / 60.0 + parts[2] / 3600.0;
        let sign = match words(exif, side).unwrap().as_str() {
            "N" | "E" => 1.0,
            "S" | "W" => -1.0,
            other => panic!("{other}"),
        };
        sign * angle
    };
    let lat = degrees(Tag::GPSLatitude, Tag::GPSLatitudeRef);
    let lon = degrees(Tag::GPSLongitude, Tag::GPSLongitudeRef);
    assert!((lat - site.lat_deg).abs() * 111_195.0 < 5.0, "{lat}");
    assert!((lon - site.lon_deg).abs() * 111_195.0 < 5.0, "{lon}");
    let elevation = numbers(exif, Tag::GPSAltitude)[0];
    assert!((elevation - site.elev_m).abs() < 5.0, "{elevation}");
    let date = words(exif, Tag::GPSDateStamp).unwrap().replace(':', "-");
    let clock = numbers(exif, Tag::GPSTimeStamp);
    let fix = format!("{date}T{:02}:{:02}:{:02}Z", clock[0], clock[1], clock[2]);
    let fix: jiff::Timestamp = fix.parse().unwrap();
    assert!((0..1000).contains(&(shot.start_ms - fix.as_millisecond())));
}

/// `expected.toml` against the files themselves: counts by walking, times by the tags.
#[test]
fn what_is_expected_can_be_counted() {
    let text = fs::read_to_string(demo_data().join("expected.toml")).unwrap();
    let expected: toml::Table = text.parse().unwrap();
    let files = on_disk();
    let camera_files = |path: &&String| has_extension(path, "DNG") || has_extension(path, "JPG");
    let mut frames = 0;
    for dump in expected["dump"].as_array().unwrap() {
        let below = format!("cards/{}/", dump["label"].as_str().unwrap());
        let own: Vec<&String> = files
            .keys()
            .filter(|path| path.starts_with(&below))
            .collect();
        let whole = |key: &str| dump[key].as_integer().unwrap();
        let here = own
            .iter()
            .copied()
            .filter(|path| camera_files(path))
            .count();
        assert_eq!(i64::try_from(here).unwrap(), whole("files"), "{below}");
        assert_eq!(
            whole("files"),
            whole("frames") + whole("pairs") + whole("copies")
        );
        let passed: i64 = dump["passed_over"]
            .as_table()
            .unwrap()
            .values()
            .map(|count| count.as_integer().unwrap())
            .sum();
        assert_eq!(i64::try_from(own.len()).unwrap(), whole("files") + passed);
        let mut in_sessions = 0;
        for session in dump["session"].as_array().unwrap() {
            in_sessions += session["frames"].as_integer().unwrap();
            a_session_stands_in_its_files(session, &below, &files);
        }
        assert_eq!(in_sessions + whole("undated"), whole("frames"), "{below}");
        frames += whole("frames");
    }
    assert_eq!(expected["total"]["frames"].as_integer().unwrap(), frames);
}

fn a_session_stands_in_its_files(
    session: &toml::Value,
    below: &str,
    files: &BTreeMap<String, Vec<u8>>,
) {
    let word = |key: &str| session[key].as_str().unwrap();
    for (file, clock) in [("first_file", "first_clock"), ("last_file", "last_clock")] {
        let path = format!("{below}{}", word(file));
        let written = words(&read_tags(&path, &files[&path]), Tag::DateTimeOriginal).unwrap();
        let said = word(clock).replace('-', ":").replace('T', " ");
        assert_eq!(written, said[..19], "{path}");
    }
    // First and last start, cadence, frames and missing frames must make one sum, to half a step.
    let instant = |key: &str| {
        word(key)
            .parse::<jiff::Timestamp>()
            .unwrap()
            .as_millisecond()
    };
    let span_s = (instant("last_start_utc") - instant("first_start_utc")) as f64 / 1000.0;
    let cadence = session["cadence_s"].as_float().unwrap();
    let steps = session["frames"].as_integer().unwrap() + session["missing"].as_integer().unwrap();
    assert!((span_s - cadence * (steps - 1) as f64).abs() < cadence / 2.0);
}
