//! Where the frames of a query are to be looked for first: what its words tell, and no statistics of tables can.
//!
//! SQLite plans a question once for all values, so it cannot see that one night is a thousandth of the archive and ten
//! years are all of it. The order of the joins follows from what is found here.

use std::collections::BTreeSet;
use std::fmt::Write;

use crate::query::checked::Checked;
use crate::query::checked::Period;
use crate::query::checked::Test;
use crate::query::checked::Value;
use crate::query::few::is_of_calibration;
use crate::query::scan::Op;
use crate::query::sql;
use crate::terms::column::ColumnSource;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_kind::Table;
use crate::terms::predicate::Among;
use crate::terms::predicate::Days;
use crate::terms::predicate::Lead;
use crate::terms::predicate::SqlPredicate;
use crate::terms::predicate::SqlValue;
use crate::terms::predicate::radiant_alias;
use crate::terms::predicate::shower_number;
use crate::terms::shower::ShowerCode;
use crate::terms::time::WallTime;

/// A stretch of time no longer than this is few frames of an archive.
const FEW_DAYS: i64 = 40;

/// The predicate of a checked tree, with its lead.
pub(super) fn predicate(tree: &Checked) -> SqlPredicate {
    let conditions = conditions(tree);
    let mut whole = with_sure(tree);
    whole.lead = if let Some(table) = conditions.iter().find_map(few) {
        Lead::Table(table)
    } else if let Some(shower) = whole.sure_showers.first() {
        Lead::Radiant(*shower)
    } else if let Some(among) = among(conditions) {
        Lead::Among(Box::new(among))
    } else if conditions.iter().any(is_stretch) {
        Lead::Table(Table::Time)
    } else {
        Lead::None
    };
    whole.days = conditions.iter().find_map(days_of).unwrap_or_default();
    whole
}

fn with_sure(tree: &Checked) -> SqlPredicate {
    let mut predicate = sql::predicate(tree);
    let sure = sure(tree);
    predicate.sure_tables = sure.tables;
    predicate.sure_showers = sure.showers;
    predicate
}

/// The conditions that must all hold.
fn conditions(tree: &Checked) -> &[Checked] {
    match tree {
        Checked::All(parts) => parts,
        one => std::slice::from_ref(one),
    }
}

/// What a condition cannot hold without.
#[derive(Default)]
struct Sure {
    tables: BTreeSet<Table>,
    showers: BTreeSet<ShowerCode>,
}

/// The tables and showers without whose row a condition is false or unknown.
fn sure(tree: &Checked) -> Sure {
    let mut found = Sure::default();
    match tree {
        Checked::Every | Checked::Test(_, Test::Unknown) => {}
        Checked::All(parts) => {
            for part in parts {
                let part = sure(part);
                found.tables.extend(part.tables);
                found.showers.extend(part.showers);
            }
        }
        Checked::Any(parts) => {
            let mut parts = parts.iter().map(sure);
            found = parts.next().unwrap_or_default();
            for part in parts {
                found.tables.retain(|table| part.tables.contains(table));
                found.showers.retain(|shower| part.showers.contains(shower));
            }
        }
        // Where a value is not known, neither is the opposite of a comparison; all else may come true.
        Checked::Not(inner) => match &**inner {
            Checked::Test(_, Test::Known | Test::Unknown) => {}
            Checked::Test(source, _) => found.add(*source),
            _ => {}
        },
        Checked::Test(source, _) => found.add(*source),
    }
    found
}

impl Sure {
    fn add(&mut self, source: ColumnSource) {
        match source {
            ColumnSource::Radiant(shower, _) => {
                self.showers.insert(shower);
            }
            ColumnSource::Strongest(_) => self.tables.extend([Table::Sky, Table::Radiant]),
            // A place may be the frame's own or its site's: neither is sure.
            ColumnSource::Frame(field) if field.table == Table::Site => {}
            ColumnSource::Frame(field) => {
                self.tables.insert(field.table);
            }
        }
    }
}

/// The table whose index finds the few frames of a condition: a session, a night or a few, a short stretch of time,
/// calibration frames.
fn few(condition: &Checked) -> Option<Table> {
    let Checked::Test(ColumnSource::Frame(field), test) = condition else {
        return None;
    };
    let short = match test {
        Test::Compare(Op::Equal, value) => is_short(value, value),
        Test::Between(low, high) => is_short(low, high),
        Test::OneOf(values) => values.iter().all(|value| is_short(value, value)),
        _ => false,
    };
    match (field.name, field.kind) {
        ("session" | "night" | "start", _) if short => Some(Table::Time),
        _ if is_of_calibration(field, test) => Some(Table::Time),
        (_, FieldKind::Reading) if short => Some(Table::Frame),
        _ => None,
    }
}

/// Whether a condition is a stretch of nights or of time, however long.
fn is_stretch(condition: &Checked) -> bool {
    let Checked::Test(ColumnSource::Frame(field), test) = condition else {
        return false;
    };
    matches!(field.name, "night" | "start")
        && !matches!(
            test,
            Test::Known | Test::Unknown | Test::Compare(Op::Unequal, _)
        )
}

/// Whether few frames lie from one value to the other.
fn is_short(low: &Value, high: &Value) -> bool {
    match (low, high) {
        (Value::Period(low), Value::Period(high)) => days(low, high) <= FEW_DAYS,
        (Value::Whole(low), Value::Whole(high)) => high.saturating_sub(*low) <= FEW_DAYS,
        _ => false,
    }
}

