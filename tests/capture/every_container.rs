//! One frame in every raw container: all give the same values, are reported as truncated when cut, as unreadable when the disk fails.

// A test may stop where the program may not.
#![allow(clippy::unwrap_used)]

use crate::containers;
use std::ffi::OsStr;

use framefall::capture::class::FileClass;
use framefall::capture::read::FileReader;
use framefall::terms::basis::Health;
use framefall::terms::records::FileReading;

use crate::containers::{all, carries_everything};
use crate::tiff_block::{ascii, lay_out, made_directories};

fn read(extension: &str, bytes: Vec<u8>) -> FileReading {
    let name = format!("a.{extension}");
    FileReader::new()
        .read_bytes(OsStr::new(&name), bytes, FileClass::Picture)
        .unwrap()
}

#[test]
fn every_container_gives_the_record_of_the_block_in_it() {
    let plain = read("tif", lay_out(true, 0, &made_directories())).record;
    for (extension, bytes) in all() {
        let reading = read(extension, bytes);
        assert_eq!(reading.format, extension);
        assert_eq!(reading.health, Health::Sound, "{:?}", reading.findings);
        assert!(
            reading.findings.is_empty(),
            "{extension}: {:?}",
            reading.findings
        );
        if carries_everything(extension) {
            assert_eq!(reading.record, plain, "{extension}");
        }
    }
}

/// EXIF 3.0 (CIPA DC-008-2023, 4.6.2 and 4.6.5): texts may be of type 129, UTF-8 with a NUL at the end.
#[test]
fn texts_in_utf8_are_read_in_either_byte_order() {
    let utf8 = |id: u16, text: &str| (id, 129, [text.as_bytes(), b"\0"].concat(), 1);
    for big in [true, false] {
        let mut directories = made_directories();
        for made in directories.iter_mut().flatten() {
            *made = match made.0 {
                0x010F => utf8(0x010F, "Ombra Ćwiek"),
                0x0110 => utf8(0x0110, "é7"),
                0xA431 => utf8(0xA431, "№ 0042"),
                0xA434 => utf8(0xA434, "20 mm ƒ/1,8"),
                0x9011 => utf8(0x9011, "-03:30"),
                _ => made.clone(),
            };
        }
        let reading = read("tif", lay_out(big, 0, &directories));
        assert!(reading.findings.is_empty(), "{:?}", reading.findings);
        let record = reading.record;
        assert_eq!(record.make.as_deref(), Some("Ombra Ćwiek"));
        assert_eq!(record.model.as_deref(), Some("é7"));
        assert_eq!(record.serial.as_deref(), Some("№ 0042"));
        assert_eq!(record.lens.as_deref(), Some("20 mm ƒ/1,8"));
        assert_eq!(record.utc_offset_s, Some(-12_600));
    }
}

/// CIPA DC-008, 4.6.6: `GPSStatus` is `V` while the receiver does not measure.
#[test]
fn a_receiver_without_a_fix_gives_no_time_and_its_position_is_told() {
    for (status, stamped, told) in [("A", true, 0), ("V", false, 1)] {
        let mut directories = made_directories();
        directories[2].push(ascii(9, status));
        directories[2].sort_by_key(|made| made.0);
        let reading = read("tif", lay_out(true, 0, &directories));
        assert_eq!(reading.record.gps_utc.is_some(), stamped);
        assert!(reading.record.gps_lat_deg.is_some());
        let stale = reading.findings.iter().filter(|f| f.code == "gps-stale");
        assert_eq!(stale.count(), told, "{:?}", reading.findings);
    }
}

#[test]
fn properties_and_records_stand_for_the_tags_they_mean() {
    for (extension, bytes) in all() {
        let record = read(extension, bytes).record;
        if carries_everything(extension) {
            continue;
        }
        let clock = record.clock_local.unwrap().to_string();
        assert_eq!(clock, "2023-12-14T01:12:07", "{extension}");
        assert_eq!(record.make.as_deref(), Some("Umbra"));
        assert_eq!(
            (record.width_px, record.height_px),
            (Some(6000), Some(4000))
        );
        assert_eq!(record.focal_mm, Some(20.0));
        if extension == "x3f" {
            assert_eq!(record.exposure_s, Some(15.0));
            assert_eq!(record.f_number, Some(2.8));
            assert_eq!(record.iso, Some(3200.0));
            assert_eq!(record.serial.as_deref(), Some("0042"));
            assert_eq!(record.temperature_c, Some(-3.0));
        } else {
            // APEX: Tv -4, Av 3. Source: CIPA DC-008 annex C.
            assert_eq!(record.exposure_s, Some(16.0));
            assert_eq!(record.f_number, Some(8_f64.sqrt()));
            assert_eq!(record.serial.as_deref(), Some("42"));
            assert_eq!(record.orientation, Some(6));
        }
    }
}

