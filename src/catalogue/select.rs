//! What can be asked for. Runs nothing.

use crate::query::Checked;
use crate::terms::column::ColumnSource;

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
    pub query: &'a Checked,
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
