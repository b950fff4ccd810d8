//! The SELECT for a question. Columns come from the field table, conditions from a [`SqlPredicate`]; a user's text never
//! stands in it. Runs nothing.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use crate::terms::column::ColumnSource;
use crate::terms::field::FieldKind;
use crate::terms::field::READING_FRACTION;
use crate::terms::field::Table;
use crate::terms::predicate::Lead;
use crate::terms::predicate::STRONGEST_ALIAS;
use crate::terms::predicate::SqlPredicate;
use crate::terms::predicate::radiant_alias;
use crate::terms::shower::ShowerCode;

/// What is wanted of each frame besides its columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detail {
    /// The columns alone.
    Columns,
    /// And the bytes of its first file's path.
    Path,
    /// And all its files and radiants.
    Everything,
}

/// What to ask for.
#[derive(Clone, Copy, Debug)]
pub struct Ask<'a> {
    /// The condition.
    pub predicate: &'a SqlPredicate,
    /// The columns, in order.
    pub columns: &'a [ColumnSource],
    /// What else.
    pub detail: Detail,
    /// What the rows are ordered by, most telling first; by start where there is nothing.
    pub order: &'a [Order],
    /// At most so many rows.
    pub limit: Option<u64>,
}

/// One value that rows are ordered by. What is not known comes last, either way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Order {
    /// Whose value.
    pub source: ColumnSource,
    /// Which way.
    pub way: Way,
}

/// Which way rows are ordered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// The least first.
    Up,
    /// The greatest first.
    Down,
}

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

/// Ordered by start; frames without UTC come last, by their clocks.
const BY_START: &str =
    "time.start_ms NULLS LAST, frame.clock_s, frame.clock_fraction, frame.frame_id";

/// The whole SELECT for a question.
pub fn select(ask: &Ask<'_>) -> String {
    let mut tables = BTreeSet::from([Table::Time, Table::Frame]);
    let mut showers = BTreeSet::new();
    let mut columns = Vec::with_capacity(ask.columns.len() + 8);
    for source in ask.columns {
        need(*source, &mut tables, &mut showers);
        columns.push(selected(*source));
    }
    if ask.detail != Detail::Columns {
        tables.insert(Table::Dump);
        for column in [
            "dump.root",
            "dump.root_bytes",
            "folder.path",
            "folder.path_bytes",
            "file.name",
            "file.name_bytes",
        ] {
            columns.push(column.to_owned());
        }
    }
    for order in ask.order {
        need(order.source, &mut tables, &mut showers);
    }
    if ask.detail == Detail::Everything {
        tables.insert(Table::Sky);
        columns.push("frame.frame_id".to_owned());
        columns.push(
            "(SELECT active.showers FROM derived_active AS active WHERE active.active_id = sky.active_id)".to_owned(),
        );
    }
    let mut sql = format!(
        "SELECT {} {} ORDER BY {}{BY_START}",
        columns.join(", "),
        from_where(ask.predicate, tables, showers),
        ask.order
            .iter()
            .map(|order| order_by(*order))
            .collect::<String>(),
    );
    if let Some(limit) = ask.limit {
        let _ = write!(sql, " LIMIT {limit}");
    }
    sql
}

/// What is selected for a column, for [`cell`] to read. A reading's fraction comes behind its seconds.
fn selected(source: ColumnSource) -> String {
    let column = source.sql();
    match source.field().kind {
        FieldKind::Reading => {
            format!("ifnull({column} || '.' || {READING_FRACTION}, {column})")
        }
        _ => column,
    }
}

