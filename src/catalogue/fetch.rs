//! Runs a checked query and returns its rows one by one. Builds no SQL; values are bound as parameters.

use std::rc::Rc;

use rusqlite::Connection;
use rusqlite::Row;
use rusqlite::ToSql;
use rusqlite::params_from_iter;
use rusqlite::types::ToSqlOutput;
use rusqlite::types::Value;
use rusqlite::types::ValueRef;

use crate::catalogue::columns::columns;
use crate::catalogue::columns::read;
use crate::catalogue::failure::failed;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::bytes_of;
use crate::catalogue::opening::Day;
use crate::catalogue::plan::Needs;
use crate::catalogue::plan::Plan;
use crate::catalogue::plan::Stretch;
use crate::catalogue::plan::Walk;
use crate::catalogue::plan_sql::Statement;
use crate::catalogue::plan_sql::select;
use crate::catalogue::planner::plan;
use crate::catalogue::put::cell;
use crate::catalogue::read::FILES_OF_FRAME;
use crate::catalogue::row_reader::CellCache;
use crate::catalogue::row_reader::RowReader;
use crate::catalogue::select::Ask;
use crate::catalogue::select::Detail;
use crate::catalogue::selects::select_listed;
use crate::catalogue::selects::select_within;
use crate::catalogue::selects::selects;
use crate::query::Checked;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::field_sql::FORMAT_COLUMN;
use crate::terms::field_sql::HEALTH_COLUMN;
use crate::terms::field_sql::PATH_COLUMN;
use crate::terms::predicate::SqlValue;
use crate::terms::records::Cell;
use crate::terms::records::FrameFile;
use crate::terms::records::FrameRow;
use crate::terms::records::InPicture;
use crate::terms::records::RadiantSky;
use crate::terms::shower::ShowerCode;

impl Catalogue {
    /// Runs a query and passes each row to `each` as it comes; nothing is held back. `each` may stop the run by
    /// returning `false`.
    pub fn fetch(
        &self,
        ask: &Ask<'_>,
        mut each: impl FnMut(FrameRow) -> Result<bool, Failure>,
    ) -> Result<(), Failure> {
        let ours = |e| failed(&self.path, e);
        let mut left = ask.limit.unwrap_or(u64::MAX);
        let mut filling = Filling::of(&self.db, ask.columns, ask.detail);
        let mut from_ms = None;
        for Day { stretch, numbers } in self.opening(ask)? {
            let before = left;
            if let Some((first, last)) = numbers
                && !self.any_numbered(ask.query, first, last)?
            {
                from_ms = Some(stretch.until);
                continue;
            }
            match self.walk(ask, stretch, &mut filling, &mut left, &mut each)? {
                Walked::Stopped => return Ok(()),
                Walked::Until(ms) => from_ms = Some(ms),
            }
            if left < before {
                break;
            }
        }
        for Statement { sql, values } in selects(ask, &filling.reader, from_ms) {
            if left == 0 {
                break;
            }
            let mut statement = self.db.prepare(&sql).map_err(ours)?;
            let mut rows = statement
                .query(params_from_iter(values.iter().map(Bound)))
                .map_err(ours)?;
            while left > 0
                && let Some(row) = rows.next().map_err(ours)?
            {
                left -= 1;
                let mut made = FrameRow::default();
                filling.fill(&mut made, row).map_err(ours)?;
                if !each(made)? {
                    return Ok(());
                }
            }
        }
        Ok(())
    }

    /// Whether a query is true for any frame in a range of numbers.
    fn any_numbered(&self, query: &Checked, first: i64, last: i64) -> Result<bool, Failure> {
        let any = Plan {
            limit: Some(1),
            ..plan(query, Needs::default(), Walk::Numbered(first, last))
        };
        let Statement { sql, values } = select("1", &any);
        self.step(|db| {
            let mut statement = db.prepare(&sql)?;
            statement.exists(params_from_iter(values.iter().map(Bound)))
        })
    }

