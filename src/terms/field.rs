//! The table of a frame's fields: what a query calls it, what an export calls it, its unit, its column.
//!
//! Query parser, exports, help and documentation all read this one table. Knows no grammar and no rows.

use crate::terms::basis::Health;
use crate::terms::basis::Kind;
use crate::terms::basis::PlaceBasis;
use crate::terms::basis::TimeBasis;
use crate::terms::basis::Twilight;

/// The tables a frame's values lie in, by the alias under which a query sees them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Table {
    /// `written_frame AS frame`: always there.
    Frame,
    /// `written_camera AS camera`.
    Camera,
    /// `written_lens AS lens`.
    Lens,
    /// `written_file AS file`: the frame's first file, raw before JPEG.
    File,
    /// `written_folder AS folder`, of that file.
    Folder,
    /// `written_dump AS dump`, of that folder.
    Dump,
    /// `derived_time AS time`.
    Time,
    /// `stated_site AS site`.
    Site,
    /// `derived_sky AS sky`.
    Sky,
    /// `derived_radiant`, under the alias of a shower's code or of the strongest shower.
    Radiant,
}

/// The unit of a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// A pure number.
    One,
    /// Degrees of arc.
    Degrees,
    /// Seconds of time.
    Seconds,
    /// Millimetres.
    Millimetres,
    /// Metres.
    Metres,
    /// Pixels.
    Pixels,
    /// Degrees Celsius.
    Celsius,
    /// Bytes.
    Bytes,
    /// Meteors an hour.
    PerHour,
}

impl Unit {
    /// The sign that stands under a table's heading; empty for a pure number.
    pub const fn sign(self) -> &'static str {
        match self {
            Self::One => "",
            Self::Degrees => "°",
            Self::Seconds => "s",
            Self::Millimetres => "mm",
            Self::Metres => "m",
            Self::Pixels => "px",
            Self::Celsius => "°C",
            Self::Bytes => "B",
            Self::PerHour => "/h",
        }
    }
}

/// What kind of value a field holds.
#[derive(Clone, Copy, Debug)]
pub enum FieldKind {
    /// Text, compared without regard to case.
    Text,
    /// One of a few words.
    Words(fn() -> Vec<&'static str>),
    /// A number with a unit.
    Number(Unit),
    /// A whole number with a unit.
    Whole(Unit),
    /// An instant: text of fixed width, `2023-12-14T00:12:07.250Z`; its column holds milliseconds since 1970.
    Instant,
    /// A clock reading: text without a zone, `2023-12-14T01:12:07.25`; its column holds seconds since 1970, and the
    /// column [`READING_FRACTION`] the digits of the fraction.
    Reading,
    /// A calendar date: text, `2023-12-13`; its column holds days since 1970.
    Date,
}

/// One field of a frame.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    /// What a query calls it; empty when only exports carry it.
    pub name: &'static str,
    /// What JSON and CSV call it.
    pub key: &'static str,
    /// What it holds.
    pub kind: FieldKind,
    /// The table that holds it.
    pub table: Table,
    /// The SQL expression, over the aliases of [`Table`]. For [`Table::Radiant`] the bare column name.
    pub column: &'static str,
    /// Digits after the point in a table on the screen.
    pub decimals_shown: u8,
    /// Digits after the point in CSV and JSON; `None` prints the number as it is kept.
    pub decimals_kept: Option<u8>,
    /// One sentence for help and documentation.
    pub sentence: &'static str,
}

impl Field {
    /// The tables that its expression reads, without those that lead to them.
    pub fn tables(&self) -> impl Iterator<Item = Table> {
        let frame_too = self.table == Table::Time && self.column.contains("frame.");
        [Some(self.table), frame_too.then_some(Table::Frame)]
            .into_iter()
            .flatten()
    }
}

/// The containers, as the field `format` names them and in the order in which the catalogue numbers them: a new one stands last
/// but for the unknown, and takes a migration.
pub const FORMATS: &[&str] = &[
    "jpeg", "tiff", "png", "webp", "heif", "avif", "nef", "nrw", "cr2", "cr3", "crw", "arw", "sr2",
    "dng", "gpr", "orf", "rw2", "raf", "pef", "srw", "3fr", "fff", "iiq", "kdc", "dcr", "erf",
    "mef", "mos", "mrw", "x3f", "unknown",
];

