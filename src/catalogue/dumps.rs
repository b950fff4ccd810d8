//! Dumps as a whole: labels, contents, roots, and a few of their files for recognising them. Accesses no disk.

use std::path::Path;
use std::path::PathBuf;

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::Row;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::columns;
use crate::catalogue::columns::instant_text;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::kept_folder;
use crate::catalogue::names::kept_name;
use crate::catalogue::names::on_disk;
use crate::catalogue::rows::signed;
use crate::catalogue::within::refuse_catalogue_in;
use crate::terms::failure::Failure;
use crate::terms::records::FileReading;
use crate::terms::volume::Volume;

/// A dump, and its location.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DumpPlace {
    /// Its number.
    pub dump_id: i64,
    /// Its label.
    pub label: String,
    /// Its root; if another dump has taken its location, a path that does not exist.
    pub root: PathBuf,
    /// Its location until another dump took it.
    pub left: Option<PathBuf>,
    /// Its volume, as far as it was known at the latest ingest.
    pub volume: Volume,
    /// The instant of the first ingest.
    pub first_seen_utc: String,
    /// The instant of the latest ingest.
    pub last_seen_utc: String,
}

impl DumpPlace {
    /// Its present or last location: for display, and for access only if no other dump has taken that location.
    pub fn place(&self) -> &Path {
        self.left.as_deref().unwrap_or(&self.root)
    }
}

/// The contents of a dump.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DumpHolds {
    /// Frames that have a file on it.
    pub frames: u64,
    /// Files.
    pub files: u64,
    /// Bytes of these files.
    pub bytes: u64,
}

columns!(DumpHolds: frames files bytes);

const PLACE: &str =
    "SELECT dump_id, label, root_shown, root_bytes, volume_id, volume_label, volume_path, first_seen_ms,
    last_seen_ms, left_root, left_root_bytes FROM written_dump";

fn dump_place(row: &Row<'_>) -> rusqlite::Result<DumpPlace> {
    let nothing = || (String::new(), None);
    let left: Option<String> = row.get(9)?;
    let left_bytes = row.get(10)?;
    Ok(DumpPlace {
        dump_id: row.get(0)?,
        label: row.get(1)?,
        root: on_disk((row.get(2)?, row.get(3)?), nothing(), nothing()),
        left: left.map(|text| on_disk((text, left_bytes), nothing(), nothing())),
        volume: Volume {
            id: row.get(4)?,
            label: row.get(5)?,
            below: row.get::<_, Option<String>>(6)?.map(PathBuf::from),
        },
        first_seen_utc: instant_text(row, 7)?.unwrap_or_default(),
        last_seen_utc: instant_text(row, 8)?.unwrap_or_default(),
    })
}

/// A root as stored in the catalogue.
pub(super) fn kept_root(root: &Path) -> (String, Option<Vec<u8>>) {
    let kept = kept_name(root.as_os_str());
    (kept.text.trim_end_matches('/').to_owned(), kept.bytes)
}

impl Catalogue {
    /// Every dump, by label.
    pub fn dumps(&self) -> Result<Vec<DumpPlace>, Failure> {
        self.rows(&format!("{PLACE} ORDER BY label"), [], dump_place)
    }

    /// One dump.
    pub fn dump_place(&self, dump_id: i64) -> Result<DumpPlace, Failure> {
        self.row(&format!("{PLACE} WHERE dump_id = ?"), [dump_id], dump_place)
    }

    /// The contents of a dump.
    pub fn dump_holds(&self, dump_id: i64) -> Result<DumpHolds, Failure> {
        self.one(
            "SELECT count(DISTINCT file.frame_id), count(*), ifnull(sum(file.bytes), 0)
             FROM written_folder AS folder CROSS JOIN written_file AS file ON file.folder_id = folder.folder_id
             WHERE folder.dump_id = ?",
            [dump_id],
        )
    }

    /// The numbers of a dump's files, folder by folder.
    pub fn dump_files(&self, dump_id: i64) -> Result<Vec<i64>, Failure> {
        self.all(
            "SELECT file.file_id
             FROM written_folder AS folder CROSS JOIN written_file AS file ON file.folder_id = folder.folder_id
             WHERE folder.dump_id = ? ORDER BY folder.path, file.file_id",
            [dump_id],
        )
    }

