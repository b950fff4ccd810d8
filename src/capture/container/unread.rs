//! Containers that are told by their first bytes and not read.

use crate::capture::container::Container;
use crate::capture::container::bmff::has_brand;

/// Canon CR3.
pub const CR3: Container = known("cr3", |head| has_brand(head, &[*b"crx "]));
/// Fujifilm RAF.
pub const RAF: Container = known("raf", |head| head.starts_with(b"FUJIFILMCCD-RAW"));
/// Panasonic and Leica RW2.
pub const RW2: Container = known("rw2", |head| head.starts_with(b"IIU\0"));
/// Olympus and OM ORF.
pub const ORF: Container = known("orf", |head| {
    [b"IIRO", b"IIRS", b"MMOR"]
        .iter()
        .any(|m| head.starts_with(*m))
});
/// Canon CRW.
pub const CRW: Container = known("crw", |head| {
    head.get(6..14).is_some_and(|m| m == b"HEAPCCDR")
});
/// Minolta MRW.
pub const MRW: Container = known("mrw", |head| head.starts_with(b"\0MRM"));
/// Sigma X3F.
pub const X3F: Container = known("x3f", |head| head.starts_with(b"FOVb"));

const fn known(word: &'static str, recognises: fn(&[u8]) -> bool) -> Container {
    Container {
        word,
        recognises,
        read: None,
    }
}
