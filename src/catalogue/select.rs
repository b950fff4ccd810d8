//! The SELECT for a question. Columns come from the field table, conditions from a [`SqlPredicate`]; a user's text never
//! stands in it. Runs nothing.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use crate::terms::column::ColumnSource;
use crate::terms::field::FieldKind;
use crate::terms::field::READING_FRACTION;
use crate::terms::field::Table;
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
    /// And its radiants, but no files.
    Radiants,
    /// And all its files and radiants.
    Everything,
}

impl Detail {
    /// Whether the path of the first file is among it.
    pub(super) fn has_path(self) -> bool {
        matches!(self, Self::Path | Self::Everything)
    }

    /// Whether the radiants are.
    pub(super) fn has_radiants(self) -> bool {
        matches!(self, Self::Radiants | Self::Everything)
    }
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

/// The tables of a frame, and how each joins on. A table stands after those it needs.
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
        Table::Time,
        "LEFT JOIN derived_time AS time ON time.frame_id = frame.frame_id",
    ),
    (
        Table::Site,
        "LEFT JOIN stated_site AS site ON site.site_id = time.site_id",
    ),
    (
        Table::Sky,
        "LEFT JOIN derived_sky AS sky ON sky.frame_id = frame.frame_id",
    ),
];

/// Ordered by start; frames without UTC come last, by their clocks.
const BY_START: &str =
    "time.start_ms NULLS LAST, frame.clock_s, frame.clock_fraction, frame.frame_id";

/// The table that a frame's others hang on.
const FRAMES: &str = "FROM written_frame AS frame";

/// The SELECT for frames named by a list of numbers, in its order: `?` is the list.
pub(super) fn select_listed(columns: &[ColumnSource], detail: Detail) -> String {
    let (columns, tables, showers) = selected_columns(columns, detail);
    let from = from_clause(&SqlPredicate::default(), tables, showers);
    // The list is the outer loop, whatever a planner thinks of its length.
    let from = from.replacen(
        FRAMES,
        "FROM rarray(?) AS listed CROSS JOIN written_frame AS frame ON frame.frame_id = listed.value",
        1,
    );
    format!("SELECT {} {from}", columns.join(", "))
}

/// The whole SELECT for a question.
pub fn select(ask: &Ask<'_>) -> String {
    let (columns, mut tables, mut showers) = selected_columns(ask.columns, ask.detail);
    tables.insert(Table::Time);
    for order in ask.order {
        need(order.source, &mut tables, &mut showers);
    }
    let from = from_clause(ask.predicate, tables, showers);
    let mut sql = format!(
        "SELECT {} {from}{} ORDER BY {}{BY_START}",
        columns.join(", "),
        where_clause(ask.predicate),
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

/// What is selected for columns and detail, and the tables and showers it takes.
fn selected_columns(
    sources: &[ColumnSource],
    detail: Detail,
) -> (Vec<String>, BTreeSet<Table>, BTreeSet<ShowerCode>) {
    let mut tables = BTreeSet::new();
    let mut showers = BTreeSet::new();
    let mut columns = Vec::with_capacity(sources.len() + 8);
    for source in sources {
        need(*source, &mut tables, &mut showers);
        columns.push(selected(*source));
    }
    if detail.has_path() {
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
    if detail.has_radiants() {
        tables.insert(Table::Sky);
        columns.push("frame.frame_id".to_owned());
        columns.push(
            "(SELECT active.showers FROM derived_active AS active WHERE active.active_id = sky.active_id)".to_owned(),
        );
    }
    (columns, tables, showers)
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
            tables.insert(field.table);
        }
        ColumnSource::Radiant(shower, _) => {
            showers.insert(shower);
        }
        ColumnSource::Strongest(_) => {
            tables.insert(Table::Radiant);
        }
    }
}

pub(super) fn where_clause(predicate: &SqlPredicate) -> String {
    if predicate.sql.is_empty() {
        String::new()
    } else {
        format!(" WHERE {}", predicate.sql)
    }
}

pub(super) fn from_clause(
    predicate: &SqlPredicate,
    mut tables: BTreeSet<Table>,
    mut showers: BTreeSet<ShowerCode>,
) -> String {
    tables.extend(&predicate.tables);
    showers.extend(&predicate.showers);
    // A table brings those that its join leans on.
    for (table, needs) in [
        (Table::Radiant, Table::Sky),
        (Table::Dump, Table::Folder),
        (Table::Folder, Table::File),
        (Table::Site, Table::Time),
    ] {
        if tables.contains(&table) {
            tables.insert(needs);
        }
    }
    let mut from = String::from(FRAMES);
    for (_, join) in JOINS.iter().filter(|(table, _)| tables.contains(table)) {
        from.push(' ');
        from.push_str(join);
    }
    if tables.contains(&Table::Radiant) {
        let _ = write!(
            from,
            " LEFT JOIN derived_radiant AS {STRONGEST_ALIAS} ON {STRONGEST_ALIAS}.shower = sky.shower \
             AND {STRONGEST_ALIAS}.frame_id = frame.frame_id"
        );
    }
    for shower in showers {
        let alias = radiant_alias(shower);
        let _ = write!(
            from,
            " LEFT JOIN derived_radiant AS {alias} ON {alias}.shower = '{shower}' AND {alias}.frame_id = frame.frame_id"
        );
    }
    from
}
