//! What a command means to do with a catalogue, and when changes are on the disk.

/// What a command means to do with the catalogue.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// Only look. The file must exist.
    Read,
    /// See what a change would come to. The file must exist; all changes are made in a copy that nobody else sees and that
    /// goes when it is closed, so that a writer at work is neither waited for nor held up.
    Try,
    /// Change it. The file must exist.
    Change,
    /// Change it; make it when there is none.
    ChangeOrMake,
}

/// When a change is on the disk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OnDisk {
    /// When its commit returns.
    AtCommit,
    /// At the latest when the log is carried over into the file; a power failure may cost the last batches, never the file.
    Later,
}

/// What SQLite keeps beside the file while it is open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kept {
    /// A write-ahead log.
    WithLog,
    /// Nothing: it lies where nothing can be written, or is a copy of our own.
    Alone,
}
