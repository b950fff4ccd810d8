//! What queries mean, how they are answered, and how answers are written.

// Tests may panic, and print what they skipped and measured.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::print_stderr
)]

#[path = "../../benches/archive/mod.rs"]
mod archive;
#[path = "../support/world.rs"]
#[allow(dead_code)] // shared with other programs
mod world;

mod counts_per_key;
mod csv_elsewhere;
mod first_rows;
mod frame_lists;
mod handed_in_order;
mod json_schema;
mod page;
mod plans;
mod query_meaning;
mod words;
