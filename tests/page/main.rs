//! The page to look: in a real browser by its keys, and over raw HTTP as a foreign page would try it.

// A test that cannot go on may stop, and says what it skipped.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::print_stderr
)]

#[path = "../support/browser.rs"]
#[allow(dead_code)] // shared with other programs
mod browser;
#[path = "../support/served.rs"]
mod served;
#[path = "../../demo-data/make/studio/mod.rs"]
#[allow(dead_code, unused_imports)] // shared with other programs
mod studio;
#[path = "../support/tab.rs"]
mod tab;
#[path = "../support/world.rs"]
#[allow(dead_code)] // shared with other programs
mod world;

mod access;
mod demo_night;
mod ending;
mod evening;
mod found;
mod security;