/// One value to order by, with a comma behind it.
fn order_by(order: Order) -> String {
    let column = order.source.sql();
    let way = match order.way {
        Way::Up => "",
        Way::Down => " DESC",
    };
    match order.source.field().kind {
        FieldKind::Text => format!("{column} COLLATE NOCASE{way} NULLS LAST, "),
        FieldKind::Reading => {
            format!("{column}{way} NULLS LAST, {READING_FRACTION}{way}, ")
        }
        _ => format!("{column}{way} NULLS LAST, "),
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

/// A table with a row a frame.
struct Stop {
    alias: String,
    table: &'static str,
    /// SQL for the shower that a row must be of; empty where a frame has one row.
    shower: String,
    /// Whether the condition cannot hold without its row.
    sure: bool,
}

impl Stop {
    fn new(alias: &str, table: &'static str, sure: bool) -> Self {
        Self {
            alias: alias.to_owned(),
            table,
            shower: String::new(),
            sure,
        }
    }

    fn radiant(alias: &str, shower: String, sure: bool) -> Self {
        Self {
            shower,
            ..Self::new(alias, "derived_radiant", sure)
        }
    }

    fn named(&self) -> String {
        format!("{} AS {}", self.table, self.alias)
    }

    /// Whether its rows can be found without another table's.
    fn stands_alone(&self) -> bool {
        !self.shower.contains('.')
    }

    /// What must hold of its row, besides the frame's number.
    fn holds(&self) -> String {
        match self.shower.as_str() {
            "" => String::new(),
            shower => format!("{}.shower = {shower}", self.alias),
        }
    }
}

/// FROM and WHERE of a condition, with these tables and showers joined besides its own. The values of its marks are
/// [`SqlPredicate::values_by_lead`].
pub(super) fn from_where(
    predicate: &SqlPredicate,
    mut tables: BTreeSet<Table>,
    mut showers: BTreeSet<ShowerCode>,
) -> String {
    let rest = predicate.rest();
    tables.extend(&rest.tables);
    showers.extend(&rest.showers);
    // A table brings those that its join leans on.
    for (table, needs) in [
        (Table::Radiant, Table::Sky),
        (Table::Dump, Table::Folder),
        (Table::Folder, Table::File),
        (Table::File, Table::Frame),
        (Table::Camera, Table::Frame),
        (Table::Lens, Table::Frame),
        (Table::Site, Table::Time),
    ] {
        if tables.contains(&table) {
            tables.insert(needs);
        }
    }
    let mut way = way(rest, &tables, &showers);
    let (first, key, condition) = first(&predicate.lead, &mut way);
    // CROSS keeps the order: outward from the lead. Where nothing leads, SQLite weighs the tables against each other.
    let join = match predicate.lead {
        Lead::None => "JOIN",
        _ => "CROSS JOIN",
    };
    let mut from = format!("FROM {first}");
    for stop in &way {
        let join = if stop.sure { join } else { "LEFT JOIN" };
        let (named, alias) = (stop.named(), &stop.alias);
        let _ = write!(from, " {join} {named} ON {alias}.frame_id = {key}.frame_id");
        if !stop.shower.is_empty() {
            let _ = write!(from, " AND {}", stop.holds());
        }
    }
    for (_, join) in JOINS.iter().filter(|(table, _)| tables.contains(table)) {
        from.push(' ');
        from.push_str(join);
    }
    let _ = match (condition.as_str(), rest.sql.as_str()) {
        ("", "") => Ok(()),
        ("", asked) => write!(from, " WHERE {asked}"),
        (first, "") => write!(from, " WHERE {first}"),
        (first, asked) => write!(from, " WHERE {first} AND ({asked})"),
    };
    from
}

/// The first table, taken off the way; its alias; and what must hold of its rows.
fn first(lead: &Lead, way: &mut Vec<Stop>) -> (String, String, String) {
    let alias = match lead {
        Lead::Among(among) => {
            let first = format!("({}) AS hit", among.sql);
            return (first, "hit".to_owned(), String::new());
        }
        Lead::Table(Table::Time) => "time".to_owned(),
        Lead::Table(_) | Lead::None => "frame".to_owned(),
        Lead::Radiant(shower) => radiant_alias(*shower),
    };
    let at = way
        .iter()
        .position(|stop| stop.alias == alias)
        .or_else(|| way.iter().position(|stop| stop.sure && stop.stands_alone()));
    match at {
        Some(at) => {
            let stop = way.remove(at);
            let holds = stop.holds();
            (stop.named(), stop.alias, holds)
        }
        None => {
            let frame = Stop::new("frame", "written_frame", true);
            (frame.named(), frame.alias, String::new())
        }
    }
}

/// The tables with a row a frame that are asked for: those that thin the frames out before those that only tell more.
fn way(rest: &SqlPredicate, tables: &BTreeSet<Table>, showers: &BTreeSet<ShowerCode>) -> Vec<Stop> {
    let mut way = Vec::new();
    // Every frame has its row of time, whatever is known of it.
    if tables.contains(&Table::Time) {
        way.push(Stop::new("time", "derived_time", true));
    }
    if tables.contains(&Table::Sky) {
        let sure = rest.sure_tables.contains(&Table::Sky);
        way.push(Stop::new("sky", "derived_sky", sure));
    }
    for shower in showers {
        let sure = rest.sure_showers.contains(shower);
        let code = format!("'{shower}'");
        way.push(Stop::radiant(&radiant_alias(*shower), code, sure));
    }
    if tables.contains(&Table::Radiant) {
        let sure = rest.sure_tables.contains(&Table::Radiant);
        way.push(Stop::radiant(
            STRONGEST_ALIAS,
            "sky.shower".to_owned(),
            sure,
        ));
    }
    if tables.contains(&Table::Frame) {
        way.push(Stop::new("frame", "written_frame", true));
    }
    way
}
