//! One arm per command; turns failures into words and an exit code.

use std::ffi::OsString;
use std::process::ExitCode;

use clap::CommandFactory;
use clap::Parser;

use crate::cli::args::Arguments;
use crate::cli::args::Command;
use crate::cli::commands;
use crate::cli::mistyped;
use crate::cli::outcome::Outcome;
use crate::cli::places::is_default_catalogue;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::setting::Setting;
use crate::cli::stop::while_heard;
use crate::terms::command_line::name_catalogue;
use crate::terms::failure::Failure;

/// Runs the program.
pub fn run() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        // Help goes to standard output and is success; a mistake in the words goes to standard error.
        Err(mut told) if told.use_stderr() => {
            let words: Vec<OsString> = std::env::args_os().collect();
            if let Some(failure) = mistyped::failure(&told, &words) {
                return ended(Err(failure));
            }
            mistyped::without_wrong_tip(&mut told);
            let _ = told.print();
            return ExitCode::from(Outcome::NotDone.code());
        }
        Err(help) => {
            return ended(
                print::answer(|_| help.print().map_err(print::written)).map(|_| Outcome::Done),
            );
        }
    };
    print::choose_colours(arguments.no_colour);
    let elsewhere = arguments
        .catalogue
        .as_ref()
        .filter(|p| !is_default_catalogue(p));
    if let Some(path) = elsewhere
        && !matches!(arguments.command, Some(Command::Demo(_)))
    {
        name_catalogue(path.as_os_str());
    }
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
    match arguments.command {
        Some(Command::Copy(args)) => commands::copy::run(&setting, &args),
        Some(Command::Ingest(args)) => commands::ingest::run(&setting, &args),
        Some(Command::Sessions(args)) => commands::sessions::run(&setting, &args),
        Some(Command::Frames(args)) => commands::frames::run(&setting, &args),
        Some(Command::Trails(args)) => commands::trails::run(&setting, &args),
        Some(Command::Look(args)) => commands::look::run(&setting, &args),
        Some(Command::Export(args)) => commands::export::run(&setting, &args),
        Some(Command::Report(args)) => commands::report::run(&setting, &args),
        Some(Command::Query(command)) => commands::query::run(&setting, &command),
        Some(Command::Site(command)) => commands::site::run(&setting, &command),
        Some(Command::Clock(command)) => commands::clock::run(&setting, &command),
        Some(Command::Body(command)) => commands::body::run(&setting, &command),
        Some(Command::Dump(command)) => commands::dump::run(&setting, &command),
        Some(Command::Statement(command)) => commands::statement::run(&setting, &command),
        Some(Command::Showers(args)) => commands::showers::run(&setting, &args),
        Some(Command::Examine(args)) => commands::examine::run(&setting, &args),
        Some(Command::Pointing(args)) => commands::pointing::run(&setting, &args),
        Some(Command::Audit(args)) => commands::audit::run(&setting, &args),
        Some(Command::Backup(args)) => commands::backup::run(&setting, &args),
        Some(Command::Rebuild(args)) => commands::rebuild::run(&setting, &args),
        Some(Command::Demo(args)) => commands::demo::run(&setting, &args, dispatch),
        None => {
            print::warn(&Arguments::command().render_help().ansi().to_string());
            Ok(Outcome::NotDone)
        }
    }
}
