//! A dump whose folder is not there or empty, in words: which disk to fetch, instead of a line for each of its files.

use crate::catalogue::places::DumpPlace;
use crate::terms::finding::Finding;

/// Says that a dump is not there.
pub(super) fn away(dump: &DumpPlace) -> Finding {
    let volume = dump
        .volume_label
        .as_ref()
        .map(|label| format!(" on the disk {label}"))
        .unwrap_or_default();
    Finding::new(
        "dump-away",
        format!(
            "nothing at {} (dump {}{volume})",
            dump.root.display(),
            dump.label
        ),
        "looked for none of its files",
    )
}
