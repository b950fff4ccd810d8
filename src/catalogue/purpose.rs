//! The purpose of opening a catalogue, and when changes are on the disk.

/// The purpose of opening a catalogue.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// Read only. The file must exist.
    Read,
    /// Try a change. The file must exist; all changes are made in a private copy that is discarded when it is closed,
    /// so that an active writer is neither waited for nor delayed.
    Try,
    /// Change it. The file must exist.
    Change,
    /// Change it; create it if it does not exist.
    ChangeOrMake,
}

/// When a change is on the disk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OnDisk {
    /// When its commit returns.
    AtCommit,
    /// At the latest when the log is written back to the file; a power failure may cost the last batches, never the
    /// file.
    Later,
}

/// The files that SQLite keeps beside the file while it is open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kept {
    /// A write-ahead log.
    WithLog,
    /// Nothing: nothing can be written there, or it is a private copy.
    Alone,
}
