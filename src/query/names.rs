//! Saved queries inside a query (`@dark and GEM.alt > 30`), and lists of fields (`start, GEM.alt desc`). Knows no
//! conditions; the caller knows where saved queries are stored.

use std::ops::Range;

use crate::query::fields;
use crate::query::mistake::Mistake;
use crate::query::mistake::quoted;
use crate::query::tree::Written;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::shower::ShowerCode;

/// The most letters in a saved query's name.
pub const LONGEST_NAME: usize = 40;

/// A field of a list, and whether `desc` follows it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Listed {
    /// The source of its values.
    pub source: ColumnSource,
    /// The direction in which rows are ordered by it.
    pub order: Sorting,
}

/// The direction in which rows are ordered by a field.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sorting {
    /// The least first.
    Up,
    /// `desc`: the greatest first.
    Down,
}

/// The purpose of a list of fields.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ListUse {
    /// Columns to show.
    Show,
    /// Fields to order by: each may be followed by `desc`.
    Order,
}

/// Expands the saved queries that a text names by `@name`, each in brackets. `find` gives a saved query's text.
///
/// Refuses: a name that is not saved, with the nearest of `names`.
pub fn expand(
    text: &str,
    names: &[String],
    find: &mut dyn FnMut(&str) -> Result<Option<String>, Failure>,
) -> Result<String, Failure> {
    let mut whole = String::with_capacity(text.len());
    let mut from = 0;
    for span in names_in(text) {
        let name = &text[span.start + 1..span.end];
        let Some(query) = find(name)? else {
            let near =
                fields::nearest(&name.to_ascii_lowercase(), names.iter().map(String::as_str));
            let hint = near.map_or_else(
                || "`framefall query list` lists the saved queries".to_owned(),
                |near| format!("did you mean @{near}?"),
            );
            let message = format!("no query is saved as {}", quoted(name));
            return Err(Mistake::new(message, span).hint(hint).into_failure(text));
        };
        whole.push_str(&text[from..span.start]);
        whole.push('(');
        whole.push_str(&query);
        whole.push(')');
        from = span.end;
    }
    whole.push_str(&text[from..]);
    Ok(whole)
}

/// Whether a text names saved queries.
pub fn names_saved_queries(text: &str) -> bool {
    !names_in(text).is_empty()
}

/// Whether a name can be given to a query: letters, digits, `-` and `_`.
pub fn can_be_a_name(name: &str) -> bool {
    !name.is_empty() && name.len() <= LONGEST_NAME && name.bytes().all(is_of_a_name)
}

const fn is_of_a_name(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || byte == b'-' || byte == b'_'
}

/// The positions of `@name` outside quotes.
fn names_in(text: &str) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut quote = None;
    let bytes = text.as_bytes();
    let mut at = 0;
    while at < bytes.len() {
        let byte = bytes[at];
        match quote {
            Some(open) if byte == open => quote = None,
            None if byte == b'\'' || byte == b'"' => quote = Some(byte),
            None if byte == b'@' => {
                let length = bytes[at + 1..]
                    .iter()
                    .take_while(|b| is_of_a_name(**b))
                    .count();
                if length > 0 {
                    found.push(at..at + 1 + length);
                }
                at += length;
            }
            _ => {}
        }
        at += 1;
    }
    found
}

/// Reads a list of fields, separated by commas.
///
/// Refuses: an unknown field, a field named twice, an empty place, `desc` if nothing is ordered.
pub fn field_list(
    text: &str,
    used: ListUse,
    showers: &[ShowerCode],
) -> Result<Vec<Listed>, Failure> {
    read_list(text, used, showers).map_err(|mistake| mistake.into_failure(text))
}