    /// The numbers of a dump's first and last file, in the order of folders; fewer if it has fewer.
    pub fn dump_ends(&self, dump_id: i64) -> Result<Vec<i64>, Failure> {
        let end = |way: &str| {
            self.one_if_any(
                &format!(
                    "SELECT file.file_id
                     FROM written_folder AS folder CROSS JOIN written_file AS file ON file.folder_id = folder.folder_id
                     WHERE folder.dump_id = ? ORDER BY folder.path {way}, file.file_id {way} LIMIT 1"
                ),
                [dump_id],
            )
        };
        let mut ends: Vec<i64> = end("ASC")?.into_iter().chain(end("DESC")?).collect();
        ends.dedup();
        Ok(ends)
    }

    /// The camera clock of a file's frame, in its own seconds; `None` for a frame without a time.
    pub fn clock_of(&self, file_id: i64) -> Result<Option<i64>, Failure> {
        self.one(
            "SELECT frame.clock_s FROM written_file AS file JOIN written_frame AS frame USING (frame_id)
             WHERE file.file_id = ?",
            [file_id],
        )
    }

    /// Whether the catalogue has files of a dump in a folder or below it.
    pub fn has_files_in(&self, dump_id: i64, folder: &Path) -> Result<bool, Failure> {
        self.one(
            "SELECT EXISTS (SELECT 1 FROM written_folder AS folder WHERE dump_id = ?1
             AND (?2 = '' OR path = ?2 OR substr(path, 1, length(?2) + 1) = ?2 || '/')
             AND EXISTS (SELECT 1 FROM written_file AS file WHERE file.folder_id = folder.folder_id))",
            params![dump_id, kept_folder(folder).text],
        )
    }

    /// The numbers of the files with these contents, including copies.
    pub fn files_with_contents(
        &self,
        reading: &FileReading,
        bytes: u64,
    ) -> Result<Vec<i64>, Failure> {
        let Some(print) = reading.fingerprint else {
            return Ok(Vec::new());
        };
        let bytes = signed(bytes);
        match reading.record.clock_local {
            Some(clock) => self.all(
                "SELECT file.file_id
                 FROM written_frame AS frame CROSS JOIN written_file AS file
                   ON file.file_id = frame.frame_id AND file.frame_id = frame.frame_id
                 WHERE frame.clock_s = ?1 AND file.fingerprint IN (?2, substr(?2, 1, 6)) AND file.bytes = ?3
                 UNION ALL
                 SELECT file.file_id
                 FROM written_frame AS frame CROSS JOIN written_file AS file
                   ON file.frame_id = frame.frame_id AND file.frame_id <> file.file_id
                 WHERE frame.clock_s = ?1 AND file.fingerprint IN (?2, substr(?2, 1, 6)) AND file.bytes = ?3",
                params![clock.seconds(), print, bytes],
            ),
            None => self.all(
                "SELECT file_id FROM written_file WHERE fingerprint IN (?1, substr(?1, 1, 6)) AND undated = 1 AND bytes = ?2",
                params![print, bytes],
            ),
        }
    }
}

impl Batch<'_> {
    /// Gives a dump another root, with the volume of that root. What was known of the volume is kept if it is clearly
    /// the same one.
    ///
    /// Refuses: a root that contains the catalogue.
    pub fn put_root(&self, dump_id: i64, root: &Path, volume: &Volume) -> Result<(), Failure> {
        refuse_catalogue_in(self.path(), &[root.to_path_buf()])?;
        let (text, bytes) = kept_root(root);
        self.step(|db| {
            db.execute(
                "UPDATE written_dump SET root = ?2, root_bytes = ?3, left_root = NULL, left_root_bytes = NULL
                 WHERE dump_id = ?1",
                params![dump_id, text, bytes],
            )?;
            db.execute(
                "UPDATE written_dump SET volume_id = NULL, volume_label = NULL, volume_path = NULL
                 WHERE dump_id = ?1 AND NOT (ifnull(volume_id = ?2, 0) OR ifnull(volume_label = ?3, 0))",
                params![dump_id, volume.id, volume.label],
            )?;
            put_volume(db, dump_id, volume)
        })
    }

    /// Frees a dump's root for another dump that is there now.
    pub fn set_aside(&self, dump: &DumpPlace) -> Result<(), Failure> {
        self.change(
            "UPDATE written_dump SET left_root = root, left_root_bytes = root_bytes, root = NULL, root_bytes = NULL
             WHERE dump_id = ?1 AND left_root IS NULL",
            [dump.dump_id],
        )
    }

    /// Records the volume of a dump's root. What was known of it is kept if less is known now.
    pub fn note_volume(&self, dump_id: i64, volume: &Volume) -> Result<(), Failure> {
        if *volume == Volume::default() {
            return Ok(());
        }
        self.step(|db| put_volume(db, dump_id, volume))
    }

    /// Removes a dump without files: a folder around other dumps, to which its files belong.
    pub fn drop_if_empty(&self, dump_id: i64) -> Result<(), Failure> {
        self.change(
            "DELETE FROM written_dump WHERE dump_id = ?1
             AND NOT EXISTS (SELECT 1 FROM written_folder WHERE dump_id = ?1)
             AND NOT EXISTS (SELECT 1 FROM measured_card WHERE dump_id = ?1)",
            [dump_id],
        )
    }

    /// Gives a dump another label; returns whether it was free. Labels are unique ignoring case, because queries ignore
    /// case.
    pub fn put_label(&self, dump_id: i64, label: &str) -> Result<bool, Failure> {
        self.step(|db| {
            let taken = db
                .query_row(
                    "SELECT 1 FROM written_dump WHERE label = ? COLLATE NOCASE AND dump_id <> ?",
                    params![label, dump_id],
                    |_| Ok(()),
                )
                .optional()?;
            if taken.is_some() {
                return Ok(false);
            }
            db.execute(
                "UPDATE written_dump SET label = ? WHERE dump_id = ?",
                params![label, dump_id],
            )?;
            Ok(true)
        })
    }
}

