//! The fields of one shower's radiant over a frame: rows of the field table. Knows no grammar and no rows.

use crate::terms::field::Field;
use crate::terms::field::field;
use crate::terms::field_kind::FieldKind::Number;
use crate::terms::field_kind::FieldKind::Words;
use crate::terms::field_kind::Storage::Parts;
use crate::terms::field_kind::Storage::Upper;
use crate::terms::field_kind::TENTHS;
use crate::terms::field_kind::Table;
use crate::terms::field_kind::Unit::Degrees;
use crate::terms::field_kind::Unit::PerHour;
use crate::terms::field_kind::Unit::Pixels;
use crate::terms::field_sql::IN_PICTURE_COLUMN;
use crate::terms::field_sql::SEEN_X_COLUMN;
use crate::terms::field_sql::SEEN_Y_COLUMN;
use crate::terms::field_sql::SHOWN_SEEN_X_COLUMN;
use crate::terms::field_sql::SHOWN_SEEN_Y_COLUMN;
use crate::terms::field_sql::SHOWN_X_COLUMN;
use crate::terms::field_sql::SHOWN_Y_COLUMN;
use crate::terms::field_sql::X_COLUMN;
use crate::terms::field_sql::Y_COLUMN;
use crate::terms::field_words::YES_NO;

/// The fields of one shower's radiant: `GEM.alt`, or `radiant.alt` for the strongest shower of each frame.
#[rustfmt::skip] // a row a field
pub const RADIANT_FIELDS: &[Field] = &[
    field("alt", "alt_deg", Number(Degrees), Table::Radiant, "alt_deg", "geometric altitude of the drifted radiant")
        .kept(Upper("alt", TENTHS, "stood")).within(-90.0, 90.0).rank(0).example("GEM.alt > 30"),
    field("az", "az_deg", Number(Degrees), Table::Radiant, "az_deg", "azimuth of the same, from north through east")
        .kept(Parts("az", TENTHS)).full_circle().example("GEM.az in 90..270"),
    field("seen_alt", "seen_alt_deg", Number(Degrees), Table::Radiant, "seen_alt_deg", "altitude trails in the picture point back to")
        .kept(Upper("seen_alt", TENTHS, "seen")).within(-90.0, 90.0).example("radiant.seen_alt > 45deg"),
    field("seen_az", "seen_az_deg", Number(Degrees), Table::Radiant, "seen_az_deg", "azimuth trails in the picture point back to")
        .kept(Parts("seen_az", TENTHS)).full_circle().example("radiant.seen_az < 180"),
    field("moon", "moon_sep_deg", Number(Degrees), Table::Radiant, "moon_sep_deg", "distance from the Moon to the radiant")
        .kept(Parts("moon_sep", TENTHS)).within(0.0, 180.0).example("GEM.moon > 40"),
    field("rate", "rate", Number(PerHour), Table::Radiant, "rate", "meteors an hour under a 6.5-magnitude sky")
        .kept(Parts("rate_milli", 1_000.0)).from(0.0).example("radiant.rate >= 20/h"),
    field("seen_rate", "seen_rate", Number(PerHour), Table::Radiant, "seen_rate", "meteors an hour under the sky of the frame")
        .kept(Parts("seen_rate_milli", 1_000.0)).from(0.0).example("GEM.seen_rate >= 10/h"),
    field("in_picture", "in_picture", Words(YES_NO), Table::Radiant, IN_PICTURE_COLUMN, "whether the radiant is within the picture, where its pointing is known")
        .example("GEM.in_picture = yes"),
    field("x", "x_px", Number(Pixels), Table::Radiant, X_COLUMN, "where the drifted radiant is, to the right, in pixels of the full picture as stored")
        .decimals(1, 2).example("GEM.x in 0..6000"),
    field("y", "y_px", Number(Pixels), Table::Radiant, Y_COLUMN, "the same, downwards")
        .decimals(1, 2).example("GEM.y < 4000"),
    field("seen_x", "seen_x_px", Number(Pixels), Table::Radiant, SEEN_X_COLUMN, "where trails in the picture point back to, to the right")
        .decimals(1, 2).example("GEM.seen_x is known"),
    field("seen_y", "seen_y_px", Number(Pixels), Table::Radiant, SEEN_Y_COLUMN, "the same, downwards")
        .decimals(1, 2).example("GEM.seen_y is known"),
];

/// Places in the picture, as it is shown: turned upright by its EXIF orientation. Names and keys are those of the places in the
/// picture as stored.
#[rustfmt::skip] // a row a field
const SHOWN: &[Field] = &[
    field("x", "x_px", Number(Pixels), Table::Radiant, SHOWN_X_COLUMN, "").decimals(1, 2),
    field("y", "y_px", Number(Pixels), Table::Radiant, SHOWN_Y_COLUMN, "").decimals(1, 2),
    field("seen_x", "seen_x_px", Number(Pixels), Table::Radiant, SHOWN_SEEN_X_COLUMN, "").decimals(1, 2),
    field("seen_y", "seen_y_px", Number(Pixels), Table::Radiant, SHOWN_SEEN_Y_COLUMN, "").decimals(1, 2),
];

/// The field of the same name for the picture as it is shown; other fields as they are.
pub fn as_shown(field: &'static Field) -> &'static Field {
    SHOWN
        .iter()
        .find(|shown| shown.name == field.name)
        .unwrap_or(field)
}
