//! How a question is answered, as data: which table drives, which are joined to it and in which order, what is asked of their
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
    /// What is joined to the driving rows, in this order: what conditions ask about before what is only shown.
    pub joins: Vec<Join>,
    /// What must hold of the rows.
    pub conditions: Vec<Condition>,
    /// What the rows are ordered by before their starts; `None` where their order does not matter.
    pub order: Option<Vec<Order>>,
    /// At most so many rows.
    pub limit: Option<u64>,
}

/// Where a SELECT begins.
#[derive(Clone, Debug, PartialEq)]
pub enum Driving {
    /// With the rows of a table that an index finds for one of the conditions.
    Index(Source),
    /// With the frames under radiants, each once.
    Union(Union),
    /// With every row of a table: no condition leads anywhere.
    Scan(Source),
    /// With the frames that have a start, in its order.
    Starts,
    /// With the frames of a list of numbers, in its order: the first `?` is the list.
    Listed,
}

/// Frames under radiants.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Union {
    /// Those under the radiant of one of these showers, of which the test beside it holds.
    pub radiants: Vec<(ShowerCode, Option<Checked>)>,
    /// And those without a place, whose active showers are not known, with one of these as their main one.
    pub unplaced: BTreeSet<ShowerCode>,
}

/// Rows that a frame has one of at most.
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
    /// Whose rows.
    pub source: Source,
    /// What becomes of frames without a row.
    pub kind: JoinKind,
}

/// What becomes of frames without a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum JoinKind {
    /// There are none, or no condition holds for them.
    Inner,
    /// They stay.
    Left,
}

/// What must hold of the rows.
#[derive(Clone, Debug, PartialEq)]
pub enum Condition {
    /// A part of the query as it stands.
    Test(Checked),
    /// A part of the query that asks about a row which many frames share: asked of that row once, not of each frame.
    OfShared(Shared, Checked),
    /// The night is that of a session with such a number: one index has nights, and their sessions behind them.
    NightOfSession(ColumnSource, Test),
    /// The frame is for calibration: the condition of the index over such frames.
    OfCalibration,
    /// It has a start, or none.
    Dated(bool),
    /// It starts in a stretch of time.
    Within(Stretch),
    /// Its number is from the first to the second of these.
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

/// Where in time the first rows are looked for, before all are found and sorted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Opening {
    /// On the first days on which one of these showers was active,
    pub showers: BTreeSet<ShowerCode>,
    /// unless one of these is the main one over a frame without a place, the day of which is noted nowhere;
    pub unplaced: BTreeSet<ShowerCode>,
    /// from the first to the last of these days, since 1970-01-01.
    pub days: (i64, i64),
}

/// Which frames a SELECT goes through, and in which order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Walk {
    /// All, as the conditions lead.
    Free,
    /// The same, without those that start before a moment.
    From(i64),
    /// Those with numbers from the first to the second of these, as the conditions lead.
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

/// Tables, and showers whose radiants are meant.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Needs {
    pub tables: BTreeSet<Table>,
    pub showers: BTreeSet<ShowerCode>,
}

/// The tables that hang on another one's row; each stands before the one that it needs.
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
    pub fn sure_of(test: &Checked) -> Self {
        let mut sure = Self::default();
        match test {
            Checked::All(parts) => parts
                .iter()
                .for_each(|part| sure.extend(Self::sure_of(part))),
            Checked::Any(parts) => {
                let mut parts = parts.iter().map(Self::sure_of);
                sure = parts.next().unwrap_or_default();
                for part in parts {
                    sure.tables.retain(|table| part.tables.contains(table));
                    sure.showers.retain(|shower| part.showers.contains(shower));
                }
            }
            // Where a value is not known, neither is the opposite of a comparison; all else may come true.
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

    /// With the tables that these hang on.
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
