//! The formats of lists, as values of options.

use clap::ValueEnum;

/// Formats of the other lists.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum RowForm {
    /// Aligned, with units
    Table,
    /// Comma-separated values
    Csv,
    /// One JSON array
    Json,
    /// One JSON object per line
    Jsonl,
}

/// Formats of a list of frames.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ListForm {
    /// Aligned, with units, fitted to the screen
    Table,
    /// Comma-separated values, one line per frame
    Csv,
    /// One JSON array
    Json,
    /// One JSON object per line
    Jsonl,
    /// One path per line
    Paths,
    /// Paths, each ended by a NUL byte
    Paths0,
}
