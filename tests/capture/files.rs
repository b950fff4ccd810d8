//! Reading files from a disk: few bytes, nothing written, a clear state for every kind of trouble.

// Tests may panic, and print what they skipped and measured.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use framefall::capture::class::FileClass;
use framefall::capture::read::FileReader;
use framefall::capture::walk::{Walked, walk};
use framefall::terms::basis::Health;
use framefall::terms::records::FileReading;

fn committed() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/frames")
}

/// Every file of a folder that is read, by its path.
fn readings(root: &Path) -> BTreeMap<String, FileReading> {
    let mut reader = FileReader::new();
    walk(root)
        .filter_map(|step| match step.unwrap() {
            Walked::File(file) => {
                let below = file.folder.join(&file.name);
                let read = reader.read(&root.join(&below), file.bytes, file.class);
                let reading = read.unwrap()?;
                Some((below.display().to_string(), reading))
            }
            Walked::Odd { .. } => None,
        })
        .collect()
}

fn only_code(reading: &FileReading) -> &'static str {
    assert_eq!(reading.findings.len(), 1, "{reading:?}");
    reading.findings[0].code
}

/// The figures promised: half of the well-formed raw files cost at most 32 KiB, none over 128 KiB.
fn check_bytes(root: &Path) {
    let mut bytes: Vec<(u64, String)> = Vec::new();
    for (path, reading) in readings(root) {
        assert!(
            reading.bytes_read <= 128 * 1024,
            "{path}: {}",
            reading.bytes_read
        );
        let rendered = ["jpeg", "tiff", "png", "webp", "heif", "avif", "unknown"];
        if !rendered.contains(&reading.format) && !path.starts_with("hostile") {
            bytes.push((reading.bytes_read, path));
        }
    }
    bytes.sort_unstable();
    let (median, worst) = (bytes[bytes.len() / 2].0, &bytes[bytes.len() - 1]);
    println!(
        "{}: {} raw files, median {median} bytes read, worst {worst:?}",
        root.display(),
        bytes.len()
    );
    assert!(median <= 32 * 1024 && worst.0 <= 128 * 1024);
}

#[test]
fn few_bytes_are_read_of_committed_frames() {
    check_bytes(&committed());
}

#[test]
fn few_bytes_are_read_of_shared_frames() {
    let shared = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/frames");
    if shared.join("oracle.jsonl").is_file() {
        check_bytes(&shared);
    } else {
        println!("skipped: the shared frames are not here");
    }
}

#[test]
fn far_metadata_of_a_large_file_costs_a_few_pages() {
    // The directory at the very end of 30 MB, as some writers put it.
    let frame = std::fs::read(committed().join("tiff/exifrjs__tif-with-iptc-icc-xmp.tif")).unwrap();
    let mut far = vec![0_u8; 30_000_000];
    far[..8].copy_from_slice(b"MM\0\x2A\x01\xC9\xC3\x80");
    far[8..16].fill(7);
    let big = |n: u32| n.to_be_bytes();
    let mut ifd: Vec<u8> = vec![0, 3];
    for (id, kind, count, value) in [
        (0x010F_u16, 2_u16, 5_u32, 30_000_050_u32),
        (0x0110, 2, 7, 30_000_055),
        (0x0132, 2, 20, 30_000_062),
    ] {
        ifd.extend(id.to_be_bytes());
        ifd.extend(kind.to_be_bytes());
        ifd.extend(big(count));
        ifd.extend(big(value));
    }
    ifd.extend([0; 4]);
    ifd.resize(50, 0);
    ifd.extend(b"Umbra");
    ifd.extend(b"N7 far\0");
    ifd.extend(b"2023:12:14 01:12:07\0");
    far.extend(ifd);
    let dump = tempfile::tempdir().unwrap();
    std::fs::write(dump.path().join("far.tif"), &far).unwrap();
    std::fs::write(dump.path().join("near.tif"), &frame).unwrap();
    let read = readings(dump.path());
    let far = &read["far.tif"];
    assert_eq!(far.record.model.as_deref(), Some("N7 far"));
    assert_eq!(
        far.record.clock_local.unwrap().to_string(),
        "2023-12-14T01:12:07"
    );
    assert!(far.bytes_read <= 28 * 1024, "{}", far.bytes_read);
}

#[test]
fn a_dump_is_byte_identical_after_reading() {
    let dump = tempfile::tempdir().unwrap();
    let mut before = BTreeMap::new();
    for step in walk(&committed()) {
        let Walked::File(file) = step.unwrap() else {
            continue;
        };
        let from = committed().join(&file.folder).join(&file.name);
        std::fs::create_dir_all(dump.path().join(&file.folder)).unwrap();
        let to = dump.path().join(&file.folder).join(&file.name);
        std::fs::copy(from, &to).unwrap();
        let about = std::fs::metadata(&to).unwrap();
        before.insert(
            to.clone(),
            (std::fs::read(&to).unwrap(), about.modified().unwrap()),
        );
    }
    assert!(!readings(dump.path()).is_empty());
    let mut after = BTreeMap::new();
    for step in walk(dump.path()) {
        let Walked::File(file) = step.unwrap() else {
            continue;
        };
        let at = dump.path().join(&file.folder).join(&file.name);
        let about = std::fs::metadata(&at).unwrap();
        after.insert(
            at.clone(),
            (std::fs::read(&at).unwrap(), about.modified().unwrap()),
        );
    }
    assert!(before == after, "a file of the dump was changed");
}

#[test]
fn a_copy_has_the_fingerprint_of_the_original_and_no_other_file_has_it() {
    let read = readings(&committed());
    let again = readings(&committed());
    let mut seen: BTreeMap<[u8; 16], &str> = BTreeMap::new();
    for (path, reading) in &read {
        assert_eq!(reading, &again[path]);
        if let Some(print) = reading.fingerprint {
            let other = seen.insert(print, path);
            assert!(other.is_none(), "{path} and {other:?}");
        }
    }
}

