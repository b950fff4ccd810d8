//! Answers to questions, as rows and sheets.
//!
//! - `frames`: query -> rows; if there are none, why
//! - `answers`: counts by a key, how a query is answered, saved queries
//! - `sheets`: sessions, sites and findings
//! - `showers`: the shower table; `one_shower`: one of them in full

pub mod answers;
pub mod frames;
pub mod lenses;
pub mod one_shower;
pub mod sessions;
pub mod sheets;
pub mod showers;
