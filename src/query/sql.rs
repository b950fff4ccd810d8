//! Checked tree to SQL. Cannot fail; the user's text appears in the values only.
//!
//! Conditions joined with `and` stay plain comparisons of bare columns joined with `AND`, so that an index can be used.

use crate::query::checked::Checked;
use crate::query::checked::Period;
use crate::query::checked::Test;
use crate::query::checked::Value;
use crate::query::glob;
use crate::query::scan::Op;
use crate::terms::column::ColumnSource;
use crate::terms::day::DAY_S;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_kind::Shared;
use crate::terms::field_kind::Storage;
use crate::terms::field_kind::Table;
use crate::terms::field_sql::MAIN_SHOWER_NUMBER;
use crate::terms::field_sql::READING_FRACTION;
use crate::terms::kept::Kept;
use crate::terms::kept::Packed;
use crate::terms::predicate::SqlPredicate;
use crate::terms::predicate::SqlValue;
use crate::terms::predicate::radiant_alias;
use crate::terms::predicate::shower_number;
use crate::terms::shower::ShowerCode;
use crate::terms::time::WallTime;

/// The relative difference at which two numbers still count as equal: the rounding of single precision, which some
/// cameras write. A number that lists round to the given number is also equal to it. Only `=`, `!=` and lists use this;
/// the ordering signs compare exactly.
pub const EQUAL_WITHIN: f64 = 1e-7;

/// Parts joined side by side. More are joined in halves, so that no long query makes a deep expression: SQLite's limit
/// is a depth of 1000.
const SIDE_BY_SIDE: usize = 6;

/// A checked tree as an expression over the aliases of [`Table`] and of radiants, with the tables and showers that it
/// mentions, and its parameter values.
pub fn predicate(tree: &Checked) -> SqlPredicate {
    let mut building = Building::default();
    building.predicate.sql = building.tree(tree).0;
    building.predicate
}

/// A test of another column that contains the values of a field.
pub fn predicate_on(column: &str, source: ColumnSource, test: &Test) -> SqlPredicate {
    let mut building = Building::default();
    building.predicate.sql = building.test_of(column.to_owned(), source, test).0;
    building.predicate
}

/// Joins expressions with `AND`.
pub fn all_hold(parts: Vec<String>) -> String {
    let parts = parts.into_iter().map(|sql| (sql, Grip::Or)).collect();
    joined(parts, Grip::And).0
}

/// How tightly an expression binds, loosest first: one looser than its parent needs brackets.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Grip {
    Or,
    And,
    One,
}

/// The predicate so far. Expressions are made from left to right, so that the values are in the order of their
/// placeholders.
#[derive(Default)]
pub(super) struct Building {
    predicate: SqlPredicate,
}

impl Building {
    fn tree(&mut self, tree: &Checked) -> (String, Grip) {
        match tree {
            Checked::Every => (String::new(), Grip::One),
            Checked::All(parts) => {
                let parts = parts.iter().map(|part| self.tree(part)).collect();
                joined(parts, Grip::And)
            }
            Checked::Any(parts) => {
                let parts = parts.iter().map(|part| self.tree(part)).collect();
                joined(parts, Grip::Or)
            }
            Checked::Not(inner) => (format!("NOT ({})", self.tree(inner).0), Grip::One),
            Checked::Test(source, test) => self.test(*source, test),
        }
    }

    fn test(&mut self, source: ColumnSource, test: &Test) -> (String, Grip) {
        self.mention(source);
        self.test_of(source.sql(), source, test)
    }

    fn test_of(&mut self, column: String, source: ColumnSource, test: &Test) -> (String, Grip) {
        let column = Asked {
            sql: column,
            kind: source.field().kind,
            decimals_kept: source.field().decimals_kept,
            kept: Kept::of(source),
            packed: Packed::of(source),
        };
        let one = |sql: String| (sql, Grip::One);
        match test {
            Test::Known => one(format!("{} IS NOT NULL", column.kept_as())),
            Test::Unknown => one(format!("{} IS NULL", column.kept_as())),
            Test::Like(pattern) => {
                let mark = self.text(&glob::to_like(pattern));
                one(format!(r"{} LIKE {mark} ESCAPE '\'", column.sql))
            }
            Test::Between(low, high) => {
                let low = self.compare(&column, Op::AtLeast, low).0;
                let high = self.compare(&column, Op::AtMost, high).0;
                (format!("{low} AND {high}"), Grip::And)
            }
            Test::Compare(op, Value::Shower(shower)) if is_main(source) => {
                let sign = if *op == Op::Unequal { "<>" } else { "=" };
                one(format!(
                    "{MAIN_SHOWER_NUMBER} {sign} {}",
                    shower_number(*shower)
                ))
            }
            Test::Compare(op, Value::Shower(shower)) => {
                let any = self.active(&[*shower]);
                match op {
                    Op::Unequal => one(format!("NOT ({any})")),
                    _ => (any, Grip::Or),
                }
            }
            Test::Compare(op, value) => self.compare(&column, *op, value),
            Test::OneOf(values) if is_main(source) => one(main_among(&showers_of(values))),
            Test::OneOf(values) => self.one_of(&column, values),
        }
    }

