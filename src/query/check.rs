//! Tree to checked tree: the field exists, the value is of its type and possible. Knows no SQL.

use std::ops::Range;

use crate::query::checked::Checked;
use crate::query::checked::Test as CheckedTest;
use crate::query::checked::Value as CheckedValue;
use crate::query::fields;
use crate::query::glob;
use crate::query::limits;
use crate::query::mistake::Mistake;
use crate::query::mistake::one_of;
use crate::query::mistake::quoted;
use crate::query::moment;
use crate::query::number;
use crate::query::scan::Op;
use crate::query::tree::Condition;
use crate::query::tree::Form;
use crate::query::tree::Test;
use crate::query::tree::Tree;
use crate::query::tree::Value;
use crate::terms::column::ColumnSource;
use crate::terms::field::Field;
use crate::terms::field_kind::FieldKind;
use crate::terms::shower::ShowerCode;

/// Whole numbers up to here are exact as floating-point numbers too.
const GREATEST_WHOLE: f64 = 9_007_199_254_740_992.0;

/// Resolves every word of a tree.
///
/// Refuses: unknown fields and showers, values of another type, impossible values.
pub(super) fn check(tree: &Tree, showers: &[ShowerCode]) -> Result<Checked, Mistake> {
    let all = |parts: &[Tree]| -> Result<Vec<Checked>, Mistake> {
        parts.iter().map(|part| check(part, showers)).collect()
    };
    Ok(match tree {
        Tree::All(parts) => Checked::All(all(parts)?),
        Tree::Any(parts) => Checked::Any(all(parts)?),
        Tree::Not(inner) => Checked::Not(Box::new(check(inner, showers)?)),
        Tree::Test(condition) => {
            let source = fields::find(&condition.field, showers)?;
            let asked = Asked {
                name: source.to_string(),
                field: source.field(),
                frame: matches!(source, ColumnSource::Frame(_)),
                showers,
            };
            Checked::Test(source, asked.test(condition)?)
        }
    })
}

/// The field of a condition.
struct Asked<'s> {
    name: String,
    field: &'static Field,
    frame: bool,
    showers: &'s [ShowerCode],
}

