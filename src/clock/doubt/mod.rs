//! Clocks that must be wrong. Each check reports its evidence and the command that would correct the clock. Knows no
//! SQL; the caller supplies the Sun's altitude at other instants.
//!
//! - `asked`, `zoned`: the input, and the data requested from the caller; `found`: the result
//! - `run`: consecutive frames of a body, which are judged together
//! - `light`: long exposures at high sensitivity, dated in daylight or continuing into it
//! - `numbers`: file numbers that rise while the clock steps back or leaps
//! - `shift`, `sun`, `rank`: the errors a clock may have, and which of them fits best
//! - `remedy`: the fitting errors in words, with the command for the most likely one
//! - `order`, `contradiction`: runs that cannot both be dated correctly, and which of them is wrong
//! - `judge`: runs all of these on one body
//! - `first_day`: 1 January on a clock that was never set
//! - `offset`: the written offset contradicts the site's zone
//! - `stamp`: GPS time and clock differ
//! - `stars`: the stars in pictures of one tripod and the clock differ; `sky_fit`: what they say, as evidence

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
pub mod sky_fit;
pub mod stamp;
pub mod stars;
pub mod sun;
pub mod zoned;
