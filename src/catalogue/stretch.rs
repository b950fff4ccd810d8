//! Stretches of time that a question looks through. Reads nothing.

/// A stretch of time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stretch {
    /// Its first moment, in milliseconds since 1970.
    pub from: i64,
    /// The first moment after it.
    pub until: i64,
}
