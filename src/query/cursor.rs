//! The tokens of a query and the position in them. Knows keywords, and no grammar.

use std::ops::Range;

use crate::query::mistake::Mistake;
use crate::query::mistake::quoted;
use crate::query::scan::Placed;
use crate::query::scan::Token;

/// The words that join and compare. Any of them is a value if a value is expected and no keyword is possible.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Keyword {
    And,
    Or,
    Not,
    In,
    Like,
    Is,
}

impl Keyword {
    pub fn read(word: &str) -> Option<Self> {
        [
            ("and", Self::And),
            ("or", Self::Or),
            ("not", Self::Not),
            ("in", Self::In),
            ("like", Self::Like),
            ("is", Self::Is),
        ]
        .into_iter()
        .find_map(|(name, keyword)| name.eq_ignore_ascii_case(word).then_some(keyword))
    }
}

/// The tokens and the position in them.
pub(super) struct Parser<'t> {
    pub tokens: &'t [Placed<'t>],
    pub next: usize,
    pub length: usize,
    pub values: usize,
}

impl<'t> Parser<'t> {
    /// The next token.
    pub fn peek(&self) -> Option<&'t Token<'t>> {
        self.ahead(0)
    }

    /// The token `count` places after the next one.
    pub fn ahead(&self, count: usize) -> Option<&'t Token<'t>> {
        self.tokens.get(self.next + count).map(|p| &p.token)
    }

    /// The next keyword.
    pub fn keyword(&self) -> Option<Keyword> {
        match self.peek() {
            Some(Token::Word(word)) => Keyword::read(word),
            _ => None,
        }
    }

    /// The bytes of the next token; the empty range at the end of the text after the last.
    pub fn span(&self) -> Range<usize> {
        self.tokens
            .get(self.next)
            .map_or(self.length..self.length, |p| p.span.clone())
    }

    pub fn take(&mut self, keyword: Keyword) -> bool {
        let found = self.keyword() == Some(keyword);
        self.next += usize::from(found);
        found
    }
}

/// Whether a word begins like a number or date: with a digit, or a sign or a point before one.
pub(super) fn begins_number(word: &str) -> bool {
    word.trim_start_matches(['+', '-', '−', '.'])
        .starts_with(|c: char| c.is_ascii_digit())
}

/// The message about a misplaced word.
pub(super) fn misplaced(word: &str, span: Range<usize>) -> Mistake {
    Mistake::new(format!("{} cannot be used here", quoted(word)), span)
}
