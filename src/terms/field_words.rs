//! The words of fields whose values are words. Knows no field.

/// The containers, as the field `format` names them and in the order in which the catalogue numbers them: a new one is
/// added at the end.
pub const FORMATS: &[&str] = &[
    "jpeg", "tiff", "png", "webp", "heif", "avif", "nef", "nrw", "cr2", "cr3", "crw", "arw", "sr2",
    "dng", "gpr", "orf", "rw2", "raf", "pef", "srw", "3fr", "fff", "iiq", "kdc", "dcr", "erf",
    "mef", "mos", "mrw", "x3f", "unknown",
];

pub(super) const YES_NO: &[&str] = &["yes", "no"];
