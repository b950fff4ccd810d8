//! `framefall clock`.

use crate::cli::args_clock::ClockCommand;
use crate::cli::args_clock::ClockFixArgs;
use crate::cli::args_clock::ClockRemoveArgs;
use crate::cli::args_clock::ClockZoneArgs;
use crate::cli::commands::changed::mode;
use crate::cli::commands::changed::print_changed;
use crate::cli::commands::changed::stating;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::setting::Setting;
use crate::terms::clock::Before;
use crate::terms::failure::Failure;
use crate::terms::printable::printable;
use crate::usecase::clocks::limits::Limits;
use crate::usecase::clocks::sheet;
use crate::usecase::clocks::shown::FixOrder;
use crate::usecase::clocks::shown::Showed;
use crate::usecase::clocks::state::Stated;
use crate::usecase::clocks::state::ZoneOrder;
use crate::usecase::clocks::state::state_fix;
use crate::usecase::clocks::state::state_zone;
use crate::usecase::clocks::state::take_back;

/// Runs the command.
pub fn run(setting: &Setting, command: &ClockCommand) -> Result<Outcome, Failure> {
    match command {
        ClockCommand::Fix(args) => fix(setting, args),
        ClockCommand::Zone(args) => zone(setting, args),
        ClockCommand::List(list) => setting.sheet(list.form, sheet::clocks),
        ClockCommand::Remove(args) => remove(setting, args),
    }
}

fn fix(setting: &Setting, args: &ClockFixArgs) -> Result<Outcome, Failure> {
    let error_ms = args.fast.or(args.slow.map(|slow_ms| -slow_ms));
    let showed = match (&args.read, &args.frame, error_ms) {
        (Some(text), ..) => Showed::Reading(text),
        (None, Some(path), _) => Showed::Frame(path),
        (None, None, Some(fast_ms)) => Showed::Error(fast_ms),
        (None, None, None) => {
            return Err(Failure::words("a clock fix needs what the clock showed")
                .hint("--read READING, --frame FILE, --fast SPAN or --slow SPAN"));
        }
    };
    let order = FixOrder {
        camera: args.camera.as_deref(),
        showed,
        true_utc: args.true_utc.as_deref().unwrap_or_default(),
        before: if args.reset_before {
            Before::Reset
        } else {
            Before::RanOn
        },
        limits: Limits {
            from: args.from.as_deref(),
            until: args.until.as_deref(),
            sessions: &args.session,
            dump: args.dump.as_deref(),
            files: args.files.as_deref(),
        },
        now: now()?,
    };
    let stated = stating(setting, args.dry_run, |catalogue, mode, watch| {
        state_fix(catalogue, &order, mode, watch)
    })?;
    print_stated(setting, "added", &stated, args.dry_run)
}

fn zone(setting: &Setting, args: &ClockZoneArgs) -> Result<Outcome, Failure> {
    let order = ZoneOrder {
        camera: &args.camera,
        zone: &args.zone,
        limits: Limits {
            from: args.from.as_deref(),
            until: args.until.as_deref(),
            sessions: args.session.as_slice(),
            ..Limits::default()
        },
    };
    let stated = stating(setting, args.dry_run, |catalogue, mode, watch| {
        state_zone(catalogue, &order, mode, watch)
    })?;
    print_stated(setting, "added", &stated, args.dry_run)
}

fn remove(setting: &Setting, args: &ClockRemoveArgs) -> Result<Outcome, Failure> {
    let stated = stating(setting, args.dry_run, |catalogue, mode, watch| {
        take_back(catalogue, &args.name, mode, watch)
    })?;
    print_stated(setting, "removed", &stated, args.dry_run)
}

/// Prints a statement, and its effects.
fn print_stated(
    setting: &Setting,
    label: &str,
    stated: &Stated,
    dry_run: bool,
) -> Result<Outcome, Failure> {
    let reset = stated.reset_at.map_or_else(String::new, |at| {
        format!(", taken as reset at {at} (--from says otherwise)")
    });
    let words = format!(
        "{}: the clock of {} {}{reset}",
        stated.name,
        printable(&stated.camera.name),
        stated.words
    );
    print_changed(setting, (label, words), &stated.done, mode(dry_run))
}
