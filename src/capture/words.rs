//! Text as cameras write it: padded, cut at NULs, sometimes not text at all. Never guesses a character set.

/// Text without its padding: up to the first NUL, without control and invisible characters, blanks at the ends gone.
///
/// Bytes that are not UTF-8 become U+FFFD. `None` when nothing is left.
pub fn clean(raw: &[u8]) -> Option<String> {
    let raw = raw.split(|b| *b == 0).next().unwrap_or(&[]);
    if let Ok(text) = std::str::from_utf8(raw)
        && text.bytes().all(|b| matches!(b, b' '..=b'~'))
    {
        let text = text.trim();
        return (!text.is_empty()).then(|| text.to_owned());
    }
    let text: String = String::from_utf8_lossy(raw)
        .chars()
        .filter(|c| !c.is_control() && !is_invisible(*c))
        .collect();
    let text = text.trim();
    (!text.is_empty()).then(|| text.to_owned())
}

/// Whether the bytes are text throughout: no control characters, all UTF-8, up to the first NUL.
pub fn is_text(raw: &[u8]) -> bool {
    let raw = raw.split(|b| *b == 0).next().unwrap_or(&[]);
    std::str::from_utf8(raw).is_ok_and(|text| !text.chars().any(char::is_control))
}

/// Zero-width characters and the marks that turn the direction of writing.
const fn is_invisible(c: char) -> bool {
    matches!(c, '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2060}'..='\u{2069}' | '\u{FEFF}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn padding_and_escapes_go_words_stay() {
        assert_eq!(clean(b"NIKON D1 \0\0junk").as_deref(), Some("NIKON D1"));
        assert_eq!(clean(b"   \0").as_deref(), None);
        assert_eq!(clean(b"a\x1B[31mb\r\n").as_deref(), Some("a[31mb"));
        assert_eq!(clean("Zei\u{202E}ss".as_bytes()).as_deref(), Some("Zeiss"));
        assert_eq!(clean(b"\xFFx").as_deref(), Some("\u{FFFD}x"));
        assert!(!is_text(b"\x10\x15`\x12"));
    }
}
