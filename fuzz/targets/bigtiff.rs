//! Fuzzes the reader of this container.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    framefall_fuzz::read_as("a.dng", &[(0, &b"II\x2B\0\x08\0\0\0"[..])], bytes);
});
