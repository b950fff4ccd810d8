//! End-to-end stories: what a photographer does, by running the program itself.

// Tests may panic, and print what they skipped and measured.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::print_stderr
)]

#[path = "../support/browser.rs"]
#[allow(dead_code)] // shared with other programs
mod browser;
#[path = "../support/calibration.rs"]
mod calibration;
#[path = "../../benches/kinds/camera.rs"]
#[allow(dead_code)] // shared with other programs
mod camera;
#[path = "../support/content.rs"]
mod content;
#[path = "../support/disk.rs"]
#[allow(dead_code)] // shared with other programs
mod disk;
#[path = "../support/dumps.rs"]
#[allow(dead_code)] // shared with other programs
mod dumps;
#[path = "../support/frames.rs"]
mod frames;
#[path = "../../benches/kinds/scene.rs"]
#[allow(dead_code)] // shared with other programs
mod scene;
#[path = "../support/state.rs"]
#[allow(dead_code)] // shared with other programs
mod state;
#[path = "../../demo-data/make/studio/mod.rs"]
#[allow(dead_code, unused_imports)] // shared with other programs
mod studio;
#[path = "../support/tiff_block.rs"]
mod tiff_block;
#[path = "../support/trail_run.rs"]
#[allow(dead_code)] // shared with other programs
mod trail_run;
#[path = "../support/tree.rs"]
#[allow(dead_code)] // shared with other programs
mod tree;
#[path = "../support/world.rs"]
#[allow(dead_code)] // shared with other programs
mod world;

// The generator of nights draws from it.
use studio::random;

mod answers;
mod archive_content;
mod audit_summary;
mod backup;
mod broken_files;
mod calibration_found;
mod calibration_lacking;
mod catalogue_file;
mod clock_and_site;
mod clock_by_stars;
mod clock_commands;
mod clock_epochs;
mod clock_in_doubt;
mod clock_was_wrong;
mod copies;
mod copies_of_cards;
mod damaged_frames;
mod demo_data;
mod dry_runs;
mod dump_away;
mod dump_moved;
mod dump_part;
mod dump_removed;
mod dump_slot;
mod first_night;
mod fix_and_sessions;
mod fix_of_frames;
mod foreign_logs;
mod found_trails;
mod frame_list;
mod frame_list_checks;
mod frame_list_turn;
mod kinds;
mod links;
mod links_unreadable;
mod links_whole;
mod list_again;
mod local_time;
mod looking;
mod manual;
mod messages;
mod names_alike;
mod night_bare;
mod night_report;
mod nothing_found;
mod odd_names;
mod outside_dumps;
mod pictures;
mod pointing_stated;
mod polar_night;
mod printed_commands;
mod readme;
mod rebuild;
mod reflinks;
mod replies;
mod same_card_twice;
mod sky_that_was_there;
mod sql_prompt;
mod statements;
mod statements_refused;
mod told;
mod track_and_site;
mod trail_paths;
mod trails;
