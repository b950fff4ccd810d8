//! Text to tokens with their positions. Knows no fields, no keywords and no grammar.
//!
//! A bare word is scanned whole and not interpreted, `2023-12-13`, `1/200s`, `body-zone` alike: its meaning depends on
//! the field it is compared with, which only `check` knows.

use std::fmt;
use std::ops::Range;

use crate::query::mistake::Mistake;
use crate::query::mistake::quoted;

/// How a value is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Op {
    /// `=`
    Equal,
    /// `!=`
    Unequal,
    /// `<`
    Below,
    /// `<=`
    AtMost,
    /// `>`
    Above,
    /// `>=`
    AtLeast,
}

impl Op {
    /// The comparison as it is written.
    pub const fn sign(self) -> &'static str {
        match self {
            Self::Equal => "=",
            Self::Unequal => "!=",
            Self::Below => "<",
            Self::AtMost => "<=",
            Self::Above => ">",
            Self::AtLeast => ">=",
        }
    }

    /// The equivalent comparison with its two sides exchanged.
    pub(super) const fn turned(self) -> Self {
        match self {
            Self::Below => Self::Above,
            Self::AtMost => Self::AtLeast,
            Self::Above => Self::Below,
            Self::AtLeast => Self::AtMost,
            Self::Equal | Self::Unequal => self,
        }
    }
}

impl fmt::Display for Op {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.sign())
    }
}

/// One token.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Token<'t> {
    /// A run of letters, digits and the signs that occur in numbers, dates and names.
    Word(&'t str),
    /// Text in quotes, without them, doubled quotes undone.
    Quoted(String),
    /// A comparison.
    Op(Op),
    /// `(`
    Open,
    /// `)`
    Close,
    /// `,`
    Comma,
    /// `..`
    Dots,
}

/// A token and its bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Placed<'t> {
    /// The token.
    pub token: Token<'t>,
    /// Its bytes in the text.
    pub span: Range<usize>,
}

/// Splits a text into tokens.
///
/// Refuses: a quote that is not closed, signs that belong to other languages, anything unknown.
pub(super) fn scan(text: &str) -> Result<Vec<Placed<'_>>, Mistake> {
    let mut tokens = Vec::new();
    let mut at = 0;
    while let Some(first) = text[at..].chars().next() {
        if first.is_whitespace() {
            at += first.len_utf8();
            continue;
        }
        let (token, length) = token_at(text, at, first)?;
        tokens.push(Placed {
            token,
            span: at..at + length,
        });
        at += length;
    }
    Ok(tokens)
}

/// The token that begins at a byte, and its length.
fn token_at(text: &str, at: usize, first: char) -> Result<(Token<'_>, usize), Mistake> {
    let rest = &text[at..];
    if let Some((wrong, right)) = foreign_sign(rest) {
        return Err(
            Mistake::new(format!("`{wrong}` is not used here"), at..at + wrong.len())
                .hint(format!("write {right}")),
        );
    }
    let token = match first {
        '(' => (Token::Open, 1),
        ')' => (Token::Close, 1),
        ',' => (Token::Comma, 1),
        '=' => (Token::Op(Op::Equal), 1),
        '!' => (Token::Op(Op::Unequal), 2),
        '<' if rest.starts_with("<=") => (Token::Op(Op::AtMost), 2),
        '<' => (Token::Op(Op::Below), 1),
        '>' if rest.starts_with(">=") => (Token::Op(Op::AtLeast), 2),
        '>' => (Token::Op(Op::Above), 1),
        '\'' | '"' => quoted_at(rest, at, first)?,
        '.' if rest.starts_with("...") => {
            return Err(
                Mistake::new("a range is written with two dots", at..at + 3).hint("write A..B")
            );
        }
        '.' if rest.starts_with("..") => (Token::Dots, 2),
        _ if is_of_word(first) => {
            let length = word_length(rest);
            (Token::Word(&rest[..length]), length)
        }
        _ => {
            let shown = if first.is_control() {
                first.escape_default().to_string()
            } else {
                first.to_string()
            };
            return Err(Mistake::new(
                format!("{} has no meaning in a query", quoted(&shown)),
                at..at + first.len_utf8(),
            )
            .hint("text with such signs needs quotes: 'like this'"));
        }
    };
    Ok(token)
}

/// Signs that other languages use, with the ones used here.
const FOREIGN: &[(&str, &str)] = &[
    ("==", "a single ="),
    ("=<", "<="),
    ("=>", ">="),
    ("=~", "like, with * and ?"),
    ("!~", "not FIELD like 'GLOB'"),
    ("<>", "!="),
    ("≠", "!="),
    ("≤", "<="),
    ("≥", ">="),
    ("&&", "and"),
    ("&", "and"),
    ("||", "or"),
    ("|", "or"),
    ("~", "like, with * and ?"),
    ("[", "round brackets: ( )"),
    ("]", "round brackets: ( )"),
    ("{", "round brackets: ( )"),
    ("}", "round brackets: ( )"),
    ("`", "straight quotes: 'text'"),
    ("‘", "straight quotes: 'text'"),
    ("’", "straight quotes: 'text'"),
    ("“", "straight quotes: 'text'"),
    ("”", "straight quotes: 'text'"),
    ("„", "straight quotes: 'text'"),
    ("«", "straight quotes: 'text'"),
    ("»", "straight quotes: 'text'"),
    ("…", "two dots: A..B"),
];

