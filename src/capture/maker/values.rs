//! Values of a maker note. Fields only.

/// Values of a maker note.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MakerValues {
    /// The serial number on the body.
    pub serial: Option<String>,
    /// A serial number that differs from the one on the body but is unique to it.
    pub internal_serial: Option<String>,
    /// Name of the lens, as text.
    pub lens: Option<String>,
    /// The body's zone setting, daylight saving included, in minutes, east positive.
    pub zone_min: Option<i64>,
    /// The instant of the clock reading in UTC, as the text of a time tag.
    pub utc: Option<String>,
    /// The count of the shutter or of images.
    pub shutter_count: Option<u64>,
    /// The body's or sensor's temperature in °C.
    pub temperature_c: Option<f64>,
}
