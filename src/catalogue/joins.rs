//! FROM and WHERE of a condition: which tables are joined, and in which order. Runs nothing.

use std::collections::BTreeSet;
use std::fmt::Write;

use crate::catalogue::stretch::Stretch;
use crate::terms::column::ColumnSource;
use crate::terms::field_kind::Table;
use crate::terms::field_sql::SHOWER_NUMBER;
use crate::terms::predicate::Lead;
use crate::terms::predicate::STRONGEST_ALIAS;
use crate::terms::predicate::SqlPredicate;
use crate::terms::predicate::radiant_alias;
use crate::terms::predicate::shower_number;
use crate::terms::shower::ShowerCode;

/// The alias of the frames that a lead's own SELECT finds.
pub(super) const HIT: &str = "hit";

/// The tables that hang on a row of a frame, and how each joins on. A table stands after those it needs.
const JOINS: &[(Table, &str)] = &[
    (
        Table::Camera,
        "LEFT JOIN written_camera AS camera ON camera.camera_id = frame.camera_id",
    ),
    (
        Table::Lens,
        "LEFT JOIN written_lens AS lens ON lens.lens_id = frame.lens_id",
    ),
    (
        Table::File,
        "LEFT JOIN written_file AS file ON file.file_id = frame.first_file_id",
    ),
    (
        Table::Folder,
        "LEFT JOIN written_folder AS folder ON folder.folder_id = file.folder_id",
    ),
    (
        Table::Dump,
        "LEFT JOIN written_dump AS dump ON dump.dump_id = folder.dump_id",
    ),
    (
        Table::Site,
        "LEFT JOIN stated_site AS site ON site.site_id = time.site_id",
    ),
];

/// The tables that a table's join leans on; a table stands before those it needs.
const NEEDS: &[(Table, Table)] = &[
    (Table::Radiant, Table::Sky),
    (Table::Dump, Table::Folder),
    (Table::Folder, Table::File),
    (Table::File, Table::Frame),
    (Table::Camera, Table::Frame),
    (Table::Lens, Table::Frame),
    (Table::Site, Table::Time),
];

/// How a SELECT goes through the frames.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Walk {
    /// As the condition leads, or as SQLite likes best.
    Free,
    /// Those with a start, in its order.
    Dated,
    /// Those without.
    Undated,
    /// Those with a start in a stretch of time, in its order.
    Within(Stretch),
    /// As [`Walk::Free`], without those that start before a moment.
    From(i64),
    /// Those of a list of numbers, in its order: the first `?` is the list.
    Listed,
}

/// What a table is to a condition.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Part {
    /// The condition cannot hold without its row.
    Sure,
    /// The condition asks of it, or of a table that hangs on it.
    Asked,
    /// It only tells more of the frames that are found.
    Told,
}

/// A table with a row a frame, or a radiant's.
struct Stop {
    alias: String,
    table: &'static str,
    /// SQL for the number of the shower that a row must be of; empty where a frame has one row.
    shower: String,
    part: Part,
}

impl Stop {
    fn named(&self) -> String {
        format!("{} AS {}", self.table, self.alias)
    }

