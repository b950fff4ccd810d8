//! Calls the command line and returns its exit code. Decides nothing.

use std::process::ExitCode;

fn main() -> ExitCode {
    framefall::cli::run::run()
}
