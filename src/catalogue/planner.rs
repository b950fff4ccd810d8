//! Decides how a query is answered: the driving table or index, the joined tables and their order, and the order of the
//! rows. Returns plans as data; writes no SQL, runs nothing.
//!
//! SQLite plans a statement once for all values, so it cannot see that one night is a thousandth of the archive and ten
//! years are all of it; the words of the query show that.

use std::collections::BTreeSet;

use crate::catalogue::plan::Condition;
use crate::catalogue::plan::Driving;
use crate::catalogue::plan::Join;
use crate::catalogue::plan::JoinKind;
use crate::catalogue::plan::Needs;
use crate::catalogue::plan::Opening;
use crate::catalogue::plan::Plan;
use crate::catalogue::plan::Source;
use crate::catalogue::plan::Union;
use crate::catalogue::plan::Walk;
use crate::catalogue::rewrite::day;
use crate::catalogue::rewrite::days_of;
use crate::catalogue::rewrite::is_of_calibration;
use crate::catalogue::rewrite::rewritten;
use crate::catalogue::select::Ask;
use crate::catalogue::shared::shared_rows;
use crate::query::Checked;
use crate::query::Op;
use crate::query::Test;
use crate::query::Value;
use crate::query::predicate;
use crate::terms::column::ColumnSource;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_kind::Table;
use crate::terms::shower::ShowerCode;

/// A stretch of time up to this length has few frames of an archive.
const FEW_DAYS: i64 = 40;

/// The plan for the frames of a query on a walk, in no order; `shown` is needed in addition to the tested columns.
pub(super) fn plan(query: &Checked, mut shown: Needs, walk: Walk) -> Plan {
    let mut tests = all_of(query).to_vec();
    let (mut conditions, walked) = match walk {
        Walk::Free => (Vec::new(), driving(&mut tests)),
        Walk::From(ms) => {
            shown.tables.insert(Table::Time);
            (vec![Condition::NotBefore(ms)], driving(&mut tests))
        }
        Walk::Numbered(first, last) => {
            let numbered = vec![Condition::Numbered(first, last)];
            (numbered, driving(&mut tests))
        }
        Walk::Dated => (vec![Condition::Dated(true)], Some(Driving::Starts)),
        Walk::Within(stretch) => (vec![Condition::Within(stretch)], Some(Driving::Starts)),
        Walk::Undated => {
            let time = Source::Table(Table::Time);
            (vec![Condition::Dated(false)], Some(Driving::Scan(time)))
        }
        Walk::Listed => (Vec::new(), Some(Driving::Listed)),
    };
    let mut sure = Needs::default();
    for test in &tests {
        sure.extend(Needs::required_by(test));
    }
    conditions.extend(tests.into_iter().flat_map(rewritten));
    let mut asked = Needs::default();
    for condition in &conditions {
        asked.extend(needs_of(condition));
    }
    let asked = asked.whole();
    shown.extend(asked.clone());
    let shown = shown.whole();
    let driving = walked.unwrap_or_else(|| scan(&asked, &sure, &shown));
    let first = match &driving {
        Driving::Index(source) | Driving::Scan(source) => Some(*source),
        Driving::Starts => Some(Source::Table(Table::Time)),
        Driving::Listed => Some(Source::Table(Table::Frame)),
        Driving::Union(_) => None,
    };
    let only_shown = shown.sources().into_iter();
    let only_shown = only_shown.filter(|source| !asked.contains(*source));
    let sources = asked.sources().into_iter().chain(only_shown);
    Plan {
        joins: sources
            .filter(|source| Some(*source) != first)
            .map(|source| Join {
                source,
                kind: kind(source, &sure),
            })
            .collect(),
        driving,
        conditions,
        order: None,
        limit: None,
    }
}