    fn compare(&mut self, asked: &Asked, op: Op, value: &Value) -> (String, Grip) {
        let column = asked.sql.as_str();
        let sign = if op == Op::Unequal { "<>" } else { op.sign() };
        let one = |sql: String| (sql, Grip::One);
        match value {
            Value::Text(text) => {
                let mark = self.text(text);
                one(format!("{column} {sign} {mark} COLLATE NOCASE"))
            }
            Value::Word(word) => {
                let mark = self.word(asked, word);
                one(format!("{} {sign} {mark}", asked.kept_as()))
            }
            Value::Shower(shower) => one(format!("{column} {sign} {}", self.text(shower.as_str()))),
            Value::Whole(number) => one(format!(
                "{column} {sign} {}",
                self.mark(SqlValue::Whole(*number))
            )),
            Value::Number(number) => one(self.number(asked, op, *number)),
            Value::Period(period) => self.period(asked, op, period),
        }
    }

    /// A word as stored.
    fn word(&mut self, asked: &Asked, word: &str) -> &'static str {
        match asked.number_of(word) {
            Some(number) => self.mark(SqlValue::Whole(number)),
            None => self.text(word),
        }
    }

    fn period(&mut self, asked: &Asked, op: Op, period: &Period) -> (String, Grip) {
        let Period { first, last, .. } = period;
        let one = |sql: String| (sql, Grip::One);
        match op {
            // Not for a reading: its two columns would make an unknown one unequal.
            Op::Equal | Op::Unequal if is_point(asked, period) => {
                let sign = if op == Op::Equal { "=" } else { "<>" };
                one(self.against(asked, sign, first))
            }
            Op::Equal => {
                let low = self.against(asked, ">=", first);
                let high = self.against(asked, "<=", last);
                (format!("{low} AND {high}"), Grip::And)
            }
            Op::Unequal => {
                let low = self.against(asked, "<", first);
                let high = self.against(asked, ">", last);
                (format!("{low} OR {high}"), Grip::Or)
            }
            Op::Below | Op::AtLeast => one(self.against(asked, op.sign(), first)),
            Op::AtMost | Op::Above => one(self.against(asked, op.sign(), last)),
        }
    }

    /// Compares a moment's column with a bound of a period. If a reading is compared at less than whole seconds, its
    /// fraction is compared as text: a lower bound does not end in a zero, an upper one is filled with nines.
    fn against(&mut self, asked: &Asked, sign: &str, moment: &str) -> String {
        let column = &asked.sql;
        let (whole, fraction) = bound(asked, moment);
        let mark = self.mark(SqlValue::Whole(whole));
        let whole_seconds = match sign {
            ">=" | "<" => fraction.is_empty(),
            "<=" | ">" => fraction.bytes().all(|digit| digit == b'9'),
            _ => true,
        };
        if whole_seconds {
            return format!("{column} {sign} {mark}");
        }
        let digits = self.text(&fraction);
        format!("({column}, ifnull({READING_FRACTION}, '')) {sign} ({mark}, {digits})")
    }

    fn one_of(&mut self, asked: &Asked, values: &[Value]) -> (String, Grip) {
        let showers = showers_of(values);
        if !showers.is_empty() {
            return (self.active(&showers), Grip::Or);
        }
        let exact = values.iter().all(|value| match value {
            Value::Number(_) => false,
            Value::Period(period) => is_point(asked, period),
            _ => true,
        });
        if !exact {
            let parts = values
                .iter()
                .map(|value| self.compare(asked, Op::Equal, value))
                .collect();
            return joined(parts, Grip::Or);
        }
        let word = values.iter().any(|value| matches!(value, Value::Word(_)));
        let column = if word { asked.kept_as() } else { &asked.sql };
        let text = values.iter().any(|value| matches!(value, Value::Text(_)));
        let case = if text { " COLLATE NOCASE" } else { "" };
        let marks: Vec<&str> = values
            .iter()
            .map(|value| match value {
                Value::Whole(number) => self.mark(SqlValue::Whole(*number)),
                Value::Number(number) => self.mark(SqlValue::Number(*number)),
                Value::Text(text) => self.text(text),
                Value::Word(word) => self.word(asked, word),
                Value::Shower(shower) => self.text(shower.as_str()),
                Value::Period(period) => self.mark(SqlValue::Whole(bound(asked, &period.first).0)),
            })
            .collect();
        (
            format!("{column}{case} IN ({})", marks.join(", ")),
            Grip::One,
        )
    }

    /// One of these showers is active; for a frame without a place, whose active showers are not stored, it is the main
    /// one.
    fn active(&mut self, showers: &[ShowerCode]) -> String {
        let mut parts = vec![(main_among(showers), Grip::One)];
        for shower in showers {
            self.predicate.showers.insert(*shower);
            let alias = radiant_alias(*shower);
            parts.push((format!("{alias}.frame_id IS NOT NULL"), Grip::One));
        }
        joined(parts, Grip::Or).0
    }

    /// Records the tables that must be joined for a column, and those that lead to them.
    fn mention(&mut self, source: ColumnSource) {
        let tables: &[Table] = match source {
            ColumnSource::Radiant(shower, _) => {
                self.predicate.showers.insert(shower);
                &[]
            }
            ColumnSource::Strongest(_) => &[Table::Sky, Table::Radiant],
            ColumnSource::Frame(field) => match field.table {
                Table::Folder => &[Table::File, Table::Folder],
                Table::Dump => &[Table::File, Table::Folder, Table::Dump],
                Table::Site => &[Table::Time, Table::Site],
                _ => {
                    self.predicate.tables.extend(field.tables());
                    &[]
                }
            },
        };
        self.predicate.tables.extend(tables);
    }

    fn text(&mut self, text: &str) -> &'static str {
        self.mark(SqlValue::Text(text.to_owned()))
    }

    pub fn mark(&mut self, value: SqlValue) -> &'static str {
        self.predicate.values.push(value);
        "?"
    }
}