#[test]
fn embedded_pictures_are_found_and_are_pictures() {
    for (extension, bytes) in all() {
        let reading = read(extension, bytes.clone());
        let has = matches!(extension, "cr3" | "raf" | "rw2" | "crw");
        assert_eq!(reading.preview.is_some(), has, "{extension}");
        for jpeg in [reading.thumbnail, reading.preview].into_iter().flatten() {
            let from = usize::try_from(jpeg.offset).unwrap();
            let until = from + usize::try_from(jpeg.length).unwrap();
            assert!(bytes[from..until].starts_with(&[0xFF, 0xD8]), "{extension}");
            assert!(bytes[from..until].ends_with(&[0xFF, 0xD9]), "{extension}");
        }
        if extension == "cr3" {
            assert!(reading.thumbnail.unwrap().length < reading.preview.unwrap().length);
        }
    }
}

#[test]
fn a_file_cut_in_its_picture_is_truncated_and_keeps_what_stood_before() {
    for (extension, bytes) in all() {
        let whole = read(extension, bytes.clone());
        for lost in [1, 2, 500, 15_000] {
            let cut = read(extension, bytes[..bytes.len() - lost].to_vec());
            assert_eq!(cut.health, Health::Truncated, "{extension} less {lost}");
            if carries_everything(extension) {
                assert_eq!(cut.record, whole.record, "{extension} less {lost}");
            }
        }
    }
}

#[test]
fn a_file_cut_in_its_first_directory_is_truncated() {
    for big in [false, true] {
        let whole = lay_out(big, 0, &made_directories());
        // The three directories follow each other; their values come after them.
        for length in 8..320 {
            let cut = read("tif", whole[..length].to_vec());
            let said = (cut.health, &cut.findings);
            assert_eq!(cut.health, Health::Truncated, "at {length}: {said:?}");
        }
    }
}

#[test]
fn a_file_cut_anywhere_is_never_sound() {
    for (extension, bytes) in all() {
        for length in (16..bytes.len()).step_by(37) {
            let cut = read(extension, bytes[..length].to_vec());
            assert_ne!(cut.health, Health::Sound, "{extension} at {length}");
        }
    }
}

/// The disk ends before the file's length in its folder: the error of a failing card, at any block.
#[test]
fn a_disk_that_fails_in_any_block_makes_the_file_unreadable_and_names_the_block() {
    let card = tempfile::tempdir().unwrap();
    let path = card.path().join("frame");
    let mut reader = FileReader::new();
    for (extension, bytes) in all() {
        let path = path.with_extension(extension);
        let length = bytes.len();
        for good in (0..length).step_by(2048).skip(1) {
            std::fs::write(&path, &bytes[..good]).unwrap();
            let reading = reader
                .read(&path, length as u64, FileClass::Picture)
                .unwrap()
                .unwrap();
            // The last bytes of every file are read: no file passes for sound.
            assert_eq!(reading.health, Health::Unreadable, "{extension} at {good}");
            assert_eq!(reading.fingerprint, None, "{extension} at {good}");
            let error = reading
                .findings
                .iter()
                .find(|f| f.code == "read-error")
                .unwrap();
            let at = error.saw.split_once("at byte ").unwrap().1;
            let at: usize = at.split_once(' ').unwrap().0.parse().unwrap();
            assert!(at >= good, "{extension} at {good}: {}", error.saw);
        }
    }
}

/// Layout: CIPA DC-007 5.2. Two pictures: this one, and a version for a monitor behind it; a third is another picture.
#[test]
fn smaller_versions_behind_a_jpeg_are_previews_and_other_pictures_are_not() {
    let (main, small, other) = (
        containers::jpeg(&[], 6000, 4000),
        containers::jpeg(&[], 1920, 1280),
        containers::jpeg(&[], 2000, 1000),
    );
    // The list: a TIFF block with one entry, of sixteen bytes a picture.
    let base = 2 + 4 + 4;
    let build = |first: usize| {
        let mut list = Vec::new();
        let rows = [
            (0x0003_0000, main.len(), 0),
            (0x0001_0002, small.len(), first - base),
            (0x0002_0002, other.len(), first + small.len() - base),
        ];
        for (kind, length, at) in rows {
            for word in [kind, length, at, 0] {
                list.extend(u32::try_from(word).unwrap().to_be_bytes());
            }
        }
        let block = lay_out(
            true,
            0,
            &[vec![(0xB002, 7, list, 1)], Vec::new(), Vec::new()],
        );
        let mut out = vec![0xFF, 0xD8, 0xFF, 0xE2];
        out.extend(u16::try_from(block.len() + 6).unwrap().to_be_bytes());
        out.extend(b"MPF\0");
        out.extend(block);
        out.extend(&main[2..]);
        out
    };
    let first = build(base).len();
    let mut bytes = build(first);
    bytes.extend(&small);
    bytes.extend(&other);
    let preview = read("jpg", bytes).preview.unwrap();
    assert_eq!(preview.offset, first as u64);
    assert_eq!(preview.length, small.len() as u64);
}

/// Writes the hand-made files to where `fuzz/run` expects its first corpus.
#[test]
fn write_seeds() {
    let Some(folder) = std::env::var_os("FRAMEFALL_SEEDS") else {
        return;
    };
    for (i, (extension, bytes)) in all().into_iter().enumerate() {
        let name = format!("made-{i}.{extension}");
        std::fs::write(std::path::Path::new(&folder).join(name), bytes).unwrap();
    }
}
