//! Runs a checked query and hands its rows out one by one. Builds no SQL from a user's text: columns come from
//! the field table, conditions from a [`SqlPredicate`], values go in as parameters.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use rusqlite::Connection;
use rusqlite::Row;
use rusqlite::ToSql;
use rusqlite::params_from_iter;
use rusqlite::types::ToSqlOutput;
use rusqlite::types::ValueRef;

use crate::catalogue::failure::failed;
use crate::catalogue::names::bytes_of;
use crate::catalogue::open::Catalogue;
use crate::catalogue::read::FILES_OF_FRAME;
use crate::catalogue::scale::date_of;
use crate::catalogue::scale::reading_of;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::field::FieldKind;
use crate::terms::field::PATH_COLUMN;
use crate::terms::field::READING_FRACTION;
use crate::terms::field::Table;
use crate::terms::predicate::STRONGEST_ALIAS;
use crate::terms::predicate::SqlPredicate;
use crate::terms::predicate::SqlValue;
use crate::terms::predicate::radiant_alias;
use crate::terms::records::Cell;
use crate::terms::records::FrameFile;
use crate::terms::records::FrameRow;
use crate::terms::records::RadiantSky;
use crate::terms::shower::ShowerCode;
use crate::terms::time::Utc;

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
    /// At most so many rows.
    pub limit: Option<u64>,
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
const ORDER: &str =
    "ORDER BY time.start_ms NULLS LAST, frame.clock_s, frame.clock_fraction, frame.frame_id";

impl Catalogue {
    /// Runs a query and gives each row to `each` as it comes; nothing is held back. `each` may stop the run by
    /// returning `false`.
    pub fn fetch(
        &self,
        ask: &Ask<'_>,
        mut each: impl FnMut(FrameRow) -> Result<bool, Failure>,
    ) -> Result<(), Failure> {
        let sql = select(ask);
        let ours = |e| failed(&self.path, e);
        let mut statement = self.db.prepare(&sql).map_err(ours)?;
        let mut rows = statement
            .query(params_from_iter(ask.predicate.values.iter().map(Bound)))
            .map_err(ours)?;
        while let Some(row) = rows.next().map_err(ours)? {
            let row = frame_row(&self.db, row, ask).map_err(ours)?;
            if !each(row)? {
                break;
            }
        }
        Ok(())
    }

    /// How many frames satisfy a condition.
    pub fn count(&self, predicate: &SqlPredicate) -> Result<u64, Failure> {
        let from = from_clause(predicate, BTreeSet::new(), BTreeSet::new());
        let sql = format!("SELECT count(*) {from}{}", where_clause(predicate));
        self.db
            .query_row(
                &sql,
                params_from_iter(predicate.values.iter().map(Bound)),
                |row| row.get::<_, i64>(0),
            )
            .map(i64::unsigned_abs)
            .map_err(|e| failed(&self.path, e))
    }

    /// The lowest and highest value of one column over the frames that satisfy a condition.
    pub fn extremes(
        &self,
        predicate: &SqlPredicate,
        source: ColumnSource,
    ) -> Result<(Cell, Cell), Failure> {
        let (mut tables, mut showers) = (BTreeSet::new(), BTreeSet::new());
        need(source, &mut tables, &mut showers);
        let from = from_clause(predicate, tables, showers);
        let (column, kind) = (source.sql(), source.field().kind);
        let sql = format!(
            "SELECT min({column}), max({column}) {from}{}",
            where_clause(predicate)
        );
        self.db
            .query_row(
                &sql,
                params_from_iter(predicate.values.iter().map(Bound)),
                |row| Ok((cell(row.get_ref(0)?, kind), cell(row.get_ref(1)?, kind))),
            )
            .map_err(|e| failed(&self.path, e))
    }
}

