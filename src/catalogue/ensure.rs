//! Dumps, folders and bodies: looked up in the catalogue, or created.

use std::path::Path;

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::ToSql;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::dumps::kept_root;
use crate::catalogue::names::kept_folder;
use crate::catalogue::names::kept_name;
use crate::catalogue::within::refuse_catalogue_in;
use crate::terms::failure::Failure;
use crate::terms::records::CaptureRecord;
use crate::terms::shower::ShowerCode;
use crate::terms::statement::Body;
use crate::terms::time::Utc;

/// A dump in the catalogue.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DumpRow {
    /// Its number.
    pub dump_id: i64,
    /// Its label.
    pub label: String,
    /// Whether it existed before this ingest.
    pub known: bool,
}

impl Batch<'_> {
    /// Finds or creates the dump of that root; records that it was seen now.
    ///
    /// Refuses: a root that contains the catalogue.
    pub fn ensure_dump(&self, root: &Path, now: Utc) -> Result<DumpRow, Failure> {
        refuse_catalogue_in(self.path(), &[root.to_path_buf()])?;
        let (text, bytes) = kept_root(root);
        self.step(|db| {
            let known = db
                .query_row(
                    "UPDATE written_dump SET last_seen_ms = ?2 WHERE root = ?1 RETURNING dump_id, label",
                    params![text, now.unix_ms()],
                    |row| Ok(DumpRow { dump_id: row.get(0)?, label: row.get(1)?, known: true }),
                )
                .optional()?;
            if let Some(dump) = known {
                return Ok(dump);
            }
            let label = free_label(db, root)?;
            let dump_id = db
                .prepare_cached(
                    "INSERT INTO written_dump (label, root, root_bytes, first_seen_ms, last_seen_ms)
                     VALUES (?1, ?2, ?3, ?4, ?4)",
                )?
                .insert(params![label, text, bytes, now.unix_ms()])?;
            Ok(DumpRow { dump_id, label, known: false })
        })
    }

    /// Finds or creates a folder of a dump.
    pub fn ensure_folder(&self, dump_id: i64, folder: &Path) -> Result<i64, Failure> {
        let kept = kept_folder(folder);
        self.step(|db| {
            found_or_made(
                db,
                "SELECT folder_id FROM written_folder WHERE dump_id = ?1 AND path = ?2",
                "INSERT INTO written_folder (dump_id, path, path_bytes) VALUES (?1, ?2, ?3)",
                &[&dump_id, &kept.text, &kept.bytes],
            )
        })
    }

    /// Finds or creates a body, by the names it writes.
    pub fn ensure_body(&self, of: &Body) -> Result<i64, Failure> {
        let [make, model, serial] = [&of.make, &of.model, &of.serial].map(Option::as_deref);
        self.step(|db| body(db, make, model, serial))
    }

    /// Finds or creates the body that wrote a record; `None` if the record names neither maker, model nor serial.
    pub fn ensure_camera(&mut self, record: &CaptureRecord) -> Result<Option<i64>, Failure> {
        let (make, model, serial) = (&record.make, &record.model, &record.serial);
        if make.is_none() && model.is_none() && serial.is_none() {
            return Ok(None);
        }
        let known = self
            .bodies
            .iter()
            .find(|([m, o, s], _)| (m, o, s) == (make, model, serial));
        if let Some((_, id)) = known {
            return Ok(Some(*id));
        }
        let id = self.step(|db| body(db, make.as_deref(), model.as_deref(), serial.as_deref()))?;
        let body = [make.clone(), model.clone(), serial.clone()];
        self.bodies.push((body, id));
        Ok(Some(id))
    }
}

impl Batch<'_> {
    /// Finds or creates the lens that a record names.
    pub(super) fn ensure_lens(&mut self, record: &CaptureRecord) -> Result<Option<i64>, Failure> {
        let Some(name) = &record.lens else {
            return Ok(None);
        };
        if let Some((_, id)) = self.lenses.iter().find(|(known, _)| known == name) {
            return Ok(Some(*id));
        }
        let id = self.step(|db| {
            found_or_made(
                db,
                "SELECT lens_id FROM written_lens WHERE name = ?",
                "INSERT INTO written_lens (name) VALUES (?)",
                &[name],
            )
        })?;
        self.lenses.push((name.clone(), id));
        Ok(Some(id))
    }

    /// The number of a shower.
    pub(super) fn ensure_shower(&self, shower: ShowerCode) -> Result<i64, Failure> {
        let known = self.showers.borrow();
        if let Some((_, id)) = known.iter().find(|(code, _)| *code == shower) {
            return Ok(*id);
        }
        drop(known);
        let id = self.step(|db| {
            found_or_made(
                db,
                "SELECT shower_id FROM derived_shower WHERE code = ?",
                "INSERT INTO derived_shower (code) VALUES (?)",
                &[&shower.as_str()],
            )
        })?;
        self.showers.borrow_mut().push((shower, id));
        Ok(id)
    }

    /// Finds or creates a set of showers that are active together; `None` for none.
    pub(super) fn ensure_active(&self, showers: &str) -> Result<Option<i64>, Failure> {
        if showers.is_empty() {
            return Ok(None);
        }
        if let Some((known, id)) = &*self.latest_active.borrow()
            && known == showers
        {
            return Ok(Some(*id));
        }
        let id = self.step(|db| {
            found_or_made(
                db,
                "SELECT active_id FROM derived_active WHERE showers = ?",
                "INSERT INTO derived_active (showers) VALUES (?)",
                &[&showers],
            )
        })?;
        *self.latest_active.borrow_mut() = Some((showers.to_owned(), id));
        Ok(Some(id))
    }
}

/// The number of the row with these values, existing or new. Each statement takes as many of them as it names.
pub(super) fn found_or_made(
    db: &Connection,
    find: &str,
    make: &str,
    values: &[&dyn ToSql],
) -> rusqlite::Result<i64> {
    let mut find = db.prepare_cached(find)?;
    let named = find.parameter_count();
    let known = find.query_row(&values[..named], |row| row.get(0));
    match known.optional()? {
        Some(id) => Ok(id),
        None => db.prepare_cached(make)?.insert(values),
    }
}

/// The number of a body, existing or new.
fn body(
    db: &Connection,
    make: Option<&str>,
    model: Option<&str>,
    serial: Option<&str>,
) -> rusqlite::Result<i64> {
    let name = [model.or(make), serial]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" ");
    found_or_made(
        db,
        "SELECT camera_id FROM written_camera
         WHERE ifnull(make, '') = ifnull(?1, '') AND ifnull(model, '') = ifnull(?2, '')
           AND ifnull(serial, '') = ifnull(?3, '')",
        "INSERT INTO written_camera (make, model, serial, name) VALUES (?1, ?2, ?3, ?4)",
        &[&make, &model, &serial, &name],
    )
}

/// A label that no other dump has, ignoring case: the folder's name, with a number if it is taken.
fn free_label(db: &Connection, root: &Path) -> rusqlite::Result<String> {
    let own = root
        .file_name()
        .map_or_else(|| "dump".to_owned(), |name| kept_name(name).text);
    let mut label = own.clone();
    let mut taken =
        db.prepare_cached("SELECT 1 FROM written_dump WHERE label = ? COLLATE NOCASE")?;
    for number in 2.. {
        if !taken.exists([&label])? {
            break;
        }
        label = format!("{own}-{number}");
    }
    Ok(label)
}
