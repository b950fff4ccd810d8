//! What a card can do to the program, and the program to a card.

#![cfg(all(test, unix))]

mod audit;

#[path = "../support/world.rs"]
#[allow(dead_code)] // one world serves several stories
mod world;
