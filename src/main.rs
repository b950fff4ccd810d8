//! Hands the arguments to the command line and returns its exit code. Decides nothing.

fn main() {}
