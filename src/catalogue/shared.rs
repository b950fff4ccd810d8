//! Rows that many frames share: their camera, lens, folder, site. Each is looked up by its number once and remembered.

use std::collections::HashMap;
use std::rc::Rc;

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::Row;

use crate::catalogue::put::cell;
use crate::terms::field::EVIDENCE_COLUMN;
use crate::terms::field::Field;
use crate::terms::field::FieldKind;
use crate::terms::field::MAIN_SHOWER_COLUMN;
use crate::terms::field::MAIN_SHOWER_NUMBER;
use crate::terms::field::PATH_COLUMN;
use crate::terms::field::SHOWER_COLUMN;
use crate::terms::field::SHOWER_NUMBER;
use crate::terms::field::Table;
use crate::terms::records::Cell;

/// A table whose rows many frames share.
pub(super) struct Shared {
    /// The number by which a frame names its row.
    pub key: &'static str,
    /// The table in which that number stands.
    pub table: Table,
    /// FROM and WHERE that find it.
    from: &'static str,
}

/// These tables.
pub(super) const SHARED: &[Shared] = &[
    Shared {
        key: "frame.camera_id",
        table: Table::Frame,
        from: "written_camera AS camera WHERE camera.camera_id = ?",
    },
    Shared {
        key: "frame.lens_id",
        table: Table::Frame,
        from: "written_lens AS lens WHERE lens.lens_id = ?",
    },
    Shared {
        key: "file.folder_id",
        table: Table::File,
        from: "written_folder AS folder JOIN written_dump AS dump USING (dump_id) WHERE folder.folder_id = ?",
    },
    Shared {
        key: "time.site_id",
        table: Table::Time,
        from: "stated_site AS site WHERE site.site_id = ?",
    },
    Shared {
        key: "time.evidence_id",
        table: Table::Time,
        from: "derived_evidence AS evidence WHERE evidence.evidence_id = ?",
    },
    Shared {
        key: SHOWER_NUMBER,
        table: Table::Sky,
        from: "derived_shower AS shower WHERE shower.shower_id = ?",
    },
    Shared {
        key: MAIN_SHOWER_NUMBER,
        table: Table::Sky,
        from: "derived_shower AS shower WHERE shower.shower_id = ?",
    },
];

/// Which of [`SHARED`] tells a field, the frame's own column that comes before it, and its column there.
pub(super) fn shared_column(
    field: &'static Field,
) -> Option<(usize, Option<&'static str>, &'static str)> {
    match (field.table, field.column) {
        (_, PATH_COLUMN) => Some((2, None, PATH_COLUMN.strip_suffix(" || file.name")?)),
        (_, SHOWER_COLUMN) => Some((5, None, "shower.code")),
        (_, MAIN_SHOWER_COLUMN) => Some((6, None, "shower.code")),
        (_, EVIDENCE_COLUMN) => Some((4, None, "evidence.words")),
        (Table::Camera, column) => Some((0, None, column)),
        (Table::Lens, column) => Some((1, None, column)),
        (Table::Dump, column) => Some((2, None, column)),
        (Table::Site, column) => match column
            .strip_prefix("ifnull(")
            .and_then(|c| c.strip_suffix(')'))
        {
            Some(both) => {
                let (own, of_site) = both.split_once(", ")?;
                Some((3, Some(own), of_site))
            }
            None => Some((3, None, column)),
        },
        _ => None,
    }
}

/// Rows that are remembered before they are looked up anew.
const REMEMBERED: usize = 4_096;

/// The rows of one of these tables, as far as frames have named them.
pub(super) struct SharedRows {
    /// The place in the SELECT of the number.
    key: usize,
    sql: String,
    columns: usize,
    known: HashMap<i64, Rc<[Cell]>>,
    /// The number that the frame at hand names, and its row.
    at: Option<i64>,
    row: Rc<[Cell]>,
    turns: u64,
}

impl SharedRows {
    /// No rows yet of a table, of which these columns are wanted.
    pub fn new(key: usize, shared: &Shared, columns: &[&str]) -> Self {
        Self {
            key,
            sql: format!("SELECT {} FROM {}", columns.join(", "), shared.from),
            columns: columns.len(),
            known: HashMap::new(),
            at: None,
            row: Rc::new([]),
            turns: 0,
        }
    }

    /// Takes the row that a frame names.
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

    /// How often the row has become another.
    pub const fn turns(&self) -> u64 {
        self.turns
    }

    /// A column of that row.
    pub fn cell(&self, column: usize) -> &Cell {
        self.row.get(column).unwrap_or(&Cell::Unknown)
    }
}