    /// Passes on rows of a stretch of time as they are found: all of them, or a screenful that ends between two starts,
    /// so that the remaining rows can be selected by their start.
    fn walk(
        &self,
        ask: &Ask<'_>,
        stretch: Stretch,
        filling: &mut Filling<'_>,
        left: &mut u64,
        each: &mut impl FnMut(FrameRow) -> Result<bool, Failure>,
    ) -> Result<Walked, Failure> {
        let ours = |e| failed(&self.path, e);
        let Statement { sql, values } = select_within(ask, &filling.reader, stretch);
        let mut statement = self.db.prepare(&sql).map_err(ours)?;
        let start_at = statement.column_count() - 1;
        let mut rows = statement
            .query(params_from_iter(values.iter().map(Bound)))
            .map_err(ours)?;
        let (mut given, mut latest) = (0, i64::MIN);
        while *left > 0
            && let Some(row) = rows.next().map_err(ours)?
        {
            let start: i64 = row.get(start_at).map_err(ours)?;
            if given >= SCREENFUL && start > latest {
                return Ok(Walked::Until(start));
            }
            latest = start;
            given += 1;
            *left -= 1;
            let mut made = FrameRow::default();
            filling.fill(&mut made, row).map_err(ours)?;
            if !each(made)? {
                return Ok(Walked::Stopped);
            }
        }
        Ok(Walked::Until(stretch.until))
    }

    /// How many frames satisfy a query.
    pub fn count(&self, query: &Checked) -> Result<u64, Failure> {
        self.counted(&select(
            "count(*)",
            &plan(query, Needs::default(), Walk::Free),
        ))
    }

    /// The same, but counts at most `most`, which then means that many or more.
    pub fn count_up_to(&self, query: &Checked, most: u64) -> Result<u64, Failure> {
        let some = Plan {
            limit: Some(most),
            ..plan(query, Needs::default(), Walk::Free)
        };
        let Statement { sql, values } = select("1", &some);
        let sql = format!("SELECT count(*) FROM ({sql})");
        self.counted(&Statement { sql, values })
    }

    fn counted(&self, statement: &Statement) -> Result<u64, Failure> {
        let values = params_from_iter(statement.values.iter().map(Bound));
        self.db
            .query_row(&statement.sql, values, |row| row.get::<_, i64>(0))
            .map(i64::unsigned_abs)
            .map_err(|e| failed(&self.path, e))
    }

    /// The lowest and highest value of one column over the frames that match a query.
    pub fn extremes(&self, query: &Checked, source: ColumnSource) -> Result<(Cell, Cell), Failure> {
        let mut shown = Needs::default();
        shown.add(source);
        let (column, kind) = (source.sql(), source.field().kind);
        let columns = format!("min({column}), max({column})");
        let Statement { sql, values } = select(&columns, &plan(query, shown, Walk::Free));
        self.row(&sql, params_from_iter(values.iter().map(Bound)), |row| {
            Ok((cell(row.get_ref(0)?, kind), cell(row.get_ref(1)?, kind)))
        })
    }
}

/// Rows passed on while the others are found and sorted.
const SCREENFUL: u64 = 64;

/// How a walk through a stretch of time ended.
enum Walked {
    /// The receiver of the rows stopped it.
    Stopped,
    /// Every row before this moment was passed on.
    Until(i64),
}

/// Numbers bound in one list.
const LISTED_AT_ONCE: usize = 2_048;

/// Passes numbers to `each` as lists for `rarray(?)`, a bounded number at a time.
pub(super) fn in_stretches<T>(
    numbers: impl Iterator<Item = i64>,
    mut each: impl FnMut(Rc<Vec<Value>>) -> Result<T, Failure>,
) -> Result<(), Failure> {
    let mut numbers = numbers.map(Value::Integer).peekable();
    while numbers.peek().is_some() {
        each(Rc::new(numbers.by_ref().take(LISTED_AT_ONCE).collect()))?;
    }
    Ok(())
}

