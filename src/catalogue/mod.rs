//! The SQLite catalogue, and only here.
