//! `framefall statement`.

use std::collections::BTreeSet;
use std::io::ErrorKind;
use std::io::Write;
use std::path::Path;

use crate::catalogue::purpose::Purpose;
use crate::cli::args_statement::StatementCommand;
use crate::cli::args_statement::StatementTakeArgs;
use crate::cli::args_statement::StatementUndoArgs;
use crate::cli::commands::changed::mode;
use crate::cli::commands::changed::print_lines;
use crate::cli::commands::changed::purpose;
use crate::cli::commands::changed::say_if_dry;
use crate::cli::commands::changed::watched;
use crate::cli::commands::rebuild::open_to_state;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::setting::Setting;
use crate::output::atomic_file::AtomicFile;
use crate::output::atomic_file::Overwrite;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::plural::counted;
use crate::terms::printable::printable;
use crate::usecase::looking::undo::Direction;
use crate::usecase::looking::undo::undo;
use crate::usecase::statements::list::statement_lines;
use crate::usecase::statements::list::statements;
use crate::usecase::statements::take::Taken;
use crate::usecase::statements::take::read_statements;
use crate::usecase::statements::take::take_statements;

/// Runs the command.
pub fn run(setting: &Setting, command: &StatementCommand) -> Result<Outcome, Failure> {
    match command {
        StatementCommand::List { form } => {
            let catalogue = setting.open(Purpose::Read)?;
            print::sheet(statements(&catalogue)?, *form)?;
            Ok(Outcome::Done)
        }
        StatementCommand::Save { to, overwrite } => save(setting, to, *overwrite),
        StatementCommand::Undo(args) => undo_last(setting, args),
        StatementCommand::Take(args) => take(setting, args),
    }
}

fn save(setting: &Setting, to: &Path, overwrite: bool) -> Result<Outcome, Failure> {
    let catalogue = setting.open(Purpose::Read)?;
    let overwrite = if overwrite {
        Overwrite::Yes
    } else {
        Overwrite::No
    };
    let mut file = AtomicFile::begin(to, overwrite, "file of statements")?;
    let count = statement_lines(&catalogue, &mut |line| {
        let written = writeln!(file.out(), "{line}");
        written.map_err(|error| file.unwritable(error))
    })?;
    file.keep()?;
    if setting.quiet == Quiet::No {
        print::warn(&format!(
            "saved {} in {}",
            counted(count, "statement"),
            printable(&to.to_string_lossy())
        ));
    }
    Ok(Outcome::Done)
}

fn undo_last(setting: &Setting, args: &StatementUndoArgs) -> Result<Outcome, Failure> {
    let mut catalogue = open_to_state(setting, purpose(args.dry_run))?;
    let mode = mode(args.dry_run);
    let (direction, label) = if args.again {
        (Direction::Again, "stated again")
    } else {
        (Direction::Back, "taken back")
    };
    let undone = undo(&mut catalogue, &|_| true, direction, mode)?;
    if setting.quiet == Quiet::Yes {
        return Ok(Outcome::Done);
    }
    match undone {
        None => print::warn(&format!("nothing can be {label}")),
        Some(undone) => {
            let mut lines = vec![("frames".to_owned(), undone.frames.len().to_string())];
            let statements = undone.statements.into_iter();
            lines.extend(statements.map(|words| (label.to_owned(), words)));
            print::answer(|out| print::pairs(out, &lines))?;
            say_if_dry(mode);
        }
    }
    Ok(Outcome::Done)
}

fn take(setting: &Setting, args: &StatementTakeArgs) -> Result<Outcome, Failure> {
    let unreadable = |message: &str| {
        Failure::new(FailureKind::Words, message)
            .at_file(&args.from)
            .hint("such files are written by framefall statement save; nothing was changed")
    };
    let text = std::fs::read_to_string(&args.from).map_err(|error| match error.kind() {
        ErrorKind::InvalidData => unreadable("this is not a file of statements"),
        _ => unreadable("the file cannot be read").because(error),
    })?;
    let all = read_statements(&text).map_err(|failure| failure.at_file(&args.from))?;
    let purpose = if args.dry_run {
        Purpose::Try
    } else {
        Purpose::ChangeOrMake
    };
    let mut catalogue = open_to_state(setting, purpose)?;
    let mode = mode(args.dry_run);
    let taken = watched(setting, |watch| {
        take_statements(&mut catalogue, &all, mode, watch)
    })?;
    print_lines(setting, lines(&taken), &taken.done, mode)?;
    for (dump, frames) in &taken.not_here {
        print::warn(&format!(
            "not here: {} of dump {}; the statements about them wait for its ingest",
            counted(frames.len() as u64, "frame"),
            printable(dump)
        ));
    }
    Ok(if taken.not_here.is_empty() {
        Outcome::Done
    } else {
        Outcome::NeedsAttention
    })
}

fn lines(taken: &Taken) -> Vec<(String, String)> {
    let not_here: usize = taken.not_here.values().map(BTreeSet::len).sum();
    let mut lines = vec![("statements taken".to_owned(), taken.new.to_string())];
    let mut some = |label: &str, count: u64| {
        if count > 0 {
            lines.push((label.to_owned(), count.to_string()));
        }
    };
    some("  without effect", taken.no_effect);
    some("known before", taken.known);
    some("frames they are about", taken.frames.len() as u64);
    some("  not here", not_here as u64);
    lines
}
