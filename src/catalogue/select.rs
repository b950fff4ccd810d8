//! The SELECT for a question. Columns come from the field table, conditions from a [`SqlPredicate`]; a user's text never
//! stands in it. Runs nothing.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use crate::catalogue::joins::Walk;
use crate::catalogue::joins::from_walked;
use crate::catalogue::joins::need;
use crate::catalogue::stretch::Stretch;
use crate::catalogue::told::Told;
use crate::terms::column::ColumnSource;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_kind::Table;
use crate::terms::field_sql::READING_FRACTION;
use crate::terms::predicate::Lead;
use crate::terms::predicate::SqlPredicate;
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

/// Ordered by start; frames without UTC come last, by their clocks, and those without a clock behind them.
pub(super) const BY_START: &str =
    "time.start_ms NULLS LAST, frame.clock_s NULLS LAST, frame.clock_fraction, frame.frame_id";

/// The SELECTs for a question: their rows one after the other are the answer, each with all of the predicate's values.
///
/// Mostly it is one. Where many frames satisfy the condition, or a few are enough, the frames are walked through in the
/// order of their starts, so that the first rows come at once and nothing is sorted; a second SELECT gives the undated.
/// Where those that start before a moment were given by [`select_within`], they are left out.
pub(super) fn selects(ask: &Ask<'_>, told: &Told, from_ms: Option<i64>) -> Vec<String> {
    let by_start = ask.order.is_empty() && ask.predicate.lead == Lead::None;
    if by_start && (ask.limit.is_some() || ask.predicate.sql.is_empty()) {
        vec![
            select(ask, told, Walk::Dated),
            select(ask, told, Walk::Undated),
        ]
    } else {
        vec![select(ask, told, from_ms.map_or(Walk::Free, Walk::From))]
    }
}

/// The SELECT for the rows of a stretch of time, walked through in the order of their starts. The start comes behind
/// what was asked for.
pub(super) fn select_within(ask: &Ask<'_>, told: &Told, stretch: Stretch) -> String {
    select(ask, told, Walk::Within(stretch))
}

/// The SELECT for frames named by a list of numbers, in its order: `?` is the list.
pub(super) fn select_listed(told: &Told, detail: Detail) -> String {
    let (columns, tables, showers) = selected_columns(told, detail);
    let from = from_walked(&SqlPredicate::default(), tables, showers, Walk::Listed);
    format!("SELECT {} {from}", columns.join(", "))
}

fn select(ask: &Ask<'_>, told: &Told, walk: Walk) -> String {
    let (mut columns, mut tables, mut showers) = selected_columns(told, ask.detail);
    tables.extend([Table::Time, Table::Frame]);
    for order in ask.order {
        need(order.source, &mut tables, &mut showers);
    }
    if let Walk::Within(_) = walk {
        columns.push("time.start_ms".to_owned());
    }
    // A plus keeps SQLite from walking by start what it had better look for and sort.
    let way = match (walk, &ask.predicate.lead) {
        (Walk::Free | Walk::From(_), Lead::None) => "+",
        _ => "",
    };
    let mut sql = format!(
        "SELECT {} {} ORDER BY {}{way}{BY_START}",
        columns.join(", "),
        from_walked(ask.predicate, tables, showers, walk),
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
    told: &Told,
    detail: Detail,
) -> (Vec<String>, BTreeSet<Table>, BTreeSet<ShowerCode>) {
    let mut columns = told.selected.clone();
    let (mut tables, showers) = (told.tables.clone(), told.showers.clone());
    if detail.has_path() {
        tables.insert(Table::Dump);
        for column in [
            "dump.root_shown",
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
        tables.extend([Table::Sky, Table::Frame]);
        columns.push("frame.frame_id".to_owned());
        columns.push(
            "(SELECT active.showers FROM derived_active AS active WHERE active.active_id = sky.active_id)".to_owned(),
        );
    }
    (columns, tables, showers)
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
