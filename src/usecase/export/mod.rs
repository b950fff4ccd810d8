//! An export: query -> lists, their manifest and a link tree, complete or not at all.
//!
//! - `request`: what to make, and where
//! - `make`: the order of steps
//! - `tree`: the link tree; `calibration`: the lists of calibration frames
//! - `event`: progress events

pub mod calibration;
pub mod event;
pub mod make;
mod names;
pub mod preview;
pub mod request;
pub mod tree;
