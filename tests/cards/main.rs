//! What a card can do to the program, and the program to a card: access times, a computer short of files, output
//! that nobody reads.

#![cfg(all(test, unix))]

mod access_times;
mod audit;
mod exits;
mod stalled;

#[path = "../support/world.rs"]
#[allow(dead_code)] // one world serves several stories
mod world;