/// The plans for an answer, whose rows follow each other.
///
/// Usually there is one. If no index finds the frames and all are wanted, or a few are enough, the frames are walked
/// through in the order of their starts, so that the first rows come at once and nothing is sorted; a second plan
/// returns the undated ones. `from_ms`: rows that start before this moment were returned already.
pub(super) fn answer(ask: &Ask<'_>, shown: &Needs, from_ms: Option<i64>) -> Vec<Plan> {
    let ordered = |walk| Plan {
        order: Some(ask.order.to_vec()),
        limit: ask.limit,
        ..plan(ask.query, shown.clone(), walk)
    };
    let one = ordered(from_ms.map_or(Walk::Free, Walk::From));
    let leads = !matches!(one.driving, Driving::Scan(_));
    let every = *ask.query == Checked::Every;
    if leads || !ask.order.is_empty() || (ask.limit.is_none() && !every) {
        return vec![one];
    }
    vec![ordered(Walk::Dated), ordered(Walk::Undated)]
}

/// Every frame has its rows of time and of written data; not every frame has a sky.
fn kind(source: Source, sure: &Needs) -> JoinKind {
    match source {
        Source::Table(Table::Time | Table::Frame) => JoinKind::Inner,
        _ if sure.contains(source) => JoinKind::Inner,
        _ => JoinKind::Left,
    }
}

/// Every row of a tested table; if there is none, of a table with a row for every frame.
fn scan(asked: &Needs, sure: &Needs, shown: &Needs) -> Driving {
    let tables = [Table::Look, Table::Frame, Table::Sky, Table::Time].map(Source::Table);
    let inner = |table: &Source| kind(*table, sure) == JoinKind::Inner;
    let mut first = tables
        .into_iter()
        .filter(inner)
        .filter(|table| asked.contains(*table));
    let time = Source::Table(Table::Time);
    let only_frame = !shown.contains(time) && shown.contains(Source::Table(Table::Frame));
    Driving::Scan(first.next().unwrap_or(if only_frame {
        Source::Table(Table::Frame)
    } else {
        time
    }))
}

/// The conditions that must all be true.
fn all_of(query: &Checked) -> &[Checked] {
    match query {
        Checked::Every => &[],
        Checked::All(parts) => parts,
        one => std::slice::from_ref(one),
    }
}

/// The driving table for frames that satisfy all of these tests. A test that the driving rows satisfy by themselves is
/// removed.
fn driving(tests: &mut Vec<Checked>) -> Option<Driving> {
    if let Some(table) = tests.iter().find_map(table_of_few_frames) {
        return Some(Driving::Index(Source::Table(table)));
    }
    let sure = tests
        .iter()
        .flat_map(|test| Needs::required_by(test).showers)
        .min();
    if let Some(shower) = sure {
        return Some(Driving::Index(Source::Radiant(shower)));
    }
    let unions = tests.iter().map(union);
    if let Some((at, union)) = unions
        .enumerate()
        .find_map(|(at, union)| Some((at, union?)))
    {
        tests.remove(at);
        return Some(Driving::Union(union));
    }
    let stretch = tests
        .iter()
        .any(|test| is_stretch(test, &["night", "start", "local"]));
    stretch.then_some(Driving::Index(Source::Table(Table::Time)))
}

/// The table whose index finds the few frames of a test: a session, one or a few nights, a short stretch of time,
/// calibration frames.
fn table_of_few_frames(test: &Checked) -> Option<Table> {
    let Checked::Test(ColumnSource::Frame(field), test) = test else {
        return None;
    };
    let short = match test {
        Test::Compare(Op::Equal, value) => is_short(value, value),
        Test::Between(low, high) => is_short(low, high),
        Test::OneOf(values) => values.iter().all(|value| is_short(value, value)),
        _ => false,
    };
    match (field.name, field.kind) {
        ("session" | "night" | "start" | "local", _) if short => Some(Table::Time),
        _ if is_of_calibration(field, test) => Some(Table::Time),
        (_, FieldKind::Reading) if short => Some(Table::Frame),
        _ => None,
    }
}

