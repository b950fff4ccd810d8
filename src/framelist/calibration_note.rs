//! Which frames calibrate which lights, and how well, as JSON: a part of a list's manifest and of a tree's record.

use serde_json::Value;
use serde_json::json;

use crate::terms::hex::hex;
use crate::terms::name_text::bytes_of;

/// The calibration of one run of lights.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CalibrationNote {
    /// `dark`, `flat` or `bias`.
    pub kind: String,
    /// The session of the lights.
    pub session: Option<i64>,
    /// The settings of the lights, in words.
    pub settings: String,
    /// How many lights.
    pub lights: u64,
    /// The lowest and highest temperature of the lights in °C, if known.
    pub temperature_c: Option<(f64, f64)>,
    /// `close`, `usable`, `poor` or `none`.
    pub grade: String,
    /// Remarks on it.
    pub remarks: Vec<String>,
    /// The frames.
    pub frames: Vec<ServingNote>,
}

/// One calibration frame.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ServingNote {
    /// The absolute path of its file.
    pub path: String,
    /// Exposure minus the lights', seconds, if it matters.
    pub exposure_diff_s: Option<f64>,
    /// Temperature minus the lights' middle, °C, if known.
    pub temperature_diff_c: Option<f64>,
    /// Days from the lights, if known.
    pub days: Option<f64>,
}

/// The notes as one JSON array.
pub(super) fn notes_value(notes: &[CalibrationNote]) -> Value {
    notes.iter().map(note_value).collect()
}

fn note_value(note: &CalibrationNote) -> Value {
    let frames: Vec<Value> = note.frames.iter().map(serving_value).collect();
    json!({
        "kind": note.kind,
        "for": {
            "session": note.session,
            "settings": note.settings,
            "lights": note.lights,
            "lowest_temperature_c": note.temperature_c.map(|(low, _)| low),
            "highest_temperature_c": note.temperature_c.map(|(_, high)| high),
        },
        "match": note.grade,
        "remarks": note.remarks,
        "frames": frames,
    })
}

fn serving_value(frame: &ServingNote) -> Value {
    let rounded = |n: Option<f64>, to: f64| n.map(|n| (n * to).round() / to + 0.0);
    let mut value = json!({
        "path": frame.path,
        "exposure_diff_s": rounded(frame.exposure_diff_s, 1e6),
        "temperature_diff_c": rounded(frame.temperature_diff_c, 1e3),
        "days": rounded(frame.days, 1e3),
    });
    if let Some(bytes) = bytes_of(&frame.path) {
        value["path_hex"] = json!(hex(&bytes));
    }
    value
}
