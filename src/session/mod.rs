//! Groups the frames of one body and one night into sessions. Knows no sky, no SQL.
//!
//! - `split`: site, framing, pauses
//! - `noon`: runs that cross a noon at which the Sun is down
//! - `rhythm`: cadence, gaps, missing frames, noise reduction that doubles the cadence
//! - `gaps`: the most likely cause of a gap; changes of settings
//! - `number`: persistent session numbers
//! - `kind`: light, dark, flat, bias, trial, by the frame's own names, its picture and its position in the night
//! - `look`: a small picture in a few numbers; `evidence`: their evidence for cap, panel or sky; `shows`: the most
//!   likely stretches of each over a night
//! - `tone`: encoded values and linear light
//! - `kind_words`: the words of files and folders that name a kind, and names of places that only seem to

pub mod evidence;
pub mod gaps;
mod histogram;
pub mod kind;
pub mod kind_words;
pub mod look;
pub mod noon;
pub mod number;
pub mod rhythm;
pub mod shows;
pub mod split;
pub mod tone;
