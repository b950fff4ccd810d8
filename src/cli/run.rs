//! One arm a command; what went wrong into words and an exit code.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::CommandFactory;
use clap::Parser;

use crate::catalogue::open::Catalogue;
use crate::catalogue::open::Purpose;
use crate::cli::args::Arguments;
use crate::cli::args::Command;
use crate::cli::commands;
use crate::cli::places::catalogue_path;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::stop::while_heard;
use crate::terms::failure::Failure;
use crate::terms::printable::printable;

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// All well.
    Done,
    /// Done, but something needs a person: files that could not be read, an answer without rows.
    NeedsAPerson,
    /// Not done.
    NotDone,
    /// Stopped by the photographer.
    Stopped,
}

impl Outcome {
    /// The exit code: 0, 1, 2; 130 after Ctrl-C, as shells expect.
    pub const fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::NeedsAPerson => 1,
            Self::NotDone => 2,
            Self::Stopped => 130,
        }
    }
}

/// What every command is told.
#[derive(Debug)]
pub struct Setting {
    /// The catalogue's file, when said.
    pub catalogue: Option<PathBuf>,
    /// Whether to hold back what was not asked for.
    pub quiet: Quiet,
}

impl Setting {
    /// The catalogue's file.
    pub fn catalogue(&self) -> Result<PathBuf, Failure> {
        catalogue_path(self.catalogue.as_ref())
    }

    /// Opens the catalogue; an upgrade of it is told on standard error, however quiet the rest is to be.
    pub fn open(&self, purpose: Purpose) -> Result<Catalogue, Failure> {
        Catalogue::open_and_tell(&self.catalogue()?, purpose, &mut |words| {
            print::complain(&printable(words));
        })
    }
}

/// Runs the program.
pub fn run() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        // Help goes to standard output and is success; a mistake in the words goes to standard error.
        Err(told) if told.use_stderr() => {
            let _ = told.print();
            return ExitCode::from(Outcome::NotDone.code());
        }
        Err(help) => {
            return ended(
                print::answer(|_| help.print().map_err(print::written)).map(|_| Outcome::Done),
            );
        }
    };
    print::settle_colours(arguments.no_colour);
    ended(dispatch(arguments))
}

fn ended(with: Result<Outcome, Failure>) -> ExitCode {
    match with {
        Ok(outcome) => ExitCode::from(outcome.code()),
        Err(failure) => {
            while_heard(move || print::failure(&failure));
            ExitCode::from(Outcome::NotDone.code())
        }
    }
}

/// Runs one command.
pub(super) fn dispatch(arguments: Arguments) -> Result<Outcome, Failure> {
    let setting = Setting {
        catalogue: arguments.catalogue,
        quiet: if arguments.quiet {
            Quiet::Yes
        } else {
            Quiet::No
        },
    };
    if arguments.version || arguments.licences {
        return commands::about::about(arguments.licences);
    }
    if !matches!(arguments.command, None | Some(Command::Demo)) {
        commands::renew::renew_if_outdated(&setting);
    }
    match arguments.command {
        Some(Command::Ingest(args)) => commands::ingest::run(&setting, &args),
        Some(Command::Sessions(args)) => commands::sessions::run(&setting, &args),
        Some(Command::Frames(args)) => commands::frames::run(&setting, &args),
        Some(Command::Export(args)) => commands::export::run(&setting, &args),
        Some(Command::Report(args)) => commands::report::run(&setting, &args),
        Some(Command::Query(command)) => commands::query::run(&setting, &command),
        Some(Command::Site(command)) => commands::site::run(&setting, &command),
        Some(Command::Clock(command)) => commands::clock::run(&setting, &command),
        Some(Command::Dump(command)) => commands::dump::run(&setting, &command),
        Some(Command::Showers(args)) => commands::showers::run(&setting, &args),
        Some(Command::Audit(args)) => commands::audit::run(&setting, &args),
        Some(Command::Demo) => commands::demo::run(&setting),
        None => {
            print::complain(&Arguments::command().render_help().ansi().to_string());
            Ok(Outcome::NotDone)
        }
    }
}
