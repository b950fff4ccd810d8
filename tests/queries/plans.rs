//! No question of the language, no statement of an ingest or a report walks through every frame where an index should
//! serve: SQLite's own plans, on a catalogue that it takes for a large one.
#![allow(clippy::unwrap_used)] // Tests may panic.

use crate::archive;
use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::sync::OnceLock;

use framefall::catalogue::explain::Explained;
use framefall::catalogue::explain::Served;
use framefall::catalogue::explain::Step;
use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use framefall::catalogue::select::Ask;
use framefall::catalogue::select::Detail;
use framefall::usecase::listings::answers;
use framefall::usecase::listings::frames::compile;
use rusqlite::Connection;

/// Frames of the catalogue under test, and how many times larger SQLite is made to think it.
const FRAMES: usize = 3_000;
const LARGER: i64 = 1_000;

/// Tables with a row a frame, or more.
const LARGE: &[&str] = &[
    "written_frame",
    "written_file",
    "derived_time",
    "derived_sky",
    "derived_radiant",
    "measured_look",
];

/// A catalogue of many nights, as far as SQLite can tell.
fn large() -> &'static Path {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("query-plans.sqlite");
        fs::copy(archive::archive(FRAMES), &path).unwrap();
        let db = Connection::open(&path).unwrap();
        let rows: Vec<(i64, String)> = db
            .prepare("SELECT rowid, stat FROM sqlite_stat1")
            .unwrap()
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        for (row, stat) in rows {
            let (count, rest) = stat.split_once(' ').unwrap_or((&stat, ""));
            let count = count.parse::<i64>().unwrap() * LARGER;
            db.execute(
                "UPDATE sqlite_stat1 SET stat = ?2 WHERE rowid = ?1",
                (row, format!("{count} {rest}")),
            )
            .unwrap();
        }
        path
    })
}

/// How a question is answered, file and start shown.
fn explained(query: &str, limit: Option<u64>) -> Explained {
    let catalogue = Catalogue::open(large(), Purpose::Read).unwrap();
    let compiled = compile(query).unwrap();
    let columns = answers::columns("file,start").unwrap();
    catalogue
        .explain(&Ask {
            query: &compiled.tree,
            columns: &columns,
            detail: Detail::Columns,
            order: &[],
            limit,
        })
        .unwrap()
}

/// What serves each step that reads a table.
fn served(query: &str, limit: Option<u64>) -> Vec<Served> {
    let steps = explained(query, limit).steps.into_iter();
    let tables = steps.map(|step| step.served);
    tables.filter(|one| *one != Served::NoTable).collect()
}

/// The steps that walk through every row of a large table.
fn walks_of(query: &str) -> Vec<String> {
    let explained = explained(query, None);
    let names = names(&explained.sql);
    let steps = explained.steps.into_iter().map(|step| step.words);
    steps.filter(|words| walks(words, &names)).collect()
}

#[test]
fn a_question_begins_where_its_words_lead() {
    let index = |name: &str| Served::Index(name.to_owned());
    for (query, first) in [
        ("night = 2018-08-12", index("derived_time_night")),
        (
            "night in 2018-08-01..2018-08-20",
            index("derived_time_night"),
        ),
        (
            "night = 2018-08-12 and PER.alt > 30",
            index("derived_time_night"),
        ),
        (
            "night = 2018-08-12 and radiant.alt > 20",
            index("derived_time_night"),
        ),
        (
            "shower = PER and night = 2018-08-12",
            index("derived_time_night"),
        ),
        ("session = 3", index("derived_time_night")),
        (
            "session in (3, 4) and moon.alt < 0",
            index("derived_time_night"),
        ),
        ("start = 2019-08-13", index("derived_time_start")),
        (
            "start in 2019-08..2019-12 and iso >= 6400",
            index("derived_time_start"),
        ),
        ("local = 2019-08-13", index("derived_time_start")),
        (
            "local in (2019-08-13, 2019-08-15)",
            index("derived_time_start"),
        ),
        (
            "local in 2019-08..2019-12 and iso >= 6400",
            index("derived_time_start"),
        ),
        ("clock = 2019-08-13T22:31", index("written_frame_clock")),
        ("kind = dark", index("derived_time_calibration")),
        (
            "site = 'Upper Fell' and kind in (flat, bias)",
            index("derived_time_calibration"),
        ),
        (
            "PER.alt > 30 and kind = dark",
            index("derived_time_calibration"),
        ),
        ("GEM.alt > 30 and moon.alt < 0", Served::Key),
        ("GEM.alt > 30 and not iso > 3200", Served::Key),
        ("shower = GEM and radiant.alt > 60", Served::Key),
        ("night in 2018..2019 and shower = PER", Served::Key),
        ("shower in (PER, GEM) and kind = light", Served::Key),
        (
            "(PER.alt > 40 or GEM.alt > 40) and moon.lit < 0.5",
            Served::Key,
        ),
    ] {
        // Behind the walks through a shower's first days, which end with the first rows.
        let steps = explained(query, None).steps;
        let last = steps.last().unwrap().select;
        let (rest, opening): (Vec<Step>, _) = steps.into_iter().partition(|s| s.select == last);
        let begins = |steps: &[Step]| {
            let mut served = steps.iter().map(|step| step.served.clone());
            served.find(|one| *one != Served::NoTable)
        };
        assert_eq!(begins(&rest), Some(first), "{query}: {rest:?}");
        assert!(
            begins(&opening).is_none_or(|s| s == index("derived_time_start")),
            "{query}: {opening:?}"
        );
        let walks = walks_of(query);
        assert!(walks.is_empty(), "{query}: {walks:?}");
    }
}

