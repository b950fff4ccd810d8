//! Reading camera files: real ones, odd ones, hostile ones.

// Tests may panic, and print what they skipped and measured.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::print_stderr
)]

#[path = "../support/containers.rs"]
mod containers;
#[path = "../support/hostile_jpeg.rs"]
#[allow(dead_code)] // shared with other programs
mod hostile_jpeg;
#[path = "../support/tiff_block.rs"]
mod tiff_block;
#[path = "../support/world.rs"]
#[allow(dead_code)] // shared with other programs
mod world;

mod cards;
mod every_container;
mod files;
mod hostile;
mod oracle;
mod variants;
