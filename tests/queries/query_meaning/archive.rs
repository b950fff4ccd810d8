//! Small invented archives: rows as plain values, and the same rows in a catalogue made from the migrations.

use super::ensure::ensure_active;
use super::ensure::ensure_shower;
use framefall::terms::field_words::FORMATS as KNOWN_FORMATS;
use framefall::terms::shower::ShowerCode;
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;
use rusqlite::Connection;
use rusqlite::params;

pub const SHOWERS: [&str; 3] = ["GEM", "MON", "QUA"];
pub const LENSES: [&str; 6] = [
    "Nova 14mm",
    "NOVA 14MM",
    "100%_Glass",
    "100x1Glass",
    "Élan*?",
    "back\\slash",
];
pub const FILES: [&str; 4] = ["NITE0001.ARW", "nite0002.arw", "NITE0010.JPG", "it's.cr2"];
pub const SITES: [&str; 3] = ["Dry Lake", "dry ridge", "Höhe"];
/// The zones of these sites and their hours ahead of UTC: the last one's is not known.
pub const ZONES: [Option<(&str, i64)>; 3] = [Some(("+14:00", 14)), Some(("-11:00", -11)), None];
pub const TWILIGHTS: [&str; 5] = ["day", "civil", "nautical", "astronomical", "night"];
pub const KINDS: [&str; 3] = ["light", "dark", "flat"];
pub const FORMATS: [&str; 4] = ["arw", "cr2", "3fr", "unknown"];

/// Make, serial number and name of bodies; two bear one name.
pub const CAMERAS: [(Option<&str>, Option<&str>, &str); 4] = [
    (Some("Borealis"), Some("1"), "K2 1"),
    (None, Some("1"), "k2 1"),
    (Some("Austral"), None, "A1"),
    (Some("Borealis"), Some("2"), "K2 2"),
];

/// One radiant row's altitude and rate.
pub type Radiant = Option<(f64, f64)>;

#[derive(Clone, Debug)]
pub struct Row {
    /// The place in [`CAMERAS`].
    pub camera: Option<usize>,
    pub lens: Option<&'static str>,
    pub file: &'static str,
    pub format: &'static str,
    pub bytes: i64,
    pub site: Option<&'static str>,
    pub exposure: Option<f64>,
    pub aperture: Option<f64>,
    pub iso: Option<f64>,
    pub temperature: Option<f64>,
    /// Seconds from 2023-12-30T00:00:00, nanoseconds, digits written.
    pub clock: Option<(i64, u32, usize)>,
    /// Milliseconds since 1970.
    pub start: Option<i64>,
    /// Days since 1970.
    pub night: Option<i64>,
    pub seq: Option<i64>,
    pub kind: Option<&'static str>,
    pub twilight: Option<&'static str>,
    pub moon_alt: Option<f64>,
    pub moon_lit: Option<f64>,
    pub shower: Option<&'static str>,
    pub main_shower: Option<&'static str>,
    pub radiants: [Radiant; 3],
}

impl Row {
    /// The path of the row at a place from 1.
    pub fn path(&self, id: i64) -> String {
        format!("/cards/a/100NIGHT/{id}/{}", self.file)
    }

    pub fn radiant(&self, code: &str) -> Radiant {
        let at = SHOWERS.iter().position(|one| *one == code)?;
        self.radiants[at]
    }

    pub fn strongest(&self) -> Radiant {
        self.radiant(self.shower?)
    }

    /// The codes of the showers whose radiants stand over it.
    pub fn active(&self) -> String {
        let codes = SHOWERS.iter().zip(self.radiants);
        let active: Vec<&str> = codes
            .filter_map(|(code, radiant)| radiant.map(|_| *code))
            .collect();
        active.join(" ")
    }

    /// The row as deriving leaves one: where radiants stand over a frame, the main shower is one of theirs; the strongest is
    /// the one with the greatest rate, if any gives something.
    pub fn derived(mut self) -> Self {
        let codes = || SHOWERS.iter().zip(self.radiants);
        if self
            .main_shower
            .and_then(|code| self.radiant(code))
            .is_none()
        {
            let mut active = codes().filter_map(|(code, radiant)| radiant.map(|_| *code));
            self.main_shower = active.next().or(self.main_shower);
        }
        self.shower = codes()
            .filter_map(|(code, radiant)| Some((*code, radiant?.1)))
            .filter(|(_, rate)| *rate > 0.0)
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(code, _)| code);
        self
    }
}

/// 2023-12-30T00:00:00Z in seconds since 1970.
pub const BASE_S: i64 = 1_703_894_400;

/// Instants in the days around the turn of a year, near the borders of days, minutes and seconds.
pub fn instant_ms() -> impl Strategy<Value = i64> {
    let day = 86_400_i64;
    let near = (
        0_i64..4,
        select(vec![0, 60, 3600, 43_207]),
        -1_i64..=1,
        0_i64..3,
    )
        .prop_map(move |(d, s, step, ms)| (d * day + s) * 1000 + step * 250 + ms);
    near.prop_map(|ms| BASE_S * 1000 + ms)
}