#[test]
fn one_index_finds_a_session_in_its_night_and_frames_in_it() {
    let steps = explained("session = 12 and seq <= 10", None).steps;
    let step =
        "SEARCH time USING INDEX derived_time_night (night_day=? AND session_id=? AND seq<?)";
    assert!(steps.iter().any(|one| one.words == step), "{steps:#?}");
}

#[test]
fn a_few_frames_of_all_are_taken_in_the_order_of_their_starts() {
    let walk = Served::Index("derived_time_start".to_owned());
    assert_eq!(served("", Some(10))[0], walk);
    assert_eq!(served("iso >= 3200", Some(10))[0], walk);
    assert_eq!(served("", None)[0], walk);
}

#[test]
fn what_no_index_serves_is_seen_to_walk() {
    for query in ["iso >= 3200", "file like 'NITE42??.*'", "sun.alt < -18"] {
        let walks = walks_of(query);
        assert_eq!(walks.len(), 1, "{query}: {walks:?}");
    }
}

/// Statements that walk through every row of a large table, and why they may. Each is known by words that no other has.
#[rustfmt::skip] // a row a statement
const WALKS: &[(&str, &str)] = &[
    ("FROM written_frame ORDER BY frame_id", "every frame is derived anew"),
    ("FROM derived_time WHERE site_id = ?1", "a site is moved or removed; an index would cost every frame ten bytes"),
    ("UPDATE derived_time SET site_id = NULL", "a site is removed"),
    ("count(DISTINCT time.night_day)", "a list of bodies counts the frames of each"),
    ("DELETE FROM stated_site", "a site is removed: its foreign keys are checked"),
    ("abs(lat_deg - ?1) <= ?2", "a site is moved: which frames' own positions lie near"),
    ("ORDER BY folder.dump_id, folder.path, file.name", "an audit of a body's clock reads every frame of it"),
    ("= '01-01' GROUP BY clock_s / 86400", "an audit looks for the first of January"),
    ("clock_s NOT BETWEEN ?2 AND ?2 + 86399", "an audit that found a first of January"),
    ("WHERE session.night_day <> time.night_day", "every frame is derived anew"),
    ("FROM derived_time WHERE maker_id = ? ORDER BY frame_id LIMIT 1", "an audit of stale rows, which ends at the first of them"),
    ("INSERT INTO derived_maker", "its foreign key is looked at only while another is broken, and none ever is"),
    ("BETWEEN place.first_frame AND place.last_frame WHERE place.site_id = ?", "statements of an earlier version are taken over"),
    ("DELETE FROM written_frame", "a changed file has left the frame that was its own: its foreign key is checked"),
];

#[test]
fn no_statement_walks_through_every_frame_but_those_that_must() {
    let db = Connection::open(large()).unwrap();
    let mut walking = BTreeSet::new();
    let (mut seen, mut wrong) = (0, Vec::new());
    for (file, sql) in statements() {
        let plan = db.prepare(&format!("EXPLAIN QUERY PLAN {sql}"));
        let (Ok(mut plan), false) = (plan, file == "integrity.rs") else {
            continue;
        };
        seen += 1;
        let marks = plan.parameter_count();
        let steps: Vec<String> = plan
            .query_map(rusqlite::params_from_iter(vec![0; marks]), |row| row.get(3))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        let names = names(&sql);
        for step in steps.iter().filter(|step| walks(step, &names)) {
            match WALKS.iter().position(|(words, _)| sql.contains(words)) {
                Some(at) => {
                    walking.insert(at);
                }
                None => wrong.push(format!("{file}: {step}: {sql}")),
            }
        }
    }
    assert!(wrong.is_empty(), "{}\n{wrong:#?}", wrong.len());
    assert!(
        seen > 100,
        "only {seen} statements were found in the sources"
    );
    let idle: Vec<&(&str, &str)> = (0..WALKS.len())
        .filter(|at| !walking.contains(at))
        .map(|at| &WALKS[at])
        .collect();
    assert!(idle.is_empty(), "these walk no more: {idle:#?}");
}

