//! The invented story: two bodies, three sites, three nights. Everything else follows from these tables.
//!
//! True are only the showers, the dates and the sky's turn. No such camera, site or photographer exists.

use super::cast::{
    Aim, Body, Dump, Files, Gap, Kind, Lens, Oddity, Run, Setting, Shower, Site, Terrain,
};
use super::tiff::ByteOrder;

/// Maker of both bodies.
pub const MAKE: &str = "Nocturne";

/// Has a satellite receiver, writes offset and hundredths of a second; most significant byte first.
pub const BODY_A: Body = Body {
    model: "N6",
    serial: "6004127",
    software: "N6 Ver. 1.31",
    stem: "N6A_",
    order: ByteOrder::Big,
    knows_place: true,
    raw_bits: 12,
    grain: 1.0,
};

/// Knows neither place nor offset, writes whole seconds; least significant byte first.
pub const BODY_B: Body = Body {
    model: "N2 Mark II",
    serial: "2B-00318",
    software: "N2 Mark II Ver. 2.04",
    stem: "N2M_",
    order: ByteOrder::Little,
    knows_place: false,
    raw_bits: 16,
    grain: 1.35,
};

/// The lens of body A.
pub const LENS_A: Lens = Lens {
    name: "Nocturne 20mm f/1.8 W",
    focal_mm: 20,
    widest: (18, 10),
};

/// The lens of body B.
pub const LENS_B: Lens = Lens {
    name: "Nocturne 14mm f/2.8 W",
    focal_mm: 14,
    widest: (28, 10),
};

/// High desert of the northern half of the world.
pub const SALT_RIDGE: Site = Site {
    name: "Salt Ridge",
    zone: "America/Los_Angeles",
    offset_s: -8 * 3600,
    lat_deg: 38.93,
    lon_deg: -116.01,
    elev_m: 1905.0,
    terrain: Terrain::Desert,
    town_az_deg: 208.0,
    town_light: 0.055,
};

/// Stony plain of the southern half of the world, in a zone half an hour off.
pub const GIBBER_FLAT: Site = Site {
    name: "Gibber Flat",
    zone: "Australia/Adelaide",
    offset_s: 9 * 3600 + 1800,
    lat_deg: -30.78,
    lon_deg: 139.20,
    elev_m: 85.0,
    terrain: Terrain::Plain,
    town_az_deg: 215.0,
    town_light: 0.01,
};

/// Snow and spruces south of the polar circle.
pub const SNOW_FELL: Site = Site {
    name: "Snow Fell",
    zone: "Europe/Stockholm",
    offset_s: 3600,
    lat_deg: 63.05,
    lon_deg: 13.35,
    elev_m: 640.0,
    terrain: Terrain::Snow,
    town_az_deg: 95.0,
    town_light: 0.02,
};

/// Radiants for the night in question, whole degrees; source: IMO 2025 Meteor Shower Calendar, table 5.
const GEM: Shower = Shower {
    code: "GEM",
    radiant_deg: (112.0, 33.0),
    hue: [1.0, 0.96, 0.82],
};
/// See [`GEM`].
const ETA: Shower = Shower {
    code: "ETA",
    radiant_deg: (338.0, -1.0),
    hue: [0.78, 1.0, 0.86],
};
/// See [`GEM`].
const QUA: Shower = Shower {
    code: "QUA",
    radiant_deg: (230.0, 49.0),
    hue: [0.86, 0.94, 1.0],
};

/// A setting from one frame of a run on.
const fn setting(from: usize, exposure_s: (u32, u32), f_number: (u32, u32), iso: u16) -> Setting {
    Setting {
        from,
        exposure_s,
        f_number,
        iso,
    }
}

/// What most runs have in common.
const PLAIN: Run = Run {
    dump: Dump::GeminidsA,
    folder: (100, "NCTRN"),
    number: 1,
    body: BODY_A,
    lens: LENS_A,
    site: SALT_RIDGE,
    night: "2023-12-13",
    start_utc: "",
    clock_error_s: 0,
    cadence_ms: 22_000,
    frames: 0,
    gap: None,
    kind: Kind::Light,
    files: Files::Raw,
    pairs: 0,
    settings: &[],
    aim: Aim {
        az_deg: 90.0,
        alt_deg: 40.0,
    },
    shower: GEM,
    meteors: &[],
    odd: &[],
};