fn clock() -> impl Strategy<Value = (i64, u32, usize)> {
    let second = (0_i64..2, select(vec![0_i64, 43_207]), -1_i64..=1);
    let fraction = select(vec![
        (0_u32, 0_usize),
        (0, 2),
        (250_000_000, 2),
        (250_000_000, 3),
        (259_000_000, 3),
        (990_000_000, 2),
        (999_999_999, 9),
        (200_000_000, 1),
    ]);
    (second, fraction)
        .prop_map(|((d, s, step), (nanos, digits))| (d * 86_400 + s + step, nanos, digits))
}

pub fn row() -> impl Strategy<Value = Row> {
    let alt = || select(vec![-12.5, 0.0, 29.99, 30.0, 30.01, 62.25]);
    let radiant = || option::of((alt(), select(vec![0.0, 4.5, 20.0])));
    let written = (
        option::of(select(LENSES.to_vec())),
        select(FILES.to_vec()),
        select(FORMATS.to_vec()),
        select(vec![0_i64, 1024, 24_000_000, 25_165_824]),
        option::of(select(vec![
            1.0 / 3.0,
            0.005,
            f64::from(0.3_f32),
            20.0,
            20.3,
            150.0,
        ])),
        option::of(select(vec![100.0, 1600.0, 3200.0])),
        option::of(select(vec![-5.0, 0.0, 25.5])),
        option::of(clock()),
        (
            option::of(0..CAMERAS.len()),
            option::of(select(vec![1.4, 2.8, 5.6, 22.627_417])),
        ),
    );
    let derived = (
        option::of(select(SITES.to_vec())),
        option::of(instant_ms()),
        option::of(19_720_i64..19_726),
        option::of(1_i64..4),
        option::of(select(KINDS.to_vec())),
        option::of(select(TWILIGHTS.to_vec())),
        option::of(alt()),
        option::of(select(vec![0.0, 0.25, 1.0])),
    );
    let showers = (
        option::of(select(SHOWERS.to_vec())),
        option::of(select(SHOWERS.to_vec())),
        [radiant(), radiant(), radiant()],
    );
    (written, derived, showers).prop_map(|(w, d, (shower, main_shower, radiants))| Row {
        lens: w.0,
        file: w.1,
        format: w.2,
        bytes: w.3,
        exposure: w.4,
        iso: w.5,
        temperature: w.6,
        clock: w.7,
        camera: w.8.0,
        aperture: w.8.1,
        site: d.0,
        start: d.1,
        night: d.2,
        seq: d.3,
        kind: d.4,
        twilight: d.5,
        moon_alt: d.6,
        moon_lit: d.7,
        shower,
        main_shower,
        radiants,
    })
}

pub fn showers() -> Vec<ShowerCode> {
    SHOWERS
        .iter()
        .filter_map(|s| ShowerCode::parse(s))
        .collect()
}

/// An empty catalogue in memory.
pub fn catalogue() -> Connection {
    let connection = Connection::open_in_memory().unwrap();
    for (_, migration) in framefall::catalogue::migrations::MIGRATIONS {
        connection.execute_batch(migration).unwrap();
    }
    connection
        .execute_batch("PRAGMA foreign_keys = OFF")
        .unwrap();
    framefall::catalogue::words::fill(&connection).unwrap();
    framefall::catalogue::functions::give_functions(&connection).unwrap();
    connection
}

/// Stores what rows share.
fn fill_shared(run: &dyn Fn(&str, &[&dyn rusqlite::ToSql])) {
    run(
        "INSERT INTO written_dump (dump_id, label, root, first_seen_ms, last_seen_ms) VALUES (1, 'a', '/cards/a', 0, 0)",
        params![],
    );
    for (at, (site, zone)) in SITES.iter().zip(ZONES).enumerate() {
        run(
            "INSERT INTO stated_site (site_id, name, lat_deg, lon_deg, elev_m, zone, origin)
             VALUES (?1, ?2, 0, 0, 0, ?3, 'stated')",
            params![
                i64::try_from(at).unwrap() + 1,
                site,
                zone.map(|zone| zone.0)
            ],
        );
    }
    for (make, serial, name) in CAMERAS {
        run(
            "INSERT INTO written_camera (make, serial, name) VALUES (?1, ?2, ?3)",
            params![make, serial, name],
        );
    }
    for lens in LENSES {
        run("INSERT INTO written_lens (name) VALUES (?1)", params![lens]);
    }
}

/// What is said of the frame of that number: whether it was looked at, and whether it is chosen.
pub const fn said_of(id: i64) -> (bool, Option<bool>) {
    let chosen = match id % 3 {
        0 => Some(true),
        1 => Some(false),
        _ => None,
    };
    (id % 2 == 0, chosen)
}

