//! Statements: made, logged, applied, and loaded from another catalogue.
//!
//! ```text
//! a use case ──▶ state ──▶ the log (appended) ──▶ apply ──▶ what is in force (stated_site, stated_kind, …) ──▶ derived rows
//! the own log ──▶ replay ────────────────────────▶ apply, where what is in force differs
//! another catalogue's log ──▶ take ──────────────▶ apply
//! frames that leave ──▶ wait; frames that arrive later ──▶ arrive ──▶ apply
//! ```
//!
//! Every change of what is in force goes through [`apply::apply`], so that the log is complete.

pub mod apply;
mod apply_clock;
mod apply_site;
pub mod arrive;
pub mod frames;
mod in_force;
pub mod list;
pub mod logged;
pub mod replay;
pub mod state;
pub mod take;
pub(crate) mod wait;
pub(crate) mod words;
