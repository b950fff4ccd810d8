//! Groups the frames of one body and one night into sessions. Knows no sky, no SQL.
//!
//! - `split`: site, framing, pauses
//! - `rhythm`: cadence, gaps, missing frames, noise reduction that doubles the cadence
//! - `gaps`: what most likely made a gap; changes of settings
//! - `number`: session numbers that last
//! - `kind`: light, dark, flat, bias, trial, by the frame's own words and its place in the session

pub mod gaps;
pub mod kind;
pub mod number;
pub mod rhythm;
pub mod split;