/// The digits after the second, as the camera wrote them.
fn fraction(row: &Row) -> Option<String> {
    let (_, nanos, digits) = row.clock?;
    (digits > 0).then(|| format!("{nanos:09}")[..digits].to_owned())
}

/// Stores the rows; frame numbers are their places from 1.
pub fn fill(connection: &Connection, rows: &[Row]) {
    let run = |sql: &str, values: &[&dyn rusqlite::ToSql]| {
        connection
            .prepare_cached(sql)
            .unwrap()
            .execute(values)
            .unwrap();
    };
    fill_shared(&run);
    // A folder for each, so that names may repeat.
    for (row, id) in rows.iter().zip(1_i64..) {
        run(
            "INSERT INTO written_folder VALUES (?1, 1, '100NIGHT/' || ?1, NULL)",
            params![id],
        );
        run(
            "INSERT INTO written_frame (frame_id, first_file_id, clock_s, clock_fraction, exposure_s, iso, lens_id,
             temperature_c, camera_id, f_number_millionths)
             VALUES (?1, ?1, ?2, ?3, ?4, ?5, (SELECT lens_id FROM written_lens WHERE name = ?6), ?7, ?8, ?9)",
            params![
                id,
                row.clock.map(|(seconds, ..)| BASE_S + seconds),
                fraction(row),
                row.exposure,
                row.iso,
                row.lens,
                row.temperature,
                row.camera.map(|at| i64::try_from(at).unwrap() + 1),
                row.aperture.map(|number| whole(number * 1e6))
            ],
        );
        run(
            "INSERT INTO written_file (file_id, folder_id, name, frame_id, format_no, bytes, modified_ns, undated, health_no)
             VALUES (?1, ?1, ?2, ?1, ?3, ?4, 0, 1, 0)",
            params![id, row.file, number(KNOWN_FORMATS, Some(row.format)), row.bytes],
        );
        let site = row
            .site
            .and_then(|s| SITES.iter().position(|one| *one == s));
        run(
            "INSERT INTO derived_time (frame_id, start_ms, time_basis_no, site_id, place_basis_no, night_day, seq,
             kind_no, maker_id) VALUES (?1, ?2, 0, ?3, 2, ?4, ?5, ?6, 1)",
            params![
                id,
                row.start,
                site.map(|s| i64::try_from(s).unwrap() + 1),
                row.night,
                row.seq,
                number(&KINDS, row.kind)
            ],
        );
        let active = row
            .radiants
            .iter()
            .any(Option::is_some)
            .then(|| ensure_active(connection, &row.active()));
        if let (looked, chosen) = said_of(id)
            && (looked || chosen.is_some())
        {
            run(
                "INSERT INTO stated_look (frame_id, looked, chosen) VALUES (?1, ?2, ?3)",
                params![id, looked.then_some(1), chosen],
            );
        }
        // An altitude of the Sun in the middle of each class.
        let sun_alt = number(&TWILIGHTS, row.twilight).map(|at| 108_000 - at * 216_000);
        run(
            "INSERT INTO derived_sky (frame_id, sun_alt, moon_alt, moon_lit_ppm, shower_id, main_shower_id, active_id)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            params![
                id,
                sun_alt,
                row.moon_alt.map(|deg| whole(deg * 36_000.0)),
                row.moon_lit.map(|share| whole(share * 1e6)),
                row.shower.map(|code| ensure_shower(connection, code)),
                row.main_shower.map(|code| ensure_shower(connection, code)),
                active
            ],
        );
        if let (Some(start), Some(active)) = (row.start, active) {
            run(
                "INSERT OR IGNORE INTO derived_day (day, active_id) VALUES (?1, ?2)",
                params![start.div_euclid(86_400_000), active],
            );
        }
        for (code, radiant) in SHOWERS.iter().zip(row.radiants) {
            if let Some((alt, rate)) = radiant {
                run(
                    "INSERT INTO derived_radiant (shower_id, frame_id, stood, seen, moon_sep, rates)
                     VALUES (?1, ?2, ?3, ?3, 0, (?4 - ?5) * 1048576 + ?4)",
                    params![
                        ensure_shower(connection, code),
                        id,
                        whole(alt * 36_000.0) << 24,
                        whole(rate * 1e3),
                        whole(seen_rate(rate) * 1e3)
                    ],
                );
            }
        }
    }
}

/// A sky under which a quarter of the meteors is left.
pub fn seen_rate(rate: f64) -> f64 {
    rate / 4.0
}

/// A word's place in its list.
fn number(list: &[&str], word: Option<&str>) -> Option<i64> {
    let at = list.iter().position(|one| Some(*one) == word)?;
    Some(i64::try_from(at).unwrap())
}

/// Numbers as their columns keep them.
#[allow(clippy::cast_possible_truncation)]
fn whole(number: f64) -> i64 {
    number.round() as i64
}
