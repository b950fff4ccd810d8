//! Words of the `clock` command. Decides nothing.

use std::path::PathBuf;

use clap::Args;
use clap::Subcommand;

use crate::cli::args_form::ListArgs;
use crate::cli::values;

/// Commands about bodies' clocks.
#[derive(Debug, Subcommand)]
pub enum ClockCommand {
    /// Correct a body's frames: when its clock showed A, the true time was B
    Fix(ClockFixArgs),
    /// State the zone a body's clock was set to, for example home time or UTC
    Zone(ClockZoneArgs),
    /// List the statements about each body's clock
    List(ListArgs),
    /// Remove a fix or a zone, and undo its effects
    Remove(ClockRemoveArgs),
}

/// Arguments of `clock fix`.
#[derive(Args, Debug)]
#[command(
    after_long_help = "--fast and --slow compare the clock with the zone it was set to: the offset beside its readings, the zone \
    stated for the body, or that of the site.\n\nA fix applies in its epoch, between two resets of the clock. One fix shifts every \
    frame there; two or more give the drift, which continues beyond them. docs/clocks.md has all the rules.\n\nExamples:\n  framefall clock \
    fix 2B-00318 --read '2023-12-13 22:30:21' --true 2023-12-14T05:30:21Z\n  framefall clock fix --frame \
    card/IMG_0001.CR2 --true 2023-12-13T22:14:55Z\n  framefall clock fix 2B-00318 --fast 1h --from 2023-12-13 \
    --until 2023-12-14\n  framefall clock fix --session 4 --read '2023-12-13 22:30:21' --true \
    2023-12-14T05:30:21Z"
)]
#[command(group = clap::ArgGroup::new("shown").required(true))]
pub struct ClockFixArgs {
    /// The body: its serial number, any part of make, model and serial that fits one body only, or its number (body-3)
    #[arg(value_name = "CAMERA", required_unless_present_any = ["frame", "session"])]
    pub camera: Option<String>,

    /// The time that the body's clock showed: '2023-12-13 23:14:07'
    #[arg(long, value_name = "READING", group = "shown")]
    pub read: Option<String>,

    /// A picture that the body took of a correct clock
    #[arg(long, value_name = "FILE", group = "shown")]
    pub frame: Option<PathBuf>,

    /// How far the clock was ahead, instead of a reading and the true time: 1h, 90s, 1h2min
    #[arg(long, value_name = "SPAN", group = "shown", allow_hyphen_values = true, value_parser = values::span_ms)]
    pub fast: Option<i64>,

    /// How far the clock was behind, likewise
    #[arg(long, value_name = "SPAN", group = "shown", allow_hyphen_values = true, value_parser = values::span_ms)]
    pub slow: Option<i64>,

    /// The true time at that moment, with its offset: 2023-12-13T22:14:55Z
    #[arg(long = "true", value_name = "INSTANT", required_unless_present_any = ["fast", "slow"], conflicts_with_all = ["fast", "slow"])]
    pub true_utc: Option<String>,

    /// The clock was reset since the previous fix; nothing before that reset changes
    #[arg(long)]
    pub reset_before: bool,

    /// The clock was reset on this day, or at this reading; the fix applies from then on
    #[arg(long, value_name = "DAY")]
    pub from: Option<String>,

    /// The fix applies until this day, or this reading, when the clock was reset. With --from: only between the two
    #[arg(long, value_name = "DAY")]
    pub until: Option<String>,

    /// The fix applies to the frames of this session only; repeat it for several
    #[arg(long, value_name = "NUMBER", allow_negative_numbers = true, value_parser = values::session, conflicts_with_all = ["from", "until"])]
    pub session: Vec<i64>,

    /// Of the session's frames, those on this dump only
    #[arg(long, value_name = "LABEL", requires = "session")]
    pub dump: Option<String>,

    /// Of the session's frames, only those from one file name to another
    #[arg(long, value_name = "FIRST..LAST", requires = "session")]
    pub files: Option<String>,

    /// Show what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Arguments of `clock zone`.
#[derive(Args, Debug)]
pub struct ClockZoneArgs {
    /// The body: its serial number, any part of make, model and serial that fits one body only, or its number (body-3)
    #[arg(value_name = "CAMERA")]
    pub camera: String,

    /// IANA zone, such as Europe/Rome or UTC, or a fixed offset, such as +01:00
    #[arg(value_name = "ZONE", allow_hyphen_values = true)]
    pub zone: String,

    /// The first day, or reading of the body's clock, to which it applies
    #[arg(long, value_name = "DAY")]
    pub from: Option<String>,

    /// The last day to which it applies, or the first reading after it
    #[arg(long, value_name = "DAY")]
    pub until: Option<String>,

    /// It applies to the readings of this session only
    #[arg(long, value_name = "NUMBER", allow_negative_numbers = true, value_parser = values::session, conflicts_with_all = ["from", "until"])]
    pub session: Option<i64>,

    /// Show what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Arguments of `clock remove`.
#[derive(Args, Debug)]
pub struct ClockRemoveArgs {
    /// The statement's name in `clock list`: fix-1, zone-1
    #[arg(value_name = "STATEMENT")]
    pub name: String,

    /// Show what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}