/// Whether there are few frames from one value to the other.
fn is_short(low: &Value, high: &Value) -> bool {
    match (low, high) {
        (Value::Period(low), Value::Period(high)) => match (day(&low.first), day(&high.last)) {
            (Some(first), Some(last)) => last.saturating_sub(first) <= FEW_DAYS,
            _ => false,
        },
        (Value::Whole(low), Value::Whole(high)) => high.saturating_sub(*low) <= FEW_DAYS,
        _ => false,
    }
}

/// Whether a test of one of these fields is of a stretch of time, however long.
fn is_stretch(test: &Checked, fields: &[&str]) -> bool {
    matches!(test, Checked::Test(ColumnSource::Frame(field), test)
        if fields.contains(&field.name)
            && !matches!(test, Test::Known | Test::Unknown | Test::Compare(Op::Unequal, _)))
}

/// The frames that satisfy a test, if they are exactly those under radiants.
fn union(test: &Checked) -> Option<Union> {
    let showers = match test {
        Checked::Any(parts) => {
            let mut all = Union::default();
            for part in parts {
                let one = union(part)?;
                all.radiants.extend(one.radiants);
                all.unplaced.extend(one.unplaced);
            }
            return Some(all);
        }
        Checked::Test(_, Test::Unknown) => return None,
        Checked::Test(ColumnSource::Radiant(shower, _), _) => {
            return Some(Union {
                radiants: vec![(*shower, Some(test.clone()))],
                unplaced: BTreeSet::new(),
            });
        }
        // The main shower's radiant may be one of several; only the frame's own row shows which is the main one.
        Checked::Test(ColumnSource::Frame(field), _) if field.key == "main_shower" => return None,
        Checked::Test(_, Test::Compare(Op::Equal, value)) => {
            showers_of(std::slice::from_ref(value))?
        }
        Checked::Test(_, Test::OneOf(values)) => showers_of(values)?,
        _ => return None,
    };
    // A placed frame's main shower is among its radiants.
    Some(Union {
        radiants: showers.iter().map(|shower| (*shower, None)).collect(),
        unplaced: showers.into_iter().collect(),
    })
}

fn showers_of(values: &[Value]) -> Option<Vec<ShowerCode>> {
    let shower = |value: &Value| match value {
        Value::Shower(shower) => Some(*shower),
        _ => None,
    };
    values.iter().map(shower).collect()
}

/// The tables that a condition needs.
fn needs_of(condition: &Condition) -> Needs {
    match condition {
        Condition::Test(test) => {
            let of = predicate(test);
            Needs {
                tables: of.tables,
                showers: of.showers,
            }
        }
        Condition::OfShared(shared, _) => Needs::of(&[shared_rows(*shared).table]),
        // The driving rows have it; and rows that came before are excluded when the rows that pass the conditions are
        // shown.
        Condition::Numbered(..) | Condition::NotBefore(_) => Needs::default(),
        _ => Needs::of(&[Table::Time]),
    }
}

/// The time range searched for the first rows of an answer; `None` if the query does not lead to radiants, or another
/// order is requested.
pub(super) fn opening(ask: &Ask<'_>) -> Option<Opening> {
    let mut tests = all_of(ask.query).to_vec();
    // If a site has no zone, nights are by the body's own clock, and do not show the days on which frames start.
    if tests.iter().any(|test| is_stretch(test, &["night"])) {
        return None;
    }
    let days = tests.iter().find_map(days_of);
    let days = days.unwrap_or((i64::MIN, i64::MAX));
    let (mut showers, mut unplaced) = (BTreeSet::new(), BTreeSet::new());
    match driving(&mut tests)? {
        Driving::Index(Source::Radiant(shower)) => {
            showers.insert(shower);
        }
        Driving::Union(union) => {
            showers.extend(union.radiants.iter().map(|(shower, _)| *shower));
            unplaced = union.unplaced;
        }
        _ => return None,
    }
    ask.order.is_empty().then_some(Opening {
        showers,
        unplaced,
        days,
    })
}

#[cfg(test)]
#[path = "planner_tests.rs"]
mod tests;
