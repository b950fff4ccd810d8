//! Writes lists to a terminal with control characters and marks that hide text escaped. A pipe or a file gets every
//! byte unchanged.

use std::fmt::Write as _;
use std::io;
use std::io::Write;

use crate::terms::printable::moves_the_cursor;

/// A terminal that a list is written to.
pub struct Screen<W: Write> {
    out: W,
    /// The beginning of a character whose end is still to come, or a carriage return.
    held: Vec<u8>,
    /// Whether anything was escaped.
    pub escaped: bool,
}

impl<W: Write> Screen<W> {
    /// Nothing is written yet.
    pub const fn new(out: W) -> Self {
        Self {
            out,
            held: Vec::new(),
            escaped: false,
        }
    }

    /// Writes what is still held, and flushes.
    pub fn finish(&mut self) -> io::Result<()> {
        let held = std::mem::take(&mut self.held);
        self.put(&held)?;
        self.out.flush()
    }

    fn put(&mut self, bytes: &[u8]) -> io::Result<()> {
        let mut text = String::with_capacity(bytes.len());
        for chunk in bytes.utf8_chunks() {
            let mut signs = chunk.valid().chars().peekable();
            while let Some(sign) = signs.next() {
                let ends_line = sign == '\n' || (sign == '\r' && signs.peek() == Some(&'\n'));
                if ends_line || !moves_the_cursor(sign) {
                    text.push(sign);
                } else {
                    self.escaped = true;
                    text.extend(sign.escape_default());
                }
            }
            for byte in chunk.invalid() {
                self.escaped = true;
                let _ = write!(text, "\\x{byte:02X}");
            }
        }
        self.out.write_all(text.as_bytes())
    }
}

impl<W: Write> Write for Screen<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut all = std::mem::take(&mut self.held);
        all.extend_from_slice(bytes);
        let goes_on = |tail: &[u8]| match std::str::from_utf8(tail) {
            Err(e) => e.valid_up_to() == 0 && e.error_len().is_none(),
            Ok(end) => end == "\r",
        };
        let whole = (1..=all.len().min(3))
            .map(|length| all.len() - length)
            .find(|at| goes_on(&all[*at..]))
            .unwrap_or(all.len());
        self.put(&all[..whole])?;
        self.held = all.split_off(whole);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_moves_the_cursor_wherever_a_text_is_cut() {
        let text = b"a\x1b[31m\xC2\x9bb,\"c\rd\"\r\n\xE2\x80\xAEx\0y\xFF\xE6\xB5\x81\n\xC3";
        let expect = "a\\u{1b}[31m\\u{9b}b,\"c\\rd\"\r\n\\u{202e}x\\u{0}y\\xFF流\n\\xC3";
        for cut in 0..text.len() {
            let mut screen = Screen::new(Vec::new());
            screen.write_all(&text[..cut]).unwrap();
            screen.write_all(&text[cut..]).unwrap();
            screen.finish().unwrap();
            assert_eq!(String::from_utf8(screen.out).unwrap(), expect, "{cut}");
            assert!(screen.escaped);
        }
        let mut screen = Screen::new(Vec::new());
        screen.write_all("Süd\n".as_bytes()).unwrap();
        screen.finish().unwrap();
        assert!(!screen.escaped);
    }
}
