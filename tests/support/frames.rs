//! Hand-made raw files of one body, and worlds that hold them.

// Each test uses a part of this.
#![allow(dead_code)]

use crate::tiff_block::{ascii, lay_out, long, rational, short};

/// What a frame was taken with.
#[derive(Clone, Copy)]
pub struct Taken {
    pub exposure: (u32, u32),
    pub iso: u16,
    pub f_number: (u32, u32),
    pub focal: u32,
    pub serial: &'static str,
}

/// The settings of a night.
pub const LIGHT: Taken = Taken {
    exposure: (15, 1),
    iso: 3200,
    f_number: (18, 10),
    focal: 20,
    serial: "0042",
};

/// A raw file of a body that writes its offset from UTC; its clock shows `reading`, `2023:12:14 01:12:07`.
pub fn raw(reading: &str, taken: Taken) -> Vec<u8> {
    raw_by("Umbra N7", reading, taken)
}

/// The same by a body of another model.
pub fn raw_by(model: &str, reading: &str, taken: Taken) -> Vec<u8> {
    let Taken {
        exposure,
        iso,
        f_number,
        focal,
        serial,
    } = taken;
    let mut primary = vec![
        long(0x0100, 6000),
        long(0x0101, 4000),
        ascii(0x010F, "Umbra"),
        ascii(0x0110, model),
        long(0x8769, 0),
    ];
    // The version that makes a TIFF file a DNG.
    primary.push((0xC612, 1, vec![1, 4, 0, 0], 1));
    let exif = vec![
        rational(0x829A, &[exposure]),
        rational(0x829D, &[f_number]),
        short(0x8827, iso),
        ascii(0x9003, reading),
        ascii(0x9011, "+01:00"),
        rational(0x920A, &[(focal, 1)]),
        ascii(0xA431, serial),
        ascii(0xA434, "a lens"),
    ];
    lay_out(false, 0, &[primary, exif, Vec::new()])
}

/// A reading so many seconds after midnight of a day of that night.
pub fn reading(day: &str, seconds: u32) -> String {
    format!(
        "{day} {:02}:{:02}:{:02}",
        seconds / 3600,
        seconds / 60 % 60,
        seconds % 60
    )
}
