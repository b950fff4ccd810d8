//! How the columns of a list are read: the stored whole numbers instead of values computed by SQL, and the few cameras,
//! lenses, folders and sites that many frames share, each looked up once by its number. Gives the same values as the
//! columns of the field table; runs nothing.

use rusqlite::Connection;
use rusqlite::Row;
use rusqlite::types::ValueRef;

use crate::catalogue::plan::Needs;
use crate::catalogue::put::put_cell;
use crate::catalogue::put::put_instant;
use crate::catalogue::put::put_local;
use crate::catalogue::put::put_offset;
use crate::catalogue::put::put_path;
use crate::catalogue::put::put_reading;
use crate::catalogue::put::put_text;
use crate::catalogue::shared::SharedRows;
use crate::catalogue::shared::shared_rows;
use crate::terms::column::ColumnSource;
use crate::terms::field::Field;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_kind::ONCE_ROUND;
use crate::terms::field_kind::Shared;
use crate::terms::field_kind::Storage;
use crate::terms::field_kind::TENTHS;
use crate::terms::field_sql::READING_FRACTION;
use crate::terms::field_sql::ZONE_COLUMN;
use crate::terms::kept::Kept;
use crate::terms::local::LocalClock;
use crate::terms::records::Cell;
use crate::terms::records::FrameRow;

const START: &str = "time.start_ms";
const EXPOSURE: &str = "frame.exposure_s";

/// How a cell is decoded from the selected columns; numbers are positions in the SELECT.
enum How {
    Itself(usize),
    Parts(usize, f64),
    Round(usize),
    Word(usize, &'static [&'static str]),
    Offset(usize),
    After(usize, usize, f64),
    Reading(usize, usize),
    /// From a shared row: which, and the position in it; after the frame's own value, if it has one.
    Shared(Option<usize>, usize, usize),
    /// A shared row's folder, and the name in it.
    Path(usize, usize, usize),
    /// The start, and a shared row's zone.
    Local(usize, usize, usize),
    /// By the caller: the catalogue does not store it.
    Elsewhere,
}

/// The state for decoding cells, besides a row.
pub(super) struct CellCache {
    shared: Vec<SharedRows>,
    /// The source of each cell.
    of: Vec<Of>,
    local: LocalClock,
}

/// The source of a cell: as long as it is the same, so is the cell.
#[derive(Clone, Copy, PartialEq)]
enum Of {
    /// A source that differs in every row, or is not worth comparing.
    Anything,
    Whole(Option<i64>),
    Real(u64),
    /// A shared row, by how often it has changed.
    Shared(u64),
}

impl Of {
    fn value(value: ValueRef<'_>) -> Self {
        match value {
            ValueRef::Null => Self::Whole(None),
            ValueRef::Integer(whole) => Self::Whole(Some(whole)),
            ValueRef::Real(number) => Self::Real(number.to_bits()),
            ValueRef::Text(_) | ValueRef::Blob(_) => Self::Anything,
        }
    }

    /// Makes a cell from its present source. Returns whether the source is unchanged, so that the cell need not be
    /// made.
    fn stays(&mut self, now: Self, make: impl FnOnce()) -> bool {
        let stays = now != Self::Anything && now == *self;
        *self = now;
        if !stays {
            make();
        }
        stays
    }
}

/// How columns are read.
pub(super) struct RowReader {
    /// The columns of the SELECT.
    pub selected: Vec<String>,
    /// Their tables and radiants.
    pub needs: Needs,
    how: Vec<(How, FieldKind)>,
    shared: Vec<(usize, Shared, Vec<&'static str>)>,
}

impl RowReader {
    /// How these are read.
    pub fn of(sources: &[ColumnSource]) -> Self {
        let mut reader = Self {
            selected: Vec::with_capacity(sources.len() + 8),
            needs: Needs::default(),
            how: Vec::with_capacity(sources.len()),
            shared: Vec::new(),
        };
        for source in sources {
            let how = reader.how(*source);
            reader.how.push((how, source.field().kind));
        }
        reader
    }

    /// The state for decoding cells.
    pub fn cell_cache(&self) -> CellCache {
        let rows = self.shared.iter();
        CellCache {
            shared: rows
                .map(|(key, shared, columns)| SharedRows::new(*key, *shared, columns))
                .collect(),
            of: vec![Of::Anything; self.how.len()],
            local: LocalClock::default(),
        }
    }