/// Whether a field is the main shower, and not the strongest.
fn is_main(source: ColumnSource) -> bool {
    matches!(source.field().storage, Storage::Of(Shared::MainShower, _))
}

fn showers_of(values: &[Value]) -> Vec<ShowerCode> {
    let shower = |value: &Value| match value {
        Value::Shower(shower) => Some(*shower),
        _ => None,
    };
    values.iter().filter_map(shower).collect()
}

/// The main shower is one of these.
fn main_among(showers: &[ShowerCode]) -> String {
    let numbers: Vec<String> = showers.iter().map(|s| shower_number(*s)).collect();
    match numbers.as_slice() {
        [only] => format!("{MAIN_SHOWER_NUMBER} = {only}"),
        _ => format!("{MAIN_SHOWER_NUMBER} IN ({})", numbers.join(", ")),
    }
}

/// A tested column.
pub(super) struct Asked {
    pub sql: String,
    kind: FieldKind,
    decimals_kept: Option<u8>,
    kept: Option<Kept>,
    pub packed: Option<Packed>,
}

impl Asked {
    /// The column of the number stored instead of the value; the value itself if there is none.
    fn kept_as(&self) -> &str {
        let column = self.kept.as_ref().and_then(Kept::column);
        column.unwrap_or(&self.sql)
    }

    /// Half a unit of the last digit that lists write; 0 if they write all digits.
    pub fn half_a_digit(&self) -> f64 {
        let half = |decimals: u8| 0.5 / 10_f64.powi(decimals.into());
        self.decimals_kept.map_or(0.0, half)
    }

    /// The number stored instead of a word.
    fn number_of(&self, word: &str) -> Option<i64> {
        let (Some(Kept::Word(_)), FieldKind::Words(words)) = (&self.kept, self.kind) else {
            return None;
        };
        let at = words.iter().position(|known| *known == word)?;
        i64::try_from(at).ok()
    }
}

/// Whether a period is a single value of its column.
fn is_point(asked: &Asked, period: &Period) -> bool {
    !matches!(asked.kind, FieldKind::Reading)
        && bound(asked, &period.first) == bound(asked, &period.last)
}

/// A bound of a period in the form of its column: whole milliseconds, seconds or days, and the digits of a reading's
/// fraction. A bound without a fraction is in whole seconds.
fn bound(asked: &Asked, moment: &str) -> (i64, String) {
    // The check has accepted only moments that exist; all are counted like those of a clock without zone.
    let (moment, fraction) = moment.split_once('.').unwrap_or((moment, ""));
    let midnight = if moment.len() == 10 { "T00:00:00" } else { "" };
    let seconds = WallTime::parse(&format!("{moment}{midnight}")).map_or(0, WallTime::seconds);
    match asked.kind {
        FieldKind::Reading => (seconds, fraction.to_owned()),
        FieldKind::Local => {
            let ms = format!("{fraction:0<3}")[..3].parse().unwrap_or(0);
            (seconds * 1000 + ms, String::new())
        }
        FieldKind::Date => (seconds.div_euclid(DAY_S), String::new()),
        _ => {
            let ms: i64 = fraction.trim_end_matches('Z').parse().unwrap_or(0);
            (seconds * 1000 + ms, String::new())
        }
    }
}

/// Parts under one parent; few side by side, many in halves.
fn joined(mut parts: Vec<(String, Grip)>, roof: Grip) -> (String, Grip) {
    if parts.len() == 1 {
        return parts.remove(0);
    }
    if parts.len() > SIDE_BY_SIDE {
        let rest = parts.split_off(parts.len() / 2);
        let halves = [joined(parts, roof), joined(rest, roof)].map(|half| half.0);
        return (in_brackets(&halves, roof), roof);
    }
    let parts: Vec<String> = parts
        .into_iter()
        .map(|(sql, grip)| if grip < roof { format!("({sql})") } else { sql })
        .collect();
    (parts.join(joint(roof)), roof)
}

fn in_brackets(halves: &[String], roof: Grip) -> String {
    format!("({})", halves.join(&format!("){}(", joint(roof))))
}

const fn joint(roof: Grip) -> &'static str {
    match roof {
        Grip::Or => " OR ",
        Grip::And | Grip::One => " AND ",
    }
}
