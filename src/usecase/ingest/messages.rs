//! Messages between the threads of an ingest, and progress events. Fields only.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::io;
use std::path::Path;
use std::path::PathBuf;

use crate::capture::walk::WalkedFile;
use crate::catalogue::body_night::BodyNight;
use crate::terms::finding::Finding;
use crate::terms::records::FileReading;
use crate::usecase::dumps::recognised::Recognised;
use crate::usecase::ingest::ingest_file::Before;

/// Whether progress is displayed: then the files are counted ahead of the reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Watched {
    /// Somebody does.
    Yes,
    /// Nobody does.
    No,
}

/// A progress event.
#[derive(Debug)]
pub enum Event<'a> {
    /// A folder that is new to the catalogue was recognised as a known dump, or might be one.
    Recognised(&'a Recognised),
    /// The derived rows of this many frames are missing, and are recomputed by this ingest.
    Missing(u64),
    /// How many files are done, of those counted so far.
    At {
        /// Done.
        done: u64,
        /// Counted by now.
        of: u64,
    },
    /// All files are in; how many frames are derived, of how many.
    Derived {
        /// Derived.
        done: u64,
        /// Of how many.
        of: u64,
    },
    /// A finding about a file or folder.
    Odd {
        /// Which.
        path: &'a Path,
        /// What.
        finding: &'a Finding,
        /// Whether the catalogue has it too.
        kept: Kept,
    },
}

/// Whether the catalogue has a finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// It has: the audit lists it.
    InCatalogue,
    /// It has not: it is about something that is not a file of a frame.
    Nowhere,
}

/// The result of an ingest.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct IngestReport {
    /// Files met on the dumps.
    pub seen: u64,
    /// Of these, known and unchanged, and therefore not read.
    pub unchanged: u64,
    /// Of these, skipped, by extension.
    pub passed_over: BTreeMap<String, u64>,
    /// Frames that are new to the catalogue.
    pub frames_new: u64,
    /// Frames known before that a file joined, or whose file has changed.
    pub frames_known: u64,
    /// Files that joined a frame as its raw file, its JPEG, or an undamaged copy of a damaged one.
    pub joined: u64,
    /// Files that repeat the contents of a known file.
    pub further_copies: u64,
    /// Files read by this run that are damaged or could not be read.
    pub damaged: u64,
    /// Files that an earlier ingest found damaged, and that are unchanged since.
    pub damaged_before: u64,
    /// Of the damaged ones of this run, those that could not be read at all.
    pub unreadable: u64,
    /// Folders that could not be listed.
    pub folders_unreadable: u64,
    /// Things that are not files of frames, and that were not reported to `watch` because there are too many.
    pub odd_untold: u64,
    /// New frames without UTC.
    pub undated: u64,
    /// New or changed frames without a place.
    pub unplaced: u64,
    /// Frames of an earlier ingest that the stated site has now placed.
    pub placed_later: u64,
    /// Frames that loaded statements waited for.
    pub frames_awaited: u64,
    /// Frames of an earlier ingest whose derived rows were missing and were recomputed.
    pub rebuilt: u64,
    /// How often a frame was derived: once for each new frame, and for each that is now placed differently.
    pub derived: u64,
    /// Sessions that are new or have changed.
    pub sessions: u64,
    /// The nights whose frames are new or have changed, and those that runs across a dark noon join to them.
    pub nights: BTreeSet<BodyNight>,
    /// Bytes read from the dumps.
    pub bytes_read: u64,
    /// Whether the run was stopped early.
    pub stopped: bool,
}

/// A file on its way to the readers and on to the writer.
#[derive(Debug)]
pub(crate) struct Job {
    pub(crate) dump: usize,
    pub(crate) file: WalkedFile,
    pub(crate) before: Before,
}

impl Job {
    /// The file's path, by the roots of the dumps.
    pub(crate) fn path(&self, roots: &[PathBuf]) -> PathBuf {
        roots[self.dump]
            .join(&self.file.folder)
            .join(&self.file.name)
    }
}

/// Files that are sent together: waking a thread costs as much as reading a file's head.
#[derive(Debug)]
pub(crate) struct Parcel<T> {
    /// Its position in the order of the walk, from 0.
    pub(crate) number: u64,
    /// The files, in order.
    pub(crate) files: Vec<T>,
}

/// A file that has been read; no reading for one that is not a picture, an error if this computer ran short.
pub(crate) type Read = (Job, io::Result<Option<FileReading>>);
