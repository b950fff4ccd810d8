//! The types of fields: type and unit, table, storage, limits. Knows no field.

/// The tables of a frame's values, by their aliases in queries.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Table {
    /// `written_frame AS frame`: always joined.
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
    /// `stated_look AS look`: what the photographer said on looking at the frame.
    Look,
}

/// The unit of a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// A pure number.
    One,
    /// A fraction, which a query may write in hundredths: `25%`.
    Fraction,
    /// An aperture, which a query may write `f/2.8`.
    FNumber,
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
    /// The sign in a table's line of units; empty for a pure number.
    pub const fn sign(self) -> &'static str {
        match self {
            Self::One | Self::Fraction | Self::FNumber => "",
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

    /// The unit in words; empty for a pure number.
    pub const fn words(self) -> &'static str {
        match self {
            Self::One | Self::Fraction | Self::FNumber => "",
            Self::Degrees => "degrees",
            Self::Seconds => "seconds",
            Self::Millimetres => "millimetres",
            Self::Metres => "metres",
            Self::Pixels => "pixels",
            Self::Celsius => "degrees Celsius",
            Self::Bytes => "bytes",
            Self::PerHour => "meteors an hour",
        }
    }
}

/// The type of a field.
#[derive(Clone, Copy, Debug)]
pub enum FieldKind {
    /// Text, compared without regard to case.
    Text,
    /// One of a few words.
    Words(&'static [&'static str]),
    /// A number with a unit.
    Number(Unit),
    /// A whole number with a unit.
    Whole(Unit),
    /// An instant: text of fixed width, `2023-12-14T00:12:07.250Z`; its column holds milliseconds since 1970.
    Instant,
    /// A clock reading: text without a zone, `2023-12-14T01:12:07.25`; its column holds seconds since 1970, and the
    /// column [`READING_FRACTION`](crate::terms::field_sql::READING_FRACTION) the digits of the fraction.
    Reading,
    /// Local time at the site: text with its offset, `2023-12-14T01:12:07.250+01:00`; its expression gives milliseconds from
    /// the local 1970-01-01T00:00.
    Local,
    /// A calendar date: text, `2023-12-13`; its column holds days since 1970.
    Date,
}

impl FieldKind {
    /// The unit or the type in words, for manuals.
    pub fn words(self) -> &'static str {
        match self {
            Self::Text => "text",
            Self::Words(_) => "a word",
            Self::Number(unit) | Self::Whole(unit) => match unit.words() {
                "" => "number",
                words => words,
            },
            Self::Instant => "instant, UTC",
            Self::Reading => "clock reading",
            Self::Local => "local time",
            Self::Date => "date",
        }
    }
}

/// How the catalogue stores a value, if not as the value itself in the field's own column. Whole numbers take less
/// space and are read and compared faster. Columns are named with the alias of their table; a radiant's are bare.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Storage {
    /// The value itself.
    Value,
    /// A whole number of parts, with the number of parts in one.
    Parts(&'static str, f64),
    /// The same; they are also the upper bits of a second column, above [`LOWER_BITS`] of another value, which is
    /// compared directly.
    Upper(&'static str, f64, &'static str),
    /// A direction modulo 360°, in tenths of an arcsecond from -180° to 180°.
    Round(&'static str),
    /// The index of a word in the list of its field.
    Word(&'static str),
    /// An offset from UTC in seconds.
    Offset(&'static str),
    /// The start, plus this many milliseconds for each second of the exposure.
    After(f64),
    /// Seconds, with the digits of a fraction in [`READING_FRACTION`](crate::terms::field_sql::READING_FRACTION).
    SecondsAndFraction,
    /// The start, and the zone in the row of the site.
    Local,
    /// A column of a row that many frames share.
    Of(Shared, &'static str),
    /// The frame's own column or, if that is null, a column of a row that many frames share.
    OwnOrShared(&'static str, Shared, &'static str),
    /// The folder's path with its slash, in a row that many frames share, and the file's own name.
    Path(&'static str),
    /// Not in the catalogue: the caller computes it.
    Nowhere,
}

/// A row that many frames share.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shared {
    /// The body.
    Camera,
    /// The lens.
    Lens,
    /// The folder, and its dump.
    Folder,
    /// The site.
    Site,
    /// Why a frame is of its kind.
    Evidence,
    /// The strongest shower.
    Shower,
    /// The main shower.
    MainShower,
}

/// The least and the greatest number of a field; infinite without a limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// The least.
    pub low: f64,
    /// The greatest.
    pub high: f64,
    /// Whether they are neighbours, as on a circle.
    pub goes_round: bool,
}

/// Tenths of an arcsecond in a degree: finer than the sky's own accuracy, and an angle fits into three bytes.
pub const TENTHS: f64 = 36_000.0;

/// Tenths of an arcsecond in a full circle.
pub const ONCE_ROUND: i64 = 12_960_000;

/// How many bits are below those of [`Storage::Upper`]: an azimuth of less than [`ONCE_ROUND`] fits into them.
pub const LOWER_BITS: u32 = 24;
