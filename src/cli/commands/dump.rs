//! `framefall dump`.

use crate::catalogue::handle::Catalogue;
use crate::catalogue::purpose::Purpose;
use crate::cli::args_dump::DumpCommand;
use crate::cli::args_dump::DumpMoveArgs;
use crate::cli::args_dump::DumpRemoveArgs;
use crate::cli::commands::changed::changed;
use crate::cli::commands::changed::mode;
use crate::cli::commands::changed::say_if_dry;
use crate::cli::commands::changed::watched;
use crate::cli::commands::dump_copies;
use crate::cli::commands::rebuild::open_to_state;
use crate::cli::confirm::confirmed;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
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
        DumpCommand::List { form } => {
            let catalogue = setting.open(Purpose::Read)?;
            print::sheet(manage::dumps(&catalogue, now()?)?, *form)?;
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
        if setting.quiet == Quiet::Yes {
            return Ok(());
        }
        let mut lines = removed_lines(label, removed);
        // Of frames that stay: they may have been placed by those that go.
        lines.extend(changed(&removed.done));
        print::answer(|out| print::pairs(out, &lines)).map(|_| ())
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
fn removed_lines(label: &str, removed: &DumpRemoved) -> Vec<(String, String)> {
    let mut lines = vec![(
        label.to_owned(),
        format!(
            "dump {} at {}: {}, {}",
            printable(&removed.label),
            printable(&removed.place),
            counted(removed.frames, "frame"),
            counted(removed.files, "file")
        ),
    )];
    if !removed.sessions.is_empty() {
        let numbers: Vec<String> = removed.sessions.iter().map(i64::to_string).collect();
        lines.push((
            "its frames were in".to_owned(),
            format!(
                "{} {}",
                plural_of(numbers.len() as u64, "session"),
                and_list(&numbers)
            ),
        ));
    }
    if removed.elsewhere > 0 {
        let stay = format!(
            "{}, which another dump has too",
            counted(removed.elsewhere, "frame")
        );
        lines.push(("stay".to_owned(), stay));
    }
    if removed.awaited > 0 {
        let kept = format!(
            "of {}, until the dump is ingested again",
            counted(removed.awaited, "frame")
        );
        lines.push(("statements kept".to_owned(), kept));
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
