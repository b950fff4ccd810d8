//! From a clock reading to UTC. Never reads files, knows no sky, no SQL.
//!
//! The computer's own zone is never used, and there is no default zone: a reading without an offset and
//! without a stated zone stays a reading.
//!
//! - `zone`: a named zone of the bundled IANA database
//! - `resolve`: reading + offset or zone -> one instant, or why not
//! - `night`: instant or reading -> the evening's date

pub mod night;
pub mod resolve;
pub mod zone;
