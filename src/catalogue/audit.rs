//! The data for an audit: stored findings, and the recorded state of every file. Accesses no disk.

use std::path::PathBuf;

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::failure::failed;
use crate::catalogue::findings::FOLLOWING;
use crate::catalogue::findings::audit_columns;
use crate::catalogue::findings::audit_row;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::on_disk;
use crate::terms::failure::Failure;
use crate::terms::field_sql::PATH_COLUMN;

/// A file in the state in which it was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileAsRead {
    /// Its path, as on the disk.
    pub path: PathBuf,
    /// Its size.
    pub bytes: u64,
    /// The file system's time stamp, nanoseconds since 1970.
    pub modified_ns: i64,
    /// The row of a finding about it; its code and what was found are still to be filled in.
    pub row: AuditRow,
}

impl Catalogue {
    /// Every stored finding, ordered by place.
    pub fn findings(
        &self,
        mut each: impl FnMut(AuditRow) -> Result<(), Failure>,
    ) -> Result<(), Failure> {
        let ours = |e| failed(&self.path, e);
        let sql = format!(
            "WITH frames AS NOT MATERIALIZED (SELECT * FROM written_frame)
             SELECT {}
             FROM (SELECT file_id, code, saw, did, NULL AS clock_s, NULL AS clock_fraction FROM written_finding
                   UNION ALL
                   SELECT frame.first_file_id, code, saw, did, NULL, NULL
                   FROM derived_finding JOIN written_frame AS frame USING (frame_id)
                   UNION ALL {FOLLOWING}) AS finding
             JOIN written_file AS file USING (file_id)
             JOIN written_folder AS folder USING (folder_id)
             JOIN written_dump AS dump USING (dump_id)
             LEFT JOIN derived_time AS time ON time.frame_id = file.frame_id
             ORDER BY dump.label, folder.path, file.name, finding.code, finding.saw",
            audit_columns()
        );
        let mut statement = self.db.prepare(&sql).map_err(ours)?;
        let mut rows = statement.query([]).map_err(ours)?;
        while let Some(row) = rows.next().map_err(ours)? {
            each(audit_row(row).map_err(ours)?)?;
        }
        Ok(())
    }

    /// Every file of a dump in the state in which it was read, folder by folder.
    pub fn files_as_read(
        &self,
        dump_id: i64,
        mut each: impl FnMut(FileAsRead) -> Result<(), Failure>,
    ) -> Result<(), Failure> {
        let ours = |e| failed(&self.path, e);
        let sql = format!(
            "SELECT dump.label, folder.path, file.name, {PATH_COLUMN}, file.bytes, file.modified_ns,
                    dump.root_shown, dump.root_bytes, folder.path_bytes, file.name_bytes,
                    (SELECT time.session_id FROM derived_time AS time WHERE time.frame_id = file.frame_id)
             FROM written_dump AS dump JOIN written_folder AS folder USING (dump_id)
             JOIN written_file AS file USING (folder_id)
             WHERE dump.dump_id = ? ORDER BY folder.path, file.name"
        );
        let mut statement = self.db.prepare(&sql).map_err(ours)?;
        let mut rows = statement.query([dump_id]).map_err(ours)?;
        while let Some(row) = rows.next().map_err(ours)? {
            let read = || -> rusqlite::Result<FileAsRead> {
                let (folder, file): (String, String) = (row.get(1)?, row.get(2)?);
                Ok(FileAsRead {
                    path: on_disk(
                        (row.get(6)?, row.get(7)?),
                        (folder.clone(), row.get(8)?),
                        (file.clone(), row.get(9)?),
                    ),
                    bytes: row.get::<_, i64>(4)?.unsigned_abs(),
                    modified_ns: row.get(5)?,
                    row: AuditRow {
                        dump: row.get(0)?,
                        folder,
                        file,
                        path: row.get(3)?,
                        did: "kept its frame in the catalogue".to_owned(),
                        session: row.get(10)?,
                        ..AuditRow::default()
                    },
                })
            };
            each(read().map_err(ours)?)?;
        }
        Ok(())
    }
}
