//! The length of a day and of an hour; leap seconds are not counted.

/// A day in seconds.
pub const DAY_S: i64 = 86_400;

/// A day in milliseconds.
pub const DAY_MS: i64 = 1000 * DAY_S;

/// An hour in milliseconds.
pub const HOUR_MS: i64 = 3_600_000;
