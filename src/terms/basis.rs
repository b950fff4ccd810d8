//! How a frame's time and place were reached. Never turns a weaker basis into a stronger one.

/// How a frame's UTC was reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum TimeBasis {
    /// The GPS time stamp in the frame.
    Gps,
    /// The offset from UTC that the body wrote beside its clock reading.
    Offset,
    /// The body's own zone setting, from its maker note.
    BodyZone,
    /// A zone the photographer stated for this body.
    StatedZone,
    /// The zone of the site where the frame was taken.
    SiteZone,
    /// Not reached: the frame has no UTC.
    None,
}

impl TimeBasis {
    /// All values, in order.
    pub const ALL: &'static [Self] = &[
        Self::Gps,
        Self::Offset,
        Self::BodyZone,
        Self::StatedZone,
        Self::SiteZone,
        Self::None,
    ];

    /// The word used in the catalogue, in queries and in exports.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Gps => "gps",
            Self::Offset => "offset",
            Self::BodyZone => "body-zone",
            Self::StatedZone => "stated-zone",
            Self::SiteZone => "site-zone",
            Self::None => "none",
        }
    }
}

/// How a frame's place was reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PlaceBasis {
    /// The GPS position in the frame.
    Exif,
    /// A recorded track, at the frame's instant.
    Track,
    /// A site the photographer stated.
    Site,
    /// Not reached: the frame has no place.
    None,
}

impl PlaceBasis {
    /// All values, in order.
    pub const ALL: &'static [Self] = &[Self::Exif, Self::Track, Self::Site, Self::None];

    /// The word used in the catalogue, in queries and in exports.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Exif => "exif",
            Self::Track => "track",
            Self::Site => "site",
            Self::None => "none",
        }
    }
}

/// What a frame is for, in the words of the trade.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// The sky.
    Light,
    /// A capped exposure that records the sensor's heat.
    Dark,
    /// An even field that records the lens's shading and dust.
    Flat,
    /// A shortest exposure that records the read-out.
    Bias,
    /// A focus or framing test.
    Trial,
}

impl Kind {
    /// All values, in order.
    pub const ALL: &'static [Self] =
        &[Self::Light, Self::Dark, Self::Flat, Self::Bias, Self::Trial];

    /// The word used in the catalogue, in queries and in exports.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Light => "light",
            Self::Dark => "dark",
            Self::Flat => "flat",
            Self::Bias => "bias",
            Self::Trial => "trial",
        }
    }

    /// Reads the word back.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|one| one.word() == word)
    }
}

/// The state of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Health {
    /// Read, and complete as far as its container shows.
    Sound,
    /// The container's own structure points past the end of the file.
    Truncated,
    /// The disk or card gave an error, or nothing in the file could be understood.
    Unreadable,
    /// Read, but without a usable capture time.
    NoMetadata,
}

impl Health {
    /// Whether the picture may be incomplete. A file without a time may be complete.
    pub const fn is_damaged(self) -> bool {
        matches!(self, Self::Truncated | Self::Unreadable)
    }

    /// All values, in order.
    pub const ALL: &'static [Self] = &[
        Self::Sound,
        Self::Truncated,
        Self::Unreadable,
        Self::NoMetadata,
    ];

    /// The word used in the catalogue, in queries and in exports.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Sound => "sound",
            Self::Truncated => "truncated",
            Self::Unreadable => "unreadable",
            Self::NoMetadata => "no-metadata",
        }
    }
}

/// Altitude of the Sun's and the Moon's centre at rising and setting, in degrees.
///
/// Source: the almanacs' convention, refraction 34' and radius 16' (from memory). For the Moon, whose altitude already
/// includes parallax, the same figure is good to 0.02°.
pub const RISING_DEG: f64 = -0.8333;

/// Limits of civil, nautical and astronomical twilight, in degrees of the Sun's altitude.
///
/// Source: the almanacs' definitions (from memory).
pub const TWILIGHTS_DEG: [f64; 3] = [-6.0, -12.0, -18.0];

/// How dark the sky is, by the geometric altitude of the Sun's centre: [`RISING_DEG`], [`TWILIGHTS_DEG`]. Boundaries belong to
/// the brighter class.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Twilight {
    /// The Sun is up.
    Day,
    /// From -6° up to the horizon.
    Civil,
    /// From -12° up to -6°.
    Nautical,
    /// From -18° up to -12°.
    Astronomical,
    /// Below -18°.
    Night,
}

impl Twilight {
    /// All values, in order.
    pub const ALL: &'static [Self] = &[
        Self::Day,
        Self::Civil,
        Self::Nautical,
        Self::Astronomical,
        Self::Night,
    ];

    /// The word used in the catalogue, in queries and in exports.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Day => "day",
            Self::Civil => "civil",
            Self::Nautical => "nautical",
            Self::Astronomical => "astronomical",
            Self::Night => "night",
        }
    }

    /// Reads the word back.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|one| one.word() == word)
    }
}

/// Which of a file's time tags was used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ClockTag {
    /// `DateTimeOriginal`: when the shutter opened.
    Original,
    /// `DateTimeDigitized`: when the picture was stored.
    Digitised,
    /// `DateTime`: when the file was last changed.
    File,
}

impl ClockTag {
    /// All values, in order.
    pub const ALL: &'static [Self] = &[Self::Original, Self::Digitised, Self::File];

    /// The word used in the catalogue, in queries and in exports.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Original => "original",
            Self::Digitised => "digitised",
            Self::File => "file",
        }
    }
}
