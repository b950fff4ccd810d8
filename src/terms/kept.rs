//! What the catalogue keeps of a field where that is not its value but a whole number: it takes less room, is read sooner
//! and compared sooner. Knows column names, no rows.

use crate::terms::column::ColumnSource;
use crate::terms::predicate::STRONGEST_ALIAS;
use crate::terms::predicate::radiant_alias;

/// What is kept of a field's value, and in which column.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kept<C = String> {
    /// A whole number of parts, so many of which are one.
    Parts(C, f64),
    /// A direction that goes round, in tenths of an arcsecond from -180° to 180°.
    Round(C),
    /// A word's place in the list of its field.
    Word(C),
    /// An offset from UTC in seconds.
    Offset(C),
    /// The start, so many milliseconds for each second of the exposure later.
    After(f64),
}

/// Tenths of an arcsecond in a degree: finer than the sky's own accuracy, and an angle fits into three bytes.
pub const TENTHS: f64 = 36_000.0;

/// Tenths of an arcsecond once round.
pub const ONCE_ROUND: i64 = 12_960_000;

/// The fields of a frame, by key; of the others the value itself is kept.
const OF_FRAME: &[(&str, Kept<&str>)] = &[
    ("mid_utc", Kept::After(500.0)),
    ("end_utc", Kept::After(1_000.0)),
    ("time_basis", Kept::Word("time.time_basis_no")),
    ("time_error_s", Kept::Parts("time.time_error_ms", 1_000.0)),
    ("place_basis", Kept::Word("time.place_basis_no")),
    ("kind", Kept::Word("time.kind_no")),
    ("turn_deg", Kept::Parts("time.turn", TENTHS)),
    ("health", Kept::Word("file.health_no")),
    ("format", Kept::Word("file.format_no")),
    ("utc_offset", Kept::Offset("frame.utc_offset_s")),
    ("f_number", Kept::Parts("frame.f_number_millionths", 1e6)),
    ("sun_alt_deg", Kept::Parts("sky.sun_alt", TENTHS)),
    ("moon_alt_deg", Kept::Parts("sky.moon_alt", TENTHS)),
    ("moon_az_deg", Kept::Round("sky.moon_az")),
    ("moon_lit", Kept::Parts("sky.moon_lit_ppm", 1e6)),
    ("lst_deg", Kept::Round("sky.lst")),
    ("solar_lon_deg", Kept::Round("sky.solar_lon")),
];

/// Those of a radiant; columns without their alias.
const OF_RADIANT: &[(&str, Kept<&str>)] = &[
    ("alt_deg", Kept::Parts("alt", TENTHS)),
    ("az_deg", Kept::Parts("az", TENTHS)),
    ("seen_alt_deg", Kept::Parts("seen_alt", TENTHS)),
    ("seen_az_deg", Kept::Parts("seen_az", TENTHS)),
    ("moon_sep_deg", Kept::Parts("moon_sep", TENTHS)),
    ("rate", Kept::Parts("rate_milli", 1_000.0)),
    ("seen_rate", Kept::Parts("seen_rate_milli", 1_000.0)),
];

impl Kept {
    /// What is kept of a column's value; `None` where it is the value itself.
    pub fn of(source: ColumnSource) -> Option<Self> {
        let (list, alias) = match source {
            ColumnSource::Frame(_) => (OF_FRAME, String::new()),
            ColumnSource::Radiant(shower, _) => (OF_RADIANT, radiant_alias(shower) + "."),
            ColumnSource::Strongest(_) => (OF_RADIANT, format!("{STRONGEST_ALIAS}.")),
        };
        let key = source.field().key;
        let (_, kept) = list.iter().find(|(of, _)| *of == key)?;
        Some(match kept {
            Kept::Parts(column, parts) => Self::Parts(alias + column, *parts),
            Kept::Round(column) => Self::Round(alias + column),
            Kept::Word(column) => Self::Word(alias + column),
            Kept::Offset(column) => Self::Offset(alias + column),
            Kept::After(ms) => Self::After(*ms),
        })
    }

    /// The column, where what is kept is a number of its own.
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

/// Fields whose whole parts are the upper bits of a column, above 24 bits of something else: the column is compared as it is.
const UPPER: &[(&str, &str)] = &[("alt_deg", "stood"), ("seen_alt_deg", "seen")];

/// How many bits those are: an azimuth of less than [`ONCE_ROUND`] fits into them.
pub const LOWER_BITS: u32 = 24;

/// A column of whole numbers that stand in the order of a field's values.
#[derive(Clone, Debug, PartialEq)]
pub struct Packed {
    /// The column.
    pub column: String,
    parts: f64,
    shift: u32,
}

impl Packed {
    /// The column to compare instead of a value; `None` where there is none.
    pub fn of(source: ColumnSource) -> Option<Self> {
        let Kept::Parts(column, parts) = Kept::of(source)? else {
            return None;
        };
        let upper = UPPER.iter().find(|(key, _)| *key == source.field().key);
        Some(match (upper, column.rsplit_once('.')) {
            (Some((_, packed)), Some((alias, _))) => Self {
                column: format!("{alias}.{packed}"),
                parts,
                shift: LOWER_BITS,
            },
            _ => Self {
                column,
                parts,
                shift: 0,
            },
        })
    }

    /// The least number of the column that is worth at least `low`, and the least that is worth more than `high`; `None` where
    /// numbers do not tell them apart.
    pub fn around(&self, low: f64, high: f64) -> Option<(i64, i64)> {
        let packed = |whole: i64| whole.checked_mul(1 << self.shift);
        Some((
            packed(least_parts(low, self.parts)?)?,
            packed(least_parts_above(high, self.parts)?)?,
        ))
    }
}

/// Beyond this not every whole number is a number of its own.
const EXACT: f64 = 9_007_199_254_740_992.0;

/// The least whole number of parts that is worth at least `value`, as SQL divides; `None` where it is beyond what numbers tell
/// apart.
fn least_parts(value: f64, parts: f64) -> Option<i64> {
    least(value, parts, |worth| worth >= value)
}

/// The least whole number of parts that is worth more than `value`; `None` as for [`least_parts`].
fn least_parts_above(value: f64, parts: f64) -> Option<i64> {
    least(value, parts, |worth| worth > value)
}

/// Division rounds, but never turns an order round: near the product lies the one whole number where `enough` begins to hold.
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
