//! Fuzzes the reader of this container.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    framefall_fuzz::read_as("a.png", &[(0, &b"\x89PNG\r\n\x1A\n"[..])], bytes);
});
