//! How a frame's time and place were reached. Never turns a weaker basis into a stronger one.

use crate::terms::words::words;

words! {
    /// How a frame's UTC was reached.
    #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
    pub enum TimeBasis {
        /// The GPS time stamp in the frame.
        Gps = "gps",
        /// The offset from UTC that the body wrote beside its clock reading.
        Offset = "offset",
        /// The body's own zone setting, from its maker note.
        BodyZone = "body-zone",
        /// A zone the photographer stated for this body.
        StatedZone = "stated-zone",
        /// The zone of the site where the frame was taken.
        SiteZone = "site-zone",
        /// Not reached: the frame has no UTC.
        None = "none",
    }
}

words! {
    /// How a frame's place was reached.
    #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
    pub enum PlaceBasis {
        /// The GPS position in the frame.
        Exif = "exif",
        /// A recorded track, at the frame's instant.
        Track = "track",
        /// A site the photographer stated.
        Site = "site",
        /// Not reached: the frame has no place.
        None = "none",
    }
}

words! {
    /// What a frame is for, in the words of the trade.
    #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
    pub enum Kind {
        /// The sky.
        Light = "light",
        /// A capped exposure that records the sensor's heat.
        Dark = "dark",
        /// An even field that records the lens's shading and dust.
        Flat = "flat",
        /// A shortest exposure that records the read-out.
        Bias = "bias",
        /// A focus or framing test.
        Trial = "trial",
    }
}

words! {
    /// The state of a file.
    #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
    pub enum Health {
        /// Read, and complete as far as its container shows.
        Sound = "sound",
        /// The container's own structure points past the end of the file.
        Truncated = "truncated",
        /// The disk or card gave an error, or nothing in the file could be understood.
        Unreadable = "unreadable",
        /// Read, but without a usable capture time.
        NoMetadata = "no-metadata",
    }
}

impl Health {
    /// Whether the picture may be incomplete. A file without a time may be complete.
    pub const fn is_damaged(self) -> bool {
        matches!(self, Self::Truncated | Self::Unreadable)
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

words! {
    /// How dark the sky is, by the geometric altitude of the Sun's centre: [`RISING_DEG`], [`TWILIGHTS_DEG`]. Boundaries belong to
    /// the brighter class.
    #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
    pub enum Twilight {
        /// The Sun is up.
        Day = "day",
        /// From -6° up to the horizon.
        Civil = "civil",
        /// From -12° up to -6°.
        Nautical = "nautical",
        /// From -18° up to -12°.
        Astronomical = "astronomical",
        /// Below -18°.
        Night = "night",
    }
}

words! {
    /// Which of a file's time tags was used.
    #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
    pub enum ClockTag {
        /// `DateTimeOriginal`: when the shutter opened.
        Original = "original",
        /// `DateTimeDigitized`: when the picture was stored.
        Digitised = "digitised",
        /// `DateTime`: when the file was last changed.
        File = "file",
    }
}
