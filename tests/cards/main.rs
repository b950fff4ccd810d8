//! What a card can do to the program, and the program to a card: pictures that are traps, access times, a computer short of
//! files, output that nobody reads.

#![cfg(test)]
#![cfg(unix)]

mod access_times;
mod audit;
mod exits;
mod pictures;
mod stalled;

#[path = "../support/hostile_jpeg.rs"]
mod hostile_jpeg;
#[path = "../support/world.rs"]
#[allow(dead_code)] // one world serves several stories
mod world;
