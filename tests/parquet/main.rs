//! Data sets for column engines, read back by others.

// Tests may panic, and print what they skipped and measured.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::print_stderr
)]
#![cfg(feature = "parquet")]

#[path = "../support/world.rs"]
#[allow(dead_code)] // shared with other programs
mod world;
#[path = "../support/years.rs"]
#[allow(dead_code)] // shared with other programs
mod years;

mod elsewhere;
mod written;