#[test]
fn empty_blank_and_foreign_files_have_clear_states() {
    let dump = tempfile::tempdir().unwrap();
    let write = |name: &str, bytes: &[u8]| std::fs::write(dump.path().join(name), bytes).unwrap();
    write("empty.nef", b"");
    write("empty", b"");
    write("zeros.cr2", &vec![0; 100_000]);
    write("ones.jpg", &[0xFF; 300]);
    write("words.arw", b"this is no picture at all");
    write("words", b"this is no picture at all");
    write("film.mov", b"....");
    std::fs::copy(
        committed().join("jpeg/piexif__r_canon.jpg"),
        dump.path().join("picture-without-extension"),
    )
    .unwrap();
    std::fs::copy(
        committed().join("jpeg/piexif__r_canon.jpg"),
        dump.path().join("lie.nef"),
    )
    .unwrap();
    let read = readings(dump.path());
    for (name, code) in [
        ("empty.nef", "empty-file"),
        ("zeros.cr2", "blank-file"),
        ("ones.jpg", "blank-file"),
        ("words.arw", "not-understood"),
    ] {
        assert_eq!(only_code(&read[name]), code, "{name}");
        assert_eq!(read[name].health, Health::Unreadable, "{name}");
        assert_eq!(read[name].format, "unknown", "{name}");
    }
    assert_eq!(read["zeros.cr2"].fingerprint, None);
    assert_eq!(read["lie.nef"].format, "jpeg");
    assert_eq!(only_code(&read["lie.nef"]), "extension-differs");
    assert_eq!(read["picture-without-extension"].format, "jpeg");
    assert!(read["picture-without-extension"].findings.is_empty());
    for name in ["empty", "words", "film.mov"] {
        assert!(!read.contains_key(name), "{name} is no frame");
    }
}

#[test]
fn a_file_cut_anywhere_behind_its_head_is_truncated_and_keeps_its_metadata() {
    let dump = tempfile::tempdir().unwrap();
    for (name, lost) in [
        ("jpeg/piexif__r_sony.jpg", 2),
        ("png/nomexif__exif.png", 20),
        ("heif/exifpy__spring_1440x960.heic", 2),
        ("avif/nomexif__exif.avif", 2),
    ] {
        let whole = std::fs::read(committed().join(name)).unwrap();
        let file = Path::new(name).file_name().unwrap();
        std::fs::write(dump.path().join(file), &whole[..whole.len() - lost]).unwrap();
        let read = readings(dump.path());
        let cut = &read[file.to_str().unwrap()];
        assert_eq!(cut.health, Health::Truncated, "{name}: {:?}", cut.findings);
        assert!(cut.record.clock_local.is_some(), "{name}");
    }
}

#[test]
fn what_follows_the_end_of_a_jpeg_is_no_damage_and_zeros_instead_of_it_are() {
    let dump = tempfile::tempdir().unwrap();
    let jpeg = std::fs::read(committed().join("jpeg/hsexif__test-exif-below-idf0.jpg")).unwrap();
    let write = |name: &str, bytes: &[u8]| std::fs::write(dump.path().join(name), bytes).unwrap();
    let mut padded = jpeg.clone();
    padded.resize(jpeg.len() + 30_000, 0);
    write("padded.jpg", &padded);
    let mut film = jpeg.clone();
    film.extend(b"\0\0\0\x18ftypmp42");
    film.extend((0..20_000_u32).flat_map(|n| n.wrapping_mul(2_654_435_761).to_be_bytes()));
    write("film.jpg", &film);
    let mut lost = jpeg.clone();
    let from = jpeg.len() - 6_000;
    lost[from..].fill(0);
    write("lost.jpg", &lost);
    let read = readings(dump.path());
    assert_eq!(read["padded.jpg"].health, Health::Sound);
    assert_eq!(read["film.jpg"].health, Health::Sound);
    assert_eq!(read["lost.jpg"].health, Health::Truncated);
}

#[cfg(target_os = "linux")]
#[test]
fn an_error_of_the_disk_is_told_with_its_block() {
    // The kernel answers a read of this file's first page with EIO.
    let reading = FileReader::new()
        .read(Path::new("/proc/self/mem"), 1_000_000, FileClass::Picture)
        .unwrap()
        .unwrap();
    assert_eq!(reading.health, Health::Unreadable);
    assert_eq!(only_code(&reading), "read-error");
    assert!(
        reading.findings[0].saw.contains("Input/output error"),
        "{reading:?}"
    );
    assert!(reading.findings[0].saw.contains("byte 0"));
}

#[cfg(unix)]
#[test]
fn a_pipe_or_a_link_in_a_files_place_cannot_hang_the_reader() {
    let dump = tempfile::tempdir().unwrap();
    let pipe = dump.path().join("pipe.nef");
    rustix::fs::mknodat(
        rustix::fs::CWD,
        &pipe,
        rustix::fs::FileType::Fifo,
        rustix::fs::Mode::from_raw_mode(0o600),
        0,
    )
    .unwrap();
    let link = dump.path().join("link.jpg");
    std::os::unix::fs::symlink(committed().join("jpeg/piexif__r_canon.jpg"), &link).unwrap();
    let gone = dump.path().join("gone.jpg");
    for path in [&pipe, &link, &gone] {
        let reading = FileReader::new()
            .read(path, 1000, FileClass::Picture)
            .unwrap()
            .unwrap();
        assert_eq!(reading.health, Health::Unreadable, "{path:?}");
        assert_eq!(only_code(&reading), "read-error");
    }
}