fn foreign_sign(rest: &str) -> Option<(&'static str, &'static str)> {
    let known = FOREIGN
        .iter()
        .copied()
        .find(|(sign, _)| rest.starts_with(sign));
    known.or_else(|| (rest.starts_with('!') && !rest.starts_with("!=")).then_some(("!", "not")))
}

/// Text in quotes; a doubled quote means a quote.
fn quoted_at(rest: &str, at: usize, quote: char) -> Result<(Token<'_>, usize), Mistake> {
    let mut text = String::new();
    let mut signs = rest.char_indices().skip(1).peekable();
    while let Some((place, sign)) = signs.next() {
        if sign != quote {
            text.push(sign);
        } else if signs.next_if(|(_, next)| *next == quote).is_some() {
            text.push(quote);
        } else {
            return Ok((Token::Quoted(text), place + 1));
        }
    }
    Err(Mistake::new("this quote is not closed", at..at + 1)
        .hint(format!("close it with another {quote}")))
}

/// Whether a sign may be part of a bare word. Beyond ASCII any sign may that is not a space and has no meaning of its
/// own.
fn is_of_word(sign: char) -> bool {
    if sign.is_ascii() {
        sign.is_ascii_alphanumeric()
            || matches!(sign, '_' | '-' | '+' | '.' | ':' | '/' | '%' | '*' | '?')
    } else {
        !sign.is_whitespace()
            && !sign.is_control()
            && !FOREIGN.iter().any(|(foreign, _)| foreign.starts_with(sign))
    }
}

/// The length in bytes of the word at the start; a word ends before two dots.
fn word_length(rest: &str) -> usize {
    rest.char_indices()
        .find(|&(at, sign)| !is_of_word(sign) || rest[at..].starts_with(".."))
        .map_or(rest.len(), |(at, _)| at)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: &str) -> String {
        match scan(text) {
            Ok(tokens) => tokens
                .iter()
                .map(|placed| match &placed.token {
                    Token::Word(word) => format!("w:{word}"),
                    Token::Quoted(text) => format!("q:{text}"),
                    Token::Op(op) => op.sign().to_owned(),
                    Token::Open => "(".to_owned(),
                    Token::Close => ")".to_owned(),
                    Token::Comma => ",".to_owned(),
                    Token::Dots => "..".to_owned(),
                })
                .collect::<Vec<_>>()
                .join(" "),
            Err(mistake) => format!("{:?} {}", mistake.span, mistake.message),
        }
    }

    #[test]
    fn texts_split_into_tokens() {
        for (text, expect) in [
            ("", ""),
            ("GEM.alt>30", "w:GEM.alt > w:30"),
            ("GEM.alt >=-30.5°", "w:GEM.alt >= w:-30.5°"),
            ("iso in 100..1600", "w:iso w:in w:100 .. w:1600"),
            ("x in 10deg..30 deg", "w:x w:in w:10deg .. w:30 w:deg"),
            ("exposure<1/200s", "w:exposure < w:1/200s"),
            ("t in .5...75", "7..10 a range is written with two dots"),
            ("t in .5.. .75", "w:t w:in w:.5 .. w:.75"),
            (
                "start>2023-12-13T22:00:07.25+01:00",
                "w:start > w:2023-12-13T22:00:07.25+01:00",
            ),
            ("lens='It''s \"35\"'", "w:lens = q:It's \"35\""),
            ("lens=\"It's\"", "w:lens = q:It's"),
            ("lens=''", "w:lens = q:"),
            ("site='Höhe", "5..6 this quote is not closed"),
            ("site=Höhe and (a)", "w:site = w:Höhe w:and ( w:a )"),
            ("a!=b", "w:a != w:b"),
            ("!a", "0..1 `!` is not used here"),
            ("a=='b'", "1..3 `==` is not used here"),
            ("a ≤ 3", "2..5 `≤` is not used here"),
            ("a\\b", "1..2 `\\` has no meaning in a query"),
            ("a\u{0}", "1..2 `\\u{0}` has no meaning in a query"),
            ("a\u{a0}= b", "w:a = w:b"),
        ] {
            assert_eq!(shown(text), expect, "{text}");
        }
    }

    #[test]
    fn spans_stand_on_character_borders() {
        for text in ["Höhe=„x", "°°..°", "'é' < é\u{301}", "−5°..ö"] {
            let spans = match scan(text) {
                Ok(tokens) => tokens.into_iter().map(|t| t.span).collect(),
                Err(mistake) => vec![mistake.span],
            };
            for span in spans {
                assert!(text.get(span.clone()).is_some(), "{text} {span:?}");
            }
        }
    }
}
