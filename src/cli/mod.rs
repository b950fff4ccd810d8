//! Words in, words out.
