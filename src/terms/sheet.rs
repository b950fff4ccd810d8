//! A small table of anything but frames: sessions, sites, showers, findings. Holds cells, prints nothing.

use crate::terms::field::Unit;
use crate::terms::records::Cell;

/// A column of a sheet.
#[derive(Clone, Copy, Debug)]
pub struct SheetColumn {
    /// What JSON and CSV call it.
    pub key: &'static str,
    /// What a table on the screen calls it.
    pub heading: &'static str,
    /// The unit of its numbers.
    pub unit: Unit,
    /// Digits after the point on the screen; [`crate::terms::field::SHOWN_AS_KEPT`] prints numbers as they are.
    pub decimals: u8,
}

/// A small table, held in memory.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// The columns.
    pub columns: Vec<SheetColumn>,
    /// The rows, a cell for each column.
    pub rows: Vec<Vec<Cell>>,
    /// What to say when there are no rows.
    pub when_empty: &'static str,
}

impl SheetColumn {
    /// A column of text, or of numbers without a unit that print as they are.
    pub const fn plain(key: &'static str, heading: &'static str) -> Self {
        Self {
            key,
            heading,
            unit: Unit::One,
            decimals: crate::terms::field::SHOWN_AS_KEPT,
        }
    }

    /// A column of numbers.
    pub const fn number(
        key: &'static str,
        heading: &'static str,
        unit: Unit,
        decimals: u8,
    ) -> Self {
        Self {
            key,
            heading,
            unit,
            decimals,
        }
    }
}
