//! Fuzzes the reader of this container.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    framefall_fuzz::read_as("a.tif", &[(0, &b"II\x2A\0"[..])], bytes);
});
