//! How SQLite goes about a question: the SQL, its values, and for each step which index serves it.

use rusqlite::params_from_iter;

use crate::catalogue::failure::failed;
use crate::catalogue::fetch::Bound;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::joins::HIT;
use crate::catalogue::select::Ask;
use crate::catalogue::select::select_within;
use crate::catalogue::select::selects;
use crate::catalogue::told::Told;
use crate::terms::failure::Failure;
use crate::terms::predicate::SqlValue;

/// How a question is answered.
#[derive(Clone, Debug, PartialEq)]
pub struct Explained {
    /// The SQL; of several SELECTs, their rows one after the other are the answer.
    pub sql: String,
    /// The values of its `?` marks, in order, those of all SELECTs.
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
    /// What serves it.
    pub served: Served,
}

/// What serves a step.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Served {
    /// An index of that name.
    Index(String),
    /// The table's own key: one row is found by its number.
    Key,
    /// Nothing: every row of the table is read.
    EveryRow,
    /// No table is read: rows are sorted, or parts put together.
    NoTable,
}

impl Catalogue {
    /// Says how a question would be answered, without answering it.
    pub fn explain(&self, ask: &Ask<'_>) -> Result<Explained, Failure> {
        let (opening, columns) = (self.opening(ask)?, Told::of(ask.columns));
        let own: Vec<&SqlValue> = ask.predicate.values.iter().collect();
        let by_lead: Vec<&SqlValue> = ask.predicate.values_by_lead().collect();
        let mut told: Vec<(String, &[&SqlValue])> = opening
            .iter()
            .map(|stretch| (select_within(ask, &columns, *stretch), own.as_slice()))
            .collect();
        let rest = selects(ask, &columns, opening.last().map(|last| last.until));
        told.extend(rest.into_iter().map(|sql| (sql, by_lead.as_slice())));
        let read = || -> rusqlite::Result<Vec<Step>> {
            let mut steps = Vec::new();
            for (select, (sql, values)) in told.iter().enumerate() {
                steps.extend(self.steps(select, sql, values.iter().copied())?);
            }
            Ok(steps)
        };
        let steps = read().map_err(|e| failed(&self.path, e))?;
        let sql: Vec<&str> = told.iter().map(|(sql, _)| sql.as_str()).collect();
        Ok(Explained {
            sql: sql.join(";\n"),
            values: told
                .iter()
                .flat_map(|(_, values)| values.iter().copied().cloned())
                .collect(),
            steps,
        })
    }

    /// The steps of one SELECT.
    fn steps<'v>(
        &self,
        select: usize,
        sql: &str,
        values: impl Iterator<Item = &'v SqlValue>,
    ) -> rusqlite::Result<Vec<Step>> {
        self.db
            .prepare(&format!("EXPLAIN QUERY PLAN {sql}"))?
            .query_map(params_from_iter(values.map(Bound)), |row| {
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

/// Whether a step takes the rows that a SELECT within the SELECT has found.
fn is_found(words: &str) -> bool {
    let name = words.split(' ').nth(1).unwrap_or("");
    name == HIT || name.starts_with('(')
}

/// Reads SQLite's words for a step. Source: "EXPLAIN QUERY PLAN", sqlite.org/eqp.html.
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
