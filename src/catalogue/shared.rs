//! Rows that many frames share: their camera, lens, folder, site. Each is looked up by its number once and remembered.

use std::collections::HashMap;
use std::rc::Rc;

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::Row;

use crate::catalogue::put::cell;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_kind::Shared;
use crate::terms::field_kind::Table;
use crate::terms::field_sql::MAIN_SHOWER_NUMBER;
use crate::terms::field_sql::SHOWER_NUMBER;
use crate::terms::records::Cell;

/// Where the shared rows are.
pub(super) struct SharedTable {
    /// The number by which a frame names its row.
    pub key: &'static str,
    /// The table with that number.
    pub table: Table,
    /// The rows, and the number there.
    pub rows: &'static str,
    pub number: &'static str,
}

/// The table of such rows.
pub(super) const fn shared_rows(shared: Shared) -> SharedTable {
    let (key, table, rows, number) = match shared {
        Shared::Camera => (
            "frame.camera_id",
            Table::Frame,
            "written_camera AS camera",
            "camera.camera_id",
        ),
        Shared::Lens => (
            "frame.lens_id",
            Table::Frame,
            "written_lens AS lens",
            "lens.lens_id",
        ),
        Shared::Folder => (
            "file.folder_id",
            Table::File,
            "written_folder AS folder JOIN written_dump AS dump USING (dump_id)",
            "folder.folder_id",
        ),
        Shared::Site => (
            "time.site_id",
            Table::Time,
            "stated_site AS site",
            "site.site_id",
        ),
        Shared::Evidence => (
            "time.evidence_id",
            Table::Time,
            "derived_evidence AS evidence",
            "evidence.evidence_id",
        ),
        Shared::Shower => (SHOWER_NUMBER, Table::Sky, SHOWER_ROWS, "shower.shower_id"),
        Shared::MainShower => (
            MAIN_SHOWER_NUMBER,
            Table::Sky,
            SHOWER_ROWS,
            "shower.shower_id",
        ),
    };
    SharedTable {
        key,
        table,
        rows,
        number,
    }
}

const SHOWER_ROWS: &str = "derived_shower AS shower";

/// Rows that are cached before they are looked up again.
const REMEMBERED: usize = 4_096;

/// The rows of one of these tables that frames have referred to so far.
pub(super) struct SharedRows {
    /// The position of the number in the SELECT.
    key: usize,
    sql: String,
    columns: usize,
    known: HashMap<i64, Rc<[Cell]>>,
    /// The number in the current frame, and its row.
    at: Option<i64>,
    row: Rc<[Cell]>,
    turns: u64,
}

impl SharedRows {
    /// An empty cache for a table, with the wanted columns.
    pub fn new(key: usize, shared: Shared, columns: &[&str]) -> Self {
        let SharedTable { rows, number, .. } = shared_rows(shared);
        Self {
            key,
            sql: format!(
                "SELECT {} FROM {rows} WHERE {number} = ?",
                columns.join(", ")
            ),
            columns: columns.len(),
            known: HashMap::new(),
            at: None,
            row: Rc::new([]),
            turns: 0,
        }
    }

    /// Moves to the row that a frame refers to.
    pub fn turn_to(&mut self, db: &Connection, frame: &Row<'_>) -> rusqlite::Result<()> {
        let key = frame.get_ref(self.key)?.as_i64_or_null()?;
        if key == self.at {
            return Ok(());
        }
        self.at = key;
        self.turns += 1;
        self.row = match key {
            None => Rc::new([]),
            Some(key) => match self.known.get(&key) {
                Some(known) => Rc::clone(known),
                None => self.look_up(db, key)?,
            },
        };
        Ok(())
    }

    fn look_up(&mut self, db: &Connection, key: i64) -> rusqlite::Result<Rc<[Cell]>> {
        let columns = self.columns;
        let found = db
            .prepare_cached(&self.sql)?
            .query_row([key], |row| {
                (0..columns)
                    .map(|at| Ok(cell(row.get_ref(at)?, FieldKind::Text)))
                    .collect::<rusqlite::Result<Rc<[Cell]>>>()
            })
            .optional()?
            .unwrap_or_default();
        if self.known.len() >= REMEMBERED {
            self.known.clear();
        }
        self.known.insert(key, Rc::clone(&found));
        Ok(found)
    }

    /// How often the row has changed.
    pub const fn turns(&self) -> u64 {
        self.turns
    }

    /// A column of that row.
    pub fn cell(&self, column: usize) -> &Cell {
        self.row.get(column).unwrap_or(&Cell::Unknown)
    }
}
