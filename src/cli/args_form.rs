//! The forms that lists are written in, as flags say them.

use clap::ValueEnum;

/// Forms of the other lists.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum RowForm {
    /// Aligned, with units
    Table,
    /// Comma-separated values
    Csv,
    /// One JSON array
    Json,
    /// One JSON object a line
    Jsonl,
}

/// Forms of a list of frames.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ListForm {
    /// Aligned, with units, cut to the screen
    Table,
    /// Comma-separated values, one line a frame
    Csv,
    /// One JSON array
    Json,
    /// One JSON object a line
    Jsonl,
    /// One path a line
    Paths,
    /// Paths, each ended by a NUL byte
    Paths0,
}