impl Catalogue {
    /// Passes the rows of frames given by their numbers to `each`, in the order of the numbers. `each` may stop the run
    /// by returning `false`. One row is reused, so that its texts keep their buffers.
    pub fn fetch_listed(
        &self,
        frame_ids: impl Iterator<Item = i64>,
        columns: &[ColumnSource],
        detail: Detail,
        mut each: impl FnMut(&mut FrameRow) -> Result<bool, Failure>,
    ) -> Result<(), Failure> {
        let ours = |e| failed(&self.path, e);
        let mut made = FrameRow::default();
        let mut filling = Filling::of(&self.db, columns, detail);
        let mut statement = self
            .db
            .prepare_cached(&select_listed(&filling.reader, detail).sql)
            .map_err(ours)?;
        let mut goes_on = true;
        in_stretches(frame_ids, |listed| {
            if !goes_on {
                return Ok(());
            }
            let mut rows = statement.query([listed]).map_err(ours)?;
            while let Some(row) = rows.next().map_err(ours)? {
                filling.fill(&mut made, row).map_err(ours)?;
                if !each(&mut made)? {
                    goes_on = false;
                    break;
                }
            }
            Ok(())
        })
    }
}

/// Rows of a SELECT on their way to frames.
struct Filling<'c> {
    db: &'c Connection,
    reader: RowReader,
    cells: CellCache,
    detail: Detail,
}

impl<'c> Filling<'c> {
    fn of(db: &'c Connection, columns: &[ColumnSource], detail: Detail) -> Self {
        let reader = RowReader::of(columns);
        Self {
            db,
            cells: reader.cell_cache(),
            reader,
            detail,
        }
    }

    /// Fills a row, which may have held another frame.
    fn fill(&mut self, made: &mut FrameRow, row: &Row<'_>) -> rusqlite::Result<()> {
        let (db, detail) = (self.db, self.detail);
        self.reader.fill(made, db, row, &mut self.cells)?;
        let mut next = self.reader.selected.len();
        if detail.has_path() {
            made.path_bytes = path_bytes(row, next)?;
            next += 6;
        }
        if detail.has_radiants() {
            let frame_id: i64 = row.get(next)?;
            if detail == Detail::Everything {
                made.files = files(db, frame_id)?;
            }
            if let Some(showers) = row.get_ref(next + 1)?.as_str_or_null()? {
                made.radiants = showers
                    .split(' ')
                    .filter_map(ShowerCode::parse)
                    .map(|shower| radiant(db, frame_id, shower))
                    .collect::<rusqlite::Result<_>>()?;
            } else {
                made.radiants.clear();
            }
        }
        Ok(())
    }
}

/// Root, folder and name, each as text and as bytes, joined byte for byte.
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
        "SELECT {PATH_COLUMN}, {FORMAT_COLUMN}, file.bytes, {HEALTH_COLUMN}, file.copy_of IS NOT NULL
         FROM written_file AS file
         JOIN written_folder AS folder USING (folder_id) JOIN written_dump AS dump USING (dump_id)
         WHERE {FILES_OF_FRAME}
         ORDER BY file.file_id <> (SELECT first_file_id FROM written_frame WHERE frame_id = ?1), file.file_id"
    ))?
    .query_map([frame_id], read)?
    .collect()
}

columns!(FrameFile: path format bytes health further_copy);

fn radiant(db: &Connection, frame_id: i64, shower: ShowerCode) -> rusqlite::Result<RadiantSky> {
    db.prepare_cached(
        "SELECT alt_deg, az_deg, seen_alt_deg, seen_az_deg, moon_sep_deg, rate, seen_rate,
                in_picture, x_px, y_px, seen_x_px, seen_y_px
         FROM derived_radiant LEFT JOIN derived_in_picture USING (shower_id, frame_id)
         WHERE shower_id = (SELECT shower_id FROM derived_shower WHERE code = ?) AND frame_id = ?",
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
            seen_rate: row.get(6)?,
            picture: InPicture {
                inside: row.get(7)?,
                x_px: row.get(8)?,
                y_px: row.get(9)?,
                seen_x_px: row.get(10)?,
                seen_y_px: row.get(11)?,
            },
        })
    })
}

/// A value to be bound to a `?` placeholder.
pub(super) struct Bound<'a>(pub &'a SqlValue);

impl ToSql for Bound<'_> {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(match self.0 {
            SqlValue::Text(text) => ToSqlOutput::Borrowed(ValueRef::Text(text.as_bytes())),
            SqlValue::Whole(whole) => ToSqlOutput::Borrowed(ValueRef::Integer(*whole)),
            SqlValue::Number(number) => ToSqlOutput::Borrowed(ValueRef::Real(*number)),
        })
    }
}
