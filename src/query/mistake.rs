//! A mistake in a query: a sentence, the letters concerned, the remedy. Knows no grammar and no fields.

use std::ops::Range;

use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;

/// A mistake in a query's text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Mistake {
    /// The mistake: one sentence without a full stop.
    pub message: String,
    /// The bytes concerned, on character borders.
    pub span: Range<usize>,
    /// What to write instead.
    pub hint: Option<String>,
}

impl Mistake {
    /// A mistake at these bytes.
    pub fn new(message: impl Into<String>, span: Range<usize>) -> Self {
        Self {
            message: message.into(),
            span,
            hint: None,
        }
    }

    /// The same, with the remedy.
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// The failure that stops the command, pointing into `text`.
    pub fn into_failure(self, text: &str) -> Failure {
        let failure =
            Failure::new(FailureKind::Query, self.message).at_query(text, self.span.clone());
        match self.hint {
            Some(hint) => failure.hint(hint),
            None => failure,
        }
    }
}

/// A piece of the user's text as quoted in a message: in backticks, shortened if it is long.
pub(super) fn quoted(text: &str) -> String {
    const LONGEST: usize = 40;
    match text.char_indices().nth(LONGEST) {
        Some((cut, _)) => format!("`{}…`", &text[..cut]),
        None => format!("`{text}`"),
    }
}

/// Words as listed in a message: `a, b or c`.
pub(super) fn one_of(words: &[impl AsRef<str>]) -> String {
    let mut list = String::new();
    for (at, word) in words.iter().enumerate() {
        match at {
            0 => {}
            _ if at + 1 == words.len() => list.push_str(" or "),
            _ => list.push_str(", "),
        }
        list.push_str(word.as_ref());
    }
    list
}
