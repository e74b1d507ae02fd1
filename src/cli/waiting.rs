//! A sign of life while a subcommand works: one line on the terminal, and a clean stop by Ctrl-C.
//!
//! The line stands on standard error, and only when that is a terminal; standard output is never touched. The first signal
//! stops the act through the same call that draws the line; the second ends the program at once, as it would have without.

use crate::desk::{Go, Progress, Step};
use crate::present::progress_text::{BETWEEN, FIRST, step_text};
use signal_hook::SigId;
use signal_hook::consts::{SIGINT, SIGTERM};
use signal_hook::{flag, low_level};
use std::io::{IsTerminal, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

/// Makes a progress that is told on the terminal.
///
/// `then_screens`: whether the screens follow, which mind the signals themselves.
pub(super) fn progress(then_screens: bool) -> Progress {
    let mut waiting = Waiting::new(then_screens);
    Progress::told_to(Box::new(move |step| waiting.take(step)))
}

/// The line, and whether somebody asks to stop.
struct Waiting {
    begun: Option<Instant>,
    drawn: Option<Instant>,
    is_terminal: bool,
    then_screens: bool,
    stop: Arc<AtomicBool>,
    signals: Vec<SigId>,
}

impl Waiting {
    fn new(then_screens: bool) -> Self {
        Waiting {
            begun: None,
            drawn: None,
            is_terminal: std::io::stderr().is_terminal(),
            then_screens,
            stop: Arc::default(),
            signals: Vec::new(),
        }
    }

    fn take(&mut self, step: Step) -> Go {
        let now = Instant::now();
        let begun = match self.begun {
            Some(begun) => begun,
            None => {
                self.listen();
                *self.begun.insert(now)
            }
        };
        if self.stop.load(Ordering::Relaxed) {
            return Go::Stop;
        }
        let due = self.drawn.map_or(begun + FIRST, |drawn| drawn + BETWEEN);
        if self.is_terminal && now >= due {
            self.drawn = Some(now);
            // Whoever closed standard error does not wait.
            let _ = write!(std::io::stderr(), "\r\u{1b}[K{}; Ctrl-C stops", step_text(&step));
        }
        Go::On
    }

    /// Minds the signals from the first step on; before it, and after a second one, they end the program as always.
    fn listen(&mut self) {
        for signal in [SIGINT, SIGTERM] {
            // Where a signal cannot be minded it ends the program: the book takes that as well.
            let ids = [
                flag::register_conditional_default(signal, Arc::clone(&self.stop)),
                flag::register(signal, Arc::clone(&self.stop)),
            ];
            self.signals.extend(ids.into_iter().flatten());
        }
    }
}

impl Drop for Waiting {
    fn drop(&mut self) {
        if self.drawn.is_some() {
            let _ = write!(std::io::stderr(), "\r\u{1b}[K");
        }
        if self.then_screens {
            for id in self.signals.drain(..) {
                low_level::unregister(id);
            }
        } else {
            // What is left is printing, or a line that somebody is asked for: the next signal ends it.
            self.stop.store(true, Ordering::Relaxed);
        }
    }
}
