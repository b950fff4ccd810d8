//! Answers to a query other than rows: counts by a key, how it is answered; and saved queries.

use crate::catalogue::count::Per;
use crate::catalogue::explain::Explained;
use crate::catalogue::explain::Served;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::select::Order;
use crate::catalogue::select::Way;
use crate::query;
use crate::query::Checked;
use crate::query::Compiled;
use crate::query::ListUse;
use crate::query::Sorting;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::field::Field;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind::Instant;
use crate::terms::field_kind::FieldKind::Text;
use crate::terms::field_kind::FieldKind::Whole;
use crate::terms::field_kind::Unit;
use crate::terms::predicate::SqlValue;
use crate::terms::records::Cell;
use crate::terms::sheet::Sheet;
use crate::terms::statement::Act;
use crate::terms::time::Utc;
use crate::usecase::listings::frames::compile;
use crate::usecase::listings::frames::shower_codes;
use crate::usecase::statements::state::state_alone;

const FRAMES: Field = sheet_column("frames", "frames", Whole(Unit::One), 0);
const ALL: &[Field] = &[FRAMES];
const PER_SESSION: &[Field] = &[
    sheet_column("session", "session", Whole(Unit::One), 0),
    FRAMES,
];
const PER_NIGHT: &[Field] = &[sheet_column("night", "night", Text, 0), FRAMES];
const PER_YEAR: &[Field] = &[sheet_column("year", "year", Text, 0), FRAMES];
const PER_SITE: &[Field] = &[sheet_column("site", "site", Text, 0), FRAMES];
const PER_CAMERA: &[Field] = &[sheet_column("camera", "camera", Text, 0), FRAMES];
const PER_KIND: &[Field] = &[sheet_column("kind", "kind", Text, 0), FRAMES];
const PER_SHOWER: &[Field] = &[sheet_column("shower", "shower", Text, 0), FRAMES];

const SAVED: &[Field] = &[
    sheet_column("name", "name", Text, 0),
    sheet_column("query", "query", Text, 0),
    sheet_column("saved", "saved_utc", Instant, 0),
];

const EXPLAINED: &[Field] = &[
    sheet_column("part", "part", Text, 0),
    sheet_column("index", "index", Text, 0),
    sheet_column("text", "text", Text, 0),
];

/// Shown if a step reads every row of a table.
pub const EVERY_ROW: &str = "none: every row is read";

/// Reads what a person calls a night: a date.
pub fn night_named(words: &str) -> Option<String> {
    let words = words.trim();
    Utc::parse(&format!("{words}T00:00:00Z"))?;
    (words.len() == 10).then(|| words.to_owned())
}

/// The query for the frames of a night (its date) or of a session (its number); nothing where the words are a query themselves.
pub fn query_of_night_or_session(of: &str) -> Option<String> {
    let session = || of.trim().parse::<u32>().ok();
    night_named(of)
        .map(|night| format!("night = {night}"))
        .or_else(|| session().map(|session| format!("session = {session}")))
}

/// Whether a query's text needs a catalogue to be parsed: it names saved queries.
pub fn names_saved_queries(text: &str) -> bool {
    query::names_saved_queries(text)
}

/// Checks a query's text, which may name saved queries.
pub fn compile_with_names(catalogue: &Catalogue, text: &str) -> Result<Compiled, Failure> {
    compile(&whole_text(catalogue, text)?)
}

/// A query's text with its saved queries expanded.
pub fn whole_text(catalogue: &Catalogue, text: &str) -> Result<String, Failure> {
    if !names_saved_queries(text) {
        return Ok(text.to_owned());
    }
    let names: Vec<String> = catalogue
        .saved_queries()?
        .into_iter()
        .map(|saved| saved.name)
        .collect();
    query::expand(text, &names, &mut |name| catalogue.saved_query(name))
}

/// Columns to show, from their list.
pub fn columns(list: &str) -> Result<Vec<ColumnSource>, Failure> {
    let listed = query::field_list(list, ListUse::Show, &shower_codes())?;
    Ok(listed.into_iter().map(|one| one.source).collect())
}

/// Sort keys, from their list.
pub fn order(list: &str) -> Result<Vec<Order>, Failure> {
    let listed = query::field_list(list, ListUse::Order, &shower_codes())?;
    let ways = listed.into_iter().map(|one| Order {
        source: one.source,
        way: match one.order {
            Sorting::Up => Way::Up,
            Sorting::Down => Way::Down,
        },
    });
    Ok(ways.collect())
}

