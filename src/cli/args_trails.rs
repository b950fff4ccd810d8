//! The words of `framefall trails`. Decides nothing.

use std::path::PathBuf;

use clap::Args;
use clap::Subcommand;

use crate::cli::args_form::ROW_FORMS;
use crate::cli::values::Word;
use crate::cli::values::words;
use crate::framelist::Format;
use crate::terms::found_trail::TrailClass;
use crate::terms::trail::TrailIs;

/// Arguments of `trails`.
#[derive(Args, Debug)]
#[command(
    args_conflicts_with_subcommands = true,
    subcommand_negates_reqs = true,
    after_long_help = "Examples:\n  framefall trails 2023-12-13\n  framefall trails 'meteors > 0 and GEM.alt > 30' --as csv\n  \
    framefall trails add NITE4217.ARW --from 1200,800 --to 1610,420 --is meteor --shower GEM\n  \
    framefall trails judge 17 c18 --is satellite\n  \
    framefall trails 2023-12-13 --class meteor\n  \
    framefall trails picture c18 --to trail.jpg"
)]
pub struct TrailsArgs {
    /// What to do instead of listing
    #[command(subcommand)]
    pub command: Option<TrailsCommand>,

    /// The night, as the evening's date, the number of a session, or a query
    #[arg(value_name = "NIGHT|SESSION|QUERY", required = true)]
    pub of: Option<String>,

    /// Every active radiant against every meteor: miss distance, perspective, probability
    #[arg(long)]
    pub explain: bool,

    /// Give the ends in the picture turned upright by its orientation, not as the camera stored it
    #[arg(long, conflicts_with = "explain")]
    pub oriented: bool,

    /// Only candidates of this class
    #[arg(long, value_parser = words(CLASSES), value_name = "WORD")]
    pub class: Option<TrailClass>,

    /// The format of the list
    #[arg(long = "as", value_parser = words(ROW_FORMS), default_value = "table")]
    pub form: Format,
}

/// Commands of `trails`.
#[derive(Debug, Subcommand)]
pub enum TrailsCommand {
    /// State a trail in a frame, by its two ends
    Add(TrailsAddArgs),
    /// State what trails are
    Judge(TrailsJudgeArgs),
    /// Remove trails
    Remove(TrailsRemoveArgs),
    /// Write a picture of a trail: the frame before, the frame, the frame after, what is new, the light along the line
    Picture(TrailsPictureArgs),
}

/// Arguments of `trails add`.
#[derive(Args, Debug)]
#[command(
    after_long_help = "Pixels are those of the full picture as the camera stored it, before it is turned upright: x to the right and y \
    downward, from the outer corner of the first pixel.\n\n\
    Examples:\n  framefall trails add NITE4217.ARW --from 1200,800 --to 1610,420 --is meteor --shower GEM\n  \
    framefall trails add 'session = 3 and seq = 12' --from 0,310.5 --to 5990,2200 --is aircraft"
)]
pub struct TrailsAddArgs {
    /// The frame: the name or the path of its file, or a query that selects it alone
    #[arg(value_name = "FRAME")]
    pub frame: String,

    /// Where the trail begins, in pixels of the full picture
    #[arg(long, value_name = "X,Y", allow_hyphen_values = true)]
    pub from: String,

    /// Where it ends
    #[arg(long, value_name = "X,Y", allow_hyphen_values = true)]
    pub to: String,

    /// What it is
    #[arg(long, value_parser = words(TRAIL_WORDS), value_name = "WORD")]
    pub is: TrailIs,

    /// The shower of a meteor: its code, or 'sporadic'
    #[arg(long, value_name = "CODE")]
    pub shower: Option<String>,

    /// Show what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Arguments of `trails judge`.
#[derive(Args, Debug)]
pub struct TrailsJudgeArgs {
    /// The numbers of the trails; c7 is the candidate of number 7
    #[arg(value_name = "TRAIL", required = true)]
    pub trails: Vec<String>,

    /// What they are
    #[arg(long, value_parser = words(TRAIL_WORDS), value_name = "WORD")]
    pub is: TrailIs,

    /// The shower of a meteor: its code, or 'sporadic'
    #[arg(long, value_name = "CODE")]
    pub shower: Option<String>,

    /// Show what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Arguments of `trails remove`.
#[derive(Args, Debug)]
pub struct TrailsRemoveArgs {
    /// The numbers of the trails
    #[arg(value_name = "TRAIL", required = true)]
    pub trails: Vec<i64>,

    /// Show what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Arguments of `trails picture`.
#[derive(Args, Debug)]
pub struct TrailsPictureArgs {
    /// The number of the trail; c7 is the candidate of number 7
    #[arg(value_name = "TRAIL")]
    pub trail: String,

    /// The JPEG file to write
    #[arg(long, value_name = "FILE")]
    pub to: PathBuf,

    /// Replace an existing file
    #[arg(long)]
    pub overwrite: bool,
}

/// What a trail is.
pub const TRAIL_WORDS: &[Word<TrailIs>] = &[
    ("meteor", TrailIs::Meteor, "A meteor"),
    ("satellite", TrailIs::Satellite, "A satellite"),
    ("aircraft", TrailIs::Aircraft, "An aircraft"),
    ("other", TrailIs::Other, "Anything else"),
];

/// What a candidate is taken for.
pub const CLASSES: &[Word<TrailClass>] = &[
    ("meteor", TrailClass::Meteor, "Taken for a meteor"),
    (
        "moving-light",
        TrailClass::MovingLight,
        "A satellite or an aircraft",
    ),
    ("other-light", TrailClass::OtherLight, "Anything else"),
];
