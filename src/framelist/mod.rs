//! Rows in, text out.