/// How many frames match a query, in all or by a key; and the sum.
pub fn count(
    catalogue: &Catalogue,
    compiled: &Compiled,
    per: Option<Per>,
) -> Result<(Sheet, u64), Failure> {
    let Some(per) = per else {
        let count = catalogue.count(&compiled.tree)?;
        let cell = Cell::Whole(i64::try_from(count).unwrap_or(i64::MAX));
        let sheet = Sheet {
            columns: ALL,
            rows: vec![vec![cell]],
            when_empty: "",
        };
        return Ok((sheet, count));
    };
    let counts = catalogue.count_per(&compiled.tree, per)?;
    let sum = counts.iter().map(|(_, frames)| frames.unsigned_abs()).sum();
    let sheet = Sheet {
        columns: match per {
            Per::Session => PER_SESSION,
            Per::Night => PER_NIGHT,
            Per::Year => PER_YEAR,
            Per::Site => PER_SITE,
            Per::Camera => PER_CAMERA,
            Per::Kind => PER_KIND,
            Per::Shower => PER_SHOWER,
        },
        rows: counts
            .into_iter()
            .map(|(key, frames)| vec![key, Cell::Whole(frames)])
            .collect(),
        when_empty: "no frames",
    };
    Ok((sheet, sum))
}

/// How a query is answered: its SQL, its values, each step and the index that it uses.
pub fn explained(explained: Explained) -> Sheet {
    let text = |text: &str| Cell::Text(text.to_owned());
    let mut rows: Vec<Vec<Cell>> = explained
        .sql
        .split(";\n")
        .map(|one| vec![text("SQL"), Cell::Unknown, text(one)])
        .collect();
    for (at, value) in explained.values.iter().enumerate() {
        let value = match value {
            SqlValue::Text(words) => format!("'{}'", words.replace('\'', "''")),
            SqlValue::Whole(whole) => whole.to_string(),
            SqlValue::Number(number) => format!("{number:?}"),
        };
        rows.push(vec![
            Cell::Text(format!("value {}", at + 1)),
            Cell::Unknown,
            Cell::Text(value),
        ]);
    }
    for (at, step) in explained.steps.into_iter().enumerate() {
        let index = match step.served {
            Served::Index(name) => Cell::Text(name),
            Served::Key => text("the table's key"),
            Served::EveryRow => text(EVERY_ROW),
            Served::NoTable => Cell::Unknown,
        };
        rows.push(vec![
            Cell::Text(format!("step {}", at + 1)),
            index,
            Cell::Text(step.words),
        ]);
    }
    Sheet {
        columns: EXPLAINED,
        rows,
        when_empty: "",
    }
}

/// Saves a query under a name, with names in it expanded; returns whether another had the name before.
///
/// Refuses: a name of other letters than `a-z`, `0-9`, `-`, `_`; a query that would be refused, or is empty.
pub fn save_query(
    catalogue: &mut Catalogue,
    name: &str,
    text: &str,
    now: Utc,
) -> Result<bool, Failure> {
    let name = name.strip_prefix('@').unwrap_or(name);
    if !query::can_be_a_name(name) {
        let message = "a query's name is made of letters from A to Z, digits, - and _";
        return Err(Failure::words(message).hint(format!(
            "at most {} of them, such as dark-moon",
            query::LONGEST_NAME
        )));
    }
    let whole = whole_text(catalogue, text)?;
    let compiled = compile(&whole)?;
    if compiled.tree == Checked::Every {
        let message = "a query that matches every frame needs no name";
        return Err(Failure::words(message).hint("write its conditions"));
    }
    let replaced = catalogue.saved_query(name)?.is_some();
    let saved = Act::Query(name.to_owned(), whole.trim().to_owned(), Some(now));
    state_alone(catalogue, &saved)?;
    Ok(replaced)
}

/// Removes a saved query.
///
/// Refuses: a name that is not saved.
pub fn forget_query(catalogue: &mut Catalogue, name: &str) -> Result<(), Failure> {
    let name = name.strip_prefix('@').unwrap_or(name);
    if catalogue.saved_query(name)?.is_some() {
        return state_alone(catalogue, &Act::QueryRemoval(name.to_owned()));
    }
    Err(Failure::words(format!("no query is saved as {name}"))
        .hint("framefall query list lists the saved queries"))
}

/// The saved queries.
pub fn saved_queries(catalogue: &Catalogue) -> Result<Sheet, Failure> {
    let saved = catalogue.saved_queries()?.into_iter();
    Ok(Sheet {
        columns: SAVED,
        rows: saved
            .map(|one| {
                vec![
                    Cell::Text(one.name),
                    Cell::Text(one.query),
                    Cell::Text(one.saved_utc),
                ]
            })
            .collect(),
        when_empty: "no queries saved yet: framefall query save NAME 'QUERY'",
    })
}
