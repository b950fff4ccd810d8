//! The table of a frame's fields: the name of each in queries and in exports, its type, unit and column, its storage,
//! its limits, a sentence and an example.
//!
//! Query parser, SQL, exports, help and documentation all use this one table. Knows no grammar and no rows.

use crate::terms::basis::Health;
use crate::terms::basis::Kind;
use crate::terms::basis::PlaceBasis;
use crate::terms::basis::TimeBasis;
use crate::terms::basis::Twilight;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_kind::Limits;
use crate::terms::field_kind::Shared;
use crate::terms::field_kind::Storage;
use crate::terms::field_kind::TENTHS;
use crate::terms::field_kind::Table;
use crate::terms::field_kind::Unit;
use crate::terms::field_sql as sql;
use crate::terms::field_sql::CHOSEN_COLUMN;
use crate::terms::field_sql::END_COLUMN;
use crate::terms::field_sql::EVIDENCE_COLUMN;
use crate::terms::field_sql::FOCAL_COLUMN;
use crate::terms::field_sql::FOLDER_PATH;
use crate::terms::field_sql::FORMAT_COLUMN;
use crate::terms::field_sql::HEALTH_COLUMN;
use crate::terms::field_sql::KIND_COLUMN;
use crate::terms::field_sql::LOCAL_COLUMN;
use crate::terms::field_sql::LOOKED_COLUMN;
use crate::terms::field_sql::MAIN_SHOWER_COLUMN;
use crate::terms::field_sql::MID_COLUMN;
use crate::terms::field_sql::PATH_COLUMN;
use crate::terms::field_sql::PLACE_BASIS_COLUMN;
use crate::terms::field_sql::SHOWER_COLUMN;
use crate::terms::field_sql::TIME_BASIS_COLUMN;
use crate::terms::field_sql::TURN_BASIS_COLUMN;
use crate::terms::field_sql::ZONE_COLUMN;
use crate::terms::field_words::FORMATS;
use crate::terms::field_words::YES_NO;
use crate::terms::found_trail::TrailClass;
use crate::terms::pointing::POINTING_WORDS;
use crate::terms::turn::TurnBasis;

/// One field of a frame.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    /// Its name in queries; empty if only exports have it.
    pub name: &'static str,
    /// Its key in JSON and CSV.
    pub key: &'static str,
    /// Its type.
    pub kind: FieldKind,
    /// Its table.
    pub table: Table,
    /// The SQL expression, over the aliases of [`Table`]. For [`Table::Radiant`] the bare column name.
    pub column: &'static str,
    /// Digits after the point in a table on the screen.
    pub decimals_shown: u8,
    /// Digits after the point in CSV and JSON; `None` prints the number as stored.
    pub decimals_kept: Option<u8>,
    /// One sentence for help and documentation.
    pub sentence: &'static str,
    /// How the catalogue stores it.
    pub storage: Storage,
    /// Its limits, if it is a number.
    pub limits: Limits,
    /// The order in which a narrow screen drops columns: the highest first, 0 last.
    pub rank: u8,
    /// A query that tests it, for help, documentation and tests; empty if no query can.
    pub example: &'static str,
}

impl Field {
    /// The tables that its expression reads, without those needed to join them.
    pub fn tables(&self) -> impl Iterator<Item = Table> {
        let exposure = matches!(self.storage, After(_)).then_some(Table::Frame);
        [Some(self.table), exposure].into_iter().flatten()
    }

    /// No limit at either end.
    const UNLIMITED: Limits = Limits {
        low: f64::NEG_INFINITY,
        high: f64::INFINITY,
        goes_round: false,
    };

    const fn as_kept(mut self) -> Self {
        self.decimals_shown = SHOWN_AS_KEPT;
        self.decimals_kept = None;
        self
    }

    pub(super) const fn decimals(mut self, shown: u8, kept: u8) -> Self {
        self.decimals_shown = shown;
        self.decimals_kept = Some(kept);
        self
    }

