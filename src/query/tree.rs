//! The tree that the grammar produces: words with their positions, no meaning yet.

use std::ops::Range;

use crate::query::scan::Op;

/// A query as it was written.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Tree {
    /// All are true. At least two, none of them an `All`.
    All(Vec<Tree>),
    /// At least one is true. At least two, none of them an `Any`.
    Any(Vec<Tree>),
    /// It is not true.
    Not(Box<Tree>),
    /// One condition.
    Test(Condition),
}

/// A field and its test.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Condition {
    /// The field's name as written.
    pub field: Written,
    /// Its test.
    pub test: Test,
}

/// The test of a field.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Test {
    /// A comparison, the bytes of its sign, and the value.
    Compare(Op, Range<usize>, Value),
    /// `in A..B`
    Between(Value, Value),
    /// `in (A, B)`
    OneOf(Vec<Value>),
    /// `like 'GLOB'`, with the bytes of `like`.
    Like(Range<usize>, Value),
    /// `is known`
    Known,
    /// `is unknown`
    Unknown,
}

/// A word and its bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Written {
    /// The word.
    pub text: String,
    /// Its bytes.
    pub span: Range<usize>,
}

/// A value as written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Value {
    /// The word, or the text in the quotes.
    pub text: String,
    /// Its bytes, quotes included.
    pub span: Range<usize>,
    /// Bare or in quotes.
    pub form: Form,
    /// The unit that follows after a space.
    pub unit: Option<Written>,
}

impl Value {
    /// The bytes of the value and of the unit after it.
    pub fn whole_span(&self) -> Range<usize> {
        let end = self.unit.as_ref().map_or(self.span.end, |u| u.span.end);
        self.span.start..end
    }
}

/// How a value was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Form {
    /// As a bare word.
    Bare,
    /// In quotes.
    Quoted,
}
