//! Writes a plan as SQL, with the values of its `?` placeholders in order. Decides nothing; a user's text appears in
//! the values only.

use std::collections::BTreeSet;

use std::fmt::Write;

use crate::catalogue::plan::Condition;
use crate::catalogue::plan::Driving;
use crate::catalogue::plan::Join;
use crate::catalogue::plan::JoinKind;
use crate::catalogue::plan::Plan;
use crate::catalogue::plan::Source;
use crate::catalogue::plan::Stretch;
use crate::catalogue::plan::Union;
use crate::catalogue::select::Order;
use crate::catalogue::select::Way;
use crate::catalogue::shared::SharedTable;
use crate::catalogue::shared::shared_rows;
use crate::query::all_hold;
use crate::query::predicate;
use crate::query::predicate_on;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_kind::Table;
use crate::terms::field_sql::READING_FRACTION;
use crate::terms::field_sql::SHOWER_NUMBER;
use crate::terms::predicate::STRONGEST_ALIAS;
use crate::terms::predicate::SqlPredicate;
use crate::terms::predicate::SqlValue;
use crate::terms::predicate::radiant_alias;
use crate::terms::predicate::shower_number;
use crate::terms::shower::ShowerCode;

/// The alias of the frames of a union.
pub(super) const UNION_ALIAS: &str = "hit";

/// Ordered by start; frames without UTC come last, by camera clock, and those without a clock reading after them.
const BY_START: &str =
    "time.start_ms NULLS LAST, frame.clock_s NULLS LAST, frame.clock_fraction, frame.frame_id";

/// A statement.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Statement {
    /// Its text.
    pub sql: String,
    /// The values of its `?` placeholders; for a driving list, the caller binds the first.
    pub values: Vec<SqlValue>,
}

/// The SELECT of these columns.
pub(super) fn select(columns: &str, plan: &Plan) -> Statement {
    let mut written = Statement::default();
    let mut conditions = Vec::new();
    let (from, key, holds) = written.driving(&plan.driving);
    conditions.extend(holds);
    let mut sql = format!("SELECT {columns} FROM {from}");
    for join in &plan.joins {
        sql += &joined(*join, &key);
    }
    for condition in &plan.conditions {
        conditions.push(written.condition(condition, &key));
    }
    if !conditions.is_empty() {
        let _ = write!(sql, " WHERE {}", all_hold(conditions));
    }
    if let Some(order) = &plan.order {
        let keys: String = order.iter().copied().map(order_by).collect();
        let _ = write!(sql, " ORDER BY {keys}{BY_START}");
    }
    if let Some(limit) = plan.limit {
        let _ = write!(sql, " LIMIT {limit}");
    }
    written.sql = sql;
    written
}

impl Statement {
    /// The first table, its alias, and the conditions on its rows.
    fn driving(&mut self, driving: &Driving) -> (String, String, Option<String>) {
        match driving {
            Driving::Index(source) | Driving::Scan(source) => {
                let (named, alias) = named(*source);
                (named, alias, of_shower(*source))
            }
            Driving::Starts => (
                "derived_time AS time INDEXED BY derived_time_start".to_owned(),
                "time".to_owned(),
                None,
            ),
            // The list is the outer loop, whatever SQLite assumes about its length.
            Driving::Listed => (
                "rarray(?) AS listed CROSS JOIN written_frame AS frame ON frame.frame_id = listed.value".to_owned(),
                "frame".to_owned(),
                None,
            ),
            Driving::Union(union) => (
                format!("({}) AS {UNION_ALIAS}", self.union(union)),
                UNION_ALIAS.to_owned(),
                None,
            ),
        }
    }

    /// Each frame once.
    fn union(&mut self, union: &Union) -> String {
        let mut selects = Vec::new();
        for (shower, test) in &union.radiants {
            let (named, alias) = named(Source::Radiant(*shower));
            let mut holds: Vec<String> = of_shower(Source::Radiant(*shower)).into_iter().collect();
            holds.extend(test.as_ref().map(|test| self.take(predicate(test))));
            selects.push(format!(
                "SELECT {alias}.frame_id FROM {named} WHERE {}",
                all_hold(holds)
            ));
        }
        let mut sql = match selects.as_slice() {
            [only] => only.clone(),
            // A frame under two radiants is returned once.
            _ => format!("SELECT frame_id FROM ({})", selects.join(" UNION ")),
        };
        if !union.unplaced.is_empty() {
            let _ = write!(
                sql,
                " UNION ALL SELECT frame_id FROM derived_sky WHERE active_id IS NULL AND main_shower_id IN ({})",
                numbers(&union.unplaced)
            );
        }
        sql
    }

