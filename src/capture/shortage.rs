//! Errors of this computer that have nothing to do with the card: too many open files, no memory. Reads no file.

use std::io;
use std::thread::sleep;
use std::time::Duration;

/// How many times an action is retried, and the wait before each: meanwhile the other readers close their files.
const TRIES: u32 = 50;
const BETWEEN: Duration = Duration::from_millis(20);

/// Whether an error is a shortage of this computer: no more files can be opened, or there is no memory.
pub fn is_shortage(error: &io::Error) -> bool {
    error.kind() == io::ErrorKind::OutOfMemory || is_full_table(error)
}

/// The table of open files is full, the program's own (`EMFILE`) or the whole computer's (`ENFILE`).
#[cfg(unix)]
fn is_full_table(error: &io::Error) -> bool {
    use rustix::io::Errno;
    error.raw_os_error().is_some_and(|code| {
        [Errno::MFILE, Errno::NFILE, Errno::NOMEM]
            .iter()
            .any(|errno| errno.raw_os_error() == code)
    })
}

#[cfg(not(unix))]
fn is_full_table(_error: &io::Error) -> bool {
    false
}

/// Runs an action, and retries it after a wait if there is a shortage; returns the shortage if it lasts.
pub fn patiently<T>(mut act: impl FnMut() -> io::Result<T>) -> io::Result<T> {
    for _ in 1..TRIES {
        match act() {
            Err(error) if is_shortage(&error) => sleep(BETWEEN),
            done => return done,
        }
    }
    act()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[cfg(unix)]
    #[test]
    fn a_shortage_that_passes_is_waited_for_and_a_bad_card_is_not() {
        let mut left = 3;
        let opened = patiently(|| {
            left -= 1;
            if left > 0 {
                Err(rustix::io::Errno::MFILE.into())
            } else {
                Ok(left)
            }
        });
        assert_eq!(opened.unwrap(), 0);
        let mut tries = 0;
        let broken: io::Result<()> = patiently(|| {
            tries += 1;
            Err(rustix::io::Errno::IO.into())
        });
        assert!(!is_shortage(&broken.unwrap_err()));
        assert_eq!(tries, 1);
    }
}
