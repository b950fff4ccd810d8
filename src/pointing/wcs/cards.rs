//! The cards of a FITS header: 80 characters each, in blocks of 2,880 bytes, or one to a line. Does not know what they mean.

/// Characters of a card.
const CARD: usize = 80;
/// Bytes of a block.
const BLOCK: usize = 2_880;
/// Headers of more cards are not read: the longest of cameras and solvers have some hundred.
const MOST_CARDS: usize = 20_000;
/// Files of more headers are not searched.
const MOST_HEADERS: usize = 64;

/// Keywords and values of one header, in its order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cards {
    cards: Vec<(String, Value)>,
}

/// A value.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A number.
    Number(f64),
    /// Anything else, without quotes.
    Text(String),
}

impl Cards {
    /// The value of a keyword; the first where it is there twice.
    pub fn get(&self, keyword: &str) -> Option<&Value> {
        self.cards
            .iter()
            .find(|(known, _)| known == keyword)
            .map(|(_, value)| value)
    }

    /// A number.
    pub fn number(&self, keyword: &str) -> Option<f64> {
        match self.get(keyword)? {
            Value::Number(number) => Some(*number),
            Value::Text(_) => None,
        }
    }

    /// A text, without blanks at its end.
    pub fn text(&self, keyword: &str) -> Option<&str> {
        match self.get(keyword)? {
            Value::Text(text) => Some(text),
            Value::Number(_) => None,
        }
    }

    /// All keywords with their values.
    pub fn all(&self) -> impl Iterator<Item = (&str, &Value)> {
        self.cards
            .iter()
            .map(|(keyword, value)| (keyword.as_str(), value))
    }

    /// Bytes of data that follow the header, without what fills the last block.
    fn data_bytes(&self) -> Option<usize> {
        let whole = |keyword: &str, other: f64| {
            let number = self.number(keyword).unwrap_or(other);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked
            ((0.0..1e15).contains(&number.abs()) && number.fract() == 0.0)
                .then(|| number.abs() as usize)
        };
        let axes = whole("NAXIS", 0.0)?.min(999);
        if axes == 0 {
            return Some(0);
        }
        let mut values = 1_usize;
        for axis in 1..=axes {
            values = values.checked_mul(whole(&format!("NAXIS{axis}"), 0.0)?)?;
        }
        (whole("BITPIX", 8.0)? / 8)
            .checked_mul(whole("GCOUNT", 1.0)?)?
            .checked_mul(whole("PCOUNT", 0.0)?.checked_add(values)?)
    }
}

/// The headers of a file, one after another: those in blocks, or a single one with a card on each line.
///
/// Refuses: bytes that do not begin with a card, a header without its end.
pub fn headers(bytes: &[u8]) -> Result<Vec<Cards>, String> {
    if let Some(lines) = lines(bytes) {
        let cards = Cards {
            cards: lines.iter().filter_map(|line| parse(line)).collect(),
        };
        return if cards.cards.is_empty() {
            Err("it holds no cards of a FITS header".to_owned())
        } else {
            Ok(vec![cards])
        };
    }
    let mut found = Vec::new();
    let mut at = 0;
    while at + CARD <= bytes.len() && found.len() < MOST_HEADERS {
        if !(is_begin(&bytes[at..])) {
            break;
        }
        let (cards, length) = header(&bytes[at..])?;
        let Some(data) = cards.data_bytes() else {
            found.push(cards);
            break;
        };
        at = at.saturating_add(length + data.div_ceil(BLOCK).saturating_mul(BLOCK));
        found.push(cards);
    }
    if found.is_empty() {
        return Err("it is not a FITS file: it begins with neither SIMPLE nor XTENSION".to_owned());
    }
    Ok(found)
}

fn is_begin(bytes: &[u8]) -> bool {
    bytes.starts_with(b"SIMPLE  =") || bytes.starts_with(b"XTENSION=")
}

/// The header at the beginning of these bytes, and how many they are.
fn header(bytes: &[u8]) -> Result<(Cards, usize), String> {
    let mut cards = Vec::new();
    for (number, card) in bytes.chunks_exact(CARD).take(MOST_CARDS).enumerate() {
        if card.starts_with(b"END") && card[3..].iter().all(|byte| *byte == b' ') {
            let length = ((number + 1) * CARD).div_ceil(BLOCK) * BLOCK;
            return Ok((Cards { cards }, length));
        }
        cards.extend(parse(card));
    }
    Err("its header has no END".to_owned())
}

/// The lines of a header that was saved as text; nothing where the bytes are none.
fn lines(bytes: &[u8]) -> Option<Vec<&[u8]>> {
    let first = bytes.iter().position(|byte| *byte == b'\n')?;
    if first > CARD + 1 {
        return None;
    }
    Some(
        bytes
            .split(|byte| *byte == b'\n')
            .take(MOST_CARDS)
            .map(<[u8]>::trim_ascii_end)
            .take_while(|line| *line != b"END")
            .collect(),
    )
}

/// A keyword and its value; nothing for comments and cards without a value.
fn parse(card: &[u8]) -> Option<(String, Value)> {
    let card = card.get(..card.len().min(CARD))?;
    let keyword = std::str::from_utf8(card.get(..8)?).ok()?.trim_end();
    if card.get(8..10)? != b"= " && card.get(8..9)? != b"=" {
        return None;
    }
    let rest = String::from_utf8_lossy(card.get(9..)?);
    let rest = rest.trim_start();
    let value = if let Some(quoted) = rest.strip_prefix('\'') {
        let mut text = String::new();
        let mut characters = quoted.chars().peekable();
        while let Some(one) = characters.next() {
            match one {
                '\'' if characters.peek() == Some(&'\'') => {
                    characters.next();
                    text.push('\'');
                }
                '\'' => break,
                one => text.push(one),
            }
        }
        Value::Text(text.trim_end().to_owned())
    } else {
        let word = rest.split('/').next().unwrap_or_default().trim();
        match word.replace(['D', 'd'], "E").parse::<f64>() {
            Ok(number) if number.is_finite() => Value::Number(number),
            _ if word.is_empty() => return None,
            _ => Value::Text(word.to_owned()),
        }
    };
    Some((keyword.to_owned(), value))
}

