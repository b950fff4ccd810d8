//! One finding of the audit. Fields only.

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
    /// What was found.
    pub saw: String,
    /// How it was handled.
    pub did: String,
}