fn read_list(text: &str, used: ListUse, showers: &[ShowerCode]) -> Result<Vec<Listed>, Mistake> {
    let mut listed: Vec<Listed> = Vec::new();
    let mut from = 0;
    for piece in text.split(',') {
        let start = from + piece.len() - piece.trim_start().len();
        let words = piece.trim();
        from += piece.len() + 1;
        if words.is_empty() {
            return Err(
                Mistake::new("a field is missing", start..start + words.len())
                    .hint("separate fields with commas: start,GEM.alt,moon.alt"),
            );
        }
        let (name, behind) = words.split_once(char::is_whitespace).unwrap_or((words, ""));
        let behind = behind.trim();
        let order = match behind.to_ascii_lowercase().as_str() {
            "desc" if used == ListUse::Order => Sorting::Down,
            "" => Sorting::Up,
            _ => {
                let hint = match used {
                    ListUse::Show => "put a comma between two fields",
                    ListUse::Order => "only desc or a comma may follow a field",
                };
                let at = start + words.len() - behind.len();
                return Err(Mistake::new(
                    format!("{} cannot be used here", quoted(behind)),
                    at..at + behind.len(),
                )
                .hint(hint));
            }
        };
        let span = start..start + name.len();
        if let Some(field) = name.strip_prefix('-').filter(|_| used == ListUse::Order) {
            return Err(
                Mistake::new(format!("{} is not a field", quoted(name)), span)
                    .hint(format!("for the greatest first write '{field} desc'")),
            );
        }
        let written = Written {
            text: name.to_owned(),
            span: span.clone(),
        };
        let source = fields::find_any(&written, showers)?;
        if listed.iter().any(|before| before.source == source) {
            return Err(
                Mistake::new(format!("{} is named twice", quoted(name)), span).hint("name it once"),
            );
        }
        listed.push(Listed { source, order });
    }
    Ok(listed)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::failure::At;

    fn list(text: &str, used: ListUse) -> Result<Vec<String>, (String, Range<usize>)> {
        let showers = [ShowerCode::parse("GEM").unwrap()];
        match field_list(text, used, &showers) {
            Ok(list) => Ok(list
                .iter()
                .map(|l| {
                    format!(
                        "{}{}",
                        l.source,
                        if l.order == Sorting::Down { "-" } else { "" }
                    )
                })
                .collect()),
            Err(failure) => match failure.at {
                At::Query { span, .. } => Err((failure.message, span)),
                other => panic!("{other:?}"),
            },
        }
    }

    #[test]
    fn fields_are_listed_by_name_or_key() {
        let show = |text: &str| list(text, ListUse::Show);
        assert_eq!(
            show("start, gem.alt,moon.alt").unwrap(),
            ["start", "GEM.alt", "moon.alt"]
        );
        assert_eq!(
            show("utc_offset").unwrap(),
            ["utc_offset"],
            "exports alone carry it"
        );
        assert_eq!(
            list("GEM.alt desc,start", ListUse::Order).unwrap(),
            ["GEM.alt-", "start"]
        );
        for (text, used, span) in [
            ("start,,file", ListUse::Show, 6..6),
            ("start,flie", ListUse::Show, 6..10),
            ("start,start", ListUse::Show, 6..11),
            ("start desc", ListUse::Show, 6..10),
            ("start upwards", ListUse::Order, 6..13),
            ("", ListUse::Show, 0..0),
        ] {
            assert_eq!(list(text, used).unwrap_err().1, span, "{text}");
        }
    }

    #[test]
    fn saved_queries_are_written_out_but_not_in_quotes() {
        let names = ["dark".to_owned()];
        let mut find = |name: &str| {
            Ok((name.eq_ignore_ascii_case("dark"))
                .then(|| "moon.alt < 0 or moon.lit < 0.1".to_owned()))
        };
        let whole = expand("@dark and lens = '@dark' and not @Dark", &names, &mut find).unwrap();
        assert_eq!(
            whole,
            "(moon.alt < 0 or moon.lit < 0.1) and lens = '@dark' and not (moon.alt < 0 or moon.lit < 0.1)"
        );
        let slip = expand("iso > 100 and @drak", &names, &mut find).unwrap_err();
        assert_eq!(slip.hint.as_deref(), Some("did you mean @dark?"));
        assert!(matches!(slip.at, At::Query { span, .. } if span == (14..19)));
        assert!(!names_saved_queries("file = 'a@b'"));
    }
}
