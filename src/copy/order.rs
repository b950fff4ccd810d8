//! What to copy and how, and what became of it. Fields, no reading.

use std::io;
use std::path::Path;
use std::path::PathBuf;

use crate::terms::content::Hashes;
use crate::terms::content::ReadWay;

/// A file of the card, as it was listed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CardFile {
    /// Its path below the card's root.
    pub below: PathBuf,
    /// Its size.
    pub bytes: u64,
    /// Its time stamp, nanoseconds since 1970; 0 where it has none.
    pub modified_ns: i64,
}

/// A folder to copy to.
#[derive(Clone, Copy, Debug)]
pub struct TargetRoot<'a> {
    /// The folder that stands for the card's root.
    pub root: &'a Path,
    /// Whether its device can be asked ([`crate::capture::disk::Disk::is_device`]).
    pub is_device: bool,
}

/// Whether each file of the card is read twice and compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReadTwice {
    /// It is.
    Yes,
    /// It is read once.
    No,
}

/// What to copy, and how.
pub struct CopyOrder<'a> {
    /// The card's root.
    pub card: &'a Path,
    /// Whether the card's device can be asked.
    pub card_is_device: bool,
    /// Its files.
    pub files: &'a [CardFile],
    /// The numbers of those to copy, in the order in which they are read.
    pub only: &'a [usize],
    /// Where to.
    pub targets: &'a [TargetRoot<'a>],
    /// Whether a file is proved at a target, where one of its name, its size and this time stamp is there.
    pub is_proved: &'a (dyn Fn(usize, usize, i64) -> bool + Sync),
    /// How often a spot of the card is tried.
    pub tries: u32,
    /// Whether the card is read twice.
    pub twice: ReadTwice,
}

/// What became of one file.
#[derive(Debug)]
pub struct FileDone {
    /// Its number in the list.
    pub index: usize,
    /// Its hashes; `None` where it was not read: it is proved at each target, or refused there.
    pub hashes: Option<Hashes>,
    /// Why it could not be read from the card.
    pub fault: Option<CardFault>,
    /// What became of it at each target.
    pub fates: Vec<Fate>,
}

/// What is told on the way.
#[derive(Debug)]
pub enum CopyEvent {
    /// How far it is.
    At {
        /// Bytes that were read from the card or read back.
        done: u64,
        /// Bytes in all.
        of: u64,
        /// The number of the file that is being read from the card.
        reading: Option<usize>,
        /// The number of a file that is being read back.
        reading_back: Option<usize>,
    },
    /// A file is done at every target.
    File(FileDone),
}

/// Why a file of the card could not be taken.
#[derive(Debug)]
pub enum CardFault {
    /// The card or its reader gave an error.
    Unreadable {
        /// The first byte that could not be read.
        offset: u64,
        /// What the system said.
        error: io::Error,
        /// How often it was tried.
        tries: u32,
    },
    /// It is not what it was when the card was listed.
    Changed,
    /// Two reads gave different bytes.
    ReadsDiffer,
}

/// A file of a target that has the card's bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Found {
    /// How it was read back.
    pub way: ReadWay,
    /// Its time stamp there, nanoseconds since 1970: as much of the card's as the file system can hold.
    pub modified_ns: i64,
}

/// What became of a file at a target.
#[derive(Debug)]
pub enum Fate {
    /// Written, read back, equal, and in its place.
    Written(Found),
    /// It was there; read back, and equal.
    There(Found),
    /// It was there and is proved already; not read again.
    Proved,
    /// Something else has its name, and stays: what.
    Refused(String),
    /// What was read back differs from the card. Nothing was put in its place.
    Differs,
    /// It could not be written or read back. Nothing was put in its place.
    Failed(io::Error),
    /// Not tried: the card could not be read, or the target takes no more.
    NotTried,
}
