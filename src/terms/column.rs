//! A value that a query tests or a list shows: a field and what it belongs to. No grammar, no rows.

use std::fmt;

use crate::terms::field::Field;
use crate::terms::field_radiant::as_shown;
use crate::terms::predicate::STRONGEST_ALIAS;
use crate::terms::predicate::radiant_alias;
use crate::terms::shower::ShowerCode;

/// A field and what it belongs to: the frame, one shower's radiant, or the strongest shower's.
#[derive(Clone, Copy, Debug)]
pub enum ColumnSource {
    /// One of the fields with one value a frame.
    Frame(&'static Field),
    /// A field of this shower's radiant; unknown if the shower is not active.
    Radiant(ShowerCode, &'static Field),
    /// A field of the radiant of the frame's strongest shower.
    Strongest(&'static Field),
}

impl ColumnSource {
    /// The row of the field table.
    pub const fn field(self) -> &'static Field {
        match self {
            Self::Frame(field) | Self::Radiant(_, field) | Self::Strongest(field) => field,
        }
    }

    /// The same in the picture as it is shown, turned upright by its EXIF orientation: see
    /// [`as_shown`](crate::terms::field_radiant::as_shown).
    #[must_use]
    pub fn as_shown(self) -> Self {
        match self {
            Self::Frame(_) => self,
            Self::Radiant(shower, field) => Self::Radiant(shower, as_shown(field)),
            Self::Strongest(field) => Self::Strongest(as_shown(field)),
        }
    }

    /// The SQL expression, over the aliases of [`crate::terms::field_kind::Table`] and of the radiants:
    /// `time.start_ms`, `r_GEM.alt_deg`. In brackets if it is more than a column's name.
    pub fn sql(self) -> String {
        match self {
            Self::Frame(field) if field.column.contains(' ') => format!("({})", field.column),
            Self::Frame(field) => field.column.to_owned(),
            Self::Radiant(shower, field) => over(field, &radiant_alias(shower)),
            Self::Strongest(field) => over(field, STRONGEST_ALIAS),
        }
    }
}

/// A radiant's column under an alias, which stands for each `{}` of an expression.
fn over(field: &Field, alias: &str) -> String {
    if field.column.contains("{}") {
        return field.column.replace("{}", alias);
    }
    format!("{alias}.{}", field.column)
}

impl fmt::Display for ColumnSource {
    /// Its name in a query: `exposure`, `GEM.alt`, `radiant.alt`; its export key if it has no query name.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Frame(field) if field.name.is_empty() => f.pad(field.key),
            Self::Frame(field) => f.pad(field.name),
            Self::Radiant(shower, field) => f.pad(&format!("{shower}.{}", field.name)),
            Self::Strongest(field) => f.pad(&format!("radiant.{}", field.name)),
        }
    }
}

impl PartialEq for ColumnSource {
    /// Keys are unique within the frame's fields and within a radiant's.
    fn eq(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Frame(a), Self::Frame(b)) | (Self::Strongest(a), Self::Strongest(b)) => {
                a.key == b.key
            }
            (Self::Radiant(s, a), Self::Radiant(t, b)) => s == t && a.key == b.key,
            _ => false,
        }
    }
}

impl Eq for ColumnSource {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::field::field_keyed;
    use crate::terms::field_radiant::RADIANT_FIELDS;

    #[test]
    fn a_source_says_its_name_and_its_sql() {
        let gem = ShowerCode::parse("gem").unwrap();
        let alt = &RADIANT_FIELDS[0];
        for (source, name, sql) in [
            (
                ColumnSource::Frame(field_keyed("exposure_s").unwrap()),
                "exposure",
                "frame.exposure_s",
            ),
            (
                ColumnSource::Frame(field_keyed("gps_utc").unwrap()),
                "gps_utc",
                "frame.gps_ms",
            ),
            (ColumnSource::Radiant(gem, alt), "GEM.alt", "r_GEM.alt_deg"),
            (
                ColumnSource::Strongest(alt),
                "radiant.alt",
                "r_strongest.alt_deg",
            ),
        ] {
            assert_eq!(source.to_string(), name);
            assert_eq!(source.sql(), sql);
        }
        let path = ColumnSource::Frame(field_keyed("path").unwrap()).sql();
        assert!(path.starts_with("(dump.root") && path.ends_with(')'));
    }
}
