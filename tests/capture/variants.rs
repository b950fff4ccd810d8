//! Variants of common tags, from newer standards, editors and careless writers.

// A test may stop where the program may not.
#![allow(clippy::unwrap_used)]

use std::ffi::OsStr;

use framefall::capture::class::FileClass;
use framefall::capture::read::FileReader;
use framefall::terms::basis::Health;
use framefall::terms::records::FileReading;

use crate::tiff_block::{Made, ascii, lay_out, made_directories, rational};

fn read(name: &str, bytes: Vec<u8>) -> FileReading {
    FileReader::new()
        .read_bytes(OsStr::new(name), bytes, FileClass::Picture)
        .unwrap()
}

/// The made block with other entries in IFD0, Exif and GPS, in either byte order.
fn with(others: &[(usize, Made)]) -> FileReading {
    let mut directories = made_directories();
    for (directory, made) in others {
        let entries = &mut directories[*directory];
        entries.retain(|entry| entry.0 != made.0);
        entries.push(made.clone());
        entries.sort_by_key(|entry| entry.0);
    }
    let readings = [true, false].map(|big| read("a.tif", lay_out(big, 0, &directories)));
    let [one, other] = readings;
    assert_eq!(one.record, other.record);
    one
}

/// Type 129 and the tags that may have it: CIPA DC-008 (Exif 3.0) 4.6.2, tables 4 and 7.
#[test]
fn texts_in_utf_8_are_texts() {
    let utf8 = |id, text: &str| {
        let (id, _, raw, piece) = ascii(id, text);
        (id, 129, raw, piece)
    };
    let record = with(&[
        (0, utf8(0x010F, "Umbra")),
        (0, utf8(0x0110, "Umbra Ñ7")),
        (1, utf8(0xA431, "0042")),
        (1, utf8(0xA434, "Ødegård 14mm")),
    ])
    .record;
    assert_eq!(record.make.as_deref(), Some("Umbra"));
    assert_eq!(record.model.as_deref(), Some("Umbra Ñ7"));
    assert_eq!(record.serial.as_deref(), Some("0042"));
    assert_eq!(record.lens.as_deref(), Some("Ødegård 14mm"));
}

/// `GPSAltitudeRef` 0 and 1 are of old; 2 and 3 are of Exif 3.0, 4.6.7.
#[test]
fn altitudes_below_are_below_by_either_reference() {
    for (reference, metres) in [(0, 430.0), (1, -430.0), (2, 430.0), (3, -430.0)] {
        let record = with(&[
            (2, (5, 1, vec![reference], 1)),
            (2, rational(6, &[(430, 1)])),
        ])
        .record;
        assert_eq!(record.gps_elev_m, Some(metres), "{reference}");
    }
}

#[test]
fn whole_degrees_with_unknown_minutes_are_no_position() {
    let position = |numbers: &[(u32, u32)]| with(&[(2, rational(2, numbers))]).record.gps_lat_deg;
    assert_eq!(position(&[(31, 1), (0, 0), (0, 0)]), None);
    assert_eq!(position(&[(315, 10), (0, 0), (0, 0)]), Some(-31.5));
    assert_eq!(position(&[(31, 1), (300, 10), (0, 0)]), Some(-31.5));
    assert_eq!(position(&[(315, 10)]), Some(-31.5));
}

fn jpeg(exif: &[u8], data: &[u8]) -> Vec<u8> {
    let length = u16::try_from(exif.len() + 2).unwrap();
    let mut out = vec![0xFF, 0xD8, 0xFF, 0xE1];
    out.extend(length.to_be_bytes());
    out.extend(exif);
    out.extend(b"\xFF\xC0\0\x0B\x08\0\x30\0\x40\x01\x01\x11\0");
    out.extend(b"\xFF\xDA\0\x08\x01\x01\0\0\x3F\0");
    out.extend(data);
    out
}

#[test]
fn an_exif_segment_is_one_whatever_its_last_byte_of_padding() {
    let block = lay_out(true, 0, &made_directories());
    let plain = read(
        "a.jpg",
        jpeg(&[b"Exif\0\0".as_slice(), &block].concat(), b"\x12\xFF\xD9"),
    );
    let padded = read(
        "a.jpg",
        jpeg(
            &[b"Exif\0\xFF".as_slice(), &block].concat(),
            b"\x12\xFF\xD9",
        ),
    );
    assert_eq!(padded.record, plain.record);
    assert!(plain.record.clock_local.is_some());
}

/// Noise as a picture's data has it: every FF is stuffed (ITU-T T.81 B.1.1.5).
fn data(length: usize, mut state: u32) -> (Vec<u8>, Vec<u8>) {
    let mut plain = Vec::new();
    let mut stuffed = Vec::new();
    while stuffed.len() < length {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let byte = state.to_be_bytes()[0];
        plain.push(byte);
        stuffed.push(byte);
        if byte == 0xFF {
            stuffed.push(0);
        }
    }
    (plain, stuffed)
}

/// A film clip behind the picture, as telephones put it there, ends in any bytes at all; so does a maker's trailer.
#[test]
fn what_follows_a_whole_picture_is_not_the_picture_cut_off() {
    let exif = [
        b"Exif\0\0".as_slice(),
        &lay_out(true, 0, &made_directories()),
    ]
    .concat();
    for seed in 0..400 {
        let (clip, picture) = data(40_000, seed);
        let mut whole = jpeg(&exif, &picture);
        let cut = read("a.jpg", whole.clone());
        assert_eq!(cut.health, Health::Truncated, "{seed}");
        whole.extend(b"\xFF\xD9");
        whole.extend(&clip);
        // The last pair of the file looks like data; those before it do not.
        whole.extend(b"\xFF\0\0");
        assert_eq!(read("a.jpg", whole).health, Health::Sound, "{seed}");
    }
}
