//! Findings of derived rows: those that are stored, and those that follow from a row. Accesses no disk.

use rusqlite::Row;

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::columns::reading;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::field_sql::PATH_COLUMN;
use crate::terms::finding::Finding;
use crate::terms::finding::Severity;
use crate::terms::finding::finding_code;
use crate::terms::finding::no_place;
use crate::terms::finding::no_zone;

/// Whether a finding follows from the frame's rows of `written_frame` and `derived_time`, and so is not stored.
/// Thousands of frames may lack a site, and their findings would take as much space as the frames.
pub(super) fn follows_from_row(finding: &Finding) -> bool {
    matches!(finding.code, "no-place" | "no-zone")
}

impl Catalogue {
    /// The damage found in a file when it was read: the code and what was found.
    pub fn damage_of(&self, file_id: i64) -> Result<Option<(&'static str, String)>, Failure> {
        let found: Vec<(String, String)> = self.all(
            "SELECT code, saw FROM written_finding WHERE file_id = ? ORDER BY code",
            [file_id],
        )?;
        Ok(found.into_iter().find_map(|(code, saw)| {
            let row = finding_code(&code).filter(|row| row.severity == Severity::Damage)?;
            Some((row.code, saw))
        }))
    }
}

/// The findings that follow from the rows of these frames (a table `frames` with columns of `written_frame`): first
/// file, code, no words, and the clock reading from which [`audit_row`] makes them.
///
/// A frame without UTC but with a clock reading has no known zone, unless its hour was ambiguous.
pub(super) const FOLLOWING: &str = "
    SELECT frame.first_file_id, told.code, NULL, NULL, frame.clock_s, frame.clock_fraction
    FROM frames AS frame CROSS JOIN derived_time AS time ON time.frame_id = frame.frame_id
    CROSS JOIN (SELECT 'no-place' AS code UNION ALL SELECT 'no-zone') AS told
    WHERE frame.clock_s IS NOT NULL AND CASE told.code
      WHEN 'no-place' THEN time.place_basis_no = 3
      ELSE time.start_ms IS NULL AND NOT EXISTS (
        SELECT 1 FROM derived_finding AS other WHERE other.frame_id = frame.frame_id
          AND (other.code = 'clock-twice' OR other.code = 'clock-never')) END";

/// What [`audit_row`] reads, over `finding`, `file`, `folder`, `dump` and the frame's `time`.
pub(super) fn audit_columns() -> String {
    format!(
        "finding.code, dump.label, folder.path, file.name, {PATH_COLUMN}, finding.saw, finding.did, finding.clock_s,
         finding.clock_fraction, time.session_id,
         finding.code IN ('clock-twice', 'clock-never') AND time.start_ms IS NOT NULL"
    )
}

/// Reads: code, label of the dump, folder, file, path, what was seen, what was done, the clock's two columns, the session, and
/// whether it is settled.
pub(super) fn audit_row(row: &Row<'_>) -> rusqlite::Result<AuditRow> {
    let code: String = row.get(0)?;
    let (saw, did) = match row.get::<_, Option<String>>(5)? {
        Some(saw) => (saw, row.get(6)?),
        None => match (code.as_str(), reading(row, 7)?) {
            ("no-zone", Some(clock)) => words(no_zone(clock)),
            _ => words(no_place()),
        },
    };
    Ok(AuditRow {
        code,
        dump: row.get(1)?,
        folder: row.get(2)?,
        file: row.get(3)?,
        path: row.get(4)?,
        saw,
        did,
        session: row.get(9)?,
        settled: row.get(10)?,
        remedy: None,
    })
}

fn words(finding: Finding) -> (String, String) {
    (finding.saw, finding.did)
}
