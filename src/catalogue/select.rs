//! What can be requested. Runs nothing.

use crate::query::Checked;
use crate::terms::column::ColumnSource;

/// The data of each frame requested besides its columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detail {
    /// Only the columns.
    Columns,
    /// And the bytes of its first file's path.
    Path,
    /// And its radiants, but no files.
    Radiants,
    /// And all its files and radiants.
    Everything,
}

impl Detail {
    /// Whether it includes the path of the first file.
    pub(super) fn has_path(self) -> bool {
        matches!(self, Self::Path | Self::Everything)
    }

    /// Whether it includes the radiants.
    pub(super) fn has_radiants(self) -> bool {
        matches!(self, Self::Radiants | Self::Everything)
    }
}

/// A request.
#[derive(Clone, Copy, Debug)]
pub struct Ask<'a> {
    /// The condition.
    pub query: &'a Checked,
    /// The columns, in order.
    pub columns: &'a [ColumnSource],
    /// The data besides the columns.
    pub detail: Detail,
    /// The sort keys, most significant first; the start if there are none.
    pub order: &'a [Order],
    /// The most rows.
    pub limit: Option<u64>,
}

/// A sort key. Unknown values come last, in either direction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Order {
    /// Its value.
    pub source: ColumnSource,
    /// Its direction.
    pub way: Way,
}

/// The direction of a sort key.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// The least first.
    Up,
    /// The greatest first.
    Down,
}
