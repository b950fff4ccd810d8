//! Arguments of `export`, a sentence each. Decides nothing.

use std::path::Path;
use std::path::PathBuf;

use clap::Args;
use clap::ValueEnum;
use clap::builder::PossibleValue;

use crate::cli::args_form::ListForm;

/// Arguments of `export`.
#[allow(clippy::struct_excessive_bools)] // flags of a command line are just that
#[derive(Args, Debug)]
#[command(group = clap::ArgGroup::new("listed").args(["to", "again"]).multiple(true), after_long_help = "\
A manifest is written beside the list, FILE.manifest.json: the query, the options, the catalogue's state, each file's \
size, time stamp and hashes.\n\n\
Examples:\n  framefall export 'GEM.alt > 30 and kind = light' --to geminids.csv\n  \
framefall export 'night = 2023-12-13' --to night.txt --take raw --relative\n  \
framefall export 'night = 2023-12-13' --to night.csv --per-session --check content\n  \
framefall export 'session = 4' --to four.csv --reference NITE4217.ARW --show file,start,reference_turn\n  \
framefall export 'kind = light' --as parquet --per-year --to lights\n  \
framefall export --again four.csv.manifest.json")]
pub struct ExportArgs {
    /// The conditions
    #[arg(value_name = "QUERY", required_unless_present = "again")]
    pub query: Option<String>,

    /// The file to write; for Parquet a folder, or a file that ends in .parquet
    #[arg(long, value_name = "FILE", required_unless_present_any = ["again", "link_into"])]
    pub to: Option<PathBuf>,

    /// Make the list of this manifest again, say what differs, and replace it if told to by --overwrite
    #[arg(long, value_name = "MANIFEST", conflicts_with_all = [
        "query", "to", "form", "take", "relative", "per_session", "show", "limit",
        "with_darks", "with_flats", "with_bias", "link_into", "per_year",
    ])]
    pub again: Option<PathBuf>,

    /// The form of the list [default: by the file's ending; paths for .txt and others]
    #[arg(long = "as", value_enum, requires = "to")]
    pub form: Option<ExportForm>,

    /// Which file of a frame [default: raw where there is one, else what there is]
    #[arg(long, value_enum, value_name = "KIND")]
    pub take: Option<TakeWord>,

    /// Paths from the list's own folder instead of absolute ones
    #[arg(long, requires = "to")]
    pub relative: bool,

    /// Paths from this folder, which must hold every file
    #[arg(
        long,
        value_name = "DIR",
        conflicts_with = "relative",
        requires = "listed"
    )]
    pub root: Option<PathBuf>,

    /// A list for each session: night.csv becomes night.session-4.csv and so on
    #[arg(long, conflicts_with = "limit", requires = "to")]
    pub per_session: bool,

    /// With Parquet: a folder for each year of the nights, which engines leave out unread where a question asks of other years
    #[arg(long, conflicts_with = "per_session", requires = "to")]
    pub per_year: bool,

    /// The frame to which the sky is turned back: a file, the end of its path, or SESSION/SEQ [default: the light nearest
    /// the middle of the list]
    #[arg(long, value_name = "FRAME", requires = "listed")]
    pub reference: Option<String>,

    /// The columns, as fields with commas between them; those of a query, `reference`, `reference_turn`
    #[arg(long, value_name = "FIELDS", requires = "to")]
    pub show: Option<String>,

    /// And the darks that match its lights, from any night: a list beside it, night.darks.csv; in a tree of links a folder
    #[arg(long)]
    pub with_darks: bool,

    /// And the flats that match its lights
    #[arg(long)]
    pub with_flats: bool,

    /// And the bias frames that match its lights
    #[arg(long)]
    pub with_bias: bool,

    /// Make a folder tree of links to the files, by session and kind, for programs that take folders; with or without a list
    #[arg(long, value_name = "DIR")]
    pub link_into: Option<PathBuf>,

    /// How files of the tree stand for the frames' own [default: symbolic]
    #[arg(long, value_enum, value_name = "HOW", requires = "link_into")]
    pub link_as: Option<LinkWord>,

    /// At most so many frames, the earliest
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..))]
    pub limit: Option<u64>,

    /// What is looked at before the list is written [default: files]
    #[arg(long, value_enum, value_name = "WHAT")]
    pub check: Option<CheckWord>,

    /// Leave frames out whose files are missing, changed, or not of the kind asked for, instead of refusing the list
    #[arg(long)]
    pub allow_missing: bool,

    /// Hand on frames whose file is truncated, empty, blank or unreadable too, instead of leaving them out
    #[arg(long)]
    pub with_damaged: bool,

    /// Replace files that exist, a tree of links that framefall made, or a folder that holds nothing but a data set
    #[arg(long)]
    pub overwrite: bool,
}

/// What an export can be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ExportForm {
    /// A list of frames.
    List(ListForm),
    /// Tables for engines that read columns.
    Parquet,
}

impl ValueEnum for ExportForm {
    fn value_variants<'a>() -> &'a [Self] {
        &[
            Self::List(ListForm::Table),
            Self::List(ListForm::Csv),
            Self::List(ListForm::Json),
            Self::List(ListForm::Jsonl),
            Self::List(ListForm::Paths),
            Self::List(ListForm::Paths0),
            Self::Parquet,
        ]
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        match self {
            Self::List(form) => form.to_possible_value(),
            Self::Parquet => Some(PossibleValue::new("parquet").help(
                "Typed columns for engines that read columns, in a folder; needs the feature parquet",
            )),
        }
    }
}

/// Which of a frame's files.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum TakeWord {
    /// The raw file, nothing else
    Raw,
    /// The JPEG, nothing else
    Jpeg,
}

/// How a file of a tree stands for the frame's own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum LinkWord {
    /// A name that points at the file
    Symbolic,
    /// A second name of the file itself, on the same disk: a program that writes into it writes into your original
    Hard,
    /// A new file that shares the contents until one of the two is changed; some file systems of Linux can
    Reflink,
    /// A new file with the same contents
    Copy,
}

/// What is looked at on the disk.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum CheckWord {
    /// Each file is there, of the size and time it had when it was read
    Files,
    /// And its contents are what they were: reads every file from end to end
    Content,
    /// Nothing
    None,
}

/// Whether the place is that of a file, and not of a folder.
pub fn is_file(to: &Path) -> bool {
    to.extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("parquet"))
}
