//! The columns of a list: key, heading and source, once for every format. Knows no rows.

use crate::terms::column::ColumnSource;
use crate::terms::field::FIELDS;
use crate::terms::field::Field;
use crate::terms::field::field_keyed;
use crate::terms::field_radiant::RADIANT_FIELDS;
use crate::terms::shower::ShowerCode;

/// The first value of every object in JSON.
pub const SCHEMA: &str = "framefall.frame/1";

/// One column of a list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Column {
    /// The source of its value, for which the catalogue must select it.
    pub source: ColumnSource,
    /// Its key in CSV and JSON: `exposure_s`, `GEM_alt_deg`, `alt_deg` for the strongest shower.
    pub key: String,
    /// Its heading on the screen and its name in queries: `exposure`, `GEM.alt`, `radiant.alt`.
    pub heading: String,
}

impl Column {
    /// The column of a source.
    pub fn of(source: ColumnSource) -> Self {
        let key = source.field().key;
        Self {
            source,
            key: match source {
                ColumnSource::Frame(_) | ColumnSource::Strongest(_) => key.to_owned(),
                ColumnSource::Radiant(shower, _) => format!("{shower}_{key}"),
            },
            heading: source.to_string(),
        }
    }

    /// The same under another heading.
    #[must_use]
    pub fn headed(self, heading: &str) -> Self {
        Self {
            heading: heading.to_owned(),
            ..self
        }
    }

    /// A site's zone that a table needs for local times, and does not show as a column.
    pub fn zone_aside() -> Option<Self> {
        frame_column("zone").map(|zone| zone.headed(""))
    }

    /// The same, the start of a frame in UTC where it was in local time.
    #[must_use]
    pub fn in_utc(self) -> Self {
        match self.field().key {
            "start_local" => frame_column("start_utc").unwrap_or(self),
            _ => self,
        }
    }

    /// Whether it is that.
    pub(super) fn is_zone_aside(&self) -> bool {
        self.heading.is_empty() && self.field().key == "zone"
    }

    /// The row of the field table: kind, unit, digits.
    pub const fn field(&self) -> &'static Field {
        self.source.field()
    }

    /// The order in which a narrow screen drops columns: the highest first, 0 last.
    pub(super) fn rank(&self) -> u8 {
        self.field().rank
    }
}

fn frame_column(key: &str) -> Option<Column> {
    field_keyed(key).map(|field| Column::of(ColumnSource::Frame(field)))
}

/// The columns of the table on the screen, about a hundred and twenty characters wide: when, what, how, and how high
/// the radiants were. Radiants of the showers that the query names, or of each frame's strongest shower if it names
/// none.
pub fn columns_for_table(showers_named: &[ShowerCode]) -> Vec<Column> {
    let mut columns: Vec<Column> = [
        "start_local",
        "session",
        "file",
        "camera",
        "focal_mm",
        "exposure_s",
        "iso",
    ]
    .iter()
    .filter_map(|key| frame_column(key))
    .collect();
    let altitudes = RADIANT_FIELDS.iter().filter(|f| f.key == "alt_deg");
    for field in altitudes {
        if showers_named.is_empty() {
            columns.extend(frame_column("shower"));
            columns.push(Column::of(ColumnSource::Strongest(field)));
        }
        for shower in showers_named {
            columns.push(Column::of(ColumnSource::Radiant(*shower, field)));
        }
    }
    columns.extend(frame_column("moon_alt_deg"));
    columns.extend(Column::zone_aside());
    columns
}

/// The columns of CSV: every key of the vocabulary, the radiant of the strongest shower, then of each named shower.
pub fn columns_for_csv(showers_named: &[ShowerCode]) -> Vec<Column> {
    let strongest = RADIANT_FIELDS.iter().map(ColumnSource::Strongest);
    let named = showers_named.iter().flat_map(|shower| {
        RADIANT_FIELDS
            .iter()
            .map(|f| ColumnSource::Radiant(*shower, f))
    });
    FIELDS
        .iter()
        .map(ColumnSource::Frame)
        .chain(strongest)
        .chain(named)
        .map(Column::of)
        .collect()
}

/// The columns of JSON: every key of the vocabulary. Radiants are in an array of their own.
pub fn columns_for_json() -> Vec<Column> {
    let sources = FIELDS.iter().map(ColumnSource::Frame);
    sources.map(Column::of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    fn showers() -> Vec<ShowerCode> {
        ["GEM", "QUA"]
            .iter()
            .filter_map(|s| ShowerCode::parse(s))
            .collect()
    }

    #[test]
    fn keys_of_one_list_are_unique() {
        for columns in [
            columns_for_csv(&showers()),
            columns_for_json(),
            columns_for_table(&showers()),
        ] {
            let keys: BTreeSet<&str> = columns.iter().map(|c| c.key.as_str()).collect();
            assert_eq!(keys.len(), columns.len());
        }
    }

    #[test]
    fn csv_carries_the_vocabulary_then_the_strongest_then_the_named() {
        let keys: Vec<String> = columns_for_csv(&showers())
            .into_iter()
            .map(|c| c.key)
            .collect();
        let count = FIELDS.len();
        assert_eq!(keys[0], "path");
        assert_eq!(keys[count], "alt_deg");
        assert_eq!(keys[count + RADIANT_FIELDS.len()], "GEM_alt_deg");
        assert_eq!(keys.last().map(String::as_str), Some("QUA_seen_y_px"));
    }

    #[test]
    fn the_table_shows_the_named_radiants_or_the_strongest() {
        let headings = |named: &[ShowerCode]| {
            let columns = columns_for_table(named);
            columns
                .into_iter()
                .map(|c| c.heading)
                .collect::<Vec<_>>()
                .join(" ")
        };
        assert_eq!(
            headings(&[]),
            "local session file camera focal exposure iso shower radiant.alt moon.alt "
        );
        assert_eq!(
            headings(&showers()),
            "local session file camera focal exposure iso GEM.alt QUA.alt moon.alt "
        );
    }
}
