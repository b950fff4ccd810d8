//! Fuzzes the reader of this container.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    framefall_fuzz::read_as("a.webp", &[(0, &b"RIFF"[..]), (8, &b"WEBP"[..])], bytes);
});
