//! Words of the `clock` command. Decides nothing.

use std::path::PathBuf;

use clap::Args;
use clap::Subcommand;

use crate::cli::args_form::RowForm;

/// Commands about bodies' clocks.
#[derive(Debug, Subcommand)]
pub enum ClockCommand {
    /// When this body's clock read A, the true time was B: put its frames right
    Fix(ClockFixArgs),
    /// The zone a body's clock was set to: many are left at home time, or on UTC
    Zone(ClockZoneArgs),
    /// List what is stated of each body's clock
    List {
        /// The form of the list
        #[arg(long = "as", value_enum, default_value_t = RowForm::Table)]
        form: RowForm,
    },
    /// Remove a fix or a zone; all that followed from it goes back
    Remove(ClockRemoveArgs),
}

/// Arguments of `clock fix`.
#[derive(Args, Debug)]
#[command(
    after_long_help = "A fix applies in its epoch: up to the resets on either side. One fix shifts every frame there; two or \
    more give the drift, which goes on outside them. docs/clocks.md has the whole model.\n\nExamples:\n  framefall clock \
    fix 2B-00318 --read '2023-12-13 22:30:21' --true 2023-12-14T05:30:21Z\n  framefall clock fix --frame \
    card/IMG_0001.CR2 --true 2023-12-13T22:14:55Z\n  framefall clock fix --session 4 --read '2023-12-13 22:30:21' --true \
    2023-12-14T05:30:21Z"
)]
#[command(group = clap::ArgGroup::new("shown").required(true))]
pub struct ClockFixArgs {
    /// The body: its serial number, any part of make, model and serial that fits one body only, or its number (body-3)
    #[arg(value_name = "CAMERA", required_unless_present_any = ["frame", "session"])]
    pub camera: Option<String>,

    /// What the body's clock showed: '2023-12-13 23:14:07'
    #[arg(long, value_name = "READING", group = "shown")]
    pub read: Option<String>,

    /// A picture that the body took of a clock that runs true
    #[arg(long, value_name = "FILE", group = "shown")]
    pub frame: Option<PathBuf>,

    /// The true time then, with its offset: 2023-12-13T22:14:55Z
    #[arg(long = "true", value_name = "INSTANT")]
    pub true_utc: String,

    /// The clock was reset since the fix before this one: nothing before that reset is concerned
    #[arg(long)]
    pub reset_before: bool,

    /// The clock was reset on this day, or at this reading, and the fix applies from there on
    #[arg(long, value_name = "DAY")]
    pub from: Option<String>,

    /// The fix applies to this day, or up to this reading; then the clock was reset. With --from: only between the two
    #[arg(long, value_name = "DAY")]
    pub until: Option<String>,

    /// The fix applies to the readings of this session only
    #[arg(long, value_name = "ID", conflicts_with_all = ["from", "until"])]
    pub session: Option<i64>,

    /// Say what would change, and change nothing
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

    /// The first day, or reading of the body's clock, that it holds for
    #[arg(long, value_name = "DAY")]
    pub from: Option<String>,

    /// The last day it holds for, or the first reading after
    #[arg(long, value_name = "DAY")]
    pub until: Option<String>,

    /// It holds for the readings of this session only
    #[arg(long, value_name = "ID", conflicts_with_all = ["from", "until"])]
    pub session: Option<i64>,

    /// Say what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Arguments of `clock remove`.
#[derive(Args, Debug)]
pub struct ClockRemoveArgs {
    /// The statement's name in `clock list`: fix-1, zone-1
    #[arg(value_name = "STATEMENT")]
    pub name: String,

    /// Say what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}
