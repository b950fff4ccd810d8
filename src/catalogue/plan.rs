//! How a query is answered, as data: the driving table, the tables joined to it and their order, the conditions on the
//! rows, and the order of the answer. Decides nothing, writes no SQL.

use std::collections::BTreeSet;

use crate::catalogue::select::Order;
use crate::query::Checked;
use crate::query::Test;
use crate::terms::column::ColumnSource;
use crate::terms::field_kind::Shared;
use crate::terms::field_kind::Table;
use crate::terms::shower::ShowerCode;

/// One SELECT.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Where it begins.
    pub driving: Driving,
    /// The tables joined to the driving rows, in this order: those with conditions before those that are only shown.
    pub joins: Vec<Join>,
    /// The conditions on the rows.
    pub conditions: Vec<Condition>,
    /// The sort keys before the start; `None` if the order does not matter.
    pub order: Option<Vec<Order>>,
    /// The most rows.
    pub limit: Option<u64>,
}

/// Where a SELECT begins.
#[derive(Clone, Debug, PartialEq)]
pub enum Driving {
    /// With the rows of a table that an index finds for one of the conditions.
    Index(Source),
    /// With the frames under radiants, each frame once.
    Union(Union),
    /// With every row of a table: no condition can use an index.
    Scan(Source),
    /// With the frames that have a start, in its order.
    Starts,
    /// With the frames of a list of numbers, in its order: the first `?` is the list.
    Listed,
}

/// Frames under radiants.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Union {
    /// Those under the radiant of one of these showers for which the test, if any, is true.
    pub radiants: Vec<(ShowerCode, Option<Checked>)>,
    /// And those without a place, whose active showers are unknown, with one of these as their main one.
    pub unplaced: BTreeSet<ShowerCode>,
}

/// A row that each frame has at most once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// A table's; of [`Table::Radiant`] the strongest shower's.
    Table(Table),
    /// The radiant of a shower.
    Radiant(ShowerCode),
}

/// A table joined to those before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Join {
    /// Its rows.
    pub source: Source,
    /// How frames without a row are treated.
    pub kind: JoinKind,
}

/// How frames without a row are treated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum JoinKind {
    /// There are none, or no condition is true for them.
    Inner,
    /// They are kept.
    Left,
}

/// A condition on the rows.
#[derive(Clone, Debug, PartialEq)]
pub enum Condition {
    /// A part of the query, unchanged.
    Test(Checked),
    /// A part of the query about a row that many frames share: evaluated once for that row, not for each frame.
    OfShared(Shared, Checked),
    /// The night of a session with such a number: one index has nights, followed by their sessions.
    NightOfSession(ColumnSource, Test),
    /// The frame is for calibration: the condition of the index on such frames.
    OfCalibration,
    /// Whether it has a start.
    Dated(bool),
    /// It starts in a stretch of time.
    Within(Stretch),
    /// Its number is in this range.
    Numbered(i64, i64),
    /// It does not start before this moment, in milliseconds since 1970.
    NotBefore(i64),
}

/// A stretch of time, in milliseconds since 1970.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// Its first moment.
    pub from: i64,
    /// The first moment after it.
    pub until: i64,
}

/// The time range searched for the first rows, before all rows are found and sorted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Opening {
    /// On the first days on which one of these showers was active,
    pub showers: BTreeSet<ShowerCode>,
    /// unless one of these is the main one over a frame without a place, the day of which is not recorded;
    pub unplaced: BTreeSet<ShowerCode>,
    /// from the first to the last of these days, since 1970-01-01.
    pub days: (i64, i64),
}

/// The frames that a SELECT goes through, and their order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Walk {
    /// All, in the order of the driving index.
    Free,
    /// The same, without those that start before a moment.
    From(i64),
    /// Those with numbers in this range, in the order of the driving index.
    Numbered(i64, i64),
    /// Those with a start, in its order.
    Dated,
    /// Those without.
    Undated,
    /// Those that start in a stretch of time, in the order of their starts.
    Within(Stretch),
    /// Those of a list of numbers, in its order.
    Listed,
}

/// Tables, and showers for their radiants.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Needs {
    pub tables: BTreeSet<Table>,
    pub showers: BTreeSet<ShowerCode>,
}

/// Tables that are joined through another one's row, after the table that they need.
const HANGS_ON: &[(Table, Table)] = &[
    (Table::Radiant, Table::Sky),
    (Table::Dump, Table::Folder),
    (Table::Folder, Table::File),
    (Table::File, Table::Frame),
    (Table::Camera, Table::Frame),
    (Table::Lens, Table::Frame),
    (Table::Site, Table::Time),
];

/// The order in which tables are joined; the radiants of showers come after the sky.
const JOINED: &[Table] = &[
    Table::Time,
    Table::Sky,
    Table::Radiant,
    Table::Frame,
    Table::Camera,
    Table::Lens,
    Table::File,
    Table::Folder,
    Table::Dump,
    Table::Site,
    Table::Look,
];

impl Needs {
    /// These tables.
    pub fn of(tables: &[Table]) -> Self {
        Self {
            tables: tables.iter().copied().collect(),
            showers: BTreeSet::new(),
        }
    }

    /// The tables and showers without whose row a test is false or unknown.
    pub fn required_by(test: &Checked) -> Self {
        let mut sure = Self::default();
        match test {
            Checked::All(parts) => parts
                .iter()
                .for_each(|part| sure.extend(Self::required_by(part))),
            Checked::Any(parts) => {
                let mut parts = parts.iter().map(Self::required_by);
                sure = parts.next().unwrap_or_default();
                for part in parts {
                    sure.tables.retain(|table| part.tables.contains(table));
                    sure.showers.retain(|shower| part.showers.contains(shower));
                }
            }
            // If a value is unknown, so is the opposite of a comparison; any other test may become true.
            Checked::Not(inner) => match &**inner {
                Checked::Test(_, Test::Known | Test::Unknown) => {}
                Checked::Test(source, _) => sure.add(*source),
                _ => {}
            },
            Checked::Every | Checked::Test(_, Test::Unknown) => {}
            Checked::Test(source, _) => sure.add(*source),
        }
        sure
    }

    /// Adds the tables that a column's expression reads.
    pub fn add(&mut self, source: ColumnSource) {
        match source {
            ColumnSource::Frame(field) => self.tables.extend(field.tables()),
            ColumnSource::Strongest(_) => self.tables.extend([Table::Sky, Table::Radiant]),
            ColumnSource::Radiant(shower, _) => {
                self.showers.insert(shower);
            }
        }
    }

    pub fn extend(&mut self, other: Self) {
        self.tables.extend(other.tables);
        self.showers.extend(other.showers);
    }

    /// Adds the tables through which these are joined.
    pub fn whole(mut self) -> Self {
        for (table, needs) in HANGS_ON {
            if self.tables.contains(table) {
                self.tables.insert(*needs);
            }
        }
        self
    }

    pub fn contains(&self, source: Source) -> bool {
        match source {
            Source::Table(table) => self.tables.contains(&table),
            Source::Radiant(shower) => self.showers.contains(&shower),
        }
    }

    /// In the order in which they are joined.
    pub fn sources(&self) -> Vec<Source> {
        let mut sources = Vec::new();
        for table in JOINED {
            if *table == Table::Radiant {
                sources.extend(self.showers.iter().map(|shower| Source::Radiant(*shower)));
            }
            if self.tables.contains(table) {
                sources.push(Source::Table(*table));
            }
        }
        sources
    }
}