    /// Every frame has its row of time, whatever is known of it; not every frame has a sky.
    fn join(&self, inner: &'static str) -> &'static str {
        match (self.table, self.part) {
            ("derived_time" | "written_frame", _) | (_, Part::Sure) => inner,
            _ => "LEFT JOIN",
        }
    }

    /// Whether the frames of a condition can be looked for among its rows.
    fn can_be_first(&self) -> bool {
        self.join("") != "LEFT JOIN" && self.shower != SHOWER_NUMBER
    }

    /// What must hold of its row, besides the frame's number.
    fn holds(&self) -> String {
        match self.shower.as_str() {
            "" => String::new(),
            shower => format!("{}.shower_id = {shower}", self.alias),
        }
    }
}

/// Notes the tables that a column lies in.
pub(super) fn need(
    source: ColumnSource,
    tables: &mut BTreeSet<Table>,
    showers: &mut BTreeSet<ShowerCode>,
) {
    match source {
        ColumnSource::Frame(field) => {
            tables.extend(field.tables());
        }
        ColumnSource::Radiant(shower, _) => {
            showers.insert(shower);
        }
        ColumnSource::Strongest(_) => {
            tables.insert(Table::Radiant);
        }
    }
}

/// FROM and WHERE of a condition, with these tables and showers joined besides its own. The values of its marks are
/// [`SqlPredicate::values_by_lead`].
pub(super) fn from_where(
    predicate: &SqlPredicate,
    tables: BTreeSet<Table>,
    showers: BTreeSet<ShowerCode>,
) -> String {
    from_walked(predicate, tables, showers, Walk::Free)
}

/// What a WHERE clause asks of the frames of a walk: all of the condition, or what the lead leaves of it.
fn asked_on(predicate: &SqlPredicate, walk: Walk) -> &SqlPredicate {
    match walk {
        Walk::Within(_) => predicate,
        _ => predicate.rest(),
    }
}

/// The same for a walk through the frames. Within a stretch of time nothing leads: the values are the condition's own, in its
/// own order.
pub(super) fn from_walked(
    predicate: &SqlPredicate,
    mut tables: BTreeSet<Table>,
    mut showers: BTreeSet<ShowerCode>,
    walk: Walk,
) -> String {
    let rest = asked_on(predicate, walk);
    let asked = with_needs(rest.tables.clone());
    tables.extend(&asked);
    if walk == Walk::Listed {
        tables.insert(Table::Frame);
    }
    let tables = with_needs(tables);
    showers.extend(&rest.showers);
    let mut stops = stops(rest, &asked, &tables, &showers);
    let (first, key, condition) = first(&predicate.lead, walk, &mut stops);
    // CROSS keeps the order: outward from the lead. Where nothing leads, SQLite weighs the tables against each other.
    let inner = match (&predicate.lead, walk) {
        (Lead::None, Walk::Free | Walk::From(_)) => "JOIN",
        _ => "CROSS JOIN",
    };
    let mut from = format!("FROM {first}");
    // What the condition asks comes before what only tells more of the frames that are left.
    for told in [false, true] {
        for stop in stops
            .iter()
            .filter(|stop| (stop.part == Part::Told) == told)
        {
            let (join, named, alias) = (stop.join(inner), stop.named(), &stop.alias);
            let _ = write!(from, " {join} {named} ON {alias}.frame_id = {key}.frame_id");
            if !stop.shower.is_empty() {
                let _ = write!(from, " AND {}", stop.holds());
            }
        }
        for (table, join) in JOINS {
            if tables.contains(table) && asked.contains(table) != told {
                let _ = write!(from, " {join}");
            }
        }
    }
    let mut conditions = Vec::new();
    if !condition.is_empty() {
        conditions.push(condition);
    }
    if let Walk::From(ms) = walk {
        conditions.push(format!("(time.start_ms >= {ms} OR time.start_ms IS NULL)"));
    }
    if !rest.sql.is_empty() {
        conditions.push(format!("({})", rest.sql));
    }
    if !conditions.is_empty() {
        let _ = write!(from, " WHERE {}", conditions.join(" AND "));
    }
    from
}

fn with_needs(mut tables: BTreeSet<Table>) -> BTreeSet<Table> {
    for (table, needs) in NEEDS {
        if tables.contains(table) {
            tables.insert(*needs);
        }
    }
    tables
}

/// The first table, taken off the stops; its alias; and what must hold of its rows.
fn first(lead: &Lead, walk: Walk, stops: &mut Vec<Stop>) -> (String, String, String) {
    let by_time =
        |first: &str, holds: &str| (first.to_owned(), "time".to_owned(), holds.to_owned());
    let alias = match (walk, lead) {
        (Walk::Dated, _) => {
            stops.retain(|stop| stop.alias != "time");
            return by_time(
                "derived_time AS time INDEXED BY derived_time_start",
                "time.start_ms IS NOT NULL",
            );
        }
        (Walk::Within(Stretch { from, until }), _) => {
            stops.retain(|stop| stop.alias != "time");
            return by_time(
                "derived_time AS time INDEXED BY derived_time_start",
                &format!("time.start_ms >= {from} AND time.start_ms < {until}"),
            );
        }
        (Walk::Undated, _) => {
            stops.retain(|stop| stop.alias != "time");
            return by_time("derived_time AS time", "time.start_ms IS NULL");
        }
        (Walk::Listed, _) => {
            stops.retain(|stop| stop.alias != "frame");
            // The list is the outer loop, whatever a planner thinks of its length.
            let first = "rarray(?) AS listed CROSS JOIN written_frame AS frame ON frame.frame_id = listed.value";
            return (first.to_owned(), "frame".to_owned(), String::new());
        }
        (Walk::Free | Walk::From(_), lead) => match lead {
            Lead::Among(among) => {
                let first = format!("({}) AS {HIT}", among.sql);
                return (first, HIT.to_owned(), String::new());
            }
            Lead::Table(Table::Time) => "time".to_owned(),
            Lead::Table(_) | Lead::None => "frame".to_owned(),
            Lead::Radiant(shower) => radiant_alias(*shower),
        },
    };
    let at = stops
        .iter()
        .position(|stop| stop.alias == alias)
        .or_else(|| stops.iter().position(Stop::can_be_first));
    match at {
        Some(at) => {
            let stop = stops.remove(at);
            let holds = stop.holds();
            (stop.named(), stop.alias, holds)
        }
        // The smallest of the tables that have a row for every frame.
        None => by_time("derived_time AS time", ""),
    }
}

/// The tables with a row a frame that are joined, and radiants.
fn stops(
    rest: &SqlPredicate,
    asked: &BTreeSet<Table>,
    tables: &BTreeSet<Table>,
    showers: &BTreeSet<ShowerCode>,
) -> Vec<Stop> {
    let part = |table: Table| match (rest.sure_tables.contains(&table), asked.contains(&table)) {
        (true, _) => Part::Sure,
        (_, true) => Part::Asked,
        _ => Part::Told,
    };
    let one = |table: Table, alias: &str, named: &'static str, shower: &str| Stop {
        alias: alias.to_owned(),
        table: named,
        shower: shower.to_owned(),
        part: part(table),
    };
    let mut stops = Vec::new();
    if tables.contains(&Table::Time) {
        stops.push(one(Table::Time, "time", "derived_time", ""));
    }
    if tables.contains(&Table::Sky) {
        stops.push(one(Table::Sky, "sky", "derived_sky", ""));
    }
    for shower in showers {
        stops.push(Stop {
            alias: radiant_alias(*shower),
            table: "derived_radiant",
            shower: shower_number(*shower),
            part: match (
                rest.sure_showers.contains(shower),
                rest.showers.contains(shower),
            ) {
                (true, _) => Part::Sure,
                (_, true) => Part::Asked,
                _ => Part::Told,
            },
        });
    }
    if tables.contains(&Table::Radiant) {
        stops.push(one(
            Table::Radiant,
            STRONGEST_ALIAS,
            "derived_radiant",
            SHOWER_NUMBER,
        ));
    }
    if tables.contains(&Table::Frame) {
        stops.push(one(Table::Frame, "frame", "written_frame", ""));
    }
    stops
}