/// A header being written.
#[derive(Clone, Debug, Default)]
pub struct Written {
    text: String,
}

impl Written {
    /// A card with a value as it is written: `T`, a number.
    pub fn plain(&mut self, keyword: &str, value: &str, comment: &str) {
        self.commented(&format!("{keyword:<8}= {value:>20}"), comment);
    }

    /// A card with a number, to all its digits.
    pub fn number(&mut self, keyword: &str, value: f64, comment: &str) {
        self.plain(keyword, &format!("{value:E}"), comment);
    }

    /// A card with a text.
    pub fn text(&mut self, keyword: &str, value: &str, comment: &str) {
        let quoted = format!("'{:<8}'", value.replace('\'', "''"));
        self.commented(&format!("{keyword:<8}= {quoted:<20}"), comment);
    }

    /// A comment.
    pub fn comment(&mut self, text: &str) {
        self.card(&format!("COMMENT {text}"));
    }

    fn commented(&mut self, text: &str, comment: &str) {
        if comment.is_empty() {
            self.card(text);
        } else {
            self.card(&format!("{text} / {comment}"));
        }
    }

    fn card(&mut self, text: &str) {
        // Only printable ASCII may be in a header.
        let printable = |c: char| if (' '..='~').contains(&c) { c } else { '?' };
        let card: String = text.chars().map(printable).take(CARD).collect();
        let room = CARD - card.len();
        self.text.push_str(&card);
        self.text.extend(std::iter::repeat_n(' ', room));
    }

    /// The header with its end, in whole blocks.
    pub fn ended(mut self) -> Vec<u8> {
        self.card("END");
        let mut bytes = self.text.into_bytes();
        bytes.resize(bytes.len().div_ceil(BLOCK) * BLOCK, b' ');
        bytes
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn values_are_read_as_the_standard_writes_them() {
        for (card, keyword, value) in [
            (
                "SIMPLE  =                    T / conforms",
                "SIMPLE",
                Value::Text("T".into()),
            ),
            (
                "CRVAL1  =       1.115808E+02 / deg",
                "CRVAL1",
                Value::Number(111.580_8),
            ),
            ("CRVAL2  = -3.3D1", "CRVAL2", Value::Number(-33.0)),
            (
                "CTYPE1  = 'RA---TAN'           / gnomonic",
                "CTYPE1",
                Value::Text("RA---TAN".into()),
            ),
            (
                "OBJECT  = 'O''Neil / hill  '",
                "OBJECT",
                Value::Text("O'Neil / hill".into()),
            ),
        ] {
            assert_eq!(
                parse(card.as_bytes()),
                Some((keyword.to_owned(), value)),
                "{card}"
            );
        }
        for card in [
            "COMMENT = 3 is not a value of it? it is",
            "HISTORY solved",
            "",
            "END",
            "BLANK   =        / no value",
        ] {
            let found = parse(card.as_bytes());
            assert!(found.is_none() || card.starts_with("COMMENT"), "{card}");
        }
    }

    #[test]
    fn a_header_after_data_is_found() {
        let mut first = Written::default();
        first.plain("SIMPLE", "T", "");
        first.plain("BITPIX", "16", "");
        first.plain("NAXIS", "2", "");
        first.plain("NAXIS1", "100", "");
        first.plain("NAXIS2", "30", "");
        let mut bytes = first.ended();
        bytes.extend(vec![0; 3 * BLOCK]);
        let mut second = Written::default();
        second.text("XTENSION", "IMAGE", "");
        second.number("CRPIX1", 2.5, "");
        bytes.extend(second.ended());
        let all = headers(&bytes).unwrap();
        assert_eq!(all.len(), 2);
        assert_eq!(all[1].number("CRPIX1"), Some(2.5));
        assert!(headers(&bytes[..5 * CARD]).is_err());
        assert!(headers(b"no such thing").is_err());
    }

    #[test]
    fn a_header_saved_as_text_is_read() {
        let text = b"CTYPE1  = 'RA---TAN'\r\nCRVAL1  = 12.5 / deg\nEND\nCRVAL1  = 13";
        let all = headers(text).unwrap();
        assert_eq!(all[0].number("CRVAL1"), Some(12.5));
        assert_eq!(all[0].text("CTYPE1"), Some("RA---TAN"));
    }

    proptest! {
        #[test]
        fn numbers_come_back_to_the_last_digit(value in proptest::num::f64::NORMAL) {
            let mut one = Written::default();
            one.plain("SIMPLE", "T", "");
            one.number("CD1_1", value, "a comment that is cut off where the card ends, whatever it says");
            let all = headers(&one.ended()).unwrap();
            prop_assert_eq!(all[0].number("CD1_1"), Some(value));
        }

        #[test]
        fn no_bytes_are_too_odd(bytes in proptest::collection::vec(any::<u8>(), 0..4_000)) {
            let _ = headers(&bytes);
            let mut begun = b"SIMPLE  =                    T".to_vec();
            begun.extend(bytes);
            let _ = headers(&begun);
        }
    }
}
