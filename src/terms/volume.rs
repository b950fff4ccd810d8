//! The volume that a dump lies on: a card, a disk, a share. Fields, no reading.

use std::path::PathBuf;

/// As much of a volume as its platform tells.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Volume {
    /// The file system's own number, the same wherever the volume is plugged in: `1A2B-3C4D`.
    pub id: Option<String>,
    /// The name it was given.
    pub label: Option<String>,
    /// Where the dump's root lies below the volume's own root; empty for the volume's own root.
    pub below: Option<PathBuf>,
}
