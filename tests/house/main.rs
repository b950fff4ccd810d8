//! Rules of the code, its notices, its migrations.

// Tests may panic, and print what they skipped and measured.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::print_stderr
)]

#[path = "../support/literals.rs"]
#[allow(dead_code)] // shared with other programs
mod literals;
#[path = "../support/sources.rs"]
#[allow(dead_code)] // shared with other programs
mod sources;

mod circles;
mod door;
mod earlier_catalogue;
mod labels;
mod new_catalogue;
mod notices;
mod rules;
mod tables;
mod written;