impl Asked<'_> {
    fn test(&self, condition: &Condition) -> Result<CheckedTest, Mistake> {
        Ok(match &condition.test {
            Test::Compare(op, sign, value) => {
                if !matches!(op, Op::Equal | Op::Unequal) {
                    self.ensure_ordered(sign.clone(), *op, value)?;
                }
                CheckedTest::Compare(*op, self.value(*op, value)?)
            }
            Test::Between(low, high) => {
                let span = low.span.start..high.whole_span().end;
                self.ensure_ordered(span.clone(), Op::AtLeast, low)?;
                let bottom = self.value(Op::AtLeast, low)?;
                let top = self.value(Op::AtMost, high)?;
                self.ensure_forward(&bottom, &top, span)?;
                CheckedTest::Between(bottom, top)
            }
            Test::OneOf(values) => CheckedTest::OneOf(
                values
                    .iter()
                    .map(|value| self.value(Op::Equal, value))
                    .collect::<Result<_, _>>()?,
            ),
            Test::Like(sign, value) => CheckedTest::Like(self.glob(sign.clone(), value)?),
            Test::Known => CheckedTest::Known,
            Test::Unknown => CheckedTest::Unknown,
        })
    }

    fn is_shower(&self) -> bool {
        self.frame && fields::is_shower(self.field)
    }

    /// Words and texts are equal or not; none is greater than another.
    fn ensure_ordered(&self, span: Range<usize>, op: Op, value: &Value) -> Result<(), Mistake> {
        if !matches!(self.field.kind, FieldKind::Text | FieldKind::Words(_)) {
            return Ok(());
        }
        let name = &self.name;
        let message = format!("the values of {name} have no order");
        let hint = match self.field.key {
            "twilight" => {
                "name the classes: twilight in (astronomical, night); or use sun.alt < -12"
                    .to_owned()
            }
            "file" | "path" => format!("write {name} like 'NITE42*'"),
            _ if op == Op::AtLeast => format!("name the values: {name} in (A, B)"),
            _ => format!("write {name} = {}", value.text),
        };
        Err(Mistake::new(message, span).hint(hint))
    }

    /// A range must not run backwards.
    fn ensure_forward(
        &self,
        bottom: &CheckedValue,
        top: &CheckedValue,
        span: Range<usize>,
    ) -> Result<(), Mistake> {
        let backward = match (bottom, top) {
            (CheckedValue::Number(a), CheckedValue::Number(b)) => a > b,
            (CheckedValue::Whole(a), CheckedValue::Whole(b)) => a > b,
            (CheckedValue::Period(a), CheckedValue::Period(b)) => a.first > b.last,
            _ => false,
        };
        if !backward {
            return Ok(());
        }
        let name = &self.name;
        let as_text = |value: &CheckedValue| match value {
            CheckedValue::Number(n) => n.to_string(),
            CheckedValue::Whole(n) => n.to_string(),
            CheckedValue::Period(p) => p.written.clone(),
            _ => String::new(),
        };
        let (a, b) = (as_text(bottom), as_text(top));
        let hint = if self.field.limits.goes_round {
            format!("for the arc across the end of the circle: ({name} >= {a} or {name} <= {b})")
        } else {
            format!("write {name} in {b}..{a}")
        };
        Err(Mistake::new("this range runs backwards", span).hint(hint))
    }

    fn value(&self, op: Op, value: &Value) -> Result<CheckedValue, Mistake> {
        let name = &self.name;
        if self.is_shower() {
            return self.shower(value).map(CheckedValue::Shower);
        }
        match self.field.kind {
            FieldKind::Text => self.text(value).map(CheckedValue::Text),
            FieldKind::Words(words) => self.word(value, words).map(CheckedValue::Word),
            FieldKind::Number(_) => {
                let number = number::read(value, name, self.field)?;
                limits::ensure_can_occur(name, self.field, op, number, value.whole_span())?;
                Ok(CheckedValue::Number(number))
            }
            FieldKind::Whole(_) => {
                let number = number::read(value, name, self.field)?;
                limits::ensure_can_occur(name, self.field, op, number, value.whole_span())?;
                whole(number).map(CheckedValue::Whole).ok_or_else(|| {
                    if number.fract() == 0.0 {
                        return number::too_great(value);
                    }
                    Mistake::new(format!("{name} needs a whole number"), value.whole_span())
                        .hint("leave out the fraction")
                })
            }
            FieldKind::Instant | FieldKind::Reading | FieldKind::Local | FieldKind::Date => {
                // A space before the zone.
                let joined = match &value.unit {
                    Some(unit) if moment::is_zone(&unit.text) => {
                        format!("leave out the space: {}{}", value.text, unit.text)
                    }
                    _ => format!("write {name} = {}", value.text),
                };
                ensure_no_unit(value, &joined)?;
                moment::read(value, name, self.field).map(CheckedValue::Period)
            }
        }
    }

    fn text(&self, value: &Value) -> Result<String, Mistake> {
        if let Some(unit) = &value.unit {
            return Err(
                Mistake::new("text of several words needs quotes", value.whole_span())
                    .hint(format!("write '{} {}'", value.text, unit.text)),
            );
        }
        if value.form == Form::Bare && value.text.contains(['*', '?']) {
            let text = &value.text;
            return Err(
                Mistake::new("`*` and `?` work only with `like`", value.span.clone()).hint(
                    format!(
                        "write {0} like '{text}'; in quotes they have no special meaning: {0} = \
                     '{text}'",
                        self.name
                    ),
                ),
            );
        }
        Ok(value.text.clone())
    }

    fn word(&self, value: &Value, words: &[&'static str]) -> Result<&'static str, Mistake> {
        let known = words
            .iter()
            .find(|word| word.eq_ignore_ascii_case(&value.text));
        if let (Some(word), None) = (known, &value.unit) {
            return Ok(word);
        }
        let name = &self.name;
        let written = &value.text;
        let mistake = Mistake::new(
            format!("{} is not a value of {name}", quoted(written)),
            value.whole_span(),
        );
        if value.form == Form::Bare && written.contains(['*', '?']) {
            return Err(mistake.hint(format!("write {name} like '{written}'")));
        }
        if matches!(written.to_ascii_lowercase().as_str(), "unknown" | "null") {
            return Err(mistake.hint(format!("write {name} is unknown")));
        }
        let near = fields::nearest(&written.to_ascii_lowercase(), words.iter().copied());
        Err(mistake.hint(match near {
            Some(near) => format!("did you mean {near}? {name} is {}", one_of(words)),
            None => format!("{name} is {}", one_of(words)),
        }))
    }

    fn shower(&self, value: &Value) -> Result<ShowerCode, Mistake> {
        let known = ShowerCode::parse(&value.text).filter(|s| self.showers.contains(s));
        if let (Some(shower), None) = (known, &value.unit) {
            return Ok(shower);
        }
        let text = value.text.as_str();
        let mistake = fields::unknown_shower(text, value.whole_span(), self.showers);
        Err(match text.to_ascii_lowercase().as_str() {
            "known" | "unknown" => mistake.hint(format!("write shower is {text}")),
            _ if text.contains(['*', '?']) => mistake.hint(format!("write shower like '{text}'")),
            _ => mistake,
        })
    }

    fn glob(&self, sign: Range<usize>, value: &Value) -> Result<String, Mistake> {
        let name = &self.name;
        let words = match self.field.kind {
            FieldKind::Words(words) => Some(words),
            FieldKind::Text => None,
            _ => {
                return Err(Mistake::new(
                    format!("`like` compares text, and {name} is not text"),
                    sign,
                )
                .hint(format!("write {name} = VALUE, or a range: {name} in A..B")));
            }
        };
        ensure_no_unit(value, &format!("write {name} like '{}'", value.text))?;
        let fits = |word: &&str| glob::fits(&value.text, word);
        let nothing = || {
            Mistake::new(
                format!("no value of {name} is like {}", quoted(&value.text)),
                value.span.clone(),
            )
        };
        if let Some(words) = words
            && !words.iter().any(fits)
        {
            return Err(nothing().hint(format!("{name} is {}", one_of(words))));
        }
        if self.is_shower() && !self.showers.iter().any(|shower| fits(&shower.as_str())) {
            return Err(nothing().hint("`framefall showers` lists the codes"));
        }
        Ok(value.text.clone())
    }
}

fn ensure_no_unit(value: &Value, remedy: &str) -> Result<(), Mistake> {
    match &value.unit {
        Some(unit) => Err(Mistake::new(
            format!("{} cannot be used here", quoted(&unit.text)),
            unit.span.clone(),
        )
        .hint(remedy)),
        None => Ok(()),
    }
}

/// A number as a whole number; `None` if it has a fraction, or is too great to be exact.
fn whole(number: f64) -> Option<i64> {
    let is_whole = number.fract() == 0.0 && number.abs() <= GREATEST_WHOLE;
    #[allow(clippy::cast_possible_truncation)] // whole and bounded just above
    is_whole.then_some(number as i64)
}
