//! `framefall query`: queries by name.

use crate::catalogue::purpose::Purpose;
use crate::cli::args_list::QueryCommand;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::setting::Setting;
use crate::terms::failure::Failure;
use crate::terms::printable::printable;
use crate::usecase::listings::answers;

/// Runs the command.
pub fn run(setting: &Setting, command: &QueryCommand) -> Result<Outcome, Failure> {
    match command {
        QueryCommand::Save { name, query } => {
            let mut catalogue = setting.open(Purpose::ChangeOrMake)?;
            let replaced = answers::save_query(&mut catalogue, name, query, now()?)?;
            let before = if replaced {
                ", replacing the previous one"
            } else {
                ""
            };
            let name = printable(name.trim_start_matches('@'));
            setting.say(&format!("saved as @{name}{before}"));
        }
        QueryCommand::List(list) => return setting.sheet(list.form, answers::saved_queries),
        QueryCommand::Remove { name } => {
            let mut catalogue = setting.open(Purpose::Change)?;
            answers::forget_query(&mut catalogue, name)?;
        }
    }
    Ok(Outcome::Done)
}