    fn condition(&mut self, condition: &Condition, key: &str) -> String {
        match condition {
            Condition::Test(test) => self.take(predicate(test)),
            Condition::OfShared(shared, test) => {
                let SharedTable {
                    key, rows, number, ..
                } = shared_rows(*shared);
                let of_row = predicate(test);
                let select =
                    |what: &str| format!("(SELECT {what} FROM {rows} WHERE {})", of_row.sql);
                // A list would be searched for each frame; two bounds exclude most frames sooner.
                let sql = format!(
                    "{key} BETWEEN {} AND {} AND {key} IN {}",
                    select(&format!("min({number})")),
                    select(&format!("max({number})")),
                    select(number)
                );
                for _ in 0..3 {
                    self.values.extend(of_row.values.iter().cloned());
                }
                sql
            }
            Condition::NightOfSession(source, test) => {
                let of_session = self.take(predicate_on("session.session_id", *source, test));
                format!(
                    "time.night_day IN (SELECT night_day FROM derived_session AS session WHERE {of_session})"
                )
            }
            Condition::OfCalibration => "time.kind_no IN (1, 2, 3)".to_owned(),
            Condition::Dated(true) => "time.start_ms IS NOT NULL".to_owned(),
            Condition::Dated(false) => "time.start_ms IS NULL".to_owned(),
            Condition::Within(Stretch { from, until }) => {
                format!("time.start_ms >= {from} AND time.start_ms < {until}")
            }
            Condition::Numbered(first, last) => {
                format!("{key}.frame_id BETWEEN {first} AND {last}")
            }
            Condition::NotBefore(ms) => {
                format!("time.start_ms >= {ms} OR time.start_ms IS NULL")
            }
        }
    }

    /// The text of an expression, whose placeholders come next.
    fn take(&mut self, predicate: SqlPredicate) -> String {
        self.values.extend(predicate.values);
        predicate.sql
    }
}

/// A join to the rows of the driving table, whose alias is `key`. CROSS preserves the order of the plan.
fn joined(join: Join, key: &str) -> String {
    let kind = match join.kind {
        JoinKind::Inner => "CROSS JOIN",
        JoinKind::Left => "LEFT JOIN",
    };
    let (named, alias) = named(join.source);
    let on = match join.source {
        Source::Table(Table::Camera) => "camera.camera_id = frame.camera_id".to_owned(),
        Source::Table(Table::Lens) => "lens.lens_id = frame.lens_id".to_owned(),
        Source::Table(Table::File) => "file.file_id = frame.first_file_id".to_owned(),
        Source::Table(Table::Folder) => "folder.folder_id = file.folder_id".to_owned(),
        Source::Table(Table::Dump) => "dump.dump_id = folder.dump_id".to_owned(),
        Source::Table(Table::Site) => "site.site_id = time.site_id".to_owned(),
        _ => format!("{alias}.frame_id = {key}.frame_id"),
    };
    let of_shower = of_shower(join.source).map_or_else(String::new, |of| format!(" AND {of}"));
    format!(" {kind} {named} ON {on}{of_shower}")
}

/// A table with its alias, and the alias.
fn named(source: Source) -> (String, String) {
    let (table, alias) = match source {
        Source::Table(Table::Frame) => ("written_frame", "frame"),
        Source::Table(Table::Camera) => ("written_camera", "camera"),
        Source::Table(Table::Lens) => ("written_lens", "lens"),
        Source::Table(Table::File) => ("written_file", "file"),
        Source::Table(Table::Folder) => ("written_folder", "folder"),
        Source::Table(Table::Dump) => ("written_dump", "dump"),
        Source::Table(Table::Time) => ("derived_time", "time"),
        Source::Table(Table::Site) => ("stated_site", "site"),
        Source::Table(Table::Sky) => ("derived_sky", "sky"),
        Source::Table(Table::Look) => ("stated_look", "look"),
        Source::Table(Table::Radiant) => ("derived_radiant", STRONGEST_ALIAS),
        Source::Radiant(shower) => {
            let alias = radiant_alias(shower);
            return (format!("derived_radiant AS {alias}"), alias);
        }
    };
    (format!("{table} AS {alias}"), alias.to_owned())
}

/// The conditions on a radiant's row, besides the frame's number.
fn of_shower(source: Source) -> Option<String> {
    let (_, alias) = named(source);
    let shower = match source {
        Source::Radiant(shower) => shower_number(shower),
        Source::Table(Table::Radiant) => SHOWER_NUMBER.to_owned(),
        Source::Table(_) => return None,
    };
    Some(format!("{alias}.shower_id = {shower}"))
}

fn numbers(showers: &BTreeSet<ShowerCode>) -> String {
    let numbers: Vec<String> = showers
        .iter()
        .map(|shower| shower_number(*shower))
        .collect();
    numbers.join(", ")
}

/// One sort key, followed by a comma.
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