    /// Fills the cells of a frame from a row. Cells of columns that the catalogue does not store are not changed.
    pub fn fill(
        &self,
        made: &mut FrameRow,
        db: &Connection,
        row: &Row<'_>,
        cache: &mut CellCache,
    ) -> rusqlite::Result<()> {
        let (shared, local) = (&mut cache.shared, &mut cache.local);
        for rows in shared.iter_mut() {
            rows.turn_to(db, row)?;
        }
        let FrameRow { cells, since, .. } = made;
        cells.resize(self.how.len(), Cell::Unknown);
        if since.number == 0 {
            // The caller may have changed the cells.
            cache.of.fill(Of::Anything);
        }
        since.number += 1;
        since.same.clear();
        for (((how, kind), cell), of) in self.how.iter().zip(cells).zip(&mut cache.of) {
            let same = match how {
                How::Itself(at) => {
                    let value = row.get_ref(*at)?;
                    of.stays(Of::value(value), || put_cell(cell, value, *kind))
                }
                How::Parts(at, parts) => {
                    let n = whole(row, *at)?;
                    of.stays(Of::Whole(n), || put_number(cell, n, *parts))
                }
                How::Round(at) => {
                    let n = whole(row, *at)?.map(|n| if n < 0 { n + ONCE_ROUND } else { n });
                    of.stays(Of::Whole(n), || put_number(cell, n, TENTHS))
                }
                How::Word(at, words) => {
                    let n = whole(row, *at)?;
                    let word = || words.get(usize::try_from(n?).ok()?).copied();
                    of.stays(Of::Whole(n), || put_text(cell, word()))
                }
                How::Offset(at) => {
                    let n = whole(row, *at)?;
                    of.stays(Of::Whole(n), || put_offset(cell, n))
                }
                How::After(start, exposure, ms) => {
                    let after = (row.get::<_, Option<f64>>(*exposure)?.unwrap_or(0.0) * ms).round();
                    #[allow(clippy::cast_possible_truncation)] // `as` saturates
                    let at = whole(row, *start)?.and_then(|start| start.checked_add(after as i64));
                    of.stays(Of::Anything, || match kind {
                        FieldKind::Instant => put_instant(cell, at),
                        // A Parquet export keeps moments as numbers.
                        _ => *cell = at.map_or(Cell::Unknown, Cell::Whole),
                    })
                }
                How::Reading(seconds, fraction) => {
                    let fraction = row.get_ref(*fraction)?.as_str_or_null()?;
                    let seconds = whole(row, *seconds)?;
                    of.stays(Of::Anything, || put_reading(cell, seconds, fraction))
                }
                How::Local(start, rows, zone) => {
                    let start = whole(row, *start)?;
                    let zone = shared[*rows].cell(*zone);
                    of.stays(Of::Anything, || put_local(cell, start, zone, local))
                }
                How::Shared(own, rows, at) => match own.map(|own| row.get_ref(own)).transpose()? {
                    Some(own) if own != ValueRef::Null => {
                        of.stays(Of::value(own), || put_cell(cell, own, *kind))
                    }
                    _ => {
                        let rows = &shared[*rows];
                        let now = Of::Shared(rows.turns());
                        of.stays(now, || cell.clone_from(rows.cell(*at)))
                    }
                },
                How::Path(rows, folder, name) => {
                    let name = row.get_ref(*name)?.as_str_or_null()?;
                    let folder = shared[*rows].cell(*folder);
                    of.stays(Of::Anything, || put_path(cell, folder, name))
                }
                How::Elsewhere => false,
            };
            if since.number > 1 {
                since.same.push(same);
            }
        }
        Ok(())
    }

    fn how(&mut self, source: ColumnSource) -> How {
        if let ColumnSource::Frame(field) = source {
            return self.of_frame(field);
        }
        self.needs.add(source);
        self.kept(source)
    }

    fn of_frame(&mut self, field: &'static Field) -> How {
        match field.storage {
            Storage::Nowhere => return How::Elsewhere,
            Storage::Of(shared, column) => {
                let (row, at) = self.shared(shared, column);
                return How::Shared(None, row, at);
            }
            Storage::OwnOrShared(own, shared, column) => {
                let (row, at) = self.shared(shared, column);
                return How::Shared(Some(self.select(own.to_owned())), row, at);
            }
            Storage::Local => {
                let (row, at) = self.shared(Shared::Site, ZONE_COLUMN);
                return How::Local(self.select(START.to_owned()), row, at);
            }
            Storage::Path(column) => {
                let (row, at) = self.shared(Shared::Folder, column);
                return How::Path(row, at, self.select("file.name".to_owned()));
            }
            _ => {}
        }
        self.needs.add(ColumnSource::Frame(field));
        if field.storage == Storage::SecondsAndFraction {
            let seconds = self.select(field.column.to_owned());
            return How::Reading(seconds, self.select(READING_FRACTION.to_owned()));
        }
        self.kept(ColumnSource::Frame(field))
    }

    fn kept(&mut self, source: ColumnSource) -> How {
        match (Kept::of(source), source.field().kind) {
            (Some(Kept::Parts(column, parts)), _) => How::Parts(self.select(column), parts),
            (Some(Kept::Round(column)), _) => How::Round(self.select(column)),
            (Some(Kept::Word(column)), FieldKind::Words(words)) => {
                How::Word(self.select(column), words)
            }
            (Some(Kept::Offset(column)), _) => How::Offset(self.select(column)),
            (Some(Kept::After(ms)), _) => How::After(
                self.select(START.to_owned()),
                self.select(EXPOSURE.to_owned()),
                ms,
            ),
            _ => How::Itself(self.select(source.sql())),
        }
    }

    /// The position of a selected column, shared by all who need it.
    fn select(&mut self, column: String) -> usize {
        let known = self.selected.iter().position(|known| *known == column);
        known.unwrap_or_else(|| {
            self.selected.push(column);
            self.selected.len() - 1
        })
    }

    /// The position of a shared row, and of a column in it.
    fn shared(&mut self, shared: Shared, column: &'static str) -> (usize, usize) {
        let table = shared_rows(shared);
        self.needs.tables.insert(table.table);
        let known = self.shared.iter().position(|(_, s, _)| *s == shared);
        let at = known.unwrap_or_else(|| {
            let key = self.select(table.key.to_owned());
            self.shared.push((key, shared, Vec::new()));
            self.shared.len() - 1
        });
        let columns = &mut self.shared[at].2;
        let known = columns.iter().position(|known| *known == column);
        let place = known.unwrap_or_else(|| {
            columns.push(column);
            columns.len() - 1
        });
        (at, place)
    }
}

/// Puts a number into a cell, given how many parts are one.
fn put_number(cell: &mut Cell, n: Option<i64>, parts: f64) {
    *cell = n.map_or(Cell::Unknown, |n| Cell::Number(n as f64 / parts));
}

fn whole(row: &Row<'_>, at: usize) -> rusqlite::Result<Option<i64>> {
    row.get_ref(at)?.as_i64_or_null().map_err(Into::into)
}