/// If the number is unknown now, it is kept with the known name, and a name is kept with its number; those of another
/// volume are removed.
fn put_volume(db: &Connection, dump_id: i64, volume: &Volume) -> rusqlite::Result<()> {
    db.execute(
        "UPDATE written_dump SET
           volume_id = ifnull(?2, iif(?3 IS NULL OR volume_label IS NULL OR volume_label = ?3, volume_id, NULL)),
           volume_label = ifnull(?3, iif(?2 IS NULL OR volume_id IS NULL OR volume_id = ?2, volume_label, NULL)),
           volume_path = ?4
         WHERE dump_id = ?1",
        params![
            dump_id,
            volume.id,
            volume.label,
            volume.below.as_deref().map(|below| kept_folder(below).text)
        ],
    )?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::purpose::Purpose;
    use crate::terms::time::Utc;

    fn volume(id: Option<&str>, label: Option<&str>) -> Volume {
        Volume {
            id: id.map(str::to_owned),
            label: label.map(str::to_owned),
            below: Some(PathBuf::from("card")),
        }
    }

    #[test]
    fn what_is_known_of_a_volume_stays_until_it_is_another() {
        let world = tempfile::tempdir().unwrap();
        let mut catalogue =
            Catalogue::open(&world.path().join("c.sqlite"), Purpose::ChangeOrMake).unwrap();
        let root = Path::new("/disk/card");
        let batch = catalogue.batch().unwrap();
        let dump_id = batch
            .ensure_dump(root, Utc::from_unix_ms(0).unwrap())
            .unwrap()
            .dump_id;
        batch.commit().unwrap();
        let both = volume(Some("1A2B"), Some("ARCHIVE"));
        for (noted, kept) in [
            (both.clone(), both.clone()),
            (volume(None, Some("ARCHIVE")), both.clone()),
            (volume(Some("1A2B"), None), both.clone()),
            (Volume::default(), both),
            (volume(None, Some("OTHER")), volume(None, Some("OTHER"))),
            (
                volume(Some("3C4D"), None),
                volume(Some("3C4D"), Some("OTHER")),
            ),
            (volume(Some("5E6F"), None), volume(Some("5E6F"), None)),
        ] {
            let batch = catalogue.batch().unwrap();
            batch.note_volume(dump_id, &noted).unwrap();
            batch.commit().unwrap();
            assert_eq!(catalogue.dump_place(dump_id).unwrap().volume, kept);
        }
        // Elsewhere, values are kept only for the same volume.
        for (noted, kept) in [
            (
                volume(Some("1A2B"), Some("A")),
                volume(Some("1A2B"), Some("A")),
            ),
            (volume(None, Some("A")), volume(Some("1A2B"), Some("A"))),
            (volume(None, Some("B")), volume(None, Some("B"))),
            (Volume::default(), Volume::default()),
        ] {
            let batch = catalogue.batch().unwrap();
            batch.put_root(dump_id, root, &noted).unwrap();
            batch.commit().unwrap();
            assert_eq!(catalogue.dump_place(dump_id).unwrap().volume, kept);
        }
    }
}
