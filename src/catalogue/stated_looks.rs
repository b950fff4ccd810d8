//! What the photographer said on looking at frames. Computes no value.

use rusqlite::ToSql;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::columns;
use crate::terms::failure::Failure;

/// What is said of a frame.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StatedLook {
    /// Whether the photographer has looked at it.
    pub looked: Option<bool>,
    /// Whether it is wanted in the picture.
    pub chosen: Option<bool>,
    /// The note about it.
    pub note: Option<String>,
}

columns!(StatedLook: looked chosen note);

impl Batch<'_> {
    /// What is said of a frame.
    pub fn look_of(&self, frame_id: i64) -> Result<StatedLook, Failure> {
        let sql = "SELECT looked, chosen, note FROM stated_look WHERE frame_id = ?";
        Ok(self.one_if_any(sql, [frame_id])?.unwrap_or_default())
    }

    /// Records whether the photographer has looked at a frame.
    pub fn put_looked(&self, frame_id: i64, looked: bool) -> Result<(), Failure> {
        self.put_look(frame_id, "looked", &looked)
    }

    /// Records whether a frame is wanted in the picture; `None` removes it.
    pub fn put_chosen(&self, frame_id: i64, chosen: Option<bool>) -> Result<(), Failure> {
        self.put_look(frame_id, "chosen", &chosen)
    }

    /// Records the note about a frame; `None` removes it.
    pub fn put_note(&self, frame_id: i64, note: Option<&str>) -> Result<(), Failure> {
        self.put_look(frame_id, "note", &note)
    }

    fn put_look(
        &self,
        frame_id: i64,
        column: &'static str,
        value: &dyn ToSql,
    ) -> Result<(), Failure> {
        self.step(|db| {
            db.prepare_cached(&format!(
                "INSERT INTO stated_look (frame_id, {column}) VALUES (?1, ?2)
                 ON CONFLICT (frame_id) DO UPDATE SET {column} = ?2"
            ))?
            .execute(params![frame_id, value])?;
            // A frame of which nothing is said has no row.
            db.prepare_cached(
                "DELETE FROM stated_look WHERE frame_id = ? AND looked IS NULL AND chosen IS NULL AND note IS NULL",
            )?
            .execute([frame_id])?;
            Ok(())
        })
    }
}
