//! Groups the frames of one body and one night into sessions. Knows no sky, no SQL.
//!
//! - `split`: gaps, cadence, framing
//! - `number`: session numbers that last
//! - `kind`: light, dark, flat, bias, trial, by the frame's own words and its place in the session

pub mod kind;
pub mod number;
pub mod split;
