//! Queries by name. Knows no query grammar.

use rusqlite::OptionalExtension;
use rusqlite::params;

use crate::catalogue::columns::instant_text;
use crate::catalogue::failure::failed;
use crate::catalogue::generation;
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
    /// Keeps a query under a name, in the place of one that had it; whether one had it.
    pub fn save_query(&mut self, name: &str, query: &str, now: Utc) -> Result<bool, Failure> {
        // Both or neither: a full disk must not cost the query that had the name.
        let mut write = || -> rusqlite::Result<bool> {
            let tx = self.db.transaction()?;
            let before = tx.execute("DELETE FROM stated_query WHERE name = ?", [name])?;
            tx.execute(
                "INSERT INTO stated_query (name, query, saved_ms) VALUES (?, ?, ?)",
                params![name, query, now.unix_ms()],
            )?;
            generation::renew(&tx)?;
            tx.commit()?;
            Ok(before > 0)
        };
        write().map_err(|e| failed(&self.path, e))
    }

    /// The text of a saved query, its name in either case of letters.
    pub fn saved_query(&self, name: &str) -> Result<Option<String>, Failure> {
        self.db
            .query_row(
                "SELECT query FROM stated_query WHERE name = ?",
                [name],
                |row| row.get(0),
            )
            .optional()
            .map_err(|e| failed(&self.path, e))
    }

    /// Every saved query, by name.
    pub fn saved_queries(&self) -> Result<Vec<SavedQuery>, Failure> {
        let read = || -> rusqlite::Result<Vec<SavedQuery>> {
            self.db
                .prepare("SELECT name, query, saved_ms FROM stated_query ORDER BY name")?
                .query_map([], |row| {
                    Ok(SavedQuery {
                        name: row.get(0)?,
                        query: row.get(1)?,
                        saved_utc: instant_text(row, 2)?.unwrap_or_default(),
                    })
                })?
                .collect()
        };
        read().map_err(|e| failed(&self.path, e))
    }

    /// Forgets a saved query; whether there was one.
    pub fn forget_query(&mut self, name: &str) -> Result<bool, Failure> {
        let mut write = || -> rusqlite::Result<bool> {
            let tx = self.db.transaction()?;
            let rows = tx.execute("DELETE FROM stated_query WHERE name = ?", [name])?;
            if rows > 0 {
                generation::renew(&tx)?;
            }
            tx.commit()?;
            Ok(rows > 0)
        };
        write().map_err(|e| failed(&self.path, e))
    }
}
