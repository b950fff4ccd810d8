//! One finding of the audit.

use std::path::Path;

use crate::terms::finding::Finding;

/// One finding as it is listed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
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
    /// What was found.
    pub saw: String,
    /// How it was handled.
    pub did: String,
    /// The number of the frame's session, where it has one.
    pub session: Option<i64>,
    /// Whether framefall has resolved it: nothing is left to do, whatever its code.
    pub settled: bool,
    /// What to do about this very finding; `None` where its code says it.
    pub remedy: Option<String>,
}

impl AuditRow {
    /// A finding about the catalogue's own file.
    pub fn of_catalogue(path: &Path, finding: Finding) -> Self {
        Self {
            code: finding.code.to_owned(),
            file: path
                .file_name()
                .map(|name| name.to_string_lossy().into_owned())
                .unwrap_or_default(),
            path: path.to_string_lossy().into_owned(),
            saw: finding.saw,
            did: finding.did,
            ..Self::default()
        }
    }
}
