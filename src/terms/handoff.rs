//! The choices of an export, and what is told of its frames.

use std::path::PathBuf;

use crate::terms::basis::Kind;
use crate::terms::field::Field;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_kind::Unit;

/// Which of a frame's files is exported.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Take {
    /// The one shown for it: raw if there is one, otherwise whatever it has.
    First,
    /// A raw file, and nothing else.
    Raw,
    /// A JPEG, and nothing else.
    Jpeg,
}

/// What is checked before a list is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Check {
    /// Each file is there, with the size and time it had when it was read.
    Files,
    /// Its contents are also unchanged. Reads every file from end to end.
    Content,
    /// Nothing.
    Nothing,
}

/// How to treat frames whose files are missing, changed, or not of the requested kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lacking {
    /// Refuse the whole list.
    Refused,
    /// Leave them out, and name them in the manifest.
    LeftOut,
}

/// How to treat frames whose file was damaged when it was read: truncated, empty, blank or unreadable.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Damaged {
    /// Leave them out, and name them.
    LeftOut,
    /// Export them, and count them.
    HandedOn,
}

/// How the paths of a list are written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PathsFrom {
    /// From the root of the file system.
    Absolute,
    /// From this folder, the list's own, with `..` where needed.
    List(PathBuf),
    /// From this folder, which must contain every file.
    Root(PathBuf),
}

/// Where an exported frame is filed.
#[derive(Clone, Debug, PartialEq)]
pub struct HandedFrame {
    /// The number of its session.
    pub session: Option<i64>,
    /// Its position in the session, from 1.
    pub seq: Option<i64>,
    /// The evening's date, `2023-12-13`.
    pub night: Option<String>,
    /// What it is for.
    pub kind: Option<Kind>,
}

/// The path of a list's reference frame, in the list's form of paths.
pub const REFERENCE: Field = sheet_column("reference", "reference", FieldKind::Text, 0);

/// The turn of the sky about the pole since a list's reference frame, between the middles of the exposures; positive
/// for a later frame; 0 on a mount that follows the stars.
pub const REFERENCE_TURN: Field = sheet_column(
    "reference_turn",
    "reference_turn_deg",
    FieldKind::Number(Unit::Degrees),
    1,
);

/// By what that turn is known.
pub const REFERENCE_TURN_BASIS: Field = sheet_column(
    "reference_turn_basis",
    "reference_turn_basis",
    FieldKind::Text,
    0,
);

/// How well a calibration frame fits its lights: their session, settings and number, the grade; and the frame's own
/// exposure, temperature and time compared with theirs.
#[rustfmt::skip] // a row a column
pub const MATCH_COLUMNS: &[Field] = &[
    sheet_column("for session", "for_session", FieldKind::Whole(Unit::One), 0),
    sheet_column("for lights of", "for_settings", FieldKind::Text, 0),
    sheet_column("lights", "for_lights", FieldKind::Whole(Unit::One), 0),
    sheet_column("match", "match", FieldKind::Text, 0),
    sheet_column("exposure diff", "exposure_diff_s", FieldKind::Number(Unit::Seconds), 3),
    sheet_column("temperature diff", "temperature_diff_c", FieldKind::Number(Unit::Celsius), 1),
    sheet_column("days", "days", FieldKind::Number(Unit::One), 1),
];
