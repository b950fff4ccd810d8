//! What a card can do to the program, and the program to a card: pictures that are traps, access times, a computer short of
//! files, output that nobody reads.

#![cfg(unix)]
mod access_times;
mod audit;
mod exits;
mod pictures;
mod stalled;
