//! The nights of an archive: body, site and date.

/// The first year of an archive, and how many there are.
const YEARS: (i32, usize) = (2014, 12);

/// Frames of a body in a night.
pub const NIGHT_FRAMES: usize = 1_500;

/// The site book: name, latitude, longitude, elevation, zone. Invented places, with latitudes from far north to far south.
pub const SITES: &[(&str, f64, f64, f64, &str)] = &[
    ("Dry Lake", 38.93, -116.01, 1_905.0, "America/Los_Angeles"),
    ("Long Paddock", -30.78, 139.2, 85.0, "Australia/Adelaide"),
    ("Upper Fell", 63.05, 13.35, 640.0, "Europe/Stockholm"),
    ("High Plain", -23.12, -68.31, 2_480.0, "America/Santiago"),
    ("Terrace", 46.02, 8.41, 1_210.0, "Europe/Zurich"),
];

/// Evenings of great and lesser showers, and the site of most years. Source of the dates: maxima of the International
/// Meteor Organization's calendar, to a day.
const PEAKS: &[(&str, usize)] = &[
    ("01-03", 4),
    ("02-08", 3),
    ("04-22", 4),
    ("05-05", 1),
    ("06-27", 0),
    ("07-30", 1),
    ("08-12", 0),
    ("08-31", 4),
    ("09-09", 2),
    ("10-08", 2),
    ("10-21", 0),
    ("11-05", 4),
    ("11-17", 0),
    ("12-06", 3),
    ("12-13", 0),
    ("12-22", 2),
];

/// Evenings before and after the peak, the most wanted first.
const AROUND: &[i64] = &[0, -1, 1, -2, 2, -3, 3];

/// How a body's clock is set, and what the body writes about it.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum ClockHabit {
    /// The site's time; the body writes no offset.
    Silent,
    /// The site's time; the body writes the offset beside it.
    Offset,
    /// Always the same zone, with its setting in the maker note: seconds east.
    Zone(i32),
    /// A GPS receiver.
    Gps,
}

/// One of the photographer's bodies.
pub struct Body {
    pub make: &'static str,
    pub model: &'static str,
    pub serial: &'static str,
    pub ending: &'static str,
    pub format: &'static str,
    /// Whether it writes a JPEG beside each raw file.
    pub jpeg: bool,
    pub clock: ClockHabit,
    /// Digits of the second's fraction.
    pub digits: usize,
    pub size: (u32, u32),
    pub thermometer: bool,
}

/// The bodies.
pub const BODIES: &[Body] = &[
    Body {
        make: "Nocturne",
        model: "Nocturne N6",
        serial: "6021",
        ending: "ARW",
        format: "arw",
        jpeg: false,
        clock: ClockHabit::Offset,
        digits: 0,
        size: (6048, 4024),
        thermometer: false,
    },
    Body {
        make: "Nocturne",
        model: "Nocturne N6",
        serial: "6022",
        ending: "ARW",
        format: "arw",
        jpeg: true,
        clock: ClockHabit::Offset,
        digits: 0,
        size: (6048, 4024),
        thermometer: false,
    },
    Body {
        make: "Borealis",
        model: "Borealis K2",
        serial: "30417",
        ending: "NEF",
        format: "nef",
        jpeg: false,
        clock: ClockHabit::Zone(3600),
        digits: 2,
        size: (8256, 5504),
        thermometer: true,
    },
    Body {
        make: "Meridian",
        model: "Meridian R5",
        serial: "0550012",
        ending: "CR2",
        format: "cr2",
        jpeg: false,
        clock: ClockHabit::Silent,
        digits: 2,
        size: (6720, 4480),
        thermometer: true,
    },
    Body {
        make: "Meridian",
        model: "Meridian R9",
        serial: "0990077",
        ending: "DNG",
        format: "dng",
        jpeg: false,
        clock: ClockHabit::Gps,
        digits: 3,
        size: (9504, 6336),
        thermometer: false,
    },
];

/// A night of one body.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BodyNight {
    /// Its position in the order of ingest.
    pub number: usize,
    /// `2019-08-12`: the evening of the shower's peak.
    pub peak: String,
    /// The evenings after it.
    pub later: i64,
    /// Which of [`BODIES`].
    pub body: usize,
    /// Which of [`SITES`].
    pub site: usize,
    /// How many frames.
    pub frames: usize,
}

impl BodyNight {
    /// The root of the card dump: one for each journey and body.
    pub fn dump(&self) -> String {
        format!("/archive/{}/card-{}", self.peak, BODIES[self.body].serial)
    }

    /// The folder in it: a body begins one each evening.
    pub fn folder(&self) -> String {
        format!("DCIM/{:03}NIGHT", 105 + self.later)
    }
}

/// The nights of an archive of so many frames, in the order of ingest: year after year, but the cards of one body come
/// at the end.
pub fn nights(frames: usize) -> Vec<BodyNight> {
    let count = frames.div_ceil(NIGHT_FRAMES);
    let journeys = YEARS.1 * PEAKS.len();
    assert!(
        count <= journeys * BODIES.len() * AROUND.len(),
        "no more nights"
    );
    let mut nights: Vec<BodyNight> = (0..count)
        .map(|n| {
            // Small archives also cover all years and showers.
            let (year, turn) = (n % YEARS.1, n / YEARS.1);
            let peak = (turn + 5 * year) % PEAKS.len();
            let round = n / journeys;
            let (body, later) = (round % BODIES.len(), AROUND[round / BODIES.len()]);
            let (day, site) = PEAKS[peak];
            BodyNight {
                number: 0,
                peak: format!(
                    "{}-{day}",
                    YEARS.0 + i32::try_from(year).expect("few years")
                ),
                later,
                body: (body + year + peak) % BODIES.len(),
                site: if year % 4 == 3 {
                    (site + 2) % SITES.len()
                } else {
                    site
                },
                frames: NIGHT_FRAMES.min(frames - n * NIGHT_FRAMES),
            }
        })
        .collect();
    nights.sort_by(|a, b| {
        let key = |n: &BodyNight| (n.body == 2, n.peak.clone(), n.later, n.body);
        key(a).cmp(&key(b))
    });
    for (number, night) in nights.iter_mut().enumerate() {
        night.number = number;
    }
    nights
}
