//! Tokens to a tree. Knows the grammar, and no field.
//!
//! ```text
//! any       = all { "or" all }
//! all       = one { "and" one }
//! one       = "not" one | "(" any ")" | condition
//! condition = FIELD ( SIGN value | "in" value ".." value | "in" "(" value { "," value } ")"
//!                   | "like" value | "is" ( "known" | "unknown" ) )
//! value     = WORD [ UNIT ] | QUOTED
//! ```

use std::ops::Range;

use crate::query::cursor::Keyword;
use crate::query::cursor::Parser;
use crate::query::cursor::begins_number;
use crate::query::mistake::Mistake;
use crate::query::remedy;
use crate::query::scan::Placed;
use crate::query::scan::Token;
use crate::query::side_by_side;
use crate::query::tree::Condition;
use crate::query::tree::Form;
use crate::query::tree::Test;
use crate::query::tree::Tree;
use crate::query::tree::Value;
use crate::query::tree::Written;

/// The most brackets and `not`s inside one another.
pub const DEEPEST: usize = 64;
/// The most values in one query.
pub const MOST_VALUES: usize = 1000;

/// Reads the tokens of a text of `length` bytes; `None` when there are none.
pub(super) fn parse(tokens: &[Placed<'_>], length: usize) -> Result<Option<Tree>, Mistake> {
    if tokens.is_empty() {
        return Ok(None);
    }
    let mut parser = Parser {
        tokens,
        next: 0,
        length,
        values: 0,
    };
    let tree = parser.any(0)?;
    if parser.peek().is_some() {
        return Err(remedy::left_over(&parser));
    }
    Ok(Some(tree))
}

impl Parser<'_> {
    fn any(&mut self, depth: usize) -> Result<Tree, Mistake> {
        let mut parts = Vec::new();
        loop {
            match self.all(depth)? {
                Tree::Any(inner) => parts.extend(inner),
                other => parts.push(other),
            }
            if !self.take(Keyword::Or) {
                return Ok(joined(parts, Tree::Any));
            }
        }
    }

    fn all(&mut self, depth: usize) -> Result<Tree, Mistake> {
        let mut parts = Vec::new();
        loop {
            match self.one(depth)? {
                Tree::All(inner) => parts.extend(inner),
                other => parts.push(other),
            }
            if !self.take(Keyword::And) {
                return Ok(joined(parts, Tree::All));
            }
        }
    }

    fn one(&mut self, depth: usize) -> Result<Tree, Mistake> {
        let span = self.span();
        if depth > DEEPEST {
            return Err(Mistake::new(
                format!("more than {DEEPEST} brackets and `not`s are nested"),
                span,
            )
            .hint("split it into several queries"));
        }
        if self.take(Keyword::Not) {
            return Ok(Tree::Not(Box::new(self.one(depth + 1)?)));
        }
        if self.peek() == Some(&Token::Open) {
            self.next += 1;
            if self.peek().is_none() {
                return Err(unclosed(span));
            }
            let inner = self.any(depth + 1)?;
            return match self.peek() {
                Some(Token::Close) => {
                    self.next += 1;
                    Ok(inner)
                }
                None => Err(unclosed(span)),
                Some(_) => Err(remedy::left_over(self)),
            };
        }
        self.condition().map(Tree::Test)
    }

    fn condition(&mut self) -> Result<Condition, Mistake> {
        let field = match self.peek() {
            Some(Token::Word(word)) if self.keyword().is_none() && !begins_number(word) => {
                Written {
                    text: (*word).to_owned(),
                    span: self.span(),
                }
            }
            _ => return Err(remedy::no_field(self)),
        };
        self.next += 1;
        let test = self.test(&field)?;
        Ok(Condition { field, test })
    }

    fn test(&mut self, field: &Written) -> Result<Test, Mistake> {
        let span = self.span();
        if let Some(Token::Op(op)) = self.peek() {
            self.next += 1;
            if self.peek() == Some(&Token::Open) {
                return Err(remedy::compared_with_list(field, *op, self.span()));
            }
            return Ok(Test::Compare(*op, span, self.value()?));
        }
        match self.keyword() {
            Some(Keyword::In) => {
                self.next += 1;
                self.inside(field)
            }
            Some(Keyword::Like) => {
                self.next += 1;
                Ok(Test::Like(span, self.value()?))
            }
            Some(Keyword::Is) => {
                self.next += 1;
                self.known(field)
            }
            _ => Err(remedy::no_test(self, field)),
        }
    }

    /// The part after `in`.
    fn inside(&mut self, field: &Written) -> Result<Test, Mistake> {
        let opener = self.span();
        if self.peek() != Some(&Token::Open) {
            let low = self.value()?;
            if self.peek() != Some(&Token::Dots) {
                return Err(remedy::no_range(self, field, &low));
            }
            self.next += 1;
            return Ok(Test::Between(low, self.value()?));
        }
        self.next += 1;
        let mut values = Vec::new();
        loop {
            if self.peek().is_none() {
                return Err(unclosed(opener));
            }
            values.push(self.value()?);
            match self.peek() {
                Some(Token::Comma) => self.next += 1,
                Some(Token::Close) => {
                    self.next += 1;
                    return Ok(Test::OneOf(values));
                }
                None => return Err(unclosed(opener)),
                Some(_) => return Err(remedy::no_comma(self, field)),
            }
        }
    }

    /// The part after `is`.
    fn known(&mut self, field: &Written) -> Result<Test, Mistake> {
        let word = match self.peek() {
            Some(Token::Word(word)) => word.to_ascii_lowercase(),
            _ => String::new(),
        };
        let test = match word.as_str() {
            "known" => Test::Known,
            "unknown" => Test::Unknown,
            _ => return Err(remedy::not_known(self, field)),
        };
        self.next += 1;
        Ok(test)
    }

    fn value(&mut self) -> Result<Value, Mistake> {
        let span = self.span();
        let (text, form) = match self.peek() {
            Some(Token::Word(word)) if self.keyword().is_none() => ((*word).to_owned(), Form::Bare),
            Some(Token::Quoted(text)) => (text.clone(), Form::Quoted),
            _ => return Err(remedy::no_value(self)),
        };
        if self.values == MOST_VALUES {
            return Err(Mistake::new(
                format!("a query may have at most {MOST_VALUES} values"),
                span,
            )
            .hint("split it into several queries"));
        }
        self.values += 1;
        self.next += 1;
        let mut value = Value {
            text,
            span,
            form,
            unit: None,
        };
        if form == Form::Bare
            && let Some(Token::Word(word)) = self.peek()
            && self.keyword().is_none()
            // Or it is a field with its comparison, and `and` or `or` is missing before it.
            && !self.ahead(1).is_some_and(remedy::is_comparison)
        {
            if !begins_number(&value.text) {
                return Err(side_by_side::several_words(self, &value));
            }
            if begins_number(word) {
                return Err(side_by_side::two_numbers(self, &value));
            }
            value.unit = Some(Written {
                text: (*word).to_owned(),
                span: self.span(),
            });
            self.next += 1;
        }
        Ok(value)
    }
}

/// One part alone, or all of them under one parent.
fn joined(mut parts: Vec<Tree>, roof: fn(Vec<Tree>) -> Tree) -> Tree {
    match parts.pop() {
        Some(only) if parts.is_empty() => only,
        Some(last) => {
            parts.push(last);
            roof(parts)
        }
        None => roof(parts),
    }
}

fn unclosed(opener: Range<usize>) -> Mistake {
    Mistake::new("this bracket is not closed", opener).hint("close it with )")
}
