//! The SELECTs for a request: the columns, from the field table, and the plan. Runs nothing.

use crate::catalogue::plan::Needs;
use crate::catalogue::plan::Plan;
use crate::catalogue::plan::Stretch;
use crate::catalogue::plan::Walk;
use crate::catalogue::plan_sql::Statement;
use crate::catalogue::plan_sql::select;
use crate::catalogue::planner::answer;
use crate::catalogue::planner::plan;
use crate::catalogue::row_reader::RowReader;
use crate::catalogue::select::Ask;
use crate::catalogue::select::Detail;
use crate::query::Checked;
use crate::terms::field_kind::Table;

/// The tables and radiants that an answer shows or is ordered by.
pub(super) fn shown(ask: &Ask<'_>, reader: &RowReader) -> Needs {
    let mut shown = selected_columns(reader, ask.detail).1;
    shown.tables.extend([Table::Time, Table::Frame]);
    for order in ask.order {
        shown.add(order.source);
    }
    shown
}

/// The SELECTs for a request; their rows follow each other in the answer.
///
/// Rows that start before a moment are left out if [`select_within`] has returned them.
pub(super) fn selects(ask: &Ask<'_>, reader: &RowReader, from_ms: Option<i64>) -> Vec<Statement> {
    let (columns, _) = selected_columns(reader, ask.detail);
    let plans = answer(ask, &shown(ask, reader), from_ms);
    let plans = plans.iter().map(|plan| select(&columns.join(", "), plan));
    plans.collect()
}

/// The SELECT for the rows of a stretch of time, walked through in the order of their starts. The start is selected
/// after the requested columns.
pub(super) fn select_within(ask: &Ask<'_>, reader: &RowReader, stretch: Stretch) -> Statement {
    let (mut columns, _) = selected_columns(reader, ask.detail);
    columns.push("time.start_ms".to_owned());
    let plan = Plan {
        order: Some(Vec::new()),
        limit: ask.limit,
        ..plan(ask.query, shown(ask, reader), Walk::Within(stretch))
    };
    select(&columns.join(", "), &plan)
}

/// The SELECT for frames given by a list of numbers, in its order: `?` is the list.
pub(super) fn select_listed(reader: &RowReader, detail: Detail) -> Statement {
    let (columns, needs) = selected_columns(reader, detail);
    select(
        &columns.join(", "),
        &plan(&Checked::Every, needs, Walk::Listed),
    )
}

/// The selected columns, and the tables and radiants they need.
fn selected_columns(reader: &RowReader, detail: Detail) -> (Vec<String>, Needs) {
    let (mut columns, mut needs) = (reader.selected.clone(), reader.needs.clone());
    if detail.has_path() {
        needs.tables.insert(Table::Dump);
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
        needs.tables.extend([Table::Sky, Table::Frame]);
        columns.push("frame.frame_id".to_owned());
        columns.push(
            "(SELECT active.showers FROM derived_active AS active WHERE active.active_id = sky.active_id)".to_owned(),
        );
    }
    (columns, needs)
}
