//! `framefall body`.

use crate::cli::args_body::BodyCommand;
use crate::cli::outcome::Outcome;
use crate::cli::setting::Setting;
use crate::terms::failure::Failure;
use crate::usecase::clocks::body_list::bodies;

/// Runs the command.
pub fn run(setting: &Setting, command: &BodyCommand) -> Result<Outcome, Failure> {
    let BodyCommand::List { form } = command;
    setting.sheet(*form, bodies)
}