/// The focal length as SQL: what the photographer says of the lens before what the body wrote.
pub const FOCAL_COLUMN: &str = "ifnull((SELECT told.focal_mm FROM stated_focal AS told WHERE told.frame_id = frame.frame_id), frame.focal_mm)";

/// Why a frame is of its kind as SQL.
pub const EVIDENCE_COLUMN: &str = "(SELECT words FROM derived_evidence AS evidence WHERE evidence.evidence_id = time.evidence_id)";

/// The strongest shower's code as SQL.
pub const SHOWER_COLUMN: &str =
    "(SELECT shower.code FROM derived_shower AS shower WHERE shower.shower_id = sky.shower_id)";

/// The strongest shower's number as SQL.
pub const SHOWER_NUMBER: &str = "sky.shower_id";

/// The main shower's code as SQL.
pub const MAIN_SHOWER_COLUMN: &str = "(SELECT shower.code FROM derived_shower AS shower WHERE shower.shower_id = sky.main_shower_id)";

/// The main shower's number as SQL.
pub const MAIN_SHOWER_NUMBER: &str = "sky.main_shower_id";

fn formats() -> Vec<&'static str> {
    FORMATS.to_vec()
}
fn time_basis_words() -> Vec<&'static str> {
    TimeBasis::ALL.iter().map(|w| w.word()).collect()
}
fn place_basis_words() -> Vec<&'static str> {
    PlaceBasis::ALL.iter().map(|w| w.word()).collect()
}
fn kind_words() -> Vec<&'static str> {
    Kind::ALL.iter().map(|w| w.word()).collect()
}
fn health_words() -> Vec<&'static str> {
    Health::ALL.iter().map(|w| w.word()).collect()
}
fn twilight_words() -> Vec<&'static str> {
    Twilight::ALL.iter().map(|w| w.word()).collect()
}

const fn field(
    name: &'static str,
    key: &'static str,
    kind: FieldKind,
    table: Table,
    column: &'static str,
    sentence: &'static str,
) -> Field {
    let decimals_shown = match kind {
        FieldKind::Number(Unit::Degrees | Unit::PerHour | Unit::Celsius | Unit::Seconds) => 1,
        FieldKind::Number(Unit::One) => 2,
        _ => 0,
    };
    let decimals_kept = match kind {
        // A millionth of a degree is 0.004 arcseconds: finer than the catalogue's own accuracy.
        FieldKind::Number(Unit::Degrees | Unit::One) => Some(6),
        FieldKind::Number(Unit::PerHour | Unit::Seconds) => Some(3),
        FieldKind::Number(Unit::Metres) => Some(1),
        _ => None,
    };
    Field {
        name,
        key,
        kind,
        table,
        column,
        decimals_shown,
        decimals_kept,
        sentence,
    }
}

/// Numbers that the screen shows as they are kept, without padding zeros: exposures, apertures, focal lengths.
pub const SHOWN_AS_KEPT: u8 = u8::MAX;

const fn as_kept(mut field: Field) -> Field {
    field.decimals_shown = SHOWN_AS_KEPT;
    field.decimals_kept = None;
    field
}

const fn text(
    name: &'static str,
    table: Table,
    column: &'static str,
    sentence: &'static str,
) -> Field {
    field(name, name, FieldKind::Text, table, column, sentence)
}

use FieldKind::{Date, Instant, Number, Reading, Text, Whole, Words};
use Unit::{Bytes, Celsius, Degrees, Metres, Millimetres, One, PerHour, Pixels, Seconds};

/// The absolute path of a file, from its dump's root, its folder and its name.
pub const PATH_COLUMN: &str =
    "dump.root || '/' || CASE folder.path WHEN '' THEN '' ELSE folder.path || '/' END || file.name";

/// The digits of a clock reading's fraction, beside the seconds of a [`FieldKind::Reading`].
pub const READING_FRACTION: &str = "frame.clock_fraction";

/// The middle and the end of an exposure follow from its start and its length, to the millisecond.
const MID_COLUMN: &str =
    "time.start_ms + CAST(round(ifnull(frame.exposure_s, 0) * 500) AS INTEGER)";
const END_COLUMN: &str =
    "time.start_ms + CAST(round(ifnull(frame.exposure_s, 0) * 1000) AS INTEGER)";

