//! Text from a card made safe for a screen: a file name must not move the cursor or colour the terminal.

use std::borrow::Cow;

/// Writes control characters, and the marks that turn the direction of writing, as escapes: a line feed as `\n`,
/// an escape as `\u{1b}`.
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

fn moves_the_cursor(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{2028}' | '\u{2029}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
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
}
