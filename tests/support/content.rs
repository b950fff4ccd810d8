//! Everything that a catalogue holds, table by table, rows that are only numbers for words looked up.

use std::collections::BTreeMap;
use std::path::Path;

use rusqlite::Connection;
use rusqlite::types::Value;

/// How each derived table is compared. Rows that many frames share are compared by what they stand for and where they are in
/// use: their numbers are given in the order in which they are met.
pub const DERIVED: &[(&str, &str)] = &[
    (
        "derived_time",
        "SELECT time.frame_id, start_ms, time_basis_no, time_error_ms, site_id, lat_deg, lon_deg, elev_m, place_basis_no, night_day,
                session_id, seq, kind_no, words, turn, turn_basis, formulas, shower_table, program
         FROM derived_time AS time JOIN derived_maker USING (maker_id) LEFT JOIN derived_evidence USING (evidence_id)",
    ),
    (
        "derived_sky",
        "SELECT frame_id, sun_alt, moon_alt, moon_az, moon_lit_ppm, lst, solar_lon, strongest.code, main.code, showers
         FROM derived_sky AS sky LEFT JOIN derived_shower AS strongest USING (shower_id)
         LEFT JOIN derived_shower AS main ON main.shower_id = main_shower_id LEFT JOIN derived_active USING (active_id)",
    ),
    (
        "derived_radiant",
        "SELECT code, frame_id, stood, seen, moon_sep, rates FROM derived_radiant LEFT JOIN derived_shower USING (shower_id)",
    ),
    (
        "derived_pointing",
        "SELECT frame_id, round(alt_deg, 9), round(az_deg, 9), round(roll_deg, 9) FROM derived_pointing",
    ),
    (
        "derived_in_picture",
        "SELECT code, frame_id, round(x_px, 6), round(y_px, 6), round(seen_x_px, 6), round(seen_y_px, 6), in_picture
         FROM derived_in_picture JOIN derived_shower USING (shower_id)",
    ),
    ("derived_trail", "SELECT * FROM derived_trail"),
    ("derived_finding", "SELECT * FROM derived_finding"),
    ("derived_session", "SELECT * FROM derived_session"),
    (
        "derived_maker",
        "SELECT program, formulas, shower_table, frames FROM derived_maker WHERE frames > 0",
    ),
    (
        "derived_shower",
        "SELECT code FROM derived_shower WHERE shower_id IN (SELECT shower_id FROM derived_sky UNION SELECT main_shower_id FROM derived_sky)
           OR shower_id IN (SELECT shower_id FROM derived_radiant)",
    ),
    (
        "derived_active",
        "SELECT showers FROM derived_active WHERE active_id IN (SELECT active_id FROM derived_sky)",
    ),
    (
        "derived_evidence",
        "SELECT words FROM derived_evidence WHERE evidence_id IN (SELECT evidence_id FROM derived_time)",
    ),
    (
        "derived_day",
        "SELECT day, showers FROM derived_day JOIN derived_active AS active USING (active_id)
         WHERE EXISTS (SELECT 1 FROM derived_time JOIN derived_sky AS sky USING (frame_id)
                       WHERE start_ms / 86400000 = day AND sky.active_id = active.active_id)",
    ),
];

/// The log is compared without random values and times.
const LOG: &[(&str, &str)] = &[(
    "stated_log",
    "SELECT number, stated_ms IS NULL, word_id, content, takes_back FROM stated_log",
)];

/// The rows of every table, as text, in their order.
pub fn content(catalogue: &Path) -> BTreeMap<String, Vec<String>> {
    let db = Connection::open(catalogue).unwrap();
    let tables: Vec<String> = db
        .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%' AND name <> 'catalogue_generation'")
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    let mut found = BTreeMap::new();
    for table in tables {
        let plain = format!("SELECT * FROM {table}");
        let known = DERIVED.iter().chain(LOG).find(|(name, _)| *name == table);
        assert!(
            known.is_some() || !table.starts_with("derived_"),
            "nothing says how {table} is compared"
        );
        let mut read = db.prepare(known.map_or(&plain, |(_, sql)| sql)).unwrap();
        let columns = read.column_count();
        let mut rows: Vec<String> = read
            .query_map([], |row| {
                let cells: rusqlite::Result<Vec<Value>> =
                    (0..columns).map(|i| row.get(i)).collect();
                Ok(format!("{:?}", cells?))
            })
            .unwrap()
            .map(Result::unwrap)
            .collect();
        rows.sort();
        found.insert(table, rows);
    }
    found
}

/// The first table in which two differ, with the first rows that only one of them has.
pub fn first_difference(
    one: &BTreeMap<String, Vec<String>>,
    other: &BTreeMap<String, Vec<String>>,
) -> Option<String> {
    one.iter().find_map(|(table, rows)| {
        let there = &other[table];
        let only = |a: &[String], b: &[String]| -> Vec<String> {
            a.iter()
                .filter(|row| !b.contains(row))
                .take(2)
                .cloned()
                .collect()
        };
        (rows != there).then(|| {
            format!(
                "{table}: {} rows and {}, only here {:?}, only there {:?}",
                rows.len(),
                there.len(),
                only(rows, there),
                only(there, rows)
            )
        })
    })
}
