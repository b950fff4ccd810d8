//! The stored form of a field that is a whole number instead of its value: it takes less space and is read and compared
//! faster. Knows column names, no rows.

use crate::terms::column::ColumnSource;
use crate::terms::field_kind::LOWER_BITS;
use crate::terms::field_kind::Storage;
use crate::terms::predicate::STRONGEST_ALIAS;
use crate::terms::predicate::radiant_alias;

/// The stored form of a column's value, and its column: as in [`Storage`], with the alias of its owner.
#[derive(Clone, Debug, PartialEq)]
pub enum Kept {
    /// A whole number of parts, with the number of parts in one.
    Parts(String, f64),
    /// A direction modulo 360°, in tenths of an arcsecond from -180° to 180°.
    Round(String),
    /// The index of a word in the list of its field.
    Word(String),
    /// An offset from UTC in seconds.
    Offset(String),
    /// The start, plus this many milliseconds for each second of the exposure.
    After(f64),
}

impl Kept {
    /// The stored form of a column's value; `None` if it is the value itself, or in a row that many frames share.
    pub fn of(source: ColumnSource) -> Option<Self> {
        let named = |column: &str| alias_of(source) + column;
        match source.field().storage {
            Storage::Parts(column, parts) | Storage::Upper(column, parts, _) => {
                Some(Self::Parts(named(column), parts))
            }
            Storage::Round(column) => Some(Self::Round(named(column))),
            Storage::Word(column) => Some(Self::Word(named(column))),
            Storage::Offset(column) => Some(Self::Offset(named(column))),
            Storage::After(ms) => Some(Self::After(ms)),
            _ => None,
        }
    }

    /// The column, if the stored number has one of its own.
    pub fn column(&self) -> Option<&str> {
        match self {
            Self::Parts(column, _)
            | Self::Round(column)
            | Self::Word(column)
            | Self::Offset(column) => Some(column),
            Self::After(_) => None,
        }
    }
}

/// The alias, with a point, of the row with a radiant's columns; the columns of a frame's fields include theirs
/// already.
fn alias_of(source: ColumnSource) -> String {
    match source {
        ColumnSource::Frame(_) => String::new(),
        ColumnSource::Radiant(shower, _) => radiant_alias(shower) + ".",
        ColumnSource::Strongest(_) => format!("{STRONGEST_ALIAS}."),
    }
}

/// A column of whole numbers in the same order as a field's values.
#[derive(Clone, Debug, PartialEq)]
pub struct Packed {
    /// The column.
    pub column: String,
    parts: f64,
    shift: u32,
}

impl Packed {
    /// The column to compare instead of a value; `None` if there is none.
    pub fn of(source: ColumnSource) -> Option<Self> {
        let (column, parts, shift) = match source.field().storage {
            Storage::Parts(column, parts) => (column, parts, 0),
            Storage::Upper(_, parts, packed) => (packed, parts, LOWER_BITS),
            _ => return None,
        };
        Some(Self {
            column: alias_of(source) + column,
            parts,
            shift,
        })
    }

    /// The least number of the column whose value is at least `low`, and the least whose value is more than `high`;
    /// `None` if floating-point numbers cannot distinguish them.
    pub fn around(&self, low: f64, high: f64) -> Option<(i64, i64)> {
        let packed = |whole: i64| whole.checked_mul(1 << self.shift);
        Some((
            packed(least_parts(low, self.parts)?)?,
            packed(least_parts_above(high, self.parts)?)?,
        ))
    }
}

/// Beyond this, not every whole number is representable.
const EXACT: f64 = 9_007_199_254_740_992.0;

/// The least whole number of parts whose value is at least `value`, as SQL divides; `None` beyond the range of exact
/// numbers.
fn least_parts(value: f64, parts: f64) -> Option<i64> {
    least(value, parts, |worth| worth >= value)
}

/// The least whole number of parts whose value is more than `value`; `None` as for [`least_parts`].
fn least_parts_above(value: f64, parts: f64) -> Option<i64> {
    least(value, parts, |worth| worth > value)
}

/// Division rounds, but is monotonic: near the product there is exactly one whole number at which `enough` becomes
/// true.
#[allow(clippy::cast_possible_truncation, clippy::cast_precision_loss)] // exact within the bound
fn least(value: f64, parts: f64, enough: impl Fn(f64) -> bool) -> Option<i64> {
    let near = (value * parts).round();
    if near.is_nan() || near.abs() >= EXACT / 4.0 {
        return None;
    }
    let mut whole = near as i64;
    while enough((whole - 1) as f64 / parts) {
        whole -= 1;
    }
    while !enough(whole as f64 / parts) {
        whole += 1;
    }
    Some(whole)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::field_kind::TENTHS;
    use proptest::prelude::*;

    proptest! {
        #[test]
        #[allow(clippy::cast_precision_loss)]
        fn whole_parts_fall_on_the_same_side_of_a_number_as_what_they_are_worth(
            near in -13_000_000_i64..13_000_000, beside in -3_i64..=3, ulps in -3_i64..=3, which in 0_usize..3,
        ) {
            let parts = [TENTHS, 1_000.0, 1e6][which];
            let exact = near as f64 / parts;
            let value = f64::from_bits(exact.to_bits().wrapping_add_signed(if exact == 0.0 { 0 } else { ulps }));
            let whole = near + beside;
            let worth = whole as f64 / parts;
            prop_assert_eq!(worth >= value, whole >= least_parts(value, parts).unwrap());
            prop_assert_eq!(worth > value, whole >= least_parts_above(value, parts).unwrap());
        }
    }

    #[test]
    fn what_numbers_cannot_tell_apart_has_no_bound() {
        for value in [1e300, -1e300, f64::INFINITY, f64::NAN, 1e13] {
            assert_eq!(least_parts(value, TENTHS), None, "{value}");
        }
        assert_eq!(least_parts(-90.0, TENTHS), Some(-3_240_000));
        assert_eq!(least_parts_above(30.0, TENTHS), Some(1_080_001));
        assert_eq!(least_parts_above(-0.0, TENTHS), Some(1));
    }
}
