//! Clocks that must be wrong: each check looks at what is known, says what it found, and which command would put it
//! right. Knows no SQL; the Sun's altitude at another instant is asked of the caller.
//!
//! - `asked`, `zoned`: what is judged, and what is asked of the caller; `found`: what comes of it
//! - `run`: the frames of a body that follow each other, which are judged together
//! - `light`: long exposures at high sensitivity, dated in daylight or on into it
//! - `numbers`: file numbers that rise while the clock steps back or leaps
//! - `shift`, `sun`, `rank`: the errors a clock may have, and which of them fits best
//! - `remedy`: the errors that fit in words, with the command for the likeliest
//! - `order`, `contradiction`: runs that cannot both be dated rightly, and which of them is wrong
//! - `judge`: one body's runs through all of these
//! - `first_day`: 1 January of a clock that was never set
//! - `offset`: the written offset and the site's zone in contradiction
//! - `stamp`: GPS time and clock apart

pub mod asked;
pub mod contradiction;
pub mod first_day;
pub mod found;
pub mod judge;
pub mod light;
pub mod numbers;
pub mod offset;
pub mod order;
pub mod rank;
pub mod remedy;
pub mod run;
pub mod shift;
pub mod stamp;
pub mod sun;
pub mod zoned;
