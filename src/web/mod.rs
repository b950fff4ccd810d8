//! The page to look, served to a browser on this computer. Knows HTTP and JSON; decides nothing about frames.

pub mod actions;
pub mod guard;
pub(crate) mod json;
pub mod server;
pub mod session;
