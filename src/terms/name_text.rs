//! Names from a disk as readable text. Different names never have the same text, and the bytes can be recovered from
//! the text. A byte that is not UTF-8 is written `\xNN`; so that no name looks like another, the backslash of a literal
//! `\x` is written `\x5C`. Text without `\x` is the name itself.
//!
//! On Windows a backslash separates folders, so texts there are never decoded.

use std::fmt::Write as _;

/// The text before the two digits of a byte.
const MARK: &str = "\\x";

/// The text of a name; `None` if its bytes are the text.
pub fn text_of(name: &[u8]) -> Option<String> {
    let is_itself = |valid: &str| cfg!(windows) || !valid.contains(MARK);
    if std::str::from_utf8(name).is_ok_and(is_itself) {
        return None;
    }
    let mut text = String::with_capacity(name.len() + 8);
    for chunk in name.utf8_chunks() {
        if cfg!(windows) {
            text.push_str(chunk.valid());
        } else {
            text.push_str(&chunk.valid().replace(MARK, "\\x5Cx"));
        }
        for byte in chunk.invalid() {
            let _ = write!(text, "{MARK}{byte:02X}");
        }
    }
    Some(text)
}

/// The bytes of the name with this text; `None` if they are the text.
pub fn bytes_of(text: &str) -> Option<Vec<u8>> {
    if cfg!(windows) || !text.contains(MARK) {
        return None;
    }
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find(MARK) {
        bytes.extend_from_slice(&rest.as_bytes()[..at]);
        let behind = &rest[at + MARK.len()..];
        let byte = behind.get(..2).and_then(|d| u8::from_str_radix(d, 16).ok());
        if let Some(byte) = byte {
            bytes.push(byte);
            rest = &behind[2..];
        } else {
            bytes.extend_from_slice(MARK.as_bytes());
            rest = behind;
        }
    }
    bytes.extend_from_slice(rest.as_bytes());
    Some(bytes)
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn names_that_look_alike_have_texts_of_their_own() {
        for (name, text) in [
            (&b"n\xFF"[..], Some("n\\xFF")),
            (br"n\xFF", Some("n\\x5CxFF")),
            (br"n\x5CxFF", Some("n\\x5Cx5CxFF")),
            (br"a\b", None),
            ("Süd".as_bytes(), None),
        ] {
            assert_eq!(text_of(name).as_deref(), text);
        }
    }

    proptest! {
        #[test]
        fn the_text_of_a_name_gives_its_bytes_back(
            pieces in prop::collection::vec(
                prop_oneof![
                    Just(b"\\x".to_vec()), Just(b"\\".to_vec()), Just(b"FF".to_vec()), Just(b"5Cx".to_vec()),
                    Just(b"\xFF".to_vec()), prop::collection::vec(any::<u8>(), 0..4),
                ],
                0..6,
            ),
        ) {
            let name = pieces.concat();
            if let Some(text) = text_of(&name) {
                prop_assert_eq!(bytes_of(&text), Some(name));
            } else {
                prop_assert_eq!(bytes_of(std::str::from_utf8(&name).unwrap()), None);
            }
        }
    }
}
