//! The fields in words, for help and documentation. Reads the field table; prints nothing itself.

use std::fmt::Write;

use crate::query::fields::STRONGEST;
use crate::query::number::unit_signs;
use crate::terms::field::FIELDS;
use crate::terms::field::Field;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_radiant::RADIANT_FIELDS;
use crate::terms::shower::ShowerCode;

const GRAMMAR: &str = "\
A query is conditions joined with and, or, not and round brackets; an empty query means every frame.

  FIELD = VALUE     also != < <= > >=
  FIELD in A..B     from A to B, both included
  FIELD in (A, B)   one of these
  FIELD like 'G*'   * is any text, ? any one character
  FIELD is known    FIELD is unknown

A number may have a unit: 30deg, 1/200s, 2.5h, 24MB. Text of several words needs quotes.
Dates are ISO 8601 and mean the whole period: 2023 a year, 2023-12 a month, 2023-12-13 a day,
2023-12-13T22:00Z a minute. An unknown value satisfies neither a condition nor its opposite.
";

/// A description of the language, and every field with its unit or values, its meaning and an example.
///
/// Takes the known showers, whose codes are listed at the end.
pub fn help_text(showers: &[ShowerCode]) -> String {
    let mut text = GRAMMAR.to_owned();
    text.push_str("\nFields of a frame\n\n");
    for field in FIELDS.iter().filter(|f| !f.name.is_empty()) {
        entry(&mut text, field.name, field, field.example);
    }
    let _ = writeln!(
        text,
        "\nFields of a radiant: a shower's by its code, or the strongest shower's ({STRONGEST}.alt)\n"
    );
    for field in RADIANT_FIELDS {
        let name = format!("GEM.{}", field.name);
        entry(&mut text, &name, field, field.example);
    }
    if !showers.is_empty() {
        let codes: Vec<&str> = showers.iter().map(ShowerCode::as_str).collect();
        text.push_str("\nShowers\n\n");
        for line in codes.chunks(20) {
            let _ = writeln!(text, "  {}", line.join(" "));
        }
    }
    text
}

fn entry(text: &mut String, name: &str, field: &Field, example: &str) {
    let _ = writeln!(text, "  {name:<14} {}", field.sentence);
    let values = match field.kind {
        FieldKind::Words(words) => in_lines(words),
        FieldKind::Number(_) | FieldKind::Whole(_) => unit_signs(field).join(" "),
        FieldKind::Text => String::new(),
        FieldKind::Instant => "UTC".to_owned(),
        FieldKind::Reading | FieldKind::Local => "ISO 8601 without a zone".to_owned(),
        FieldKind::Date => "ISO date".to_owned(),
    };
    if !values.is_empty() {
        let _ = writeln!(text, "  {:<14} {values}", "");
    }
    let _ = writeln!(text, "  {:<14} e.g. {example}", "");
}

/// Words in lines that fit a narrow screen.
fn in_lines(words: &[&str]) -> String {
    words
        .chunks(14)
        .map(|line| line.join(" "))
        .collect::<Vec<_>>()
        .join("\n                 ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::query::compile;

    #[test]
    fn every_field_has_an_example_that_asks_for_it() {
        let showers = [ShowerCode::parse("GEM").unwrap()];
        let frame = FIELDS
            .iter()
            .filter(|f| !f.name.is_empty())
            .map(|f| (f.name.to_owned(), f.example));
        let radiant = RADIANT_FIELDS
            .iter()
            .map(|f| (format!(".{}", f.name), f.example));
        for (name, example) in frame.chain(radiant) {
            assert!(example.contains(&name), "{name}: {example}");
            let compiled = compile(example, &showers);
            assert!(compiled.is_ok(), "{example}: {:?}", compiled.err());
        }
    }

    #[test]
    fn the_help_fits_a_screen_of_a_hundred_columns() {
        let text = help_text(&[ShowerCode::parse("GEM").unwrap()]);
        for line in text.lines() {
            assert!(line.chars().count() <= 100, "{line}");
        }
        assert!(text.ends_with("Showers\n\n  GEM\n"));
    }
}
