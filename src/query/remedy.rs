//! What to report if the grammar ends: one sentence and one remedy for each usual slip. Accepts nothing.

use std::ops::Range;

use crate::query::cursor::Keyword;
use crate::query::cursor::Parser;
use crate::query::cursor::begins_number;
use crate::query::cursor::misplaced;
use crate::query::mistake::Mistake;
use crate::query::mistake::quoted;
use crate::query::scan::Op;
use crate::query::scan::Token;
use crate::query::tree::Value;
use crate::query::tree::Written;

/// A token as a hint writes it; empty for the end of the text.
pub(super) fn spelled(token: Option<&Token<'_>>) -> String {
    match token {
        Some(Token::Word(word)) => (*word).to_owned(),
        Some(Token::Quoted(text)) => format!("'{}'", text.replace('\'', "''")),
        Some(Token::Op(op)) => op.sign().to_owned(),
        Some(Token::Open) => "(".to_owned(),
        Some(Token::Close) => ")".to_owned(),
        Some(Token::Comma) => ",".to_owned(),
        Some(Token::Dots) => "..".to_owned(),
        None => String::new(),
    }
}

/// The name of the most recent field before the next token.
fn last_field(parser: &Parser<'_>) -> Option<String> {
    let read = parser.tokens.get(..parser.next)?;
    read.windows(2).rev().find_map(|pair| match &pair[0].token {
        Token::Word(word)
            if Keyword::read(word).is_none()
                && !begins_number(word)
                && is_comparison(&pair[1].token) =>
        {
            Some((*word).to_owned())
        }
        _ => None,
    })
}

/// Whether it follows a field.
pub(super) fn is_comparison(token: &Token<'_>) -> bool {
    match token {
        Token::Op(_) => true,
        Token::Word(word) => matches!(
            Keyword::read(word),
            Some(Keyword::In | Keyword::Like | Keyword::Is)
        ),
        _ => false,
    }
}

/// A condition was expected.
pub(super) fn no_field(parser: &Parser<'_>) -> Mistake {
    let span = parser.span();
    match parser.peek() {
        None => Mistake::new("a condition is missing at the end", span)
            .hint("a condition is a field with a test: GEM.alt > 30"),
        Some(Token::Close) => Mistake::new("a condition is missing before this bracket", span)
            .hint("a condition is a field with a test: GEM.alt > 30"),
        Some(Token::Op(op)) => {
            let message = format!("the field is missing before `{op}`");
            let value = spelled(parser.ahead(1));
            let field = last_field(parser).unwrap_or_else(|| "FIELD".to_owned());
            Mistake::new(message, span).hint(format!("write {field} {op} {value}"))
        }
        Some(Token::Word(word)) if Keyword::read(word).is_some() => {
            let message = if is_comparison(&Token::Word(word)) {
                format!("the field is missing before {}", quoted(word))
            } else {
                format!("a condition is missing before {}", quoted(word))
            };
            Mistake::new(message, span).hint("a condition is a field with a test: GEM.alt > 30")
        }
        Some(token @ (Token::Word(_) | Token::Quoted(_))) => value_first(parser, token),
        Some(token) => misplaced(&spelled(Some(token)), span),
    }
}

/// `30 < GEM.alt`, and `10 < GEM.alt < 30`.
fn value_first(parser: &Parser<'_>, value: &Token<'_>) -> Mistake {
    let message = "a condition begins with its field, not with a value";
    let (Some(Token::Op(first)), Some(Token::Word(field))) = (parser.ahead(1), parser.ahead(2))
    else {
        return Mistake::new(message, parser.span()).hint(match value {
            Token::Quoted(name) if is_name(name) && parser.ahead(1).is_some_and(is_comparison) => {
                format!("a field is written without quotes: {name}")
            }
            _ => "write the field first: GEM.alt > 30".to_owned(),
        });
    };
    if begins_number(field) {
        return Mistake::new(message, parser.span()).hint(match value {
            Token::Quoted(name) if is_name(name) => {
                format!("a field is written without quotes: {name} {first} {field}")
            }
            _ => "write the field first: GEM.alt > 30".to_owned(),
        });
    }
    let value = spelled(Some(value));
    let (Some(Token::Op(second)), Some(other)) = (parser.ahead(3), parser.ahead(4)) else {
        return Mistake::new(message, parser.span()).hint(format!(
            "exchange the sides: {field} {} {value}",
            first.turned()
        ));
    };
    let other = spelled(Some(other));
    let end = parser
        .tokens
        .get(parser.next + 4)
        .map_or(parser.span().end, |p| p.span.end);
    let apart = format!(
        "{field} {} {value} and {field} {second} {other}",
        first.turned()
    );
    let hint = match (first, second) {
        (Op::Below | Op::AtMost, Op::Below | Op::AtMost) => {
            format!("write {field} in {value}..{other} (both ends included), or {apart}")
        }
        (Op::Above | Op::AtLeast, Op::Above | Op::AtLeast) => {
            format!("write {field} in {other}..{value} (both ends included), or {apart}")
        }
        _ => format!("write {apart}"),
    };
    Mistake::new("comparisons cannot be chained", parser.span().start..end).hint(hint)
}

