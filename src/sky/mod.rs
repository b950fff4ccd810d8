//! Pure arithmetic: same input, same output.
