//! Ctrl-C, and output that nobody reads: neither may keep the program from ending. Knows no command.

use std::panic::resume_unwind;
use std::process::exit;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;
use std::sync::mpsc::RecvTimeoutError;
use std::sync::mpsc::channel;
use std::thread;
use std::time::Duration;
use std::time::Instant;

use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::terms::failure::Failure;

/// The flag set by the first Ctrl-C. One for the whole program.
pub static STOP: AtomicBool = AtomicBool::new(false);

/// How often a wait for the reader checks whether Ctrl-C was pressed.
const LOOK_UP: Duration = Duration::from_millis(50);

/// How long the reader may take after Ctrl-C.
const LAST_WORDS: Duration = Duration::from_millis(500);

/// Installs the handler for Ctrl-C: the first sets [`STOP`], the second ends the program at once, which the catalogue
/// survives.
pub fn prepare_for_ctrl_c() -> Result<(), Failure> {
    static PREPARED: AtomicBool = AtomicBool::new(false);
    if PREPARED.swap(true, Ordering::Relaxed) {
        return Ok(());
    }
    ctrlc::set_handler(|| {
        if STOP.swap(true, Ordering::Relaxed) {
            exit(i32::from(Outcome::Stopped.code()));
        }
        // In a thread of its own: if nobody reads standard error, the second Ctrl-C must not wait for it.
        thread::spawn(|| {
            print::warn(
                "finishing the current batch, then stopping; press Ctrl-C again to stop \
                         at once",
            );
        });
    })
    .map_err(|e| Failure::bug("the handler for Ctrl-C could not be installed").because(e))
}

/// Prints, however long the reader takes; after Ctrl-C it waits only briefly.
///
/// No lock of the catalogue may be held meanwhile. A full pipe or a terminal held by Ctrl-S blocks the writer, and
/// nothing else wakes it.
pub fn while_heard<T: Send + 'static>(print: impl FnOnce() -> T + Send + 'static) -> T {
    let (done_out, done) = channel::<()>();
    let printing = thread::spawn(move || {
        let printed = print();
        drop(done_out);
        printed
    });
    let mut pressed: Option<Instant> = None;
    while done.recv_timeout(LOOK_UP) == Err(RecvTimeoutError::Timeout) {
        if STOP.load(Ordering::Relaxed)
            && pressed.get_or_insert_with(Instant::now).elapsed() > LAST_WORDS
        {
            exit(i32::from(Outcome::Stopped.code()));
        }
    }
    match printing.join() {
        Ok(printed) => printed,
        Err(panic) => resume_unwind(panic),
    }
}