/// Whether a text could be a field's name.
fn is_name(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_alphabetic())
        && text
            .bytes()
            .all(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'.' | b'_'))
}

/// A condition is complete, but the next token neither joins nor closes.
pub(super) fn left_over(parser: &Parser<'_>) -> Mistake {
    let span = parser.span();
    let field = last_field(parser).unwrap_or_else(|| "FIELD".to_owned());
    match parser.peek() {
        Some(Token::Close) => Mistake::new("this bracket closes nothing", span)
            .hint("leave it out, or add an opening ("),
        Some(Token::Op(op)) => {
            let value = spelled(parser.ahead(1));
            Mistake::new("comparisons cannot be chained", span).hint(format!(
                "write {field} {op} {value} as a condition of its own, joined with and; \
                 or a range: {field} in A..B"
            ))
        }
        Some(Token::Comma) => Mistake::new("a comma is allowed only inside `in (A, B)`", span).hint(
            "join conditions with and; write numbers with a decimal point, and thousands without \
             a separator",
        ),
        Some(Token::Dots) => Mistake::new("a range needs `in` before it", span)
            .hint(format!("write {field} in A..B")),
        Some(Token::Word(word)) if Keyword::read(word) == Some(Keyword::Not) => {
            Mistake::new("`and` or `or` is missing before `not`", span)
                .hint("write and not, or or not")
        }
        Some(Token::Word(word)) if Keyword::read(word).is_some() => {
            misplaced(word, span).hint("join conditions with and or or")
        }
        Some(token) => {
            let text = spelled(Some(token));
            Mistake::new(
                format!("`and` or `or` is missing before {}", quoted(&text)),
                span,
            )
            .hint(format!("join the conditions: … and {text} …"))
        }
        None => Mistake::new("the query ends too early", span),
    }
}

/// A field without a test, or with a comparing word of another language.
pub(super) fn no_test(parser: &Parser<'_>, field: &Written) -> Mistake {
    let name = &field.text;
    let word = match parser.peek() {
        Some(Token::Word(word)) => word.to_ascii_lowercase(),
        _ => String::new(),
    };
    let hint = match word.as_str() {
        "between" => format!("write {name} in A..B"),
        "not" => format!("write not before the field: not {name} …"),
        "contains" | "matches" | "has" => format!("write {name} like '*part*'"),
        "equals" => format!("write {name} = VALUE"),
        "exists" => format!("write {name} is known"),
        // A query typed without quotes ends here: the shell took `> 30` as the name of a file.
        "" if parser.peek().is_none() => format!(
            "compare it ({name} = VALUE), or test whether {name} is known; keep the whole query in quotes, or the shell \
             takes < and > for itself"
        ),
        _ => format!("compare it ({name} = VALUE), or test whether {name} is known"),
    };
    if let Some(hint) = second_value(parser, name) {
        return Mistake::new(
            format!("the test after {} is missing", quoted(name)),
            field.span.clone(),
        )
        .hint(hint);
    }
    let at_word = matches!(
        word.as_str(),
        "between" | "not" | "contains" | "matches" | "has" | "equals" | "exists"
    );
    if at_word {
        return misplaced(&word, parser.span()).hint(hint);
    }
    Mistake::new(
        format!("the test after {} is missing", quoted(name)),
        field.span.clone(),
    )
    .hint(hint)
}

/// `kind = dark or flat`: the possible meaning of a word after a condition and `or`.
fn second_value(parser: &Parser<'_>, word: &str) -> Option<String> {
    let before = |back: usize| {
        let at = parser.next.checked_sub(back)?;
        parser.tokens.get(at).map(|placed| &placed.token)
    };
    let (Token::Word(field), Token::Op(Op::Equal), value, Token::Word(or)) =
        (before(5)?, before(4)?, before(3)?, before(2)?)
    else {
        return None;
    };
    let ends = parser
        .peek()
        .is_none_or(|token| ends_condition(Some(token)));
    (ends && Keyword::read(or) == Some(Keyword::Or)).then(|| {
        format!(
            "for any of several values: {field} in ({}, {word})",
            spelled(Some(value))
        )
    })
}