/// The whole SELECT for a question.
pub fn select(ask: &Ask<'_>) -> String {
    let mut tables = BTreeSet::from([Table::Time]);
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
    if ask.detail == Detail::Everything {
        tables.insert(Table::Sky);
        columns.push("frame.frame_id".to_owned());
        columns.push(
            "(SELECT active.showers FROM derived_active AS active WHERE active.active_id = sky.active_id)".to_owned(),
        );
    }
    let from = from_clause(ask.predicate, tables, showers);
    let mut sql = format!(
        "SELECT {} {from}{} {ORDER}",
        columns.join(", "),
        where_clause(ask.predicate)
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

/// Notes the tables that a column lies in.
fn need(source: ColumnSource, tables: &mut BTreeSet<Table>, showers: &mut BTreeSet<ShowerCode>) {
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

fn where_clause(predicate: &SqlPredicate) -> String {
    if predicate.sql.is_empty() {
        String::new()
    } else {
        format!(" WHERE {}", predicate.sql)
    }
}

fn from_clause(
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
    let mut from = String::from("FROM written_frame AS frame");
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

fn frame_row(db: &Connection, row: &Row<'_>, ask: &Ask<'_>) -> rusqlite::Result<FrameRow> {
    let mut made = FrameRow {
        cells: Vec::with_capacity(ask.columns.len()),
        ..FrameRow::default()
    };
    for (at, source) in ask.columns.iter().enumerate() {
        made.cells.push(cell(row.get_ref(at)?, source.field().kind));
    }
    let mut next = ask.columns.len();
    if ask.detail != Detail::Columns {
        made.path_bytes = path_bytes(row, next)?;
        next += 6;
    }
    if ask.detail == Detail::Everything {
        let frame_id: i64 = row.get(next)?;
        made.files = files(db, frame_id)?;
        if let Some(showers) = row.get_ref(next + 1)?.as_str_or_null()? {
            made.radiants = showers
                .split(' ')
                .filter_map(ShowerCode::parse)
                .map(|shower| radiant(db, frame_id, shower))
                .collect::<rusqlite::Result<_>>()?;
        }
    }
    Ok(made)
}

/// A value as it leaves the catalogue: moments as text.
fn cell(value: ValueRef<'_>, kind: FieldKind) -> Cell {
    let text = |text: Option<String>| text.map_or(Cell::Unknown, Cell::Text);
    match (value, kind) {
        (ValueRef::Null, _) => Cell::Unknown,
        (ValueRef::Integer(ms), FieldKind::Instant) => {
            text(Utc::from_unix_ms(ms).map(|at| at.to_string()))
        }
        (ValueRef::Integer(day), FieldKind::Date) => text(date_of(day)),
        (ValueRef::Integer(seconds), FieldKind::Reading) => {
            text(reading_of(seconds, None).map(|at| at.to_string()))
        }
        (ValueRef::Text(kept), FieldKind::Reading) => {
            let kept = String::from_utf8_lossy(kept);
            let parts = kept.split_once('.');
            let reading = parts.and_then(|(s, digits)| reading_of(s.parse().ok()?, Some(digits)));
            text(reading.map(|at| at.to_string()))
        }
        (ValueRef::Integer(whole), _) => Cell::Whole(whole),
        (ValueRef::Real(number), _) => Cell::Number(number),
        (ValueRef::Text(text) | ValueRef::Blob(text), _) => {
            Cell::Text(String::from_utf8_lossy(text).into_owned())
        }
    }
}

/// Root, folder and name, each as text and as bytes, put together byte for byte.
fn path_bytes(row: &Row<'_>, from: usize) -> rusqlite::Result<Vec<u8>> {
    let part = |at: usize| -> rusqlite::Result<Vec<u8>> {
        let text = row.get_ref(from + at)?.as_str_or_null()?.unwrap_or("");
        let bytes = row.get_ref(from + at + 1)?.as_blob_or_null()?;
        Ok(bytes_of(text, bytes))
    };
    let mut path = part(0)?;
    for piece in [part(2)?, part(4)?] {
        if !piece.is_empty() {
            path.push(b'/');
            path.extend(piece);
        }
    }
    Ok(path)
}

fn files(db: &Connection, frame_id: i64) -> rusqlite::Result<Vec<FrameFile>> {
    db.prepare_cached(&format!(
        "SELECT {PATH_COLUMN}, file.format, file.bytes, file.health, file.copy_of IS NOT NULL
         FROM written_file AS file
         JOIN written_folder AS folder USING (folder_id) JOIN written_dump AS dump USING (dump_id)
         WHERE {FILES_OF_FRAME}
         ORDER BY file.file_id <> (SELECT first_file_id FROM written_frame WHERE frame_id = ?1), file.file_id"
    ))?
    .query_map([frame_id], |row| {
        Ok(FrameFile {
            path: row.get(0)?,
            format: row.get(1)?,
            bytes: row.get(2)?,
            health: row.get(3)?,
            further_copy: row.get(4)?,
        })
    })?
    .collect()
}

fn radiant(db: &Connection, frame_id: i64, shower: ShowerCode) -> rusqlite::Result<RadiantSky> {
    db.prepare_cached(
        "SELECT alt_deg, az_deg, seen_alt_deg, seen_az_deg, moon_sep_deg, rate
         FROM derived_radiant WHERE shower = ? AND frame_id = ?",
    )?
    .query_row((shower.as_str(), frame_id), |row| {
        Ok(RadiantSky {
            shower,
            alt_deg: row.get(0)?,
            az_deg: row.get(1)?,
            seen_alt_deg: row.get(2)?,
            seen_az_deg: row.get(3)?,
            moon_sep_deg: row.get(4)?,
            rate: row.get(5)?,
        })
    })
}

/// A value on its way to a `?` mark.
struct Bound<'a>(&'a SqlValue);

impl ToSql for Bound<'_> {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(match self.0 {
            SqlValue::Text(text) => ToSqlOutput::Borrowed(ValueRef::Text(text.as_bytes())),
            SqlValue::Whole(whole) => ToSqlOutput::Borrowed(ValueRef::Integer(*whole)),
            SqlValue::Number(number) => ToSqlOutput::Borrowed(ValueRef::Real(*number)),
        })
    }
}
