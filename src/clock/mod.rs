//! From a clock reading to UTC.
