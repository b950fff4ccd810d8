//! How SQLite answers a query: the SQL, its values, and the index used by each step.

use rusqlite::params_from_iter;

use crate::catalogue::fetch::Bound;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::plan_sql::Statement;
use crate::catalogue::plan_sql::UNION_ALIAS;
use crate::catalogue::row_reader::RowReader;
use crate::catalogue::select::Ask;
use crate::catalogue::selects::select_within;
use crate::catalogue::selects::selects;
use crate::terms::failure::Failure;
use crate::terms::predicate::SqlValue;

/// How a query is answered.
#[derive(Clone, Debug, PartialEq)]
pub struct Explained {
    /// The SQL; if there are several SELECTs, the answer is their rows one after the other.
    pub sql: String,
    /// The values of its `?` placeholders, in order, for all SELECTs.
    pub values: Vec<SqlValue>,
    /// The steps, from the outermost inward.
    pub steps: Vec<Step>,
}

/// One step of an answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// Which of the SELECTs it belongs to, from 0.
    pub select: usize,
    /// In SQLite's own words.
    pub words: String,
    /// The index or table it uses.
    pub served: Served,
}

/// What a step uses.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Served {
    /// An index of that name.
    Index(String),
    /// The table's own key: one row is found by its number.
    Key,
    /// No index: every row of the table is read.
    EveryRow,
    /// No table: rows are sorted, or parts are combined.
    NoTable,
}

impl Catalogue {
    /// Explains how a query would be answered, without answering it.
    pub fn explain(&self, ask: &Ask<'_>) -> Result<Explained, Failure> {
        let (opening, columns) = (self.opening(ask)?, RowReader::of(ask.columns));
        let first = opening.iter();
        let mut statements: Vec<Statement> = first
            .map(|day| select_within(ask, &columns, day.stretch))
            .collect();
        let from_ms = opening.last().map(|last| last.stretch.until);
        statements.extend(selects(ask, &columns, from_ms));
        let steps = self.step(|_| {
            let mut steps = Vec::new();
            for (select, statement) in statements.iter().enumerate() {
                steps.extend(self.steps(select, statement)?);
            }
            Ok(steps)
        })?;
        let sql: Vec<&str> = statements.iter().map(|one| one.sql.as_str()).collect();
        Ok(Explained {
            sql: sql.join(";\n"),
            values: statements.into_iter().flat_map(|one| one.values).collect(),
            steps,
        })
    }

    /// The steps of one SELECT.
    fn steps(&self, select: usize, statement: &Statement) -> rusqlite::Result<Vec<Step>> {
        let values = params_from_iter(statement.values.iter().map(Bound));
        self.db
            .prepare(&format!("EXPLAIN QUERY PLAN {}", statement.sql))?
            .query_map(values, |row| {
                let words: String = row.get(3)?;
                let served = served(&words);
                Ok(Step {
                    select,
                    words,
                    served,
                })
            })?
            .collect()
    }
}

/// Whether a step reads the rows found by an inner SELECT.
fn is_found(words: &str) -> bool {
    let name = words.split(' ').nth(1).unwrap_or("");
    name == UNION_ALIAS || name.starts_with('(')
}

/// Parses SQLite's words for a step. Source: "EXPLAIN QUERY PLAN", sqlite.org/eqp.html.
fn served(words: &str) -> Served {
    if let Some((_, behind)) = words.split_once(" INDEX ")
        && let Some(name) = behind.split(' ').next()
        && words.contains(" USING ")
    {
        return Served::Index(name.to_owned());
    }
    if words.starts_with("SEARCH") {
        Served::Key
    } else if words.starts_with("SCAN") && !words.contains("VIRTUAL TABLE") && !is_found(words) {
        Served::EveryRow
    } else {
        Served::NoTable
    }
}
