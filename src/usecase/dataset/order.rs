//! What a data set is made of, where it is written, what was written. Fields only.

use std::sync::atomic::AtomicBool;

use crate::query::Compiled;
use crate::terms::failure::Failure;
use crate::terms::time::Utc;
use crate::usecase::dataset::file::DataFile;
use crate::usecase::dataset::file::Parted;

/// What is to be written.
#[derive(Clone, Copy, Debug)]
pub struct DataOrder<'a> {
    /// The query as it was typed.
    pub query: &'a str,
    /// Which frames it means.
    pub compiled: &'a Compiled,
    /// At most so many frames, the earliest.
    pub limit: Option<u64>,
    /// Whether it is parted.
    pub parted: Parted,
    /// The program's version.
    pub version: &'a str,
    /// The current instant.
    pub now: Utc,
    /// Raised when the photographer wants it to stop.
    pub stop: &'a AtomicBool,
}

/// What was written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DataTally {
    /// Frames.
    pub frames: u64,
    /// Radiants.
    pub radiants: u64,
    /// Whether it was stopped half-way.
    pub stopped: bool,
}

/// Where the files of a data set are opened and closed.
pub struct DataPlace<'p, W> {
    /// Opens one.
    pub open: &'p mut dyn FnMut(&DataFile) -> Result<W, Failure>,
    /// Is given it back when all of it is written.
    pub close: &'p mut dyn FnMut(&DataFile, W) -> Result<(), Failure>,
    /// Is told how many frames are written.
    pub watch: &'p mut dyn FnMut(u64),
}
