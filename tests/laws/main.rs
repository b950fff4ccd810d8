//! Properties that hold whatever the night, the statements and their order.

// Tests may panic, and print what they skipped and measured.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::print_stderr
)]

#[path = "../support/clock_archive.rs"]
#[allow(dead_code)] // shared with other programs
mod clock_archive;
#[path = "../support/clock_rules.rs"]
#[allow(dead_code)] // shared with other programs
mod clock_rules;
#[path = "../support/containers.rs"]
mod containers;
#[path = "../support/content.rs"]
mod content;
#[path = "../../benches/doubtful_nights/mod.rs"]
mod doubtful_nights;
#[path = "../support/tiff_block.rs"]
mod tiff_block;
#[path = "../support/world.rs"]
#[allow(dead_code)] // shared with other programs
mod world;

mod clock;
mod clocks_page;
mod epochs;
mod findings;
mod log;
mod placing;
mod rebuild;
mod statements;
mod wrong_clocks;
