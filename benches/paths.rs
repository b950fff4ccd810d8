//! The special paths of the planner, each with a query that takes it and plain SQL for the same answer: every table of the
//! condition joined in turn, the condition as it is written, the rest left to SQLite.

use std::fmt::Write as _;

use framefall::query::predicate;
use framefall::terms::field_kind::Table;
use framefall::terms::predicate::STRONGEST_ALIAS;
use framefall::terms::predicate::SqlValue;
use framefall::terms::predicate::radiant_alias;
use framefall::terms::predicate::shower_number;
use framefall::usecase::listings::frames::compile;

/// The path, and the arguments of `framefall frames`, as in the questions.
pub const PATHS: &[(&str, &str)] = &[
    ("a radiant drives", "GEM.alt > 30 and moon.alt < 0"),
    (
        "a radiant drives, another order",
        "moon.alt < 0 and GEM.alt is known --by 'GEM.alt desc' --limit 100",
    ),
    (
        "the first days by start",
        "GEM.alt > 30 and moon.alt < 0 --first",
    ),
    (
        "a union of radiants drives",
        "(GEM.alt > 30 or PER.alt > 30) and moon.alt < 0",
    ),
    (
        "an active shower is a union",
        "shower = GEM and radiant.alt > 60",
    ),
    (
        "few frames before a radiant",
        "night = NIGHT and PER.alt > 30",
    ),
    (
        "a long stretch of time drives",
        "start in 2018..2021 and moon.alt < 0 --first",
    ),
    ("the night of a session", "session = SESSION"),
    ("the index of calibration frames", "kind = dark --count"),
    ("shared rows asked once", "lens like '*14mm*' --count"),
    (
        "shared rows asked once, one name",
        "camera = 'Borealis K2 30417' and focal = 20",
    ),
    ("a few by their starts", "iso >= 3200 --limit 100"),
    ("all by their starts", " --first"),
    ("counts by an index", " --per year"),
];

/// How frames are counted by night or session without an index that has both.
const PLAIN_COUNTS: &str = "SELECT night_day, count(*) FROM (SELECT night_day, maker_id FROM derived_time) GROUP BY strftime('%Y', night_day * 86400, 'unixepoch')";

/// The plain SQL of a question, with its values written out.
pub fn plain(query: &str, words: &str) -> String {
    if words.contains("--per") {
        return PLAIN_COUNTS.to_owned();
    }
    let tree = compile(query).expect("a query").tree;
    let condition = predicate(&tree);
    let mut from =
        "written_frame AS frame LEFT JOIN derived_time AS time ON time.frame_id = frame.frame_id \
                    LEFT JOIN written_file AS file ON file.file_id = frame.first_file_id"
            .to_owned();
    for (table, join) in [
        (
            Table::Camera,
            "written_camera AS camera ON camera.camera_id = frame.camera_id",
        ),
        (
            Table::Lens,
            "written_lens AS lens ON lens.lens_id = frame.lens_id",
        ),
        (
            Table::Sky,
            "derived_sky AS sky ON sky.frame_id = frame.frame_id",
        ),
    ] {
        if condition.tables.contains(&table) || (table == Table::Sky && query.contains("shower")) {
            from += " LEFT JOIN ";
            from += join;
        }
    }
    let named = condition.showers.iter();
    let named = named.map(|shower| (radiant_alias(*shower), shower_number(*shower)));
    let strongest = condition.tables.contains(&Table::Radiant);
    let strongest = strongest.then(|| (STRONGEST_ALIAS.to_owned(), "sky.shower_id".to_owned()));
    for (alias, number) in named.chain(strongest) {
        let _ = write!(
            from,
            " LEFT JOIN derived_radiant AS {alias} ON {alias}.shower_id = {number} AND {alias}.frame_id = frame.frame_id"
        );
    }
    let mut holds = condition.sql;
    for value in condition.values {
        let value = match value {
            SqlValue::Text(text) => format!("'{}'", text.replace('\'', "''")),
            SqlValue::Whole(whole) => whole.to_string(),
            SqlValue::Number(number) => number.to_string(),
        };
        holds = holds.replacen('?', &value, 1);
    }
    if holds.is_empty() {
        holds.push('1');
    }
    if words.contains("--count") {
        return format!("SELECT count(*) AS frames FROM {from} WHERE {holds}");
    }
    let by = if words.contains("--by") {
        "r_GEM.alt_deg DESC NULLS LAST, "
    } else {
        ""
    };
    let limit = if words.contains("--limit") {
        " LIMIT 100"
    } else {
        ""
    };
    format!(
        "SELECT file.name AS file, START FROM {from} WHERE {holds} ORDER BY {by}time.start_ms NULLS LAST, \
         frame.clock_s NULLS LAST, frame.clock_fraction, frame.frame_id{limit}"
    )
}