/// A value was expected.
pub(super) fn no_value(parser: &Parser<'_>) -> Mistake {
    let before = parser
        .next
        .checked_sub(1)
        .and_then(|at| parser.tokens.get(at))
        .map(|p| spelled(Some(&p.token)))
        .unwrap_or_default();
    let mistake = Mistake::new(
        format!("a value is missing after {}", quoted(&before)),
        parser.span(),
    );
    match parser.peek() {
        Some(Token::Word(word)) if ends_condition(parser.ahead(1)) => {
            mistake.hint(format!("if the value is {word}, write '{word}'"))
        }
        Some(Token::Close) if before == "," => mistake.hint("leave out the last comma"),
        Some(Token::Dots) => mistake.hint(format!(
            "for all up to a value: {} <= B",
            last_field(parser).unwrap_or_else(|| "FIELD".to_owned())
        )),
        _ => {
            let field = last_field(parser).unwrap_or_else(|| "FIELD".to_owned());
            mistake.hint(match before.as_str() {
                "(" | "," => format!("name the values: {field} in (A, B)"),
                ".." => {
                    format!("name both ends, {field} in A..B; for all from a value: {field} >= A")
                }
                "in" | "IN" | "In" => format!("write {field} in A..B, or {field} in (A, B)"),
                word => format!("write {field} {word} VALUE"),
            })
        }
    }
}

/// Whether a condition may end before this token.
fn ends_condition(token: Option<&Token<'_>>) -> bool {
    match token {
        None | Some(Token::Close | Token::Comma) => true,
        Some(Token::Word(word)) => matches!(Keyword::read(word), Some(Keyword::And | Keyword::Or)),
        _ => false,
    }
}

/// `iso = (100, 200)`
pub(super) fn compared_with_list(field: &Written, op: Op, opener: Range<usize>) -> Mistake {
    let name = &field.text;
    let hint = match op {
        Op::Unequal => format!("write not {name} in (A, B)"),
        _ => format!("write {name} in (A, B)"),
    };
    Mistake::new(format!("`{op}` compares with one value"), opener).hint(hint)
}

/// `in` with one value only, or with a list that lacks its brackets.
pub(super) fn no_range(parser: &Parser<'_>, field: &Written, low: &Value) -> Mistake {
    let name = &field.text;
    let value = &low.text;
    let hint = match (parser.peek(), ends_at_dash(value)) {
        (Some(Token::Comma), _) => format!("write the list in brackets: {name} in ({value}, …)"),
        (Some(Token::Word(word)), _) if word.eq_ignore_ascii_case("and") => {
            format!("write {name} in {value}..B, or {name} = {value}")
        }
        (_, Some((low, high))) => format!("write {name} in {low}..{high}"),
        (_, None) => format!("write {name} = {value}, or a range: {name} in {value}..B"),
    };
    Mistake::new(
        "`in` needs a range `A..B` or a list `(A, B)`",
        low.whole_span(),
    )
    .hint(hint)
}

/// The ends of a range written with a dash, `2021-2024`; for dates, at the dash in the middle. A month is not a range.
fn ends_at_dash(text: &str) -> Option<(&str, &str)> {
    let dashes: Vec<(usize, &str)> = text.match_indices(['-', '–', '—']).collect();
    let (at, dash) = *dashes
        .get(dashes.len() / 2)
        .filter(|_| !dashes.len().is_multiple_of(2))?;
    let (low, high) = (&text[..at], &text[at + dash.len()..]);
    let is_number = |end: &str| end.starts_with(|c: char| c.is_ascii_digit());
    let is_month = (low.len(), high.len(), dash) == (4, 2, "-");
    (is_number(low) && is_number(high) && !is_month).then_some((low, high))
}

/// A list without a comma.
pub(super) fn no_comma(parser: &Parser<'_>, field: &Written) -> Mistake {
    match parser.peek() {
        Some(Token::Dots) => {
            Mistake::new("a range cannot be part of a list", parser.span()).hint(format!(
                "join ranges with or: {0} in A..B or {0} in C..D",
                field.text
            ))
        }
        _ => Mistake::new(
            "the next value of a list needs a comma, the end a )",
            parser.span(),
        )
        .hint(format!("write {} in (A, B)", field.text)),
    }
}

/// `is` with anything but `known` and `unknown`.
pub(super) fn not_known(parser: &Parser<'_>, field: &Written) -> Mistake {
    let name = &field.text;
    let word = spelled(parser.peek());
    let hint = match word.to_ascii_lowercase().as_str() {
        "not" => format!("write {name} is unknown; for a value, not {name} = VALUE"),
        "null" | "none" | "missing" | "empty" => format!("write {name} is unknown"),
        "" | "and" | "or" | ")" => format!("write {name} is known, or {name} is unknown"),
        _ => format!("write {name} = {word}, or {name} is known"),
    };
    Mistake::new("`is` needs `known` or `unknown`", parser.span()).hint(hint)
}