    pub(super) const fn kept(mut self, storage: Storage) -> Self {
        self.storage = storage;
        self
    }

    pub(super) const fn within(mut self, low: f64, high: f64) -> Self {
        self.limits.low = low;
        self.limits.high = high;
        self
    }

    pub(super) const fn from(self, low: f64) -> Self {
        self.within(low, f64::INFINITY)
    }

    pub(super) const fn on_a_circle(mut self) -> Self {
        self.limits.goes_round = true;
        self
    }

    pub(super) const fn full_circle(self) -> Self {
        self.within(0.0, 360.0).on_a_circle()
    }

    const fn keyed(mut self, key: &'static str) -> Self {
        self.key = key;
        self
    }

    /// The same with that [`rank`](Self::rank).
    pub const fn rank(mut self, rank: u8) -> Self {
        self.rank = rank;
        self
    }

    pub(super) const fn example(mut self, example: &'static str) -> Self {
        self.example = example;
        self
    }
}

pub(super) const fn field(
    name: &'static str,
    key: &'static str,
    kind: FieldKind,
    table: Table,
    column: &'static str,
    sentence: &'static str,
) -> Field {
    let decimals_shown = match kind {
        FieldKind::Number(Unit::Degrees | Unit::PerHour | Unit::Celsius | Unit::Seconds) => 1,
        FieldKind::Number(Unit::One | Unit::Fraction) => 2,
        _ => 0,
    };
    let decimals_kept = match kind {
        // A millionth of a degree is 0.004 arcseconds: finer than the catalogue's own accuracy.
        FieldKind::Number(Unit::Degrees | Unit::One | Unit::Fraction) => Some(6),
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
        storage: Storage::Value,
        limits: Field::UNLIMITED,
        rank: LEAST,
        example: "",
    }
}

/// Numbers shown on the screen as stored, without padding zeros: exposures, apertures, focal lengths.
pub const SHOWN_AS_KEPT: u8 = u8::MAX;

/// The rank of the columns that a narrow screen drops first.
const LEAST: u8 = 7;

const fn text(
    name: &'static str,
    table: Table,
    column: &'static str,
    sentence: &'static str,
) -> Field {
    field(name, name, FieldKind::Text, table, column, sentence)
}

use FieldKind::{Date, Instant, Local, Number, Reading, Text, Whole, Words};
use Shared::{Camera, Evidence, Folder, Lens, MainShower, Shower, Site};
use Storage::{After, Of, Offset, OwnOrShared, Parts, Path, Round, SecondsAndFraction, Word};
use Unit::{Bytes, Celsius, Degrees, FNumber, Fraction, Metres, Millimetres, One, Pixels, Seconds};

/// A column of a sheet that queries do not have: its heading, its key, its type, digits after the point on the screen.
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
        storage: Storage::Nowhere,
        limits: Field::UNLIMITED,
        rank: LEAST,
        example: "",
    }
}

/// The catalogue's number of a frame, by which the tables of an export are joined. Queries do not have it.
pub const FRAME_ID: Field = field(
    "",
    "frame_id",
    Whole(One),
    Table::Frame,
    "frame.frame_id",
    "the catalogue's number of the frame",
);

