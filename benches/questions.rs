//! Questions in framefall's query language, each with the best known SQL for the same answer.

use framefall::catalogue::count::Per;

/// An instant as text, as in an answer.
const START: &str =
    "strftime('%Y-%m-%dT%H:%M:%fZ', time.start_ms / 1000.0, 'unixepoch') AS start_utc";

/// The order of frames unless another is asked for.
const BY_START: &str = "time.start_ms, frame.clock_s, frame.clock_fraction, frame.frame_id";

/// The form of an answer.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Frames: file and start.
    Rows,
    /// How many there are.
    Count,
    /// How many for each value of a key.
    Per(Per),
}

/// A question.
pub struct Question {
    /// The arguments of `framefall frames`.
    pub text: String,
    /// The hand-written SQL.
    pub sql: String,
    /// The form of the answer.
    pub form: Form,
}

/// The arguments of `framefall frames`, and the SQL. `NIGHT`, `DAY`, `SESSION` are replaced by values of the archive;
/// `START`, `BY_START`, `FILE` by SQL that many share.
pub const QUESTIONS: &[(&str, &str)] = &[
    (
        "GEM.alt > 30 and moon.alt < 0",
        "SELECT file.name AS file, START FROM derived_radiant r
         JOIN derived_sky sky ON sky.frame_id = r.frame_id JOIN derived_time time ON time.frame_id = r.frame_id FILE
         WHERE r.shower_id = (SELECT shower_id FROM derived_shower WHERE code = 'GEM') AND r.stood >= 1080001 << 24 AND sky.moon_alt < 0 ORDER BY BY_START",
    ),
    (
        "GEM.alt > 30 and moon.alt < 0 --count",
        "SELECT count(*) AS frames FROM derived_radiant r JOIN derived_sky sky ON sky.frame_id = r.frame_id
         WHERE r.shower_id = (SELECT shower_id FROM derived_shower WHERE code = 'GEM') AND r.stood >= 1080001 << 24 AND sky.moon_alt < 0",
    ),
    (
        "night = NIGHT",
        "SELECT file.name AS file, START FROM derived_time time FILE WHERE time.night_day = DAY ORDER BY BY_START",
    ),
    (
        "night = NIGHT and radiant.alt > 20",
        "SELECT file.name AS file, START FROM derived_time time CROSS JOIN derived_sky sky ON sky.frame_id = time.frame_id
         CROSS JOIN derived_radiant r ON r.shower_id = sky.shower_id AND r.frame_id = time.frame_id FILE
         WHERE time.night_day = DAY AND r.stood >= 720001 << 24 ORDER BY BY_START",
    ),
    (
        "night = NIGHT and PER.alt > 30",
        "SELECT file.name AS file, START FROM derived_time time
         CROSS JOIN derived_radiant r ON r.shower_id = (SELECT shower_id FROM derived_shower WHERE code = 'PER') AND r.frame_id = time.frame_id FILE
         WHERE time.night_day = DAY AND r.stood >= 1080001 << 24 ORDER BY BY_START",
    ),
    (
        "session = SESSION",
        "SELECT file.name AS file, START FROM derived_time time FILE WHERE time.night_day = (SELECT night_day FROM derived_session WHERE session_id = SESSION)
           AND time.session_id = SESSION ORDER BY BY_START",
    ),
    (
        "night in 2018..2019 and shower = PER",
        "SELECT file.name AS file, START FROM derived_radiant r JOIN derived_time time ON time.frame_id = r.frame_id FILE
         WHERE r.shower_id = (SELECT shower_id FROM derived_shower WHERE code = 'PER') AND time.night_day BETWEEN 17532 AND 18261 ORDER BY BY_START",
    ),
    (
        "start in 2019-08..2019-12 and (iso >= 6400 or aperture < 2)",
        "SELECT file.name AS file, START FROM derived_time time FILE
         WHERE time.start_ms BETWEEN 1564617600000 AND 1577836799999 AND (frame.iso >= 6400 OR frame.f_number_millionths < 2000000)
         ORDER BY BY_START",
    ),
    (
        "local in 2019-08-13T00:00..2019-08-13T03:00",
        "SELECT file.name AS file, START FROM derived_time time JOIN stated_site site ON site.site_id = time.site_id FILE
         WHERE time.start_ms BETWEEN 1565568000000 AND 1565751659999 AND time.start_ms + 1000 * (SELECT offset_s FROM zone_offset AS zone
           WHERE zone.zone = site.zone AND zone.from_ms <= time.start_ms ORDER BY zone.from_ms DESC LIMIT 1) BETWEEN 1565654400000 AND 1565665259999
         ORDER BY BY_START",
    ),
    (
        "local in 2019-08..2019-12 --count",
        "SELECT count(*) AS frames FROM derived_time time JOIN stated_site site ON site.site_id = time.site_id
         WHERE time.start_ms BETWEEN 1564531200000 AND 1577923199999 AND time.start_ms + 1000 * (SELECT offset_s FROM zone_offset AS zone
           WHERE zone.zone = site.zone AND zone.from_ms <= time.start_ms ORDER BY zone.from_ms DESC LIMIT 1) BETWEEN 1564617600000 AND 1577836799999",
    ),
    (
        "camera = 'Borealis K2 30417' and focal = 20",
        "SELECT file.name AS file, START FROM written_frame frame
         JOIN derived_time time ON time.frame_id = frame.frame_id
         JOIN written_file file ON file.file_id = frame.first_file_id
         WHERE frame.camera_id = (SELECT camera_id FROM written_camera WHERE name = 'Borealis K2 30417')
           AND ifnull((SELECT focal_mm FROM stated_focal told WHERE told.frame_id = frame.frame_id), frame.focal_mm)
               BETWEEN 19.999998 AND 20.000002 ORDER BY BY_START",
    ),
    (
        "sun.alt < -18 and moon.alt < 0 and exposure in 14..16",
        "SELECT file.name AS file, START FROM written_frame frame
         JOIN derived_sky sky ON sky.frame_id = frame.frame_id JOIN derived_time time ON time.frame_id = frame.frame_id
         JOIN written_file file ON file.file_id = frame.first_file_id
         WHERE sky.sun_alt < -648000 AND sky.moon_alt < 0 AND frame.exposure_s BETWEEN 14 AND 16
         ORDER BY BY_START",
    ),
    (
        "(PER.alt > 40 or GEM.alt > 40) and not (moon.lit > 0.5 or iso > 3200)",
        "SELECT file.name AS file, START FROM (SELECT frame_id FROM derived_radiant WHERE shower_id = (SELECT shower_id FROM derived_shower WHERE code = 'PER') AND stood >= 1440001 << 24
           UNION SELECT frame_id FROM derived_radiant WHERE shower_id = (SELECT shower_id FROM derived_shower WHERE code = 'GEM') AND stood >= 1440001 << 24) r
         JOIN derived_sky sky ON sky.frame_id = r.frame_id JOIN derived_time time ON time.frame_id = r.frame_id FILE
         WHERE sky.moon_lit_ppm <= 500000 AND frame.iso <= 3200 ORDER BY BY_START",
    ),
    (
        "GEM.alt > 30 or PER.alt > 30",
        "SELECT file.name AS file, START FROM (SELECT frame_id FROM derived_radiant WHERE shower_id =
             (SELECT shower_id FROM derived_shower WHERE code = 'GEM') AND stood >= 1080001 << 24
           UNION SELECT frame_id FROM derived_radiant WHERE shower_id =
             (SELECT shower_id FROM derived_shower WHERE code = 'PER') AND stood >= 1080001 << 24) r
         JOIN derived_time time ON time.frame_id = r.frame_id FILE ORDER BY BY_START",
    ),
    (
        "(GEM.alt > 30 or PER.alt > 30) and moon.alt < 0",
        "SELECT file.name AS file, START FROM (SELECT frame_id FROM derived_radiant WHERE shower_id =
             (SELECT shower_id FROM derived_shower WHERE code = 'GEM') AND stood >= 1080001 << 24
           UNION SELECT frame_id FROM derived_radiant WHERE shower_id =
             (SELECT shower_id FROM derived_shower WHERE code = 'PER') AND stood >= 1080001 << 24) r
         JOIN derived_sky sky ON sky.frame_id = r.frame_id JOIN derived_time time ON time.frame_id = r.frame_id FILE
         WHERE sky.moon_alt < 0 ORDER BY BY_START",
    ),
    (
        "shower = GEM and radiant.alt > 60",
        "SELECT file.name AS file, START FROM derived_radiant g CROSS JOIN derived_sky sky ON sky.frame_id = g.frame_id
         CROSS JOIN derived_radiant r ON r.shower_id = sky.shower_id AND r.frame_id = g.frame_id
         CROSS JOIN derived_time time ON time.frame_id = g.frame_id FILE
         WHERE g.shower_id = (SELECT shower_id FROM derived_shower WHERE code = 'GEM') AND r.stood >= 2160001 << 24 ORDER BY BY_START",
    ),
    (
        "file like 'NITE42??.*'",
        "SELECT file.name AS file, START FROM written_frame frame JOIN written_file file ON file.file_id = frame.first_file_id
         JOIN derived_time time ON time.frame_id = frame.frame_id
         WHERE file.name LIKE 'NITE42__.%' ORDER BY BY_START",
    ),
    (
        "site = 'Upper Fell' and kind = dark",
        "SELECT file.name AS file, START FROM derived_time time FILE
         WHERE time.site_id = (SELECT site_id FROM stated_site WHERE name = 'Upper Fell') AND time.kind_no = 1 AND time.kind_no IN (1, 2, 3)
         ORDER BY BY_START",
    ),
    (
        "moon.alt < 0 and GEM.alt is known --by 'GEM.alt desc' --limit 100",
        "SELECT file.name AS file, START FROM derived_radiant r JOIN derived_sky sky ON sky.frame_id = r.frame_id
         JOIN derived_time time ON time.frame_id = r.frame_id FILE
         WHERE r.shower_id = (SELECT shower_id FROM derived_shower WHERE code = 'GEM') AND sky.moon_alt < 0 ORDER BY r.stood >> 24 DESC, BY_START LIMIT 100",
    ),
    (
        "iso >= 3200 --limit 100",
        "SELECT file.name AS file, START FROM derived_time time INDEXED BY derived_time_start FILE
         WHERE time.start_ms IS NOT NULL AND frame.iso >= 3200 ORDER BY BY_START LIMIT 100",
    ),
    (
        "sun.alt < -18 and moon.lit < 25% --count",
        "SELECT count(*) AS frames FROM derived_sky sky WHERE sky.sun_alt < -648000 AND sky.moon_lit_ppm < 250000",
    ),
    (
        "night in 2019..2021 --count",
        "SELECT count(*) AS frames FROM derived_time WHERE night_day BETWEEN 17897 AND 18992",
    ),
    (
        "camera = 'Borealis K2 30417' --count",
        "SELECT count(*) AS frames FROM written_frame
         WHERE camera_id = (SELECT camera_id FROM written_camera WHERE name = 'Borealis K2 30417')",
    ),
    (" --count", "SELECT count(*) AS frames FROM written_frame"),
    (
        "GEM.alt > 30 --per night",
        "SELECT date(time.night_day * 86400, 'unixepoch') AS night, count(*) AS frames FROM derived_radiant r
         JOIN derived_time time ON time.frame_id = r.frame_id WHERE r.shower_id = (SELECT shower_id FROM derived_shower WHERE code = 'GEM') AND r.stood >= 1080001 << 24
         GROUP BY time.night_day ORDER BY time.night_day NULLS LAST",
    ),
    // Frames without a night or a session are counted too: all frames less those of the index.
    (
        " --per session",
        "WITH n AS MATERIALIZED (SELECT session_id, sum(frames) AS frames FROM (SELECT night_day, session_id, count(*) AS frames
             FROM derived_time WHERE night_day IS NOT NULL GROUP BY 1, 2) GROUP BY 1)
         SELECT session_id AS session, frames FROM n WHERE session_id IS NOT NULL UNION ALL SELECT NULL, rest FROM
             (SELECT (SELECT count(*) FROM derived_time) - sum(frames) AS rest FROM n WHERE session_id IS NOT NULL)
         WHERE rest > 0",
    ),
    (
        " --per year",
        "WITH n AS MATERIALIZED (SELECT night_day, count(*) AS frames FROM derived_time WHERE night_day IS NOT NULL GROUP BY 1)
         SELECT strftime('%Y', night_day * 86400, 'unixepoch') AS year, sum(frames) AS frames FROM n GROUP BY 1
         UNION ALL SELECT NULL, rest FROM (SELECT (SELECT count(*) FROM derived_time) - sum(frames) AS rest FROM n)
         WHERE rest > 0",
    ),
    (
        " --per site",
        "SELECT name AS site, n AS frames FROM (SELECT site_id, count(*) AS n FROM derived_time GROUP BY 1)
         LEFT JOIN stated_site USING (site_id) ORDER BY 1 NULLS LAST",
    ),
    (
        " --per camera",
        "SELECT name AS camera, n AS frames FROM (SELECT camera_id, count(*) AS n FROM written_frame GROUP BY 1)
         LEFT JOIN written_camera USING (camera_id) ORDER BY 1 NULLS LAST",
    ),
    (
        " --per shower",
        "SELECT one.value AS shower, sum(n) AS frames FROM (SELECT active_id, count(*) AS n FROM derived_sky GROUP BY 1)
         JOIN derived_active active USING (active_id),
         json_each('[\"' || replace(active.showers, ' ', '\",\"') || '\"]') one GROUP BY 1 ORDER BY 1",
    ),
];