/// Settings of the eta-Aquariid dawn: shorter and slower as the sky grows bright.
const DAWN: &[Setting] = &[
    setting(0, (20, 1), (18, 10), 3200),
    setting(22, (20, 1), (18, 10), 1600),
    setting(24, (15, 1), (22, 10), 1600),
    setting(26, (10, 1), (22, 10), 1000),
    setting(28, (6, 1), (22, 10), 800),
    setting(30, (4, 1), (25, 10), 640),
    setting(32, (3, 1), (25, 10), 400),
    setting(34, (2, 1), (28, 10), 400),
    setting(36, (1, 1), (28, 10), 400),
];

/// Every run of frames, in the order of dumps and times. Each is one session.
pub const RUNS: &[Run] = &[
    Run {
        number: 412,
        start_utc: "2023-12-14T04:05:12.18Z",
        cadence_ms: 41_000,
        frames: 2,
        kind: Kind::Trial,
        settings: &[setting(0, (2, 1), (18, 10), 12_800)],
        ..PLAIN
    },
    Run {
        number: 414,
        start_utc: "2023-12-14T04:46:10.37Z",
        frames: 44,
        gap: Some(Gap {
            before: 24,
            length_ms: 245_000,
        }),
        settings: &[setting(0, (15, 1), (18, 10), 3200)],
        aim: Aim {
            az_deg: 72.0,
            alt_deg: 30.0,
        },
        meteors: &[6, 17, 18, 31, 40],
        ..PLAIN
    },
    Run {
        folder: (101, "NCTRN"),
        number: 458,
        start_utc: "2023-12-14T09:40:03.52Z",
        frames: 20,
        files: Files::Raw,
        pairs: 8,
        settings: &[setting(0, (15, 1), (18, 10), 3200)],
        aim: Aim {
            az_deg: 195.0,
            alt_deg: 30.0,
        },
        meteors: &[2, 5, 9, 13, 14],
        ..PLAIN
    },
    Run {
        folder: (102, "DARKS"),
        number: 478,
        start_utc: "2023-12-14T11:02:44.06Z",
        cadence_ms: 17_000,
        frames: 6,
        kind: Kind::Dark,
        settings: &[setting(0, (15, 1), (18, 10), 3200)],
        ..PLAIN
    },
    Run {
        dump: Dump::GeminidsB,
        number: 2207,
        body: BODY_B,
        lens: LENS_B,
        start_utc: "2023-12-14T05:30:21Z",
        clock_error_s: 3600,
        cadence_ms: 24_000,
        frames: 20,
        settings: &[setting(0, (20, 1), (28, 10), 6400)],
        aim: Aim {
            az_deg: 20.0,
            alt_deg: 36.0,
        },
        meteors: &[3, 11, 15],
        odd: &[(12, Oddity::CutShort)],
        ..PLAIN
    },
    Run {
        dump: Dump::EtaAquariids,
        folder: (103, "NCTRN"),
        number: 1031,
        site: GIBBER_FLAT,
        night: "2024-05-05",
        start_utc: "2024-05-05T19:44:00.61Z",
        cadence_ms: 120_000,
        frames: 38,
        files: Files::Jpeg,
        pairs: 0,
        settings: DAWN,
        aim: Aim {
            az_deg: 68.0,
            alt_deg: 24.0,
        },
        shower: ETA,
        meteors: &[4, 12, 19],
        ..PLAIN
    },
    Run {
        dump: Dump::Quadrantids,
        number: 9983,
        body: BODY_B,
        lens: LENS_B,
        site: SNOW_FELL,
        night: "2026-01-03",
        start_utc: "2026-01-03T22:55:48Z",
        cadence_ms: 12_000,
        frames: 35,
        settings: &[setting(0, (8, 1), (28, 10), 3200)],
        aim: Aim {
            az_deg: 42.0,
            alt_deg: 31.0,
        },
        shower: QUA,
        meteors: &[5, 14, 21, 29],
        odd: &[(0, Oddity::BlankClock)],
        ..PLAIN
    },
];
