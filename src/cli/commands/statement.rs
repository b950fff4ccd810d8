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
use crate::cli::commands::changed::open_to_state;
use crate::cli::commands::changed::print_lines;
use crate::cli::commands::changed::purpose;
use crate::cli::commands::changed::tell_lines;
use crate::cli::commands::changed::watched;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Lines;
use crate::cli::setting::Setting;
use crate::output::atomic_file::AtomicFile;
use crate::output::atomic_file::Overwrite;
use crate::terms::failure::Failure;
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
        StatementCommand::List(list) => setting.sheet(list.form, statements),
        StatementCommand::Save { to, overwrite } => save(setting, to, *overwrite),
        StatementCommand::Undo(args) => undo_last(setting, args),
        StatementCommand::Take(args) => take(setting, args),
    }
}

fn save(setting: &Setting, to: &Path, overwrite: bool) -> Result<Outcome, Failure> {
    let catalogue = setting.open(Purpose::Read)?;
    let overwrite = Overwrite::from(overwrite);
    let mut file = AtomicFile::begin(to, overwrite, "file of statements")?;
    let count = statement_lines(&catalogue, &mut |line| {
        let written = writeln!(file.out(), "{line}");
        written.map_err(|error| file.unwritable(error))
    })?;
    file.keep()?;
    setting.say(&format!(
        "saved {} in {}",
        counted(count, "statement"),
        print::path(to)
    ));
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
    let Some(undone) = undone else {
        setting.say(&format!("nothing can be {label}"));
        return Ok(Outcome::Done);
    };
    let mut lines = Lines::default();
    lines.put("frames", undone.frames.len());
    for words in undone.statements {
        lines.put(label, words);
    }
    tell_lines(setting, &lines, mode)
}

fn take(setting: &Setting, args: &StatementTakeArgs) -> Result<Outcome, Failure> {
    let unreadable = |message: &str| {
        Failure::words(message)
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
    Ok(Outcome::done(!taken.not_here.is_empty()))
}

fn lines(taken: &Taken) -> Lines {
    let not_here: usize = taken.not_here.values().map(BTreeSet::len).sum();
    let mut lines = Lines::default();
    lines
        .put("statements taken", taken.new)
        .some("  without effect", taken.no_effect)
        .some("known before", taken.known)
        .some("frames they are about", taken.frames.len() as u64)
        .some("  not here", not_here as u64);
    lines
}
