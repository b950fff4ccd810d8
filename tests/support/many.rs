//! A card of thousands of sparse files of two bodies over several nights: enough for a run to be broken off in its midst.

use std::fs;
use std::fs::File;
use std::io::Write;
use std::path::Path;

use crate::frames::LIGHT;
use crate::frames::Taken;
use crate::frames::raw;
use crate::frames::reading;

/// What a file weighs on paper; on the disk it is little more than its head.
const FILE_BYTES: u64 = 1_000_000;

/// Frames of a body in one night.
const OF_A_NIGHT: usize = 400;

/// Whether the second body writes its offset from UTC beside its readings. The first always does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SecondBody {
    /// It does.
    WritesOffset,
    /// It does not.
    WritesNone,
}

/// Lays out a card of that month's first nights, `2023:12`: frames of bodies 0042 and 0077 by turns, every tenth of the
/// first a dark.
pub fn card(at: &Path, files: usize, month: &str, second: SecondBody) {
    for i in 0..files {
        let folder = at.join(format!("DCIM/{:03}NITES", 100 + i / 1000));
        if i % 1000 == 0 {
            fs::create_dir_all(&folder).unwrap();
        }
        let pair = i / 2;
        let seconds = u32::try_from(2_400 + pair % OF_A_NIGHT * 30).unwrap();
        let shown = reading(&format!("{month}:{:02}", 1 + pair / OF_A_NIGHT), seconds);
        let bytes = if i % 2 == 0 {
            let exposure = if pair % 10 == 9 { (30, 1) } else { (15, 1) };
            raw(&shown, Taken { exposure, ..LIGHT })
        } else {
            let serial = "0077";
            let mut bytes = raw(&shown, Taken { serial, ..LIGHT });
            if second == SecondBody::WritesNone {
                forget_offset(&mut bytes);
            }
            bytes
        };
        let mut file = File::create(folder.join(format!("NITE{:04}.DNG", i % 10_000))).unwrap();
        file.write_all(&bytes).unwrap();
        file.set_len(FILE_BYTES).unwrap();
    }
}

/// Turns the entry of the offset from UTC (tag 0x9011, Exif 2.31) into one that means nothing (0xA460 is not given out).
fn forget_offset(bytes: &mut [u8]) {
    let at = bytes
        .windows(4)
        .position(|w| w == [0x11, 0x90, 2, 0])
        .unwrap();
    bytes[at..at + 2].copy_from_slice(&[0x60, 0xA4]);
}