fn days(low: &Period, high: &Period) -> i64 {
    match (day(&low.first), day(&high.last)) {
        (Some(first), Some(last)) => last.saturating_sub(first),
        _ => i64::MAX,
    }
}

/// The day of a moment, since 1970-01-01.
fn day(moment: &str) -> Option<i64> {
    let date = moment.get(..10)?;
    WallTime::parse(&format!("{date}T00:00:00")).map(|at| at.seconds().div_euclid(86_400))
}

/// The days on which the frames of a stretch of time start.
fn days_of(condition: &Checked) -> Option<Days> {
    let Checked::Test(ColumnSource::Frame(field), test) = condition else {
        return None;
    };
    let (low, high) = match test {
        Test::Compare(Op::Equal, Value::Period(one)) => (Some(one), Some(one)),
        Test::Compare(Op::AtLeast | Op::Above, Value::Period(low)) => (Some(low), None),
        Test::Compare(Op::AtMost | Op::Below, Value::Period(high)) => (None, Some(high)),
        Test::Between(Value::Period(low), Value::Period(high)) => (Some(low), Some(high)),
        _ => return None,
    };
    match field.name {
        "night" => Some(Days::Nights),
        "start" => {
            let first = low.map_or(Some(i64::MIN), |low| day(&low.first))?;
            let last = high.map_or(Some(i64::MAX), |high| day(&high.last))?;
            Some(Days::Between(first, last))
        }
        _ => None,
    }
}

/// The frames under radiants that one of the conditions asks for, and what the others still ask of them.
fn among(conditions: &[Checked]) -> Option<Among> {
    let (at, found) = conditions
        .iter()
        .enumerate()
        .find_map(|(at, one)| Some((at, under(one)?)))?;
    let rest = conditions
        .iter()
        .enumerate()
        .filter(|(other, _)| *other != at)
        .map(|(_, one)| one.clone())
        .collect::<Vec<_>>();
    let rest = match rest.len() {
        0 => Checked::Every,
        _ => Checked::All(rest),
    };
    let (showers, unplaced) = (found.showers.clone(), found.unplaced.clone());
    let (sql, values) = found.select();
    Some(Among {
        sql,
        values,
        showers,
        unplaced,
        rest: with_sure(&rest),
    })
}

/// Frames under radiants: what the SELECTs find, and those without a place whose main shower is one of these.
#[derive(Default)]
struct Under {
    selects: Vec<(String, Vec<SqlValue>)>,
    showers: BTreeSet<ShowerCode>,
    unplaced: BTreeSet<ShowerCode>,
}

/// The frames for which a condition holds, where they are exactly those under radiants.
fn under(condition: &Checked) -> Option<Under> {
    match condition {
        Checked::Any(parts) => {
            let mut all = Under::default();
            for part in parts {
                let one = under(part)?;
                all.selects.extend(one.selects);
                all.showers.extend(one.showers);
                all.unplaced.extend(one.unplaced);
            }
            Some(all)
        }
        Checked::Test(_, Test::Unknown) => None,
        Checked::Test(ColumnSource::Radiant(shower, field), test) => {
            let (sql, values) = sql::on_radiant(ColumnSource::Radiant(*shower, field), test);
            let alias = radiant_alias(*shower);
            let select = format!(
                "SELECT {alias}.frame_id FROM derived_radiant AS {alias} WHERE {alias}.shower_id = {} AND ({sql})",
                shower_number(*shower)
            );
            Some(Under {
                selects: vec![(select, values)],
                showers: BTreeSet::from([*shower]),
                unplaced: BTreeSet::new(),
            })
        }
        // The main shower's radiant may be one of several: that it is the main one, only the frame's own row says.
        Checked::Test(ColumnSource::Frame(field), _) if field.key == "main_shower" => None,
        Checked::Test(ColumnSource::Frame(_), Test::Compare(Op::Equal, Value::Shower(shower))) => {
            Some(active(&[*shower]))
        }
        Checked::Test(ColumnSource::Frame(_), Test::OneOf(values)) => {
            let showers: Option<Vec<ShowerCode>> = values
                .iter()
                .map(|value| match value {
                    Value::Shower(shower) => Some(*shower),
                    _ => None,
                })
                .collect();
            showers.map(|showers| active(&showers))
        }
        _ => None,
    }
}

/// The frames over which one of these showers is active. A placed frame's main shower is among its radiants.
fn active(showers: &[ShowerCode]) -> Under {
    let select = |shower: &ShowerCode| {
        let number = shower_number(*shower);
        format!("SELECT frame_id FROM derived_radiant WHERE shower_id = {number}")
    };
    Under {
        selects: showers.iter().map(|s| (select(s), Vec::new())).collect(),
        showers: showers.iter().copied().collect(),
        unplaced: showers.iter().copied().collect(),
    }
}

impl Under {
    /// One SELECT that finds each frame once, and its values.
    fn select(self) -> (String, Vec<SqlValue>) {
        let (selects, values): (Vec<String>, Vec<Vec<SqlValue>>) = self.selects.into_iter().unzip();
        let mut sql = match selects.as_slice() {
            [only] => only.clone(),
            // A frame under two radiants comes once.
            _ => format!("SELECT frame_id FROM ({})", selects.join(" UNION ")),
        };
        if !self.unplaced.is_empty() {
            let numbers: Vec<String> = self.unplaced.iter().map(|s| shower_number(*s)).collect();
            let _ = write!(
                sql,
                " UNION ALL SELECT frame_id FROM derived_sky WHERE active_id IS NULL AND main_shower_id IN ({})",
                numbers.join(", ")
            );
        }
        (sql, values.concat())
    }
}