/// Whether a step walks through every row of a large table. Source: "EXPLAIN QUERY PLAN", sqlite.org/eqp.html.
fn walks(step: &str, names: &BTreeMap<String, String>) -> bool {
    let mut words = step.split(' ');
    let scan = words.next() == Some("SCAN");
    let name = words.next().unwrap_or("");
    let table = names.get(name).map_or(name, String::as_str);
    scan && LARGE.contains(&table)
}

#[test]
fn a_walk_is_told_from_a_search() {
    let names =
        names("SELECT 1 FROM derived_time AS time JOIN stated_site AS site USING (site_id)");
    assert!(walks("SCAN time", &names));
    assert!(walks(
        "SCAN time USING COVERING INDEX derived_time_night",
        &names
    ));
    assert!(!walks("SCAN site", &names));
    assert!(!walks(
        "SEARCH time USING INTEGER PRIMARY KEY (rowid=?)",
        &names
    ));
}

/// The tables of a statement by the names it gives them.
fn names(sql: &str) -> BTreeMap<String, String> {
    let words: Vec<&str> = sql
        .split(|c: char| c.is_whitespace() || c == '(' || c == ')' || c == ',')
        .filter(|word| !word.is_empty())
        .collect();
    let mut names = BTreeMap::new();
    for at in words.windows(4) {
        if let [before, table, "AS", alias] = at
            && ["FROM", "JOIN", "UPDATE", "INTO"].contains(before)
        {
            names.insert((*alias).to_owned(), (*table).to_owned());
        }
    }
    names
}

/// The SQL statements in the catalogue's sources, with constants written out; those composed at run time are completed
/// with the pieces named here.
fn statements() -> Vec<(String, String)> {
    let pieces = [
        ("{}", "time.night_day = ?1"),
        ("{PATH_COLUMN}", "file.name"),
    ];
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/catalogue");
    let mut found = Vec::new();
    let sources: Vec<(PathBuf, String)> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .map(|path| (path.clone(), fs::read_to_string(path).unwrap()))
        .collect();
    let of_all: Vec<(String, String)> = sources
        .iter()
        .flat_map(|(_, text)| constants(text))
        .collect();
    for (path, text) in sources {
        let file = path.file_name().unwrap().to_string_lossy().into_owned();
        if file.ends_with("_tests.rs") {
            continue;
        }
        let constants = constants(&text);
        for literal in literals(&text) {
            let mut sql = literal;
            // A source's own come before those of others.
            for (name, value) in constants.iter().chain(&of_all) {
                sql = sql.replace(&format!("{{{name}}}"), value);
            }
            for (hole, piece) in pieces {
                sql = sql.replace(hole, piece);
            }
            let verb = sql.split_whitespace().next().unwrap_or("").to_owned();
            if ["SELECT", "UPDATE", "DELETE", "INSERT", "WITH"].contains(&verb.as_str()) {
                found.push((file.clone(), sql));
            }
        }
    }
    found
}

/// `const NAME: &str = "..."` of a source.
fn constants(text: &str) -> Vec<(String, String)> {
    text.split("const ")
        .skip(1)
        .filter_map(|part| {
            let (name, rest) = part.split_once(": &str")?;
            let value = literals(rest.split_once('=')?.1).into_iter().next()?;
            Some((name.to_owned(), value))
        })
        .collect()
}

/// The string literals of a source.
fn literals(text: &str) -> Vec<String> {
    let code: String = text
        .lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .flat_map(|line| [line, "\n"])
        .collect();
    let mut found = Vec::new();
    let mut chars = code.chars();
    while let Some(c) = chars.next() {
        if c == '\'' {
            // A character: '"' opens no string.
            let mut ahead = chars.clone();
            if ahead.next() == Some('"') && ahead.next() == Some('\'') {
                chars = ahead;
            }
        } else if c == '"' {
            let mut literal = String::new();
            while let Some(c) = chars.next() {
                match c {
                    '"' => break,
                    '\\' => match chars.next() {
                        Some('\n') | None => {}
                        Some(escaped) => literal.push(escaped),
                    },
                    other => literal.push(other),
                }
            }
            found.push(literal);
        }
    }
    found
}
