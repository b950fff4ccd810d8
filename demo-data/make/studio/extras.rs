//! Further files on the cards: files to skip, and one frame that was copied to two cards.

use super::Outcome;
use super::cast::Dump;
use super::scenario::RUNS;
use super::shots::Shot;

/// A file that is not a frame.
pub struct Extra {
    /// Its path.
    pub dump: Dump,
    /// Its extension in small letters.
    pub kind: &'static str,
    /// Path below the dump.
    pub name: &'static str,
    /// Contents.
    pub bytes: &'static [u8],
}

/// Every one.
pub const EXTRAS: &[Extra] = &[
    Extra {
        dump: Dump::GeminidsA,
        kind: "txt",
        name: "NOTES.TXT",
        bytes:
            b"Salt Ridge, Geminids. Battery of the N6 changed after the first two dozen frames.\n\
                 The N2's clock is still on summer time: an hour fast. Darks at the end, cap on.\n",
    },
    Extra {
        dump: Dump::GeminidsA,
        kind: "mp4",
        name: "DCIM/101NCTRN/N6A_0484.MP4",
        bytes: MOVIE,
    },
];

/// The shortest of movies: a file type box that says what it is, and an empty media box (ISO 14496-12).
const MOVIE: &[u8] = b"\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00mp42isom\x00\x00\x00\x08mdat";

/// The copied frame's place on the second card: that card had been in the other body for one picture.
pub const COPY_NAME: &str = "DCIM/101NCTRN/N6A_0430.DNG";

/// The frame that is on two cards: the one with this name in the long Geminid run.
pub fn copied_shot() -> Outcome<Shot> {
    let shots = RUNS.get(1).map(Shot::of_run).ok_or("no second run")??;
    let copied = shots.into_iter().find(|shot| shot.number == 430);
    Ok(copied.ok_or("no frame 430 in the second run")?)
}