impl Question {
    /// The question about this archive.
    pub fn of(words: &str, sql: &str, db: &rusqlite::Connection) -> Self {
        let (night, day, session) = db
            .query_row(
                "SELECT date(night_day * 86400, 'unixepoch') AS night, night_day, session_id FROM derived_session
                 ORDER BY (night LIKE '2019-08-1%' OR night LIKE '2018-08-1%') DESC, frames DESC, session_id LIMIT 1",
                [],
                |row| {
                    let night: String = row.get(0)?;
                    let (day, session): (i64, i64) = (row.get(1)?, row.get(2)?);
                    Ok((night, day.to_string(), session.to_string()))
                },
            )
            .expect("a session");
        let text = words.replace("NIGHT", &night).replace("SESSION", &session);
        let sql = sql
            .replace("BY_START", BY_START)
            .replace("START", START)
            .replace("DAY", &day)
            .replace("SESSION", &session)
            .replace(
                "FILE",
                "CROSS JOIN written_frame frame ON frame.frame_id = time.frame_id
                 CROSS JOIN written_file file ON file.file_id = frame.first_file_id",
            );
        let form = match (text.contains(" --count"), text.split_once(" --per ")) {
            (true, _) => Form::Count,
            (_, None) => Form::Rows,
            (_, Some((_, key))) => Form::Per(match key {
                "session" => Per::Session,
                "night" => Per::Night,
                "year" => Per::Year,
                "site" => Per::Site,
                "camera" => Per::Camera,
                _ => Per::Shower,
            }),
        };
        Self { text, sql, form }
    }

    /// The query.
    pub fn query(&self) -> &str {
        self.text.split(" --").next().unwrap_or("").trim()
    }

    /// What the rows are ordered by.
    pub fn by(&self) -> Option<&str> {
        self.text.split_once("--by '")?.1.split('\'').next()
    }

    /// At most so many rows.
    pub fn limit(&self) -> Option<u64> {
        let (_, behind) = self.text.split_once("--limit ")?;
        behind.split(' ').next()?.parse().ok()
    }
}
