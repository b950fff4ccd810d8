//! An export: query -> lists, their manifest and a tree of links, in their places whole or not at all.
//!
//! - `request`: what is to be made, and where
//! - `make`: the order of steps
//! - `names`: its files
//! - `preview`: what a dry run says
//! - `tree`: the tree of links; `calibration`: the lists of calibration frames
//! - `event`: what happens on the way

pub mod calibration;
pub mod event;
pub mod make;
mod names;
pub mod preview;
pub mod request;
pub mod tree;
