//! From a clock reading to UTC. Never reads files, knows no sky, no SQL.
//!
//! The computer's own zone is never used, and there is no default zone: a reading without an offset and without a
//! stated zone stays a reading.
//!
//! - `zone`: a named zone of the bundled IANA database
//! - `resolve`: reading + offset or zone -> one instant, or why not
//! - `rule`: what determines how a reading is interpreted
//! - `steps`: a value for every reading, which changes at some
//! - `epochs`: which clock fixes apply to a reading
//! - `drift`: how far a clock was off between two fixes and outside them
//! - `fix`: clock fixes and zones of one body -> how its readings are corrected and interpreted
//! - `doubt`: clocks that must be wrong
//! - `gps`: whether a GPS time stamp and the clock confirm each other
//! - `order`: readings that happened twice or never, resolved by the order of a session's frames
//! - `local`: a zone's local time through a night
//! - `night`: instant or reading -> the evening's date

pub mod doubt;
pub mod drift;
pub mod epochs;
pub mod fix;
pub mod gps;
pub mod local;
pub mod night;
pub mod order;
pub mod resolve;
pub mod rule;
pub mod steps;
pub mod zone;
