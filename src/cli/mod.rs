//! Words in, words out. The only module that knows the command line, the environment, the computer's clock and the
//! screen. No logic: code that a test could reach only through the program does not belong here.
//!
//! - `args`, `args_clock`, `args_examine`, `args_export`, `args_form`, `args_list`, `args_site`: commands and flags
//! - `run`: one arm per command; `setting`: the global options; `outcome`: how a command ended, exit codes
//! - `commands`: arguments -> one call of a use case -> words
//! - `print`: the only printing
//! - `progress`: the progress bar
//! - `stop`: Ctrl-C, and readers that do not read
//! - `places`: the default location of the catalogue

pub mod args;
pub mod args_audit;
pub mod args_body;
pub mod args_clock;
pub mod args_copy;
pub mod args_dump;
pub mod args_examine;
pub mod args_export;
pub mod args_form;
pub mod args_list;
pub mod args_look;
pub mod args_site;
pub mod args_statement;
pub mod args_trails;
pub mod commands;
mod confirm;
mod endings;
mod mistyped;
pub mod outcome;
pub mod places;
pub mod print;
pub mod progress;
pub mod run;
mod screen;
pub mod setting;
mod stop;
mod values;
