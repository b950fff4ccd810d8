//! Statements and written facts -> derived rows.
//!
//! - `body_clock`: a body's clock by everything that is stated of it
//! - `placer`: places a body's evenings by the statements
//! - `evenings`: time, place and sky of a body's evenings, as rows
//! - `pending`: derives all frames that still lack rows
//! - `nights`: moves runs that cross noon while the Sun is down to the night in which they began
//! - `regroup`: the sessions of the nights that changed
//! - `turn`: how far the sky turned before the camera of a session
//! - `rederive`: derives again what depends on a changed statement
//! - `rebuild`: derives every row again, in batches
//! - `maker`: which program and data made the derived rows, and which rows are stale

pub(crate) mod body_clock;
pub mod evenings;
pub mod maker;
mod nights;
pub mod pending;
mod placer;
pub mod rebuild;
pub mod rederive;
pub mod regroup;
mod turn;
