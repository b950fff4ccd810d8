//! Numbers against printed values and independent libraries.

// Tests may panic, and print what they skipped and measured.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::print_stderr
)]

#[path = "../support/reference_table.rs"]
#[allow(dead_code)] // shared with other programs
mod reference_table;
#[path = "../../benches/pointing/sky_picture.rs"]
#[allow(dead_code)] // shared with the benchmark
mod sky_picture;
#[path = "../support/slow_sky.rs"]
#[allow(dead_code)] // shared with other programs
mod slow_sky;

mod dark_sky;
mod gnomonic;
mod library_values;
mod night_sky;
mod pointing;
mod pointing_session;
mod published;
mod sky_laws;
mod wcs;
