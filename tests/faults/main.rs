//! Faults during a run: kills, full disks, write protection, readers that go away. The catalogue stays intact, a file is
//! the old one or the new one, and the message says what to do.

#![cfg(test)]
#![cfg(unix)]

#[path = "../support/disk.rs"]
mod disk;
#[path = "../support/frames.rs"]
mod frames;
#[path = "../support/killing.rs"]
mod killing;
#[path = "../support/many.rs"]
mod many;
#[path = "../support/mounted.rs"]
mod mounted;
#[path = "../support/state.rs"]
mod state;
#[path = "../support/tiff_block.rs"]
mod tiff_block;
#[path = "../support/trail_run.rs"]
#[allow(dead_code)] // shared with other programs
mod trail_run;
#[path = "../support/world.rs"]
#[allow(dead_code)] // one world serves several stories
mod world;

mod bad_cards;
mod bind_mounts;
mod copies;
mod full_disks;
mod kills_of_copy;
mod kills_of_examine;
mod kills_of_export;
mod kills_of_ingest;
mod kills_of_rebuild;
mod kills_of_statements;
mod kills_of_take;
mod protected;
mod readers;
mod spoilt_catalogues;
mod statements_on_disk;
mod upgrades;
