//! Fuzzes the reader of this container.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    framefall_fuzz::read_as("a.heic", &[(4, &b"ftypheic"[..])], bytes);
});
