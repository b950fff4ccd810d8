//! The known part of a file's fingerprint.

use std::fmt;

use crate::terms::hex::bytes_of_hex;
use crate::terms::hex::hex;

/// How many bytes of a fingerprint earlier catalogues stored.
const SHORT: usize = 6;

/// A fingerprint of 16 bytes; for a file ingested by an earlier version, its first six.
///
/// Two of them match if they agree in the bytes that both have; they are equal if both have the same.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Fingerprint {
    bytes: [u8; 16],
    length: usize,
}

impl Fingerprint {
    /// The bytes, as stored in a catalogue; `None` if there are neither 16 nor six.
    pub fn from_bytes(kept: &[u8]) -> Option<Self> {
        let mut bytes = [0; 16];
        let length = kept.len();
        if length != bytes.len() && length != SHORT {
            return None;
        }
        bytes[..length].copy_from_slice(kept);
        Some(Self { bytes, length })
    }

    /// From hexadecimal digits: 32, or 12 of a short one. Lists of earlier versions have 16, the first four of which
    /// carry no information.
    pub fn from_hex(digits: &str) -> Option<Self> {
        let digits = match digits.len() {
            16 => digits.get(4..)?,
            _ => digits,
        };
        Self::from_bytes(&bytes_of_hex(digits.as_bytes())?)
    }

    /// The bytes that are known.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes[..self.length]
    }

    /// The six bytes that every fingerprint has.
    pub fn short(&self) -> [u8; SHORT] {
        let mut short = [0; SHORT];
        short.copy_from_slice(&self.bytes[..SHORT]);
        short
    }

    /// Whether both agree in the bytes that both have.
    pub fn matches(&self, other: &Self) -> bool {
        let both = self.length.min(other.length);
        self.bytes[..both] == other.bytes[..both]
    }
}

impl From<[u8; 16]> for Fingerprint {
    fn from(bytes: [u8; 16]) -> Self {
        Self {
            bytes,
            length: bytes.len(),
        }
    }
}

/// Hexadecimal digits.
impl fmt::Display for Fingerprint {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&hex(self.bytes()))
    }
}

impl fmt::Debug for Fingerprint {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "Fingerprint({self})")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_one_matches_the_whole_ones_that_begin_with_it() {
        let whole = Fingerprint::from([7; 16]);
        let short = Fingerprint::from_bytes(&[7; 6]).unwrap();
        assert!(whole.matches(&short) && short.matches(&whole) && whole.matches(&whole));
        let mut other = [7; 16];
        other[15] = 8;
        let other = Fingerprint::from(other);
        assert!(!whole.matches(&other) && short.matches(&other));
        assert!(!short.matches(&Fingerprint::from([8; 16])));
    }

    #[test]
    fn digits_come_back_and_others_are_refused() {
        for bytes in [&[9; 16][..], &[0xAB; 6][..]] {
            let print = Fingerprint::from_bytes(bytes).unwrap();
            let again = Fingerprint::from_hex(&print.to_string()).unwrap();
            assert_eq!(again.bytes(), bytes);
        }
        let before = Fingerprint::from_hex("ffffabababababab").unwrap();
        assert_eq!(before.bytes(), [0xAB; 6]);
        for wrong in ["", "ab", "abababababag", "ü0abababababab", "+1ababababab"] {
            assert!(Fingerprint::from_hex(wrong).is_none(), "{wrong}");
        }
        assert!(Fingerprint::from_hex(&"a".repeat(34)).is_none());
        assert!(Fingerprint::from_bytes(&[1; 8]).is_none());
    }
}
