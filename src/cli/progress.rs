//! The moving bar on a terminal, plain lines at intervals elsewhere, nothing when quiet. Knows no step's meaning.

use std::io::IsTerminal;
use std::time::Duration;
use std::time::Instant;

use indicatif::ProgressBar;
use indicatif::ProgressDrawTarget;
use indicatif::ProgressState;
use indicatif::ProgressStyle;

/// How often a plain line is printed where there is no terminal.
const PLAIN_EVERY: Duration = Duration::from_secs(5);

/// Shows how far a long step is.
#[derive(Debug)]
pub struct Progress {
    shown: Shown,
    noun: &'static str,
}

#[derive(Debug)]
enum Shown {
    Bar(ProgressBar),
    Lines { begun: Instant, said: Instant },
    Nothing,
}

impl Progress {
    /// Begins to show progress on standard error, counted in `noun`.
    pub fn new(noun: &'static str, quiet: super::print::Quiet) -> Self {
        let shown = if quiet == super::print::Quiet::Yes {
            Shown::Nothing
        } else if std::io::stderr().is_terminal() {
            let bar = ProgressBar::with_draw_target(Some(0), ProgressDrawTarget::stderr_with_hz(8));
            let template = format!(
                "{{spinner}} {{elapsed_precise}} {{wide_bar}} {{pos}}/{{len}} {noun}  {{rate}} {noun}/s  {{eta_precise}} left"
            );
            if let Ok(style) = ProgressStyle::with_template(&template) {
                bar.set_style(style.with_key(
                    "rate",
                    |state: &ProgressState, out: &mut dyn std::fmt::Write| {
                        // A bar that cannot be written has nobody to tell.
                        let _ = write!(out, "{:.0}", state.per_sec());
                    },
                ));
            }
            bar.enable_steady_tick(Duration::from_millis(250));
            Shown::Bar(bar)
        } else {
            let now = Instant::now();
            Shown::Lines {
                begun: now,
                said: now,
            }
        };
        Self { shown, noun }
    }

    /// So many are done of so many known by now.
    pub fn at(&mut self, done: u64, of: u64) {
        match &mut self.shown {
            Shown::Bar(bar) => {
                bar.set_length(of);
                bar.set_position(done);
            }
            Shown::Lines { begun, said } => {
                let now = Instant::now();
                if now.duration_since(*said) >= PLAIN_EVERY {
                    *said = now;
                    let seconds = now.duration_since(*begun).as_secs_f64();
                    super::print::complain(&format!(
                        "{done} of {of} {} after {seconds:.0} s, {:.0} a second",
                        self.noun,
                        done as f64 / seconds
                    ));
                }
            }
            Shown::Nothing => {}
        }
    }

    /// Prints a message without tearing the bar.
    pub fn say(&self, message: &str) {
        match &self.shown {
            Shown::Bar(bar) => bar.suspend(|| super::print::complain(message)),
            _ => super::print::complain(message),
        }
    }

    /// Takes the bar away.
    pub fn end(self) {
        if let Shown::Bar(bar) = self.shown {
            bar.finish_and_clear();
        }
    }
}
