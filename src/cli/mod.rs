//! Words in, words out. The only room that knows the command line, the environment, the clock on the wall and the
//! screen. No logic: what only the program could reach in a test would be misplaced here.
//!
//! - `args`, `args_clock`, `args_export`, `args_form`, `args_list`, `args_site`: commands and flags
//! - `run`: one arm a command; `setting`: what every command is told; `outcome`: how it ended, exit codes
//! - `commands`: arguments -> one call of a use case -> words
//! - `print`: the only printing
//! - `progress`: the moving bar
//! - `stop`: Ctrl-C, and readers who do not read
//! - `values`: values of options as people type them; `mistyped`: what to write instead of a slip; `confirm`: asks first;
//!   `endings`: what a file's name promises
//! - `places`: where the catalogue lies unless it is said

pub mod args;
pub mod args_audit;
pub mod args_body;
pub mod args_clock;
pub mod args_copy;
pub mod args_dump;
pub mod args_export;
pub mod args_form;
pub mod args_list;
pub mod args_site;
pub mod args_statement;
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
