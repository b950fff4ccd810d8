//! The maker of derived rows: it shows whether a row is stale, and reports and lists name it.

use std::fmt;

/// The maker of derived rows.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Maker {
    /// The program and its version.
    pub program: String,
    /// Version of the formulas.
    pub formulas: i64,
    /// Edition of the shower table.
    pub shower_table: String,
}

impl fmt::Display for Maker {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            program,
            formulas,
            shower_table,
        } = self;
        write!(
            f,
            "{program}, formulas {formulas}, shower table {shower_table}"
        )
    }
}

/// A maker, and how many frames have rows by it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MakerCount {
    /// Its number.
    pub maker_id: i64,
    /// The maker.
    pub maker: Maker,
    /// How many frames.
    pub frames: u64,
}