/// A column of a sheet, which no query knows: its heading, its key, what it holds, digits after the point on the screen.
pub const fn sheet_column(
    heading: &'static str,
    key: &'static str,
    kind: FieldKind,
    decimals_shown: u8,
) -> Field {
    Field {
        name: heading,
        key,
        kind,
        table: Table::Frame,
        column: "",
        decimals_shown,
        decimals_kept: match kind {
            FieldKind::Number(Unit::Degrees) => Some(6),
            _ => None,
        },
        sentence: "",
    }
}

/// The catalogue's number of a frame, by which tables of an export are joined. No query knows it.
pub const FRAME_ID: Field = field(
    "",
    "frame_id",
    Whole(One),
    Table::Frame,
    "frame.frame_id",
    "the catalogue's number of the frame",
);

/// Every field with one value a frame, in the order exports carry them.
#[rustfmt::skip] // a row a field
pub const FIELDS: &[Field] = &[
    text("path", Table::Dump, PATH_COLUMN, "absolute path of the frame's first file, raw before JPEG"),
    text("file", Table::File, "file.name", "name of that file"),
    text("dump", Table::Dump, "dump.label", "label of the card dump"),
    field("format", "format", Words(formats), Table::File, "file.format", "container of that file, told by its contents"),
    field("bytes", "bytes", Whole(Bytes), Table::File, "file.bytes", "size of that file"),
    text("camera", Table::Camera, "camera.name", "the body: model and serial number"),
    text("make", Table::Camera, "camera.make", "maker of the body"),
    text("model", Table::Camera, "camera.model", "model of the body"),
    text("serial", Table::Camera, "camera.serial", "serial number of the body"),
    text("lens", Table::Lens, "lens.name", "name of the lens"),
    as_kept(field("exposure", "exposure_s", Number(Seconds), Table::Frame, "frame.exposure_s", "exposure time")),
    as_kept(field("aperture", "f_number", Number(One), Table::Frame, "frame.f_number", "aperture, as the f-number")),
    as_kept(field("iso", "iso", Number(One), Table::Frame, "frame.iso", "sensitivity")),
    as_kept(field("focal", "focal_mm", Number(Millimetres), Table::Frame, FOCAL_COLUMN, "focal length, as written or stated")),
    as_kept(field("focal35", "focal35_mm", Number(Millimetres), Table::Frame, "frame.focal35_mm", "35 mm equivalent focal length")),
    field("width", "width_px", Whole(Pixels), Table::Frame, "frame.width_px", "width of the main image, as stored"),
    field("height", "height_px", Whole(Pixels), Table::Frame, "frame.height_px", "height of the main image, as stored"),
    field("orientation", "orientation", Whole(One), Table::Frame, "frame.orientation", "EXIF orientation, 1 to 8"),
    field("temperature", "temperature_c", Number(Celsius), Table::Frame, "frame.temperature_c", "the body's own temperature reading"),
    field("shutter_count", "shutter_count", Whole(One), Table::Frame, "frame.shutter_count", "the body's image counter"),
    field("clock", "clock_local", Reading, Table::Frame, "frame.clock_s", "what the body's clock wrote"),
    field("", "utc_offset", Text, Table::Frame, "frame.utc_offset", "the offset from UTC that the body wrote beside it"),
    field("", "gps_utc", Instant, Table::Frame, "frame.gps_ms", "the GPS time stamp the body wrote"),
    field("start", "start_utc", Instant, Table::Time, "time.start_ms", "when the shutter opened, in UTC"),
    field("mid", "mid_utc", Instant, Table::Time, MID_COLUMN, "the middle of the exposure, in UTC"),
    field("end", "end_utc", Instant, Table::Time, END_COLUMN, "when the shutter closed, in UTC"),
    field("time_basis", "time_basis", Words(time_basis_words), Table::Time, "time.time_basis", "how UTC was reached"),
    field("time_error", "time_error_s", Number(Seconds), Table::Time, "time.time_error_s", "one-sigma error of the start"),
    field("night", "night", Date, Table::Time, "time.night_day", "the evening's date at the site, noon to noon; in polar night that of a run's start"),
    text("site", Table::Site, "site.name", "the site in the site book"),
    field("lat", "lat_deg", Number(Degrees), Table::Site, "ifnull(time.lat_deg, site.lat_deg)", "latitude of the place used, north positive"),
    field("lon", "lon_deg", Number(Degrees), Table::Site, "ifnull(time.lon_deg, site.lon_deg)", "longitude of the place used, east positive"),
    field("elev", "elev_m", Number(Metres), Table::Site, "ifnull(time.elev_m, site.elev_m)", "elevation of the place used"),
    as_kept(field("", "gps_lat_deg", Number(Degrees), Table::Frame, "frame.gps_lat_deg", "latitude the body wrote")),
    as_kept(field("", "gps_lon_deg", Number(Degrees), Table::Frame, "frame.gps_lon_deg", "longitude the body wrote")),
    as_kept(field("", "gps_elev_m", Number(Metres), Table::Frame, "frame.gps_elev_m", "altitude the body wrote")),
    field("place_basis", "place_basis", Words(place_basis_words), Table::Time, "time.place_basis", "how the place was reached"),
    field("session", "session", Whole(One), Table::Time, "time.session_id", "number of the session"),
    field("seq", "seq", Whole(One), Table::Time, "time.seq", "position within the session, from 1"),
    field("kind", "kind", Words(kind_words), Table::Time, "time.kind", "what the frame is for"),
    field("", "kind_evidence", Text, Table::Time, EVIDENCE_COLUMN, "why it is of that kind"),
    field("turn", "turn_deg", Number(Degrees), Table::Time, "time.turn_deg", "turn of the sky about the pole since the session's middle light"),
    field("health", "health", Words(health_words), Table::File, "file.health", "the state of the frame's first file"),
    field("sun.alt", "sun_alt_deg", Number(Degrees), Table::Sky, "sky.sun_alt_deg", "altitude of the Sun's centre, without refraction"),
    field("twilight", "twilight", Words(twilight_words), Table::Sky, "sky.twilight", "class of the Sun's altitude"),
    field("moon.alt", "moon_alt_deg", Number(Degrees), Table::Sky, "sky.moon_alt_deg", "altitude of the Moon's centre, without refraction"),
    field("moon.az", "moon_az_deg", Number(Degrees), Table::Sky, "sky.moon_az_deg", "azimuth of the Moon, from north through east"),
    field("moon.lit", "moon_lit", Number(One), Table::Sky, "sky.moon_lit", "lit fraction of the Moon, 0 to 1"),
    field("lst", "lst_deg", Number(Degrees), Table::Sky, "sky.lst_deg", "local apparent sidereal time"),
    field("solar_lon", "solar_lon_deg", Number(Degrees), Table::Sky, "sky.solar_lon_deg", "solar longitude, equinox J2000.0"),
    text("shower", Table::Sky, SHOWER_COLUMN, "the strongest there and then; also holds for any other active one"),
    text("main_shower", Table::Sky, MAIN_SHOWER_COLUMN, "the active shower with the greatest ZHR, its radiant up or not"),
];

