//! Which showers a trail can belong to: directions in, answers out. Knows no picture, no time, no shower table.
//!
//! ```text
//! ends     two pixels and a camera -> the great circle of the trail, with its error
//!   -> heights   how high the meteor was at both ends, if it came from a radiant
//!   -> fits      each radiant against the great circle
//!   -> answer    one shower, several, none, or undetermined: and how likely each is
//! ```
//!
//! A great circle never proves membership: one sporadic meteor in eight passes some active radiant.

pub mod answer;
pub mod ends;
pub mod fits;
pub mod heights;
