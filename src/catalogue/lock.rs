//! The write lock: a file beside the catalogue that one writer at a time locks.

use std::fs::File;
use std::fs::OpenOptions;
use std::fs::TryLockError;
use std::io::Write;
use std::path::Path;
use std::time::Duration;
use std::time::Instant;

use crate::catalogue::files::LOCK;
use crate::catalogue::files::beside;
use crate::catalogue::protected::may_not_be_written;
use crate::terms::failure::Failure;

/// How long a command waits for another one to release the file.
pub(super) const PATIENCE: Duration = Duration::from_secs(5);

/// How often it checks meanwhile.
const LOOK_EVERY: Duration = Duration::from_millis(25);

/// Acquires the write lock; waits for another writer for a while. It is held until the file is dropped.
pub(super) fn acquire(catalogue: &Path) -> Result<File, Failure> {
    let at = beside(catalogue, LOCK);
    let mut file = OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&at)
        .map_err(|e| may_not_be_written(catalogue, e))?;
    let begun = Instant::now();
    loop {
        match file.try_lock() {
            Ok(()) => break,
            // A file system without locks (some network drives): SQLite's own locks still protect the file.
            Err(TryLockError::Error(_)) => return Ok(file),
            Err(TryLockError::WouldBlock) if begun.elapsed() < PATIENCE => {
                std::thread::sleep(LOOK_EVERY);
            }
            Err(TryLockError::WouldBlock) => return Err(held_by_another(catalogue, &at)),
        }
    }
    // For the message to a waiting process; if it fails, the message names no process.
    let _ = file.set_len(0);
    let _ = write!(file, "{}", std::process::id());
    Ok(file)
}

/// Whether a writer is active.
pub(super) fn is_held(catalogue: &Path) -> bool {
    File::open(beside(catalogue, LOCK))
        .is_ok_and(|file| matches!(file.try_lock(), Err(TryLockError::WouldBlock)))
}

fn held_by_another(catalogue: &Path, lock: &Path) -> Failure {
    let holder = std::fs::read_to_string(lock)
        .ok()
        .and_then(|text| text.trim().parse::<u32>().ok());
    let process = holder.map_or_else(String::new, |id| format!(", process {id},"));
    Failure::catalogue(format!(
        "another framefall{process} is writing to the catalogue and did not finish within {} s",
        PATIENCE.as_secs()
    ))
    .at_file(catalogue)
    .hint(
        "wait until it has finished, or stop it with Ctrl-C; then run the command again. Commands \
         that only read, and --dry-run, work meanwhile",
    )
}