/// The fields of one shower's radiant: `GEM.alt`, or `radiant.alt` for the strongest shower of each frame.
#[rustfmt::skip] // a row a field
pub const RADIANT_FIELDS: &[Field] = &[
    field("alt", "alt_deg", Number(Degrees), Table::Radiant, "alt_deg", "geometric altitude of the drifted radiant"),
    field("az", "az_deg", Number(Degrees), Table::Radiant, "az_deg", "azimuth of the same, from north through east"),
    field("seen_alt", "seen_alt_deg", Number(Degrees), Table::Radiant, "seen_alt_deg", "altitude trails in the picture point back to"),
    field("seen_az", "seen_az_deg", Number(Degrees), Table::Radiant, "seen_az_deg", "azimuth trails in the picture point back to"),
    field("moon", "moon_sep_deg", Number(Degrees), Table::Radiant, "moon_sep_deg", "distance from the Moon to the radiant"),
    field("rate", "rate", Number(PerHour), Table::Radiant, "rate", "meteors an hour under a 6.5-magnitude sky"),
    field("seen_rate", "seen_rate", Number(PerHour), Table::Radiant, "seen_rate", "meteors an hour under the sky of the frame"),
];

/// Finds a field by the name a query gives it.
pub fn field_named(name: &str) -> Option<&'static Field> {
    FIELDS.iter().find(|f| !f.name.is_empty() && f.name == name)
}

/// Finds a field by the key an export gives it.
pub fn field_keyed(key: &str) -> Option<&'static Field> {
    FIELDS.iter().find(|f| f.key == key)
}
