//! What became of a card: counts, and what is said of files that are odd. Reads nothing.

use std::path::Path;
use std::path::PathBuf;

use crate::catalogue::proofs::DeviceRow;
use crate::copy::order::CardFault;
use crate::copy::order::Fate;
use crate::terms::finding::Finding;

/// What is told on the way.
#[derive(Debug)]
pub enum CopyNews<'a> {
    /// How far the card is.
    At {
        /// Bytes that were read from the card or read back.
        done: u64,
        /// Bytes in all.
        of: u64,
        /// The file that is being read and written.
        reading: Option<&'a Path>,
        /// The file that is being read back.
        reading_back: Option<&'a Path>,
    },
    /// A file is odd: which, on the card or at a target, and in which way.
    Odd(&'a Path, &'a Finding),
}

/// What became of a card's files at one target.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TargetReport {
    /// Its folder.
    pub root: PathBuf,
    /// The label of the dump there.
    pub label: String,
    /// The device it is on.
    pub device: Option<DeviceRow>,
    /// Files that were written.
    pub written: u64,
    /// Files that were there already.
    pub there: u64,
    /// Of both, those that were read back from the device now or before.
    pub verified: u64,
    /// And those whose device could not be asked.
    pub copied: u64,
    /// Files whose name something else has.
    pub refused: u64,
    /// Files that could not be written, or were not what was written.
    pub failed: u64,
    /// The list of hashes beside it.
    pub list: Option<PathBuf>,
}

/// What became of a card.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CardReport {
    /// Its root.
    pub card: PathBuf,
    /// Its files.
    pub files: u64,
    /// Bytes in them.
    pub bytes: u64,
    /// Files that could not be read.
    pub unread: u64,
    /// Pictures that are damaged on the card.
    pub damaged: u64,
    /// Links, pipes, folders of deleted files.
    pub left: u64,
    /// Folders that could not be listed.
    pub folders_unreadable: u64,
    /// Files for which a list beside the card has another hash.
    pub list_differs: u64,
    /// Its targets.
    pub targets: Vec<TargetReport>,
    /// Whether it was stopped before its end.
    pub stopped: bool,
}

impl CardReport {
    /// Whether something needs attention.
    pub fn needs_attention(&self) -> bool {
        let target = |one: &TargetReport| {
            one.refused + one.failed > 0 || one.verified + one.copied < self.files
        };
        self.unread + self.damaged + self.folders_unreadable + self.list_differs > 0
            || self.targets.iter().any(target)
    }
}

impl TargetReport {
    /// Counts what became of a file; the finding, where something is wrong.
    pub(super) fn count(&mut self, on_card: &Path, fate: &Fate) -> Option<Finding> {
        let (found, finding) = match fate {
            Fate::Written(found) => {
                self.written += 1;
                (Some(found.way.is_from_device()), None)
            }
            Fate::There(found) => {
                self.there += 1;
                (Some(found.way.is_from_device()), None)
            }
            Fate::Proved => {
                self.there += 1;
                (Some(true), None)
            }
            Fate::NotTried => (None, None),
            Fate::Refused(why) => {
                self.refused += 1;
                let saw = format!("{why}; the card's is {}", on_card.display());
                let did = "left it as it is, and did not copy the card's";
                (None, Some(Finding::new("name-taken", saw, did)))
            }
            Fate::Differs => {
                self.failed += 1;
                let saw = "what was read back is not what was written";
                let did = "put nothing in its place";
                (None, Some(Finding::new("readback-differs", saw, did)))
            }
            Fate::Failed(error) => {
                self.failed += 1;
                let did = "put nothing in its place";
                (
                    None,
                    Some(Finding::new("copy-failed", error.to_string(), did)),
                )
            }
        };
        self.verified += u64::from(found == Some(true));
        self.copied += u64::from(found == Some(false));
        finding
    }
}

/// What is said of a file that could not be read from the card.
pub(super) fn card_finding(fault: &CardFault) -> Finding {
    let did = "went on with the next file";
    match fault {
        CardFault::Unreadable {
            offset,
            error,
            tries,
        } => Finding::new(
            "read-error",
            match tries {
                1 => format!("at byte {offset}: {error}"),
                tries => format!("at byte {offset}: {error}; tried {tries} times"),
            },
            did,
        ),
        CardFault::Changed => Finding::new("changed", "it changed while it was read", did),
        CardFault::ReadsDiffer => Finding::new(
            "reads-differ",
            "the second read gave other bytes than the first",
            did,
        ),
    }
}
