//! Messages for values beside each other: text without quotes, a list without commas, a date separated from its time.

use crate::query::cursor::Keyword;
use crate::query::cursor::Parser;
use crate::query::mistake::Mistake;
use crate::query::remedy::spelled;
use crate::query::scan::Token;
use crate::query::tree::Value;

/// `camera = Borea K2`
pub(super) fn several_words(parser: &Parser<'_>, head: &Value) -> Mistake {
    let mut all = head.text.clone();
    let mut end = head.span.end;
    for placed in parser.tokens.iter().skip(parser.next) {
        match &placed.token {
            Token::Word(word) if Keyword::read(word).is_none() => {
                all.push(' ');
                all.push_str(word);
                end = placed.span.end;
            }
            _ => break,
        }
    }
    let before = parser
        .next
        .checked_sub(2)
        .and_then(|at| parser.tokens.get(at));
    let span = head.span.start..end;
    if before.is_some_and(|p| matches!(p.token, Token::Open | Token::Comma)) {
        return Mistake::new("a list has commas between its values", span).hint(format!(
            "write {}; one value of several words needs quotes: '{all}'",
            all.replace(' ', ", ")
        ));
    }
    Mistake::new("text of several words needs quotes", span).hint(format!("write '{all}'"))
}

/// `start > 2023-12-13 22:00Z`, `iso = 1 600`
pub(super) fn two_numbers(parser: &Parser<'_>, head: &Value) -> Mistake {
    let second = spelled(parser.peek());
    let first = &head.text;
    let before = parser
        .next
        .checked_sub(2)
        .and_then(|at| parser.tokens.get(at));
    let hint = if first.ends_with('/') || first.contains(':') {
        format!("leave out the space: {first}{second}")
    } else if second.contains(':') {
        format!("a date and its time are joined with T: {first}T{second}")
    } else if before.is_some_and(|p| matches!(p.token, Token::Open | Token::Comma)) {
        format!("put a comma between them: {first}, {second}")
    } else {
        format!("join them ({first}{second}), or put them in quotes ('{first} {second}')")
    };
    Mistake::new(
        "there are two values side by side",
        head.span.start..parser.span().end,
    )
    .hint(hint)
}
