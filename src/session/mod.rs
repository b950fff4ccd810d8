//! Groups the frames of one body and one night into sessions. Knows no sky, no SQL.
//!
//! - `split`: site, framing, pauses
//! - `noon`: runs that cross a noon at which the Sun is down
//! - `rhythm`: cadence, gaps, missing frames, noise reduction that doubles the cadence
//! - `gaps`: what most likely made a gap; changes of settings
//! - `number`: session numbers that last
//! - `kind`: light, dark, flat, bias, trial, by the frame's own words, its picture and its place in the night
//! - `look`: what a small picture shows, in a few numbers; `evidence`: what these tell about cap, panel or sky; `alike`:
//!   how far two looks differ; `change`: what changed before the lens between two frames; `shows`: the most likely stretches over
//!   a night
//! - `tone`: encoded values and linear light
//! - `kind_words`: the words of files and folders that name a kind, and names of places that only seem to

pub mod alike;
pub mod change;
pub mod evidence;
pub mod gaps;
mod histogram;
pub mod kind;
pub mod kind_words;
pub mod look;
pub mod noon;
pub mod number;
pub mod rhythm;
pub mod scene;
pub mod shows;
pub mod split;
pub mod tone;
