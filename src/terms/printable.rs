//! Text from a card made safe for a screen: a file name must not move the cursor or colour the terminal.

use std::borrow::Cow;

/// Writes control characters, and the marks that reverse or hide text, as escapes: a line feed as `\n`, an escape as
/// `\u{1b}`.
pub fn printable(text: &str) -> Cow<'_, str> {
    if !text.chars().any(moves_the_cursor) {
        return Cow::Borrowed(text);
    }
    let mut safe = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if moves_the_cursor(c) {
            safe.extend(c.escape_default());
        } else {
            safe.push(c);
        }
    }
    Cow::Owned(safe)
}

/// Control characters, line separators, and the marks that reverse or hide text.
pub fn moves_the_cursor(c: char) -> bool {
    c.is_control()
        || matches!(
            c,
            '\u{61c}'
                | '\u{200b}'..='\u{200f}'
                | '\u{2028}'..='\u{202e}'
                | '\u{2060}'..='\u{206f}'
                | '\u{feff}'
                | '\u{e0000}'..='\u{e007f}'
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn escapes_are_written_out_and_other_text_is_left_alone() {
        assert_eq!(
            printable("a\nb\u{1b}[31mc\u{202e}d"),
            "a\\nb\\u{1b}[31mc\\u{202e}d"
        );
        assert!(matches!(printable("Süd–Kuppe 流星.dng"), Cow::Borrowed(_)));
    }

    #[test]
    fn nothing_in_a_text_reaches_the_terminal_as_a_command() {
        for (text, expect) in [
            ("NITE\n0001", "NITE\\n0001"),
            ("\u{1b}[31mred\u{7}", "\\u{1b}[31mred\\u{7}"),
            ("a\u{202e}b\u{9b}c\u{200b}", "a\\u{202e}b\\u{9b}c\\u{200b}"),
            ("Höhe 星", "Höhe 星"),
        ] {
            assert_eq!(printable(text), expect);
        }
    }
}
