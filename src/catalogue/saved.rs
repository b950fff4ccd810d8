//! Queries by name. Knows no query grammar.

use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::instant_text;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::time::Utc;

/// A query by name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SavedQuery {
    /// Its name.
    pub name: String,
    /// Its text.
    pub query: String,
    /// When it was saved.
    pub saved_utc: String,
}

impl Catalogue {
    /// The text of a saved query, ignoring the case of its name.
    pub fn saved_query(&self, name: &str) -> Result<Option<String>, Failure> {
        self.one_if_any("SELECT query FROM stated_query WHERE name = ?", [name])
    }

    /// Every saved query, by name.
    pub fn saved_queries(&self) -> Result<Vec<SavedQuery>, Failure> {
        self.rows(
            "SELECT name, query, saved_ms FROM stated_query ORDER BY name",
            [],
            |row| {
                Ok(SavedQuery {
                    name: row.get(0)?,
                    query: row.get(1)?,
                    saved_utc: instant_text(row, 2)?.unwrap_or_default(),
                })
            },
        )
    }
}

impl Batch<'_> {
    /// Saves a query under a name, replacing an earlier one.
    pub fn save_query(&self, name: &str, query: &str, saved: Option<Utc>) -> Result<(), Failure> {
        self.step(|db| {
            db.execute("DELETE FROM stated_query WHERE name = ?", [name])?;
            db.execute(
                "INSERT INTO stated_query (name, query, saved_ms) VALUES (?, ?, ?)",
                params![name, query, saved.map(Utc::unix_ms)],
            )?;
            Ok(())
        })
    }

    /// Deletes a saved query.
    pub fn forget_query(&self, name: &str) -> Result<(), Failure> {
        self.change("DELETE FROM stated_query WHERE name = ?", [name])
    }
}
