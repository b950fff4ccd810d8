//! One query for every field, for help, documentation and tests.

use crate::terms::field::Field;

/// Field name (a radiant's with the point before it), and a query that asks for it.
const EXAMPLES: &[(&str, &str)] = &[
    ("path", "path like '*/102NIGHT/*'"),
    ("file", "file like 'NITE42??.*'"),
    ("dump", "dump = 'card-a'"),
    ("format", "format in (nef, cr3, arw)"),
    ("bytes", "bytes < 1MB"),
    ("camera", "camera like '*K2*'"),
    ("make", "make = Borealis"),
    ("model", "model = 'Borealis K2'"),
    ("serial", "serial = 30417"),
    ("lens", "lens like '*14mm*'"),
    ("exposure", "exposure in 10s..30s"),
    ("aperture", "aperture <= f/2.8"),
    ("iso", "iso in (1600, 3200, 6400)"),
    ("focal", "focal in 14mm..24mm"),
    ("focal35", "focal35 <= 24mm"),
    ("width", "width >= 6000px"),
    ("height", "height >= 4000px"),
    ("orientation", "orientation = 1"),
    ("temperature", "temperature > 25°C"),
    ("shutter_count", "shutter_count > 100000"),
    ("clock", "clock >= 2023-12-14T01:00"),
    ("start", "start in 2023-12-13T22:00Z..2023-12-14T04:59Z"),
    ("mid", "mid > 2023-12-13T22:00:30Z"),
    ("end", "end < 2023-12-14T05:30+01:00"),
    ("time_basis", "time_basis in (gps, offset)"),
    ("time_error", "time_error > 2s"),
    ("night", "night in 2021..2024"),
    ("site", "site = 'Dry Lake'"),
    ("lat", "lat < 0"),
    ("lon", "lon in -71deg..-70deg"),
    ("elev", "elev > 2km"),
    ("place_basis", "place_basis = exif"),
    ("session", "session = 12"),
    ("seq", "seq <= 10"),
    ("kind", "kind != light"),
    ("turn", "turn in -15..15"),
    ("health", "not health = sound"),
    ("sun.alt", "sun.alt < -18"),
    ("twilight", "twilight in (astronomical, night)"),
    ("moon.alt", "moon.alt < 0"),
    ("moon.az", "moon.az in 90..180"),
    ("moon.lit", "moon.lit < 25%"),
    ("lst", "lst in 90deg..120deg"),
    ("solar_lon", "solar_lon in 261.5..262.5"),
    ("shower", "shower = GEM"),
    ("main_shower", "main_shower = GEM"),
    (".alt", "GEM.alt > 30"),
    (".az", "GEM.az in 90..270"),
    (".seen_alt", "radiant.seen_alt > 45deg"),
    (".seen_az", "radiant.seen_az < 180"),
    (".moon", "GEM.moon > 40"),
    (".rate", "radiant.rate >= 20/h"),
    (".seen_rate", "GEM.seen_rate >= 10/h"),
];

/// The example of a frame's field.
pub(super) fn of_frame(field: &Field) -> &'static str {
    find(field.name)
}

/// The example of a radiant's field.
pub(super) fn of_radiant(field: &Field) -> &'static str {
    find(&format!(".{}", field.name))
}

fn find(name: &str) -> &'static str {
    EXAMPLES
        .iter()
        .find(|(of, _)| *of == name)
        .map_or("", |(_, example)| example)
}
