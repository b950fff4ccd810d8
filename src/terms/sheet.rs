//! A small table of anything except frames: sessions, sites, showers, findings. Holds cells, prints nothing.

use crate::terms::field::Field;
use crate::terms::records::Cell;

/// A small table, held in memory.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// The columns; a field's name is its heading.
    pub columns: &'static [Field],
    /// The rows, a cell for each column.
    pub rows: Vec<Vec<Cell>>,
    /// Shown if there are no rows.
    pub when_empty: &'static str,
}
