//! The two tables of a Parquet export: their columns, and the catalogue data needed to fill them.

use std::sync::LazyLock;

use crate::framelist::dataset::DataColumn;
use crate::framelist::dataset::Presence;
use crate::terms::column::ColumnSource;
use crate::terms::field::FIELDS;
use crate::terms::field::FRAME_ID;
use crate::terms::field::Field;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_kind::Unit;
use crate::terms::field_radiant::RADIANT_FIELDS;

const SHOWER: Field = sheet_column("shower", "shower", FieldKind::Text, 0);

/// One of the two tables.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Table {
    /// A row a frame.
    Frames,
    /// A row a frame and active shower.
    Radiants,
}

impl Table {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Frames, Self::Radiants];

    /// Its name, and its folder's.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Frames => "frames",
            Self::Radiants => "radiants",
        }
    }

    /// Its columns, in their order.
    pub fn columns(self) -> Vec<DataColumn> {
        let always = |field| DataColumn {
            field,
            presence: Presence::Always,
        };
        let optional = |field| DataColumn {
            field,
            presence: Presence::Optional,
        };
        match self {
            Self::Frames => std::iter::once(always(&FRAME_ID))
                .chain(FIELDS.iter().map(optional))
                .collect(),
            Self::Radiants => [&FRAME_ID, &SHOWER]
                .into_iter()
                .map(always)
                .chain(RADIANT_FIELDS.iter().map(|field| {
                    if is_of_picture(field) {
                        optional(field)
                    } else {
                        always(field)
                    }
                }))
                .collect(),
        }
    }

    /// The column that its rows are ordered by.
    pub(super) const fn ordered_by(self) -> &'static str {
        match self {
            Self::Frames => "start_utc",
            // By the starts of the frames, which it does not hold.
            Self::Radiants => "",
        }
    }
}

/// Whether a field is of a radiant's place in a picture, which is known of few frames.
fn is_of_picture(field: &Field) -> bool {
    field.column.contains("{}")
}

/// The fields of a frame as stored in the catalogue: instants and dates as whole numbers, as in the file.
pub(super) fn kept_sources() -> Vec<ColumnSource> {
    static KEPT: LazyLock<Vec<Field>> = LazyLock::new(|| {
        let kept = |field: &Field| match field.kind {
            FieldKind::Instant | FieldKind::Date => Field {
                kind: FieldKind::Whole(Unit::One),
                ..*field
            },
            _ => *field,
        };
        std::iter::once(&FRAME_ID).chain(FIELDS).map(kept).collect()
    });
    KEPT.iter().map(ColumnSource::Frame).collect()
}

/// The position of the night among the cells of a row.
pub(super) fn night_at() -> usize {
    let night = FIELDS.iter().position(|field| field.key == "night");
    night.map_or(usize::MAX, |at| at + 1)
}
