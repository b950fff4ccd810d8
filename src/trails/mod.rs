//! Candidate trails in the previews of a segment: frames of one framing and exposure. Knows neither the sky nor a lens; reads no
//! file.

pub(crate) mod change;
mod dashes;
pub mod evidence;
mod flat;
pub mod group;
mod lines;
mod path;
pub mod places;
pub mod repeat;
pub mod search;
pub mod segments;
pub mod sky_state;
mod tiles;
mod trace;
pub mod weigh;
mod weights;
pub mod window;
pub mod words;
