//! The progress bar on a terminal, plain lines at intervals elsewhere, nothing with `--quiet`. Does not know the steps.
//!
//! Everything is written by a thread of its own: a terminal or pipe that nobody reads blocks that thread, and never the
//! work, which may have the catalogue locked.

use std::io::IsTerminal;
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::MutexGuard;
use std::sync::PoisonError;
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering;
use std::sync::mpsc::Receiver;
use std::sync::mpsc::RecvTimeoutError;
use std::sync::mpsc::SyncSender;
use std::sync::mpsc::sync_channel;
use std::thread;
use std::thread::JoinHandle;
use std::time::Duration;
use std::time::Instant;

use indicatif::ProgressBar;
use indicatif::ProgressDrawTarget;
use indicatif::ProgressState;
use indicatif::ProgressStyle;

use crate::cli::print::Quiet;
use crate::cli::print::warn;
use crate::cli::stop::while_heard;
use crate::terms::printable::printable;

/// How often a plain line is printed without a terminal.
const PLAIN_EVERY: Duration = Duration::from_secs(5);

/// How often the writing thread checks the progress.
const LOOK_EVERY: Duration = Duration::from_millis(100);

/// How many messages wait for a slow reader; more are dropped.
const MOST_WAITING: usize = 256;

/// Shows the progress of a long step.
#[derive(Debug)]
pub struct Progress {
    lines: SyncSender<String>,
    at: Arc<At>,
    writing: JoinHandle<()>,
}

/// The progress: how many are done, of how many.
#[derive(Debug)]
struct At {
    noun: Mutex<&'static str>,
    doing: Mutex<String>,
    done: AtomicU64,
    of: AtomicU64,
}

impl Progress {
    /// Begins to show progress on standard error, counted in `noun`.
    pub fn new(noun: &'static str, quiet: Quiet) -> Self {
        let (lines, unread) = sync_channel(MOST_WAITING);
        let at = Arc::new(At {
            noun: Mutex::new(noun),
            doing: Mutex::new(String::new()),
            done: AtomicU64::new(0),
            of: AtomicU64::new(0),
        });
        let seen = Arc::clone(&at);
        let writing = thread::spawn(move || write(noun, quiet, &unread, &seen));
        Self { lines, at, writing }
    }

    /// Sets the progress.
    pub fn at(&self, done: u64, of: u64) {
        self.at.of.store(of, Ordering::Relaxed);
        self.at.done.store(done, Ordering::Relaxed);
    }

    /// What is being done now.
    pub fn doing(&self, what: String) {
        *self.at.doing() = what;
    }

    /// Counts something else from now on.
    pub fn count(&self, noun: &'static str) {
        self.at(0, 0);
        *self.at.noun() = noun;
    }

    /// Prints a message without disturbing the bar. It is dropped if too many wait for a reader that does not read.
    pub fn say(&self, message: String) {
        let _ = self.lines.try_send(message);
    }

    /// Removes the bar, once all messages are printed. No lock of the catalogue may be held meanwhile.
    pub fn end(self) {
        drop(self.lines);
        let writing = self.writing;
        // A failed bar does not fail the command.
        let _ = while_heard(move || writing.join());
    }
}

impl At {
    fn noun(&self) -> MutexGuard<'_, &'static str> {
        // A thread that panicked left an intact noun.
        self.noun.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn doing(&self) -> MutexGuard<'_, String> {
        self.doing.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn write(mut noun: &'static str, quiet: Quiet, lines: &Receiver<String>, at: &At) {
    let mut shown = Shown::new(noun, quiet);
    loop {
        let now = *at.noun();
        if now != noun {
            noun = now;
            shown.clear();
            shown = Shown::new(noun, quiet);
        }
        match lines.recv_timeout(LOOK_EVERY) {
            Ok(line) => shown.say(&line),
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => break,
        }
        shown.at(
            at.done.load(Ordering::Relaxed),
            at.of.load(Ordering::Relaxed),
            &printable(&at.doing()),
        );
    }
    shown.clear();
}

enum Shown {
    Bar(ProgressBar),
    Lines {
        noun: &'static str,
        begun: Instant,
        said: Instant,
    },
    Nothing,
}

impl Shown {
    fn new(noun: &'static str, quiet: Quiet) -> Self {
        if quiet == Quiet::Yes {
            return Self::Nothing;
        }
        if !std::io::stderr().is_terminal() {
            let now = Instant::now();
            return Self::Lines {
                noun,
                begun: now,
                said: now,
            };
        }
        let bar = ProgressBar::with_draw_target(Some(0), ProgressDrawTarget::stderr_with_hz(8));
        let template = format!(
            "{{spinner}} {{elapsed_precise}} {{wide_bar}} {{pos}}/{{len}} {noun}  {{rate}} {noun}/s  {{eta_precise}} left  {{msg}}"
        );
        if let Ok(style) = ProgressStyle::with_template(&template) {
            bar.set_style(style.with_key(
                "rate",
                |state: &ProgressState, out: &mut dyn std::fmt::Write| {
                    // If the bar cannot be written, there is no other way to report it.
                    let _ = write!(out, "{}", rate(state.per_sec()));
                },
            ));
        }
        Self::Bar(bar)
    }

    fn at(&mut self, done: u64, of: u64, doing: &str) {
        match self {
            Self::Bar(bar) => {
                bar.set_message(doing.to_owned());
                bar.set_length(of);
                bar.set_position(done);
                bar.tick();
            }
            Self::Lines { noun, begun, said } => {
                let now = Instant::now();
                if now.duration_since(*said) >= PLAIN_EVERY {
                    *said = now;
                    let seconds = now.duration_since(*begun).as_secs_f64();
                    let comma = if doing.is_empty() { "" } else { "; " };
                    warn(&format!(
                        "{done} of {of} {noun} after {seconds:.0} s, {} a second{}{comma}{doing}",
                        rate(done as f64 / seconds),
                        left(done, of, seconds)
                    ));
                }
            }
            Self::Nothing => {}
        }
    }

    fn clear(&self) {
        if let Self::Bar(bar) = self {
            bar.finish_and_clear();
        }
    }

    fn say(&self, message: &str) {
        match self {
            Self::Bar(bar) => bar.suspend(|| warn(message)),
            _ => warn(message),
        }
    }
}

/// Steps a second, with a decimal where they are few.
fn rate(a_second: f64) -> String {
    if a_second < 10.0 {
        format!("{a_second:.1}")
    } else {
        format!("{a_second:.0}")
    }
}

/// How long the rest takes at the pace until now; nothing before the first step.
fn left(done: u64, of: u64, seconds: f64) -> String {
    if done == 0 || done >= of {
        return String::new();
    }
    let left_s = seconds * (of - done) as f64 / done as f64;
    if left_s < 90.0 {
        format!(", about {left_s:.0} s left")
    } else {
        format!(", about {:.0} min left", left_s / 60.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slow_work_has_a_rate_and_a_time_left() {
        assert_eq!(rate(0.25), "0.2");
        assert_eq!(rate(1_234.4), "1234");
        assert_eq!(left(0, 76, 5.0), "");
        assert_eq!(left(17, 76, 45.0), ", about 3 min left");
        assert_eq!(left(65, 76, 150.0), ", about 25 s left");
        assert_eq!(left(76, 76, 150.0), "");
    }
}
