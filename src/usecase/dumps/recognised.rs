//! The result of searching folders to be ingested: recognised dumps, and everything to report.

use std::path::PathBuf;

use crate::usecase::dumps::sample_match::SampleMatch;

/// Whether folders may turn out to be known dumps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Newcomers {
    /// They may.
    Recognised,
    /// They are new, whatever they look like.
    New,
}

/// How a folder that is new to the catalogue was treated.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Recognised {
    /// A known dump has moved there; the catalogue has its new root.
    Moved {
        /// The dump's label.
        label: String,
        /// Where it was.
        from: PathBuf,
        /// Where it is.
        to: PathBuf,
    },
    /// It is the root of a known dump by another name, and is read under that.
    Same {
        /// The dump's label.
        label: String,
        /// The root that the catalogue knows.
        root: PathBuf,
        /// The other name.
        named: PathBuf,
    },
    /// It may be a known dump that has moved; it is treated as new.
    Doubtful {
        /// The folder.
        place: PathBuf,
        /// The dumps it may be.
        labels: Vec<String>,
        /// The reason for the doubt.
        why: String,
    },
    /// Some files of an offline dump are there, too few to be the dump; it is treated as new.
    Few {
        /// The folder.
        place: PathBuf,
        /// The dump's label.
        label: String,
        /// The comparison of its files.
        found: SampleMatch,
    },
    /// A file of an offline dump is there under another name or in another folder; it is treated as new.
    Renamed {
        /// The file.
        path: PathBuf,
        /// The dump's label.
        label: String,
    },
    /// Another dump is at this one's location.
    Replaced {
        /// The label of the offline dump.
        label: String,
        /// Its last location.
        root: PathBuf,
    },
    /// Not everything was searched for moved dumps.
    LookedShort {
        /// The first folder that was not.
        first: PathBuf,
        /// How many were not, or not completely.
        count: usize,
    },
}

/// How folders to be ingested were treated.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Recognition {
    /// What to report.
    pub told: Vec<Recognised>,
    /// Roots among, above or inside the folders whose dumps are offline.
    pub away: Vec<PathBuf>,
}
