//! The words of fields whose values are words. Knows no field.

use crate::terms::basis::Health;
use crate::terms::basis::Kind;
use crate::terms::basis::PlaceBasis;
use crate::terms::basis::TimeBasis;
use crate::terms::basis::Twilight;
use crate::terms::found_trail::CLASS_WORDS;
use crate::terms::pointing::POINTING_WORDS;
use crate::terms::turn::TurnBasis;

/// The containers, as the field `format` names them and in the order in which the catalogue numbers them: a new one is
/// added at the end.
pub const FORMATS: &[&str] = &[
    "jpeg", "tiff", "png", "webp", "heif", "avif", "nef", "nrw", "cr2", "cr3", "crw", "arw", "sr2",
    "dng", "gpr", "orf", "rw2", "raf", "pef", "srw", "3fr", "fff", "iiq", "kdc", "dcr", "erf",
    "mef", "mos", "mrw", "x3f", "unknown",
];

pub(super) fn formats() -> Vec<&'static str> {
    FORMATS.to_vec()
}
pub(super) fn time_basis_words() -> Vec<&'static str> {
    TimeBasis::ALL.iter().map(|w| w.word()).collect()
}
pub(super) fn turn_basis_words() -> Vec<&'static str> {
    TurnBasis::ALL.iter().map(|w| w.word()).collect()
}
pub(super) fn place_basis_words() -> Vec<&'static str> {
    PlaceBasis::ALL.iter().map(|w| w.word()).collect()
}
pub(super) fn kind_words() -> Vec<&'static str> {
    Kind::ALL.iter().map(|w| w.word()).collect()
}
pub(super) fn health_words() -> Vec<&'static str> {
    Health::ALL.iter().map(|w| w.word()).collect()
}
pub(super) fn twilight_words() -> Vec<&'static str> {
    Twilight::ALL.iter().map(|w| w.word()).collect()
}
pub(super) fn yes_no() -> Vec<&'static str> {
    vec!["yes", "no"]
}

/// How well a frame's pointing is known, or why not.
pub(super) fn pointing_words() -> Vec<&'static str> {
    POINTING_WORDS.to_vec()
}

/// What a found trail is taken for.
pub(super) fn trail_words() -> Vec<&'static str> {
    CLASS_WORDS.to_vec()
}
