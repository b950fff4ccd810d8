//! A read-only look at what is odd: stored findings, and files that are missing or have changed. Fixes nothing.

use std::path::Path;
use std::path::PathBuf;

use crate::catalogue::failure::failed;
use crate::catalogue::names::os_name;
use crate::catalogue::open::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::field::PATH_COLUMN;

/// One finding as it is listed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AuditRow {
    /// Its code.
    pub code: String,
    /// The dump's label.
    pub dump: String,
    /// The folder below the dump's root.
    pub folder: String,
    /// The file's name.
    pub file: String,
    /// The file's path.
    pub path: String,
    /// What was seen.
    pub saw: String,
    /// What was done instead.
    pub did: String,
}

impl Catalogue {
    /// Every stored finding, by place, one after the other.
    pub fn findings(
        &self,
        mut each: impl FnMut(AuditRow) -> Result<(), Failure>,
    ) -> Result<(), Failure> {
        let ours = |e| failed(&self.path, e);
        let sql = format!(
            "SELECT finding.code, dump.label, folder.path, file.name, {PATH_COLUMN}, finding.saw, finding.did
             FROM (SELECT file_id, code, saw, did FROM written_finding
                   UNION ALL
                   SELECT frame.first_file_id, code, saw, did
                   FROM derived_finding JOIN written_frame AS frame USING (frame_id)) AS finding
             JOIN written_file AS file USING (file_id)
             JOIN written_folder AS folder USING (folder_id)
             JOIN written_dump AS dump USING (dump_id)
             ORDER BY dump.label, folder.path, file.name, finding.code"
        );
        let mut statement = self.db.prepare(&sql).map_err(ours)?;
        let mut rows = statement.query([]).map_err(ours)?;
        while let Some(row) = rows.next().map_err(ours)? {
            let text = |at: usize| row.get::<_, String>(at).map_err(ours);
            each(AuditRow {
                code: text(0)?,
                dump: text(1)?,
                folder: text(2)?,
                file: text(3)?,
                path: text(4)?,
                saw: text(5)?,
                did: text(6)?,
            })?;
        }
        Ok(())
    }

    /// Looks on the disk for every file of a dump and tells of those that are missing or have changed.
    pub fn look_on_disk(
        &self,
        dump_id: i64,
        mut each: impl FnMut(AuditRow) -> Result<(), Failure>,
    ) -> Result<(), Failure> {
        let ours = |e| failed(&self.path, e);
        let sql = format!(
            "SELECT dump.label, folder.path, file.name, {PATH_COLUMN}, file.bytes, file.modified_ns,
                    dump.root, dump.root_bytes, folder.path_bytes, file.name_bytes
             FROM written_dump AS dump JOIN written_folder AS folder USING (dump_id)
             JOIN written_file AS file USING (folder_id)
             WHERE dump.dump_id = ? ORDER BY folder.path, file.name"
        );
        let mut statement = self.db.prepare(&sql).map_err(ours)?;
        let mut rows = statement.query([dump_id]).map_err(ours)?;
        while let Some(row) = rows.next().map_err(ours)? {
            let read = || -> rusqlite::Result<(AuditRow, PathBuf, i64, i64)> {
                let (folder, file): (String, String) = (row.get(1)?, row.get(2)?);
                let path = on_disk(
                    (row.get(6)?, row.get(7)?),
                    (folder.clone(), row.get(8)?),
                    (file.clone(), row.get(9)?),
                );
                let row_of = AuditRow {
                    code: String::new(),
                    dump: row.get(0)?,
                    folder,
                    file,
                    path: row.get(3)?,
                    saw: String::new(),
                    did: "kept its frame in the catalogue".to_owned(),
                };
                Ok((row_of, path, row.get(4)?, row.get(5)?))
            };
            let (mut found, path, bytes, modified_ns) = read().map_err(ours)?;
            if let Some((code, saw)) = differs(&path, bytes, modified_ns) {
                code.clone_into(&mut found.code);
                found.saw = saw;
                each(found)?;
            }
        }
        Ok(())
    }
}

/// How a file on the disk differs from what the catalogue knows of it.
fn differs(path: &Path, bytes: i64, modified_ns: i64) -> Option<(&'static str, String)> {
    let Ok(there) = std::fs::symlink_metadata(path) else {
        return Some(("missing", "no file at this path".to_owned()));
    };
    let bytes_there = i64::try_from(there.len()).unwrap_or(i64::MAX);
    if bytes_there != bytes {
        return Some((
            "changed",
            format!("{bytes_there} bytes, where {bytes} were read"),
        ));
    }
    let modified_there = there
        .modified()
        .ok()
        .and_then(|at| at.duration_since(std::time::UNIX_EPOCH).ok())
        .and_then(|since| i64::try_from(since.as_nanos()).ok());
    match modified_there {
        Some(there) if there != modified_ns => Some((
            "changed",
            "another time stamp than when it was read".to_owned(),
        )),
        _ => None,
    }
}

pub(super) type Kept = (String, Option<Vec<u8>>);

/// Puts a path together from the kept names of its parts.
pub(super) fn on_disk(root: Kept, folder: Kept, file: Kept) -> PathBuf {
    let mut path = PathBuf::from(if root.0.is_empty() {
        "/".into()
    } else {
        os_name(root.0, root.1)
    });
    for part in [folder, file] {
        if !part.0.is_empty() {
            path.push(os_name(part.0, part.1));
        }
    }
    path
}
