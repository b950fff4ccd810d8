//! A meteor shower's name: its IAU three-letter code. Knows nothing else about it.

use std::fmt;

/// The IAU code of a meteor shower: three capital letters, `GEM`.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ShowerCode([u8; 3]);

impl ShowerCode {
    /// Parses a code, ignoring case.
    ///
    /// Refuses: anything except three ASCII letters. Does not check whether such a shower exists.
    pub fn parse(text: &str) -> Option<Self> {
        let bytes: [u8; 3] = text.as_bytes().try_into().ok()?;
        bytes
            .iter()
            .all(u8::is_ascii_alphabetic)
            .then(|| Self(bytes.map(|b| b.to_ascii_uppercase())))
    }

    /// The code as text.
    pub fn as_str(&self) -> &str {
        // Three ASCII letters by construction.
        std::str::from_utf8(&self.0).unwrap_or("???")
    }
}

impl fmt::Display for ShowerCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

impl fmt::Debug for ShowerCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}
