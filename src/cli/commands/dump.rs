//! `framefall dump`.

use crate::catalogue::handle::Catalogue;
use crate::catalogue::purpose::Purpose;
use crate::cli::args_dump::DumpCommand;
use crate::cli::args_dump::DumpMoveArgs;
use crate::cli::commands::dump_copies;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::print::written;
use crate::cli::setting::Setting;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::printable::printable;
use crate::usecase::dumps::manage;
use crate::usecase::dumps::manage::Enough;
use crate::usecase::dumps::manage::MovedDump;

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
        DumpCommand::Rename { label, new } => {
            let mut catalogue = setting.open(Purpose::Change)?;
            manage::rename_dump(&mut catalogue, label, new)?;
            say(setting, &format!("dump {label} is {} now", new.trim()))?;
        }
    }
    Ok(Outcome::Done)
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
