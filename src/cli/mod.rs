//! Words in, words out. The only room that knows the command line, the environment, the clock on the wall and the
//! screen. No logic: what only the program could reach in a test would be misplaced here.
//!
//! - `args`, `args_clock`, `args_export`, `args_list`, `args_site`: commands and flags
//! - `run`: one arm a command, exit codes
//! - `commands`: arguments -> one call of the corridor -> words
//! - `print`: the only printing
//! - `progress`: the moving bar
//! - `stop`: Ctrl-C, and readers who do not read
//! - `places`: where the catalogue lies unless it is said
//! - `tree`, `tree_link`: folder trees of links that appear whole or not at all
//! - `whole`, `whole_folder`: files and folders that appear whole or not at all
//! - `outside_dumps`: keeps what is written out of the dumps
//! - `parts`: how such files and folders grow and take their places; `leftovers`: what killed runs left behind
//! - `unwritten`: what is said when the disk does not take an answer

pub mod args;
pub mod args_clock;
pub mod args_dump;
pub mod args_export;
pub mod args_list;
pub mod args_site;
pub mod commands;
mod leftovers;
mod outside_dumps;
mod parts;
pub mod places;
pub mod print;
pub mod progress;
pub mod run;
mod screen;
mod stop;
mod tree;
mod tree_link;
mod unwritten;
mod whole;
#[cfg(feature = "parquet")]
mod whole_folder;
