//! The files of a Parquet export: their names below its folder, and which frames are in which. Opens none.

use std::path::Component;
use std::path::Path;
use std::path::PathBuf;

use crate::terms::day::DAY_S;
use crate::terms::records::Cell;
use crate::terms::time::WallTime;
use crate::usecase::dataset::table::Table;

/// The folder for frames whose night is unknown, by the convention of the engines.
const NO_NIGHT: &str = "__HIVE_DEFAULT_PARTITION__";

/// The name of a year's folder, before `=`; engines show it as a column.
const YEAR: &str = "night_year";

/// Whether a Parquet export is partitioned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Parted {
    /// It is one piece.
    Not,
    /// By the years of the nights.
    ByYear,
}

/// The frames that share files.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Share {
    /// All.
    All,
    /// Those with a night of this year.
    Year(i16),
    /// Those whose night is unknown.
    NoNight,
}

/// One file of a Parquet export.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DataFile {
    /// The table of its rows.
    pub table: Table,
    /// Its frames.
    pub share: Share,
    /// Its number among those of the same frames, from 0.
    pub part: u32,
}

impl DataFile {
    /// Its path below the export's folder: `frames/night_year=2023/part-0.parquet`.
    pub fn below(&self) -> PathBuf {
        let mut path = PathBuf::from(self.table.word());
        match self.share {
            Share::All => {}
            Share::Year(year) => path.push(format!("{YEAR}={year}")),
            Share::NoNight => path.push(format!("{YEAR}={NO_NIGHT}")),
        }
        path.push(format!("part-{}.parquet", self.part));
        path
    }

    /// Whether a path below a folder is that of a file of a Parquet export.
    pub fn is_one(below: &Path) -> bool {
        let parts: Option<Vec<&str>> = below
            .components()
            .map(|part| match part {
                Component::Normal(name) => name.to_str(),
                _ => None,
            })
            .collect();
        let is_part = |name: &str| {
            let number = name.strip_prefix("part-");
            number
                .and_then(|rest| rest.strip_suffix(".parquet"))
                .is_some_and(|number| number.parse::<u32>().is_ok())
        };
        let is_year = |name: &str| {
            name.strip_prefix(YEAR)
                .is_some_and(|rest| rest.starts_with('='))
        };
        let is_table = |name: &str| Table::ALL.iter().any(|table| table.word() == name);
        match parts.as_deref() {
            Some([table, file]) => is_table(table) && is_part(file),
            Some([table, year, file]) => is_table(table) && is_year(year) && is_part(file),
            _ => false,
        }
    }
}

/// The share of a frame by the day of its night.
pub(super) fn share_of(night: Option<&Cell>) -> Share {
    match night {
        Some(Cell::Whole(day)) => day
            .checked_mul(DAY_S)
            .and_then(|seconds| WallTime::from_seconds(seconds, ""))
            .map_or(Share::NoNight, |at| Share::Year(at.civil().year())),
        _ => Share::NoNight,
    }
}
