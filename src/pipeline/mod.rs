//! The corridor: the only code that sees two rooms.
