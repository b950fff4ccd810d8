//! `framefall dump`.

use crate::catalogue::handle::Catalogue;
use crate::catalogue::purpose::Purpose;
use crate::cli::args_dump::DumpCommand;
use crate::cli::args_dump::DumpMoveArgs;
use crate::cli::args_dump::DumpRemoveArgs;
use crate::cli::commands::changed::changed;
use crate::cli::commands::changed::mode;
use crate::cli::commands::changed::open_to_state;
use crate::cli::commands::changed::say_if_dry;
use crate::cli::commands::changed::watched;
use crate::cli::commands::dump_copies;
use crate::cli::confirm::confirmed;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::print::Lines;
use crate::cli::print::Quiet;
use crate::cli::print::written;
use crate::cli::setting::Setting;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::plural::and_list;
use crate::terms::plural::counted;
use crate::terms::plural::plural_of;
use crate::terms::printable::printable;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::dumps::manage;
use crate::usecase::dumps::manage::Enough;
use crate::usecase::dumps::manage::MovedDump;
use crate::usecase::dumps::remove::DumpRemoved;
use crate::usecase::dumps::remove::remove_dump;

/// Runs the command.
pub fn run(setting: &Setting, command: &DumpCommand) -> Result<Outcome, Failure> {
    match command {
        DumpCommand::List(list) => {
            let now = now()?;
            return setting.sheet(list.form, |catalogue| manage::dumps(catalogue, now));
        }
        DumpCommand::Proof { label, form } => return dump_copies::proof(setting, label, *form),
        DumpCommand::Hashes {
            label,
            to,
            overwrite,
        } => return dump_copies::hashes(setting, label, to, *overwrite),
        DumpCommand::Move(args) => {
            let mut catalogue = setting.open(Purpose::Change)?;
            moved(setting, &mut catalogue, args)?;
        }
        DumpCommand::Remove(args) => return remove(setting, args),
        DumpCommand::Rename { label, new } => {
            let mut catalogue = setting.open(Purpose::Change)?;
            manage::rename_dump(&mut catalogue, label, new)?;
            say(setting, &format!("renamed {label} to {}", new.trim()))?;
        }
    }
    Ok(Outcome::Done)
}

fn remove(setting: &Setting, args: &DumpRemoveArgs) -> Result<Outcome, Failure> {
    let removed = |purpose: Purpose, mode: Mode| -> Result<DumpRemoved, Failure> {
        let mut catalogue = open_to_state(setting, purpose)?;
        watched(setting, |watch| {
            remove_dump(&mut catalogue, &args.label, mode, watch)
        })
    };
    let said = |label: &str, removed: &DumpRemoved| -> Result<(), Failure> {
        let mut lines = removed_lines(label, removed);
        // Of frames that stay: they may have been placed by those that go.
        lines.0.extend(changed(&removed.done).0);
        setting.tell(&lines)
    };
    if !args.yes {
        let would = removed(Purpose::Try, Mode::DryRun)?;
        said("would be removed", &would)?;
        say_if_dry(mode(args.dry_run));
        if args.dry_run {
            return Ok(Outcome::Done);
        }
        let question = format!(
            "Remove the dump {} from the catalogue?",
            printable(&would.label)
        );
        if !confirmed(false, &question)? {
            return Ok(Outcome::NotDone);
        }
    }
    said("removed", &removed(Purpose::Change, Mode::Lasting)?)?;
    Ok(Outcome::Done)
}

/// What goes with a dump; what stays.
fn removed_lines(label: &str, removed: &DumpRemoved) -> Lines {
    let mut lines = Lines::default();
    let (frames, files) = (
        counted(removed.frames, "frame"),
        counted(removed.files, "file"),
    );
    let (dump, place) = (printable(&removed.label), printable(&removed.place));
    lines.put(label, format!("dump {dump} at {place}: {frames}, {files}"));
    if !removed.sessions.is_empty() {
        let numbers: Vec<String> = removed.sessions.iter().map(i64::to_string).collect();
        let sessions = plural_of(numbers.len() as u64, "session");
        let sessions = format!("{sessions} {}", and_list(&numbers));
        lines.put("its frames were in", sessions);
    }
    if removed.elsewhere > 0 {
        let frames = counted(removed.elsewhere, "frame");
        lines.put("stay", format!("{frames}, which another dump has too"));
    }
    if removed.awaited > 0 {
        let frames = counted(removed.awaited, "frame");
        let kept = format!("of {frames}, until the dump is ingested again");
        lines.put("statements kept", kept);
    }
    lines
}

fn moved(setting: &Setting, catalogue: &mut Catalogue, args: &DumpMoveArgs) -> Result<(), Failure> {
    let enough = if args.mostly {
        Enough::Most
    } else {
        Enough::All
    };
    let moved = manage::move_dump(catalogue, &args.label, &args.to, enough)?;
    if moved.from == moved.to {
        return say(setting, &format!("dump {} is already there", moved.label));
    }
    say(setting, &words(&moved))
}

fn words(moved: &MovedDump) -> String {
    let found = &moved.found;
    let mut words = format!(
        "dump {} moved from {} to {}; {} of {} files checked match",
        moved.label,
        moved.from.display(),
        moved.to.display(),
        found.fit,
        found.looked
    );
    for label in &moved.freed {
        words = format!(
            "{words}\ndump {label} is no longer there; it is now offline and will be recognised \
             when you ingest it again"
        );
    }
    if found.retimed + found.missing + found.other == 0 {
        return words;
    }
    format!(
        "{words}\n{} with another time stamp, {} missing, {} different; to update the catalogue: {}",
        found.retimed,
        found.missing,
        found.other,
        CommandLine::new("ingest").argument(&moved.to)
    )
}

fn say(setting: &Setting, words: &str) -> Result<(), Failure> {
    if setting.quiet == Quiet::Yes {
        return Ok(());
    }
    print::answer(|out| {
        for line in words.lines() {
            writeln!(out, "{}", printable(line)).map_err(written)?;
        }
        Ok(())
    })?;
    Ok(())
}