/// Every field with one value a frame, in the order exports carry them.
///
/// Sources of the limits: angles by their definition (azimuth from north through east, longitude east positive); orientation by
/// EXIF 2.3, tag 0x0112 (from memory); elevation as `terms::site` takes it; temperature by absolute zero; the rest cannot be negative.
#[rustfmt::skip] // a row a field
pub const FIELDS: &[Field] = &[
    text("path", Table::Dump, PATH_COLUMN, "absolute path of the frame's first file, raw before JPEG")
        .kept(Path(FOLDER_PATH)).rank(0).example("path like '*/102NIGHT/*'"),
    text("file", Table::File, "file.name", "name of that file")
        .rank(0).example("file like 'NITE42??.*'"),
    text("dump", Table::Dump, "dump.label", "label of the card dump")
        .kept(Of(Folder, "dump.label")).example("dump = 'card-a'"),
    field("format", "format", Words(FORMATS), Table::File, FORMAT_COLUMN, "container of that file, by its contents")
        .kept(Word("file.format_no")).example("format in (nef, cr3, arw)"),
    field("bytes", "bytes", Whole(Bytes), Table::File, "file.bytes", "size of that file")
        .from(0.0).example("bytes < 1MB"),
    text("camera", Table::Camera, "camera.name", "the body: model and serial number")
        .kept(Of(Camera, "camera.name")).rank(6).example("camera like '*K2*'"),
    text("make", Table::Camera, "camera.make", "maker of the body")
        .kept(Of(Camera, "camera.make")).example("make = Borealis"),
    text("model", Table::Camera, "camera.model", "model of the body")
        .kept(Of(Camera, "camera.model")).example("model = 'Borealis K2'"),
    text("serial", Table::Camera, "camera.serial", "serial number of the body")
        .kept(Of(Camera, "camera.serial")).example("serial = 30417"),
    text("lens", Table::Lens, "lens.name", "name of the lens")
        .kept(Of(Lens, "lens.name")).example("lens like '*14mm*'"),
    field("exposure", "exposure_s", Number(Seconds), Table::Frame, "frame.exposure_s", "exposure time")
        .as_kept().from(0.0).rank(3).example("exposure in 10s..30s"),
    field("aperture", "f_number", Number(FNumber), Table::Frame, "frame.f_number", "aperture, as the f-number")
        .as_kept().kept(Parts("frame.f_number_millionths", 1e6)).from(0.0).example("aperture <= f/2.8"),
    field("iso", "iso", Number(One), Table::Frame, "frame.iso", "sensitivity")
        .as_kept().from(0.0).rank(5).example("iso in (1600, 3200, 6400)"),
    field("focal", "focal_mm", Number(Millimetres), Table::Frame, FOCAL_COLUMN, "focal length, as written or stated")
        .as_kept().from(0.0).rank(5).example("focal in 14mm..24mm"),
    field("focal35", "focal35_mm", Number(Millimetres), Table::Frame, "frame.focal35_mm", "35 mm equivalent focal length")
        .as_kept().from(0.0).example("focal35 <= 24mm"),
    field("width", "width_px", Whole(Pixels), Table::Frame, "frame.width_px", "width of the main image, as stored")
        .from(0.0).example("width >= 6000px"),
    field("height", "height_px", Whole(Pixels), Table::Frame, "frame.height_px", "height of the main image, as stored")
        .from(0.0).example("height >= 4000px"),
    field("orientation", "orientation", Whole(One), Table::Frame, "frame.orientation", "EXIF orientation, 1 to 8")
        .within(1.0, 8.0).example("orientation = 1"),
    field("temperature", "temperature_c", Number(Celsius), Table::Frame, "frame.temperature_c", "the body's own temperature reading")
        .from(-273.15).example("temperature > 25°C"),
    field("shutter_count", "shutter_count", Whole(One), Table::Frame, "frame.shutter_count", "the body's image counter")
        .from(0.0).example("shutter_count > 100000"),
    field("clock", "clock_local", Reading, Table::Frame, "frame.clock_s", "camera clock")
        .kept(SecondsAndFraction).example("clock >= 2023-12-14T01:00"),
    field("", "utc_offset", Text, Table::Frame, "frame.utc_offset", "the offset from UTC that the body wrote beside it")
        .kept(Offset("frame.utc_offset_s")),
    field("", "gps_utc", Instant, Table::Frame, "frame.gps_ms", "the GPS time stamp the body wrote"),
    field("start", "start_utc", Instant, Table::Time, "time.start_ms", "when the shutter opened, in UTC")
        .rank(1).example("start in 2023-12-13T22:00Z..2023-12-14T04:59Z"),
    field("mid", "mid_utc", Instant, Table::Time, MID_COLUMN, "the middle of the exposure, in UTC")
        .kept(After(500.0)).example("mid > 2023-12-13T22:00:30Z"),
    field("end", "end_utc", Instant, Table::Time, END_COLUMN, "when the shutter closed, in UTC")
        .kept(After(1_000.0)).example("end < 2023-12-14T05:30+01:00"),
    field("time_basis", "time_basis", Words(TimeBasis::WORDS), Table::Time, TIME_BASIS_COLUMN, "how UTC was reached")
        .kept(Word("time.time_basis_no")).example("time_basis in (gps, offset)"),
    field("time_error", "time_error_s", Number(Seconds), Table::Time, "time.time_error_s", "one-sigma error of the start")
        .kept(Parts("time.time_error_ms", 1_000.0)).from(0.0).example("time_error > 2s"),
    field("night", "night", Date, Table::Time, "time.night_day", "the evening's date at the site, noon to noon; in polar night of the run's start")
        .example("night in 2021..2024"),
    text("site", Table::Site, "site.name", "the site in the site book")
        .kept(Of(Site, "site.name")).example("site = 'Dry Lake'"),
    field("lat", "lat_deg", Number(Degrees), Table::Site, "ifnull(time.lat_deg, site.lat_deg)", "latitude of the place used, north positive")
        .kept(OwnOrShared("time.lat_deg", Site, "site.lat_deg")).within(-90.0, 90.0).example("lat < 0"),
    field("lon", "lon_deg", Number(Degrees), Table::Site, "ifnull(time.lon_deg, site.lon_deg)", "longitude of the place used, east positive")
        .kept(OwnOrShared("time.lon_deg", Site, "site.lon_deg")).within(-180.0, 180.0).on_a_circle().example("lon in -71deg..-70deg"),
    field("elev", "elev_m", Number(Metres), Table::Site, "ifnull(time.elev_m, site.elev_m)", "elevation of the place used")
        .kept(OwnOrShared("time.elev_m", Site, "site.elev_m")).within(-500.0, 60_000.0).example("elev > 2km"),
    field("", "gps_lat_deg", Number(Degrees), Table::Frame, "frame.gps_lat_deg", "GPS latitude that the body wrote")
        .as_kept().within(-90.0, 90.0),
    field("", "gps_lon_deg", Number(Degrees), Table::Frame, "frame.gps_lon_deg", "GPS longitude that the body wrote")
        .as_kept().within(-180.0, 180.0).on_a_circle(),
    field("", "gps_elev_m", Number(Metres), Table::Frame, "frame.gps_elev_m", "GPS altitude that the body wrote")
        .as_kept(),
    field("place_basis", "place_basis", Words(PlaceBasis::WORDS), Table::Time, PLACE_BASIS_COLUMN, "how the place was reached")
        .kept(Word("time.place_basis_no")).example("place_basis = exif"),
    field("session", "session", Whole(One), Table::Time, "time.session_id", "number of the session")
        .from(1.0).rank(4).example("session = 12"),
    field("seq", "seq", Whole(One), Table::Time, "time.seq", "position within the session, from 1")
        .from(1.0).example("seq <= 10"),
    field("kind", "kind", Words(Kind::WORDS), Table::Time, KIND_COLUMN, "what the frame is for")
        .kept(Word("time.kind_no")).example("kind != light"),
    field("", "kind_evidence", Text, Table::Time, EVIDENCE_COLUMN, "the reason for its kind")
        .kept(Of(Evidence, "evidence.words")),
    field("turn", "turn_deg", Number(Degrees), Table::Time, "time.turn_deg", "turn of the sky since the session's middle light; 0 on a mount that follows it")
        .kept(Parts("time.turn", TENTHS)).within(-400.0, 400.0).example("turn in -15..15"),
    field("turn_basis", "turn_basis", Words(TurnBasis::WORDS), Table::Time, TURN_BASIS_COLUMN, "how turn is known: by the clock, by the stars in the picture, or by a mount")
        .example("turn_basis in (stars, mount)"),
    field("health", "health", Words(Health::WORDS), Table::File, HEALTH_COLUMN, "the state of the frame's first file")
        .kept(Word("file.health_no")).example("not health = sound"),
    field("sun.alt", "sun_alt_deg", Number(Degrees), Table::Sky, "sky.sun_alt_deg", "altitude of the Sun's centre, without refraction")
        .kept(Parts("sky.sun_alt", TENTHS)).within(-90.0, 90.0).example("sun.alt < -18"),
    field("twilight", "twilight", Words(Twilight::WORDS), Table::Sky, "sky.twilight", "class of the Sun's altitude")
        .example("twilight in (astronomical, night)"),
    field("moon.alt", "moon_alt_deg", Number(Degrees), Table::Sky, "sky.moon_alt_deg", "altitude of the Moon's centre, without refraction")
        .kept(Parts("sky.moon_alt", TENTHS)).within(-90.0, 90.0).rank(2).example("moon.alt < 0"),
    field("moon.az", "moon_az_deg", Number(Degrees), Table::Sky, "sky.moon_az_deg", "azimuth of the Moon, from north through east")
        .kept(Round("sky.moon_az")).full_circle().example("moon.az in 90..180"),
    field("moon.lit", "moon_lit", Number(Fraction), Table::Sky, "sky.moon_lit", "lit fraction of the Moon, 0 to 1")
        .kept(Parts("sky.moon_lit_ppm", 1e6)).within(0.0, 1.0).example("moon.lit < 25%"),
    field("lst", "lst_deg", Number(Degrees), Table::Sky, "sky.lst_deg", "local apparent sidereal time")
        .kept(Round("sky.lst")).full_circle().example("lst in 90deg..120deg"),
    field("solar_lon", "solar_lon_deg", Number(Degrees), Table::Sky, "sky.solar_lon_deg", "solar longitude, equinox J2000.0")
        .kept(Round("sky.solar_lon")).full_circle().example("solar_lon in 261.5..262.5"),
    text("shower", Table::Sky, SHOWER_COLUMN, "the strongest shower at that place and time; = also matches any other active one")
        .kept(Of(Shower, "shower.code")).rank(2).example("shower = GEM"),
    text("main_shower", Table::Sky, MAIN_SHOWER_COLUMN, "the active shower with the greatest ZHR, whether its radiant is up or not")
        .kept(Of(MainShower, "shower.code")).example("main_shower = GEM"),
    field("looked", "looked", Words(YES_NO), Table::Frame, LOOKED_COLUMN, "whether you have looked at the frame")
        .example("looked = no"),
    field("chosen", "chosen", Words(YES_NO), Table::Look, CHOSEN_COLUMN, "whether you want the frame in the picture; unknown until you say so")
        .example("chosen = yes"),
    text("note", Table::Look, "look.note", "your note about the frame")
        .example("note like '*fireball*'"),
    field("trails", "trails", Whole(One), Table::Frame, sql::TRAILS_COLUMN, "trails in the picture: stated ones, and meteors and moving lights that were found")
        .from(0.0).example("trails > 1"),
    field("meteors", "meteors", Whole(One), Table::Frame, sql::METEORS_COLUMN, "meteors in the picture: stated ones, and candidates that you have not judged")
        .from(0.0).example("meteors > 0"),
    field("trail.score", "trail_score", Number(Fraction), Table::Frame, sql::TRAIL_SCORE_COLUMN, "how likely the best candidate trail is a meteor, 0 to 1, by framefall examine")
        .within(0.0, 1.0).example("trail.score > 50%"),
    field("trail.class", "trail_class", Words(TrailClass::WORDS), Table::Frame, sql::TRAIL_CLASS_COLUMN, "what the best candidate trail is taken for").example("trail.class = meteor"),
    text("meteor.shower", Table::Frame, sql::METEOR_SHOWER_COLUMN, "the showers of its meteors, separated by spaces: as stated, else by their paths")
        .keyed("meteor_shower").example("meteor.shower like '*GEM*'"),
    field("local", "start_local", Local, Table::Site, LOCAL_COLUMN, "when the shutter opened, in the local time of the site")
        .kept(Storage::Local).rank(1).example("local >= 2023-12-14T01:00"),
    text("zone", Table::Site, ZONE_COLUMN, "the time zone of the site")
        .kept(Of(Site, ZONE_COLUMN)).example("zone = 'America/Santiago'"),
    field("stars", "stars_found", Whole(One), Table::Frame, sql::STARS_COLUMN, "star images found in the picture, by framefall examine")
        .from(0.0).example("stars < 20"),
    field("glow", "sky_level", Number(Fraction), Table::Frame, sql::SKY_LEVEL_COLUMN, "median level of the sky, 0 to 1, as the camera encoded it; compare within a session")
        .within(0.0, 1.0).example("glow > 50%"),
    field("clear", "clear", Number(Fraction), Table::Frame, sql::CLEAR_COLUMN, "share of the sky that shows its usual stars, 0 to 1")
        .within(0.0, 1.0).example("clear > 80%"),
    field("sky_stops", "sky_stops", Number(One), Table::Frame, sql::SKY_STOPS_COLUMN, "brightness of the sky in stops, against the median of the segment").within(-30.0, 30.0).example("sky_stops > 1"),
    text("sky_signs", Table::Frame, sql::SKY_SIGNS_COLUMN, "what is noticed of the sky: cloud, dew, focus, shaken, light").example("sky_signs like '*dew*'"),
    field("star_width", "star_width_px", Number(Pixels), Table::Frame, sql::STAR_WIDTH_COLUMN, "width of star images at half maximum in the middle, in pixels of the full picture")
        .decimals(2, 3).from(0.0).example("star_width > 12px"),
    field("corner_width", "corner_width_px", Number(Pixels), Table::Frame, sql::CORNER_WIDTH_COLUMN, "the same in the corners: coma and astigmatism of the lens")
        .decimals(2, 3).from(0.0).example("corner_width > 20px"),
    field("pointing", "pointing", Words(POINTING_WORDS), Table::Frame, sql::POINTING_COLUMN, "how well it is known where the camera pointed, or why it is not")
        .example("pointing in (good, weak)"),
    field("point.alt", "point_alt_deg", Number(Degrees), Table::Frame, sql::POINT_ALT_COLUMN, "altitude of the middle of the picture, as seen")
        .within(-90.0, 90.0).example("point.alt > 30"),
    field("point.az", "point_az_deg", Number(Degrees), Table::Frame, sql::POINT_AZ_COLUMN, "azimuth of the same, from north through east")
        .full_circle().example("point.az in 90..270"),
    field("point.roll", "point_roll_deg", Number(Degrees), Table::Frame, sql::POINT_ROLL_COLUMN, "how far the camera was turned clockwise, as the photographer saw it")
        .within(-180.0, 180.0).on_a_circle().example("point.roll in -5..5"),
    field("point.region", "point_region", Text, Table::Frame, sql::POINT_REGION_COLUMN, "corners x,y of the part that a weak pointing holds for, in pixels as stored")
        .example("point.region like '*'"),
];

/// Finds a field by its name in queries.
pub fn field_named(name: &str) -> Option<&'static Field> {
    FIELDS.iter().find(|f| !f.name.is_empty() && f.name == name)
}

/// Finds a field by its key in exports.
pub fn field_keyed(key: &str) -> Option<&'static Field> {
    FIELDS.iter().find(|f| f.key == key)
}
