//! An export: query -> lists, their manifest and a tree of links, in their places whole or not at all.
//!
//! - `request`: what is to be made, and where
//! - `make`: the order of steps
//! - `tree`: the tree of links; `calibration`: the lists of calibration frames
//! - `event`: what happens on the way

pub mod calibration;
pub mod event;
pub mod make;
pub mod request;
pub mod tree;
