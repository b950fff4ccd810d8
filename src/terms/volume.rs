//! The volume of a dump: a card, a disk, a share. Fields, no reading.

use std::path::PathBuf;

/// The volume, as far as its platform shows it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Volume {
    /// The file system's own number, the same wherever the volume is connected: `1A2B-3C4D`.
    pub id: Option<String>,
    /// The name it was given.
    pub label: Option<String>,
    /// The path of the dump's root below the volume's own root; empty for the volume's own root.
    pub below: Option<PathBuf>,
}
