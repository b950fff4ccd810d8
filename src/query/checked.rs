//! The checked tree: every field exists, every value is of its type and possible. Prints itself as a query. Knows no
//! SQL.

use std::fmt;

use crate::query::scan::Op;
use crate::terms::column::ColumnSource;
use crate::terms::field_kind::FieldKind;
use crate::terms::shower::ShowerCode;

/// A valid query. Its `Display` is a query that parses to the same tree.
#[derive(Clone, Debug, PartialEq)]
pub enum Checked {
    /// Every frame: the empty query.
    Every,
    /// All are true.
    All(Vec<Checked>),
    /// At least one is true.
    Any(Vec<Checked>),
    /// It is not true. If it is unknown whether it is true, so is its opposite.
    Not(Box<Checked>),
    /// One condition.
    Test(ColumnSource, Test),
}

/// The test of a field.
#[derive(Clone, Debug, PartialEq)]
pub enum Test {
    /// A comparison with one value.
    Compare(Op, Value),
    /// From one value to another, both included.
    Between(Value, Value),
    /// Any of these values.
    OneOf(Vec<Value>),
    /// Text that matches, where `*` is any text and `?` any one character.
    Like(String),
    /// The field has a value.
    Known,
    /// The field has no value.
    Unknown,
}

/// A value, in the field's own unit.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// Text; capital and small letters from A to Z are one.
    Text(String),
    /// One of the field's own words.
    Word(&'static str),
    /// A known shower.
    Shower(ShowerCode),
    /// A number.
    Number(f64),
    /// A whole number.
    Whole(i64),
    /// A period of time.
    Period(Period),
}

/// The period that a written date, reading or instant means: `2023-12` is a month, `22:00Z` a minute.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Period {
    /// Its first moment, as the catalogue writes moments of that type.
    pub first: String,
    /// Its last moment, likewise.
    pub last: String,
    /// The shortest way to write it.
    pub written: String,
}

impl Checked {
    /// The showers it names, in the order of their first mention.
    pub fn showers_named(&self) -> Vec<ShowerCode> {
        let mut found = Vec::new();
        self.collect_showers(&mut found);
        found
    }

    fn collect_showers(&self, found: &mut Vec<ShowerCode>) {
        let mut add = |shower: ShowerCode| {
            if !found.contains(&shower) {
                found.push(shower);
            }
        };
        match self {
            Self::Every => {}
            Self::All(parts) | Self::Any(parts) => {
                for part in parts {
                    part.collect_showers(found);
                }
            }
            Self::Not(inner) => inner.collect_showers(found),
            Self::Test(source, test) => {
                if let ColumnSource::Radiant(shower, _) = source {
                    add(*shower);
                }
                match test {
                    Test::Compare(_, Value::Shower(shower)) => add(*shower),
                    Test::OneOf(values) => {
                        for value in values {
                            if let Value::Shower(shower) = value {
                                add(*shower);
                            }
                        }
                    }
                    _ => {}
                }
            }
        }
    }

    /// How tightly it binds in print: a part that binds less than its parent needs brackets.
    const fn tightness(&self) -> u8 {
        match self {
            Self::Every | Self::Test(..) => 3,
            Self::Not(_) => 2,
            Self::All(_) => 1,
            Self::Any(_) => 0,
        }
    }

    fn print_within(&self, roof: &Self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.tightness() < roof.tightness() {
            write!(f, "({self})")
        } else {
            write!(f, "{self}")
        }
    }
}

impl fmt::Display for Checked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Every => Ok(()),
            Self::All(parts) | Self::Any(parts) => {
                let joint = if matches!(self, Self::All(_)) {
                    " and "
                } else {
                    " or "
                };
                for (at, part) in parts.iter().enumerate() {
                    if at > 0 {
                        f.write_str(joint)?;
                    }
                    part.print_within(self, f)?;
                }
                Ok(())
            }
            Self::Not(inner) => {
                f.write_str("not ")?;
                inner.print_within(self, f)
            }
            Self::Test(source, test) => print_test(*source, test, f),
        }
    }
}

fn print_test(source: ColumnSource, test: &Test, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    let value = |value| Printed { value, source };
    match test {
        Test::Compare(op, one) => write!(f, "{source} {op} {}", value(one)),
        Test::Between(low, high) => write!(f, "{source} in {}..{}", value(low), value(high)),
        Test::OneOf(values) => {
            write!(f, "{source} in (")?;
            for (at, one) in values.iter().enumerate() {
                let comma = if at > 0 { ", " } else { "" };
                write!(f, "{comma}{}", value(one))?;
            }
            f.write_str(")")
        }
        Test::Like(glob) => write!(f, "{source} like {}", in_quotes(glob)),
        Test::Known => write!(f, "{source} is known"),
        Test::Unknown => write!(f, "{source} is unknown"),
    }
}

/// A value of a field, with the field's unit.
struct Printed<'v> {
    value: &'v Value,
    source: ColumnSource,
}

impl fmt::Display for Printed<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let unit = match self.source.field().kind {
            FieldKind::Number(unit) | FieldKind::Whole(unit) => unit.sign(),
            _ => "",
        };
        match self.value {
            Value::Text(text) => f.write_str(&in_quotes(text)),
            Value::Word(word) => f.write_str(word),
            Value::Shower(shower) => write!(f, "{shower}"),
            // `Debug` switches to an exponent if the digits would run to hundreds.
            Value::Number(number) if number.fract() == 0.0 && number.abs() < 1e15 => {
                write!(f, "{number}{unit}")
            }
            Value::Number(number) => write!(f, "{number:?}{unit}"),
            Value::Whole(number) => write!(f, "{number}{unit}"),
            Value::Period(period) => f.write_str(&period.written),
        }
    }
}

fn in_quotes(text: &str) -> String {
    format!("'{}'", text.replace('\'', "''"))
}
