//! Groups the frames of one body and one night into sessions. Knows no sky, no SQL.
//!
//! - `split`: gaps, cadence, framing
//! - `kind`: light, dark, flat, bias, trial, by the frame's own words and its place in the session

pub mod kind;
pub mod split;
