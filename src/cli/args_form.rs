//! The formats of lists, as values of options.

use clap::Args;

use crate::cli::values::Word;
use crate::cli::values::words;
use crate::framelist::Format;

/// Formats of the other lists.
pub const ROW_FORMS: &[Word<Format>] = &[
    ("table", Format::Table, "Aligned, with units"),
    ("csv", Format::Csv, "Comma-separated values"),
    ("json", Format::Json, "One JSON array"),
    ("jsonl", Format::Jsonl, "One JSON object per line"),
];

/// Formats of a list of frames.
pub const LIST_FORMS: &[Word<Format>] = &[
    (
        "table",
        Format::Table,
        "Aligned, with units, fitted to the screen",
    ),
    (
        "csv",
        Format::Csv,
        "Comma-separated values, one line per frame",
    ),
    ("json", Format::Json, "One JSON array"),
    ("jsonl", Format::Jsonl, "One JSON object per line"),
    ("paths", Format::Paths, "One path per line"),
    ("paths0", Format::Paths0, "Paths, each ended by a NUL byte"),
];

/// Arguments of a command that lists everything of its kind.
#[derive(Args, Debug)]
pub struct ListArgs {
    /// The format of the list
    #[arg(long = "as", value_parser = words(ROW_FORMS), default_value = "table")]
    pub form: Format,
}
