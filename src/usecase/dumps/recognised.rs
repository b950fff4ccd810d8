//! What a look at folders that are to be ingested came to: dumps that were recognised, and all that is said of it.

use std::path::PathBuf;

use crate::usecase::dumps::sample_match::SampleMatch;

/// Whether folders may turn out to be dumps that are known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Newcomers {
    /// They may.
    Recognised,
    /// They are new, whatever they look like.
    New,
}

/// What was made of a folder that is new to the catalogue.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Recognised {
    /// A known dump has moved there; the catalogue has its root there now.
    Moved {
        /// The dump's label.
        label: String,
        /// Where it was.
        from: PathBuf,
        /// Where it is.
        to: PathBuf,
    },
    /// It is the root of a known dump by another name, and is read by that.
    Same {
        /// The dump's label.
        label: String,
        /// The root that the catalogue knows.
        root: PathBuf,
        /// The other name.
        named: PathBuf,
    },
    /// It may be a known dump that has moved; it is taken as new.
    Doubtful {
        /// The folder.
        place: PathBuf,
        /// The dumps it may be.
        labels: Vec<String>,
        /// Why that cannot be told.
        why: String,
    },
    /// Some files of a dump that is not at its place lie there, too few to be the dump; it is taken as new.
    Few {
        /// The folder.
        place: PathBuf,
        /// The dump's label.
        label: String,
        /// What was found of it.
        found: SampleMatch,
    },
    /// A file of a dump that is not at its place lies there under another name or in another folder; it is taken as new.
    Renamed {
        /// The file.
        path: PathBuf,
        /// The dump's label.
        label: String,
    },
    /// Another dump lies where this one lay.
    Replaced {
        /// The label of the dump that is not there.
        label: String,
        /// Where it lay.
        root: PathBuf,
    },
    /// Not everything was looked into for dumps that have moved.
    LookedShort {
        /// The first folder that was not.
        first: PathBuf,
        /// How many were not, or not further.
        count: usize,
    },
}

/// What was made of folders that are to be ingested.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Recognition {
    /// What is to be said of it.
    pub told: Vec<Recognised>,
    /// Roots among, around or within the folders whose dumps are not there.
    pub away: Vec<PathBuf>,
}
