//! A failure that stops a command: what happened, to what, and what to do next. Knows no exit codes.

use std::fmt;
use std::ops::Range;
use std::path::{Path, PathBuf};

/// What part of the photographer's world a failure concerns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FailureKind {
    /// The words of the command: an unknown site, a flag that makes no sense.
    Words,
    /// The text of a query.
    Query,
    /// A card dump or a file of it.
    Dump,
    /// The catalogue file.
    Catalogue,
    /// The output file.
    Output,
    /// This computer: no more files can be opened, no memory.
    Computer,
    /// A mistake in this program.
    Bug,
}

/// What a failure points at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum At {
    /// Nothing in particular.
    Nowhere,
    /// A file or folder.
    File(PathBuf),
    /// Bytes of a query's text, always on character borders; an empty range means the position before its start.
    Query {
        /// The whole query.
        text: String,
        /// The bytes concerned.
        span: Range<usize>,
    },
}

/// A command cannot go on.
#[derive(Debug)]
pub struct Failure {
    /// What it concerns.
    pub kind: FailureKind,
    /// What happened: one sentence, no full stop, no "failed to".
    pub message: String,
    /// What it points at.
    pub at: At,
    /// What to do next, if anything.
    pub hint: Option<String>,
    /// The cause underneath.
    pub source: Option<Box<dyn std::error::Error + Send + Sync>>,
}

impl Failure {
    /// A failure of this kind with this sentence.
    pub fn new(kind: FailureKind, message: impl Into<String>) -> Self {
        Self {
            kind,
            message: message.into(),
            at: At::Nowhere,
            hint: None,
            source: None,
        }
    }

    /// A failure in the words of the command.
    pub fn words(message: impl Into<String>) -> Self {
        Self::new(FailureKind::Words, message)
    }

    /// A failure of the catalogue file.
    pub fn catalogue(message: impl Into<String>) -> Self {
        Self::new(FailureKind::Catalogue, message)
    }

    /// A failure of the output file.
    pub fn output(message: impl Into<String>) -> Self {
        Self::new(FailureKind::Output, message)
    }

    /// A failure that is a mistake in this program.
    pub fn bug(message: impl Into<String>) -> Self {
        Self::new(FailureKind::Bug, message)
    }

    /// The same, pointing at a file.
    #[must_use]
    pub fn at_file(mut self, path: &Path) -> Self {
        self.at = At::File(path.to_path_buf());
        self
    }

    /// The same, pointing at bytes of a query.
    #[must_use]
    pub fn at_query(mut self, text: &str, span: Range<usize>) -> Self {
        self.at = At::Query {
            text: text.to_owned(),
            span,
        };
        self
    }

    /// The same, with what to do next.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// The same, with the cause underneath.
    #[must_use]
    pub fn because(mut self, source: impl Into<Box<dyn std::error::Error + Send + Sync>>) -> Self {
        self.source = Some(source.into());
        self
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Failure {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        self.source
            .as_deref()
            .map(|s| s as &(dyn std::error::Error + 'static))
    }
}

/// No session has this number.
pub fn no_session(session_id: i64) -> Failure {
    Failure::words(format!("there is no session {session_id}"))
        .hint("framefall sessions lists them")
}
