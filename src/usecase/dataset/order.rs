//! What a Parquet export contains, where it is written, the result. Fields only.

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
    /// The compiled query.
    pub compiled: &'a Compiled,
    /// The most frames; takes the earliest.
    pub limit: Option<u64>,
    /// Whether it is partitioned.
    pub parted: Parted,
    /// The program's version.
    pub version: &'a str,
    /// The current instant.
    pub now: Utc,
    /// Whether everything is done but the writing.
    pub dry_run: bool,
    /// Set to stop the run.
    pub stop: &'a AtomicBool,
}

/// The result.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DataTally {
    /// Frames.
    pub frames: u64,
    /// Radiants.
    pub radiants: u64,
    /// Whether it was stopped early.
    pub stopped: bool,
}

/// Opens and closes the files of a Parquet export.
pub struct DataPlace<'p, W> {
    /// Opens one.
    pub open: &'p mut dyn FnMut(&DataFile) -> Result<W, Failure>,
    /// Takes one back when all of it is written.
    pub close: &'p mut dyn FnMut(&DataFile, W) -> Result<(), Failure>,
    /// Receives the number of frames written.
    pub watch: &'p mut dyn FnMut(u64),
}
