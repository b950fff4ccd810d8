//! How a command ended.

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// All well.
    Done,
    /// Done, but something needs attention: files that could not be read, an answer without rows.
    NeedsAttention,
    /// Not done.
    NotDone,
    /// Stopped by the photographer.
    Stopped,
}

impl Outcome {
    /// Done, with or without something that needs attention.
    pub const fn done(needs_attention: bool) -> Self {
        if needs_attention {
            Self::NeedsAttention
        } else {
            Self::Done
        }
    }

    /// The exit code: 0, 1, 2; 130 after Ctrl-C, as shells expect.
    pub const fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::NeedsAttention => 1,
            Self::NotDone => 2,
            Self::Stopped => 130,
        }
    }
}
