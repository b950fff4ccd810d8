//! The formats of a list, and the data of a frame that each needs.

/// The format of a list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// For the screen: a heading, units, aligned columns.
    Table,
    /// RFC 4180, a heading of keys.
    Csv,
    /// One array of objects.
    Json,
    /// One object per line.
    Jsonl,
    /// One path per line.
    Paths,
    /// Paths, each ended by a NUL byte.
    Paths0,
}

impl Format {
    /// All values, in order.
    pub const ALL: &'static [Self] = &[
        Self::Table,
        Self::Csv,
        Self::Json,
        Self::Jsonl,
        Self::Paths,
        Self::Paths0,
    ];

    /// The word on the command line.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Table => "table",
            Self::Csv => "csv",
            Self::Json => "json",
            Self::Jsonl => "jsonl",
            Self::Paths => "paths",
            Self::Paths0 => "paths0",
        }
    }

    /// Reads the word back.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|one| one.word() == word)
    }

    /// Whether rows need [`crate::terms::records::FrameRow::files`] and `radiants`.
    pub const fn wants_files_and_radiants(self) -> bool {
        matches!(self, Self::Json | Self::Jsonl)
    }

    /// Whether rows need [`crate::terms::records::FrameRow::path_bytes`].
    pub const fn wants_path_bytes(self) -> bool {
        matches!(self, Self::Paths | Self::Paths0)
    }
}
