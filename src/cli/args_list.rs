//! Arguments of the commands that answer queries, a sentence each. Decides nothing.

use clap::ArgGroup;
use clap::Args;
use clap::Subcommand;
use clap::ValueEnum;

use crate::catalogue::count::Per;
use crate::cli::args_form::LIST_FORMS;
use crate::cli::args_form::ListArgs;
use crate::cli::values;
use crate::cli::values::Word;
use crate::cli::values::words;
use crate::framelist::Format;

/// Arguments of `frames`.
#[allow(clippy::struct_excessive_bools)] // flags of a command line are just that
#[derive(Args, Debug)]
#[command(
    args_conflicts_with_subcommands = true,
    after_long_help = "framefall frames --fields explains the query language and lists every field.\n\n\
    Examples:\n  framefall frames 'GEM.alt > 30 and moon.alt < 0'\n  \
    framefall frames 'night = 2023-12-13 and exposure in 10s..30s' --as csv\n  \
    framefall frames 'shower = PER and focal in 14..24 and kind = light' --as paths"
)]
pub struct FramesArgs {
    /// What to do instead of listing
    #[command(subcommand)]
    pub command: Option<FramesCommand>,

    /// The query that selects frames; all frames without one
    #[arg(value_name = "QUERY")]
    pub query: Option<String>,

    /// The format of the list
    #[arg(long = "as", value_parser = words(LIST_FORMS), default_value = "table")]
    pub form: Format,

    /// The columns: fields separated by commas, such as start,GEM.alt,moon.alt
    #[arg(long, value_name = "FIELDS", conflicts_with_all = ["count", "per"])]
    pub show: Option<String>,

    /// Show the start in UTC instead of the local time of the site
    #[arg(long, conflicts_with_all = ["show", "count", "per"])]
    pub utc: bool,

    /// Give the places of radiants (GEM.x and the like) in the picture turned upright, not as stored
    #[arg(long, conflicts_with_all = ["count", "per"])]
    pub oriented: bool,

    /// The order: fields separated by commas, such as 'GEM.alt desc,start' [default: start]
    #[arg(long, value_name = "FIELDS", allow_hyphen_values = true, conflicts_with_all = ["count", "per"])]
    pub by: Option<String>,

    /// The most frames
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = values::most, conflicts_with_all = ["count", "per"])]
    pub limit: Option<u64>,

    /// Print only the number of frames
    #[arg(long)]
    pub count: bool,

    /// Count the frames for each of these
    #[arg(long, value_parser = words(PER), value_name = "KEY")]
    pub per: Option<CountPer>,

    /// Show the SQL and the index used by each step, instead of an answer
    #[arg(long, conflicts_with_all = ["count", "per"])]
    pub explain: bool,

    /// Explain the query language, and list every field with its unit and an example
    #[arg(long, conflicts_with_all = ["query", "form", "show", "oriented", "by", "limit", "count", "per", "explain"])]
    pub fields: bool,
}

/// Commands of `frames`.
#[derive(Debug, Subcommand)]
pub enum FramesCommand {
    /// State which frames you have looked at, which you chose, and your notes about them
    Mark(FramesMarkArgs),
}

/// Arguments of `frames mark`.
#[derive(Args, Debug)]
#[command(
    group = ArgGroup::new("what").required(true).multiple(true),
    after_long_help = "A frame is chosen, not chosen, or nothing is said about it. The fields looked, chosen and note can be used in \
    every query and list.\n\n\
    Examples:\n  framefall frames mark 'file = NITE4217.ARW' --chosen yes --note 'fireball, low in the west'\n  \
    framefall frames mark 'session = 7' --looked yes\n  framefall frames mark 'night = 2023-12-13' --clear chosen,note --dry-run"
)]
pub struct FramesMarkArgs {
    /// The query that selects the frames
    #[arg(value_name = "QUERY")]
    pub query: String,

    /// Whether you have looked at them
    #[arg(
        long,
        value_parser = words(YES_NO),
        value_name = "yes|no",
        hide_possible_values = true,
        group = "what"
    )]
    pub looked: Option<bool>,

    /// Whether you want them in the picture
    #[arg(
        long,
        value_parser = words(YES_NO),
        value_name = "yes|no",
        hide_possible_values = true,
        group = "what"
    )]
    pub chosen: Option<bool>,

    /// A note about them, one line
    #[arg(long, value_name = "TEXT", group = "what")]
    pub note: Option<String>,

    /// Remove what is stated: looked, chosen, note, separated by commas
    #[arg(
        long,
        value_enum,
        value_name = "FIELDS",
        value_delimiter = ',',
        hide_possible_values = true,
        group = "what"
    )]
    pub clear: Vec<LookField>,

    /// Show what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Yes or no.
pub const YES_NO: &[Word<bool>] = &[("yes", true, "Yes"), ("no", false, "No")];

/// What is stated on looking at a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum LookField {
    /// Whether you have looked at it
    Looked,
    /// Whether you want it in the picture
    Chosen,
    /// Your note about it
    Note,
}

/// Commands of the saved queries.
#[derive(Debug, Subcommand)]
pub enum QueryCommand {
    /// Save a query under a name, for use as `@NAME` in another query
    Save {
        /// Its name
        #[arg(value_name = "NAME")]
        name: String,
        /// The query
        #[arg(value_name = "QUERY")]
        query: String,
    },
    /// List the saved queries
    List(ListArgs),
    /// Remove a saved query
    Remove {
        /// Its name
        #[arg(value_name = "NAME")]
        name: String,
    },
}

/// The keys for counting frames.
pub const PER: &[Word<CountPer>] = &[
    ("session", CountPer::Frames(Per::Session), "Session"),
    ("night", CountPer::Frames(Per::Night), "Night"),
    ("year", CountPer::Frames(Per::Year), "Year of the night"),
    ("site", CountPer::Frames(Per::Site), "Site"),
    ("camera", CountPer::Frames(Per::Camera), "Body"),
    ("kind", CountPer::Frames(Per::Kind), "What the frame is for"),
    (
        "lens",
        CountPer::Lens,
        "Lens, focal length and aperture, with the median widths of stars in the middle and in the corners",
    ),
    (
        "shower",
        CountPer::Frames(Per::Shower),
        "Every active shower: a frame counts for each",
    ),
];

/// What frames are counted for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CountPer {
    /// A key of frames.
    Frames(Per),
    /// Lenses, whose stars are measured as well.
    Lens,
}
