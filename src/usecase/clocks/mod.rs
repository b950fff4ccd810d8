//! Camera clocks: what the photographer states about them.
//!
//! - `bodies`: which body an option means
//! - `body_list`: lists the bodies
//! - `limits`: the readings a statement is limited to
//! - `refusals`: refuses statements that contradict each other
//! - `state`: states what a body's clock showed, and removes such a statement
//! - `shown`: what a clock showed, and the true time then
//! - `sheet`: lists what is stated of clocks

pub mod bodies;
pub mod body_list;
pub mod limits;
pub mod refusals;
pub mod sheet;
pub mod shown;
pub mod state;
