//! Arguments of `export`, a sentence each. Decides nothing.

use std::path::Path;
use std::path::PathBuf;

use clap::Args;

use crate::cli::args_form::LIST_FORMS;
use crate::cli::values;
use crate::cli::values::Word;
use crate::cli::values::words;
use crate::framelist::Format;
use crate::terms::handoff::Check;
use crate::terms::handoff::Take;
use crate::terms::linktree::LinkAs;

/// Arguments of `export`.
#[allow(clippy::struct_excessive_bools)] // flags of a command line are just that
#[derive(Args, Debug)]
#[command(group = clap::ArgGroup::new("listed").args(["to", "again"]).multiple(true), after_long_help = "\
A manifest, FILE.manifest.json, is written beside the list: the query, the options, the catalogue's state, each file's \
size, time stamp and hashes.\n\n\
Examples:\n  framefall export 'GEM.alt > 30 and kind = light' --to geminids.csv\n  \
framefall export 'night = 2023-12-13' --to night.txt --take raw --relative\n  \
framefall export 'night = 2023-12-13' --to night.csv --per-session --check content\n  \
framefall export 'session = 4' --to four.csv --reference NITE4217.ARW --show file,start,reference_turn\n  \
framefall export 'kind = light' --as parquet --per-year --to lights\n  \
framefall export --again four.csv.manifest.json")]
pub struct ExportArgs {
    /// The query that selects frames
    #[arg(value_name = "QUERY", required_unless_present = "again")]
    pub query: Option<String>,

    /// The file to write; for Parquet a folder, or a file that ends in .parquet
    #[arg(long, value_name = "FILE", required_unless_present_any = ["again", "link_into"])]
    pub to: Option<PathBuf>,

    /// Make the list of this manifest again and report differences; with --overwrite, replace the list
    #[arg(long, value_name = "MANIFEST", conflicts_with_all = [
        "query", "to", "form", "take", "relative", "per_session", "show", "limit",
        "with_darks", "with_flats", "with_bias", "link_into", "per_year",
    ])]
    pub again: Option<PathBuf>,

    /// The format of the list [default: by the file's extension; paths for .txt and others]
    #[arg(long = "as", value_parser = words(export_forms()), requires = "to")]
    pub form: Option<ExportForm>,

    /// Which file of a frame to list [default: raw if there is one, otherwise any]
    #[arg(long, value_parser = words(TAKES), value_name = "KIND")]
    pub take: Option<Take>,

    /// Write paths relative to the list's own folder
    #[arg(long, requires = "to")]
    pub relative: bool,

    /// Write paths relative to this folder, which must contain every file
    #[arg(
        long,
        value_name = "DIR",
        conflicts_with = "relative",
        requires = "listed"
    )]
    pub root: Option<PathBuf>,

    /// Write a list for each session: night.csv becomes night.session-4.csv and so on
    #[arg(long, conflicts_with = "limit", requires = "to")]
    pub per_session: bool,

    /// With Parquet: a folder for each year, so that engines can skip the years that a query excludes
    #[arg(long, conflicts_with = "per_session", requires = "to")]
    pub per_year: bool,

    /// The reference frame, from which the turn of the sky is counted: a file, the end of its path, or SESSION/SEQ [default:
    /// the light nearest the middle of the list]
    #[arg(long, value_name = "FRAME", requires = "listed")]
    pub reference: Option<String>,

    /// The columns: fields separated by commas, including `reference`, `reference_turn` and `reference_turn_basis`
    #[arg(long, value_name = "FIELDS", requires = "to")]
    pub show: Option<String>,

    /// Add the darks that match its lights, from any night, as a list of their own, night.darks.csv; in a link tree, as a folder
    #[arg(long)]
    pub with_darks: bool,

    /// Add the flats that match its lights
    #[arg(long)]
    pub with_flats: bool,

    /// Add the bias frames that match its lights
    #[arg(long)]
    pub with_bias: bool,

    /// Make a folder tree of links to the files, by session and kind, for programs that open folders; with or without a list
    #[arg(long, value_name = "DIR")]
    pub link_into: Option<PathBuf>,

    /// How the tree links to the frames' files [default: symbolic]
    #[arg(long, value_parser = words(LINKS), value_name = "HOW", requires = "link_into")]
    pub link_as: Option<LinkAs>,

    /// The most frames; takes the earliest
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = values::most_from_one)]
    pub limit: Option<u64>,

    /// What to check before the list is written [default: files]
    #[arg(long, value_parser = words(CHECKS), value_name = "WHAT")]
    pub check: Option<Check>,

    /// Leave out frames whose files are missing, changed, or not of the requested kind, instead of refusing the list
    #[arg(long)]
    pub allow_missing: bool,

    /// Include frames whose file is truncated, empty, blank or unreadable, instead of leaving them out
    #[arg(long)]
    pub with_damaged: bool,

    /// Replace existing files, a link tree that framefall made, or a folder that contains only a Parquet export
    #[arg(long)]
    pub overwrite: bool,

    /// Say what would be written, and write nothing
    #[arg(long, conflicts_with = "again")]
    pub dry_run: bool,
}

/// The formats of an export.
fn export_forms() -> Vec<Word<ExportForm>> {
    let lists = LIST_FORMS.iter();
    let lists = lists.map(|(word, form, help)| (*word, ExportForm::List(*form), *help));
    let parquet = "Apache Parquet, in a folder; needs a build with the feature parquet";
    lists
        .chain([("parquet", ExportForm::Parquet, parquet)])
        .collect()
}

/// The format of an export.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ExportForm {
    /// A list of frames.
    List(Format),
    /// Parquet tables.
    Parquet,
}

/// Which of a frame's files.
pub const TAKES: &[Word<Take>] = &[
    ("raw", Take::Raw, "Raw files only"),
    ("jpeg", Take::Jpeg, "JPEG files only"),
];

/// How a tree links to a frame's file.
pub const LINKS: &[Word<LinkAs>] = &[
    (
        "symbolic",
        LinkAs::Symbolic,
        "A name that points at the file",
    ),
    (
        "hard",
        LinkAs::Hard,
        "A second name of the file itself, on the same disk: a program that writes into it writes into your original",
    ),
    (
        "reflink",
        LinkAs::Reflink,
        "A new file that shares the contents until one of the two is changed; supported by some Linux file systems",
    ),
    ("copy", LinkAs::Copy, "A new file with the same contents"),
];

/// What is checked on the disk.
pub const CHECKS: &[Word<Check>] = &[
    (
        "files",
        Check::Files,
        "Each file is there, with the size and time it had when it was read",
    ),
    (
        "content",
        Check::Content,
        "Its contents are also unchanged: reads every file from end to end",
    ),
    ("none", Check::Nothing, "Nothing"),
];

/// Whether the target is a file, and not a folder.
pub fn is_file(to: &Path) -> bool {
    to.extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("parquet"))
}
