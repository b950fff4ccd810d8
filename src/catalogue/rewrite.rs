//! Rewrites a test of a query into conditions that an index or a shared row can be used for. Decides no order, writes no SQL.

use crate::catalogue::plan::Condition;
use crate::catalogue::plan::Stretch;
use crate::query::Checked;
use crate::query::Op;
use crate::query::Test;
use crate::query::Value;
use crate::terms::basis::Kind;
use crate::terms::column::ColumnSource;
use crate::terms::day::DAY_MS;
use crate::terms::field::Field;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_kind::Shared;
use crate::terms::field_kind::Storage;
use crate::terms::time::day_of_date;

/// The conditions into which a test is rewritten if an index or a shared row can be used that way.
///
/// Within `or` and `not` this would lose the difference between false and unknown. If all must be true there is none.
pub(super) fn rewritten(test: Checked) -> Vec<Condition> {
    let shared = match &test {
        Checked::Test(ColumnSource::Frame(field), Test::Known) => shared_of_field(field),
        other => shared_of(other),
    };
    if let Some(shared) = shared {
        return vec![Condition::OfShared(shared, test)];
    }
    let further = match &test {
        Checked::Test(source @ ColumnSource::Frame(field), test)
            if field.name == "session" && !matches!(test, Test::Unknown) =>
        {
            Some(Condition::NightOfSession(*source, test.clone()))
        }
        Checked::Test(ColumnSource::Frame(field), test) if is_of_calibration(field, test) => {
            Some(Condition::OfCalibration)
        }
        // The index has UTC.
        Checked::Test(ColumnSource::Frame(field), _) if matches!(field.kind, FieldKind::Local) => {
            days_of(&test).map(|(first, last)| {
                Condition::Within(Stretch {
                    from: first.saturating_mul(DAY_MS),
                    until: last.saturating_add(1).saturating_mul(DAY_MS),
                })
            })
        }
        _ => None,
    };
    further.into_iter().chain([Condition::Test(test)]).collect()
}

/// The shared rows that a test concerns exclusively, if it is true for no frame without one.
fn shared_of(test: &Checked) -> Option<Shared> {
    match test {
        Checked::Every | Checked::Test(_, Test::Known | Test::Unknown) => None,
        Checked::Test(ColumnSource::Frame(field), _) => shared_of_field(field),
        Checked::Test(..) => None,
        Checked::Not(inner) => shared_of(inner),
        Checked::All(parts) | Checked::Any(parts) => {
            let mut parts = parts.iter().map(shared_of);
            let first = parts.next()??;
            parts.all(|part| part == Some(first)).then_some(first)
        }
    }
}

fn shared_of_field(field: &Field) -> Option<Shared> {
    match field.storage {
        Storage::Of(
            shared @ (Shared::Camera | Shared::Lens | Shared::Site | Shared::Folder),
            _,
        ) => Some(shared),
        _ => None,
    }
}

/// Whether a test is true for calibration frames only, which are few and have an index.
pub(super) fn is_of_calibration(field: &Field, test: &Test) -> bool {
    let few = |value: &Value| match value {
        Value::Word(word) => [Kind::Dark, Kind::Flat, Kind::Bias]
            .iter()
            .any(|kind| kind.word() == *word),
        _ => false,
    };
    field.key == "kind"
        && match test {
            Test::Compare(Op::Equal, value) => few(value),
            Test::OneOf(values) => values.iter().all(few),
            _ => false,
        }
}

/// The days on which the frames start for which a test of their starts is true, in UTC. Local time is less than a day off.
pub(super) fn days_of(test: &Checked) -> Option<(i64, i64)> {
    let Checked::Test(ColumnSource::Frame(field), test) = test else {
        return None;
    };
    let (low, high) = match test {
        Test::Compare(Op::Equal, Value::Period(one)) => (Some(one), Some(one)),
        Test::Compare(Op::AtLeast | Op::Above, Value::Period(low)) => (Some(low), None),
        Test::Compare(Op::AtMost | Op::Below, Value::Period(high)) => (None, Some(high)),
        Test::Between(Value::Period(low), Value::Period(high)) => (Some(low), Some(high)),
        Test::OneOf(values) => {
            let periods = values.iter().map(|value| match value {
                Value::Period(one) => Some(one),
                _ => None,
            });
            let periods: Option<Vec<_>> = periods.collect();
            let periods = periods?;
            let first = periods.iter().min_by_key(|period| &period.first)?;
            let last = periods.iter().max_by_key(|period| &period.last)?;
            (Some(*first), Some(*last))
        }
        _ => return None,
    };
    let first = low.map_or(Some(i64::MIN), |low| day(&low.first))?;
    let last = high.map_or(Some(i64::MAX), |high| day(&high.last))?;
    match field.name {
        "start" => Some((first, last)),
        "local" => Some((first.saturating_sub(1), last.saturating_add(1))),
        _ => None,
    }
}

/// The day of a moment, since 1970-01-01.
pub(super) fn day(moment: &str) -> Option<i64> {
    let date = moment.get(..10)?;
    day_of_date(date)
}
