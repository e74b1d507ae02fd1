//! The terminal while the desk is at work: a sign of life, Esc stops, and every other key is kept for afterwards.
//!
//! The desk works in a thread of its own for as long as an act takes. Meanwhile this one waits for its end and for keys: what
//! is done within a glance shows nothing, and no key of it is looked at.

use super::input::{Incoming, Sources};
use super::keymap::Key;
use super::state::{Notice, State};
use super::terminal::Screen;
use super::view::{draw, style::Theme};
use crate::desk::{Desk, Go, Step};
use crate::present::progress_text::{BETWEEN, FIRST, step_text};
use signal_hook::consts::{SIGCONT, SIGTSTP};
use std::collections::VecDeque;
use std::io;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{RecvTimeoutError, Sender};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

/// The terminal: what is drawn on, and where everything from outside arrives.
pub(super) struct Face {
    /// Where is drawn.
    pub screen: Screen,
    /// Where everything arrives.
    pub sources: Sources,
    /// How it looks.
    pub theme: Theme,
    /// What arrived while the desk was at work, in its order.
    kept: VecDeque<Incoming>,
}

/// Says that the desk is done, however its thread ends.
struct Done(Sender<Incoming>);

impl Drop for Done {
    fn drop(&mut self) {
        // Nobody is left to hear it when the screens have ended.
        let _ = self.0.send(Incoming::Done);
    }
}

impl Face {
    pub(super) fn new(screen: Screen, sources: Sources, theme: Theme) -> Self {
        Face { screen, sources, theme, kept: VecDeque::new() }
    }

    /// Waits for something from outside, at most until a moment.
    pub(super) fn next(&mut self, until: Option<Instant>) -> Result<Incoming, RecvTimeoutError> {
        if let Some(kept) = self.kept.pop_front() {
            return Ok(kept);
        }
        match until {
            None => self.sources.incoming.recv().map_err(|_| RecvTimeoutError::Disconnected),
            Some(at) => self.sources.incoming.recv_timeout(at.saturating_duration_since(Instant::now())),
        }
    }

    /// Returns what has arrived already.
    pub(super) fn at_once(&mut self) -> Option<Incoming> {
        self.kept.pop_front().or_else(|| self.sources.incoming.try_recv().ok())
    }

    /// Draws a state.
    pub(super) fn draw(&mut self, state: &State) -> io::Result<()> {
        let theme = self.theme;
        self.screen.draw(|frame| draw(state, theme, frame))?;
        Ok(())
    }

    /// Lets the desk work, and shows how far it is when that takes longer than a glance.
    pub(super) fn while_working<T: Send>(
        &mut self,
        desk: &mut Desk,
        state: &mut State,
        act: impl FnOnce(&mut Desk) -> T + Send,
    ) -> T {
        let told: Arc<Mutex<Option<Step>>> = Arc::default();
        let stop: Arc<AtomicBool> = Arc::default();
        let (heard, asked) = (Arc::clone(&told), Arc::clone(&stop));
        desk.progress().watch(Some(Box::new(move |step| {
            *heard.lock().unwrap_or_else(PoisonError::into_inner) = Some(step);
            if asked.load(Ordering::Relaxed) { Go::Stop } else { Go::On }
        })));
        let done = Done(self.sources.sender());
        let worked = std::thread::scope(|scope| {
            let working = scope.spawn(|| {
                let _done = done;
                act(desk)
            });
            self.wait(state, &told, &stop);
            working.join()
        });
        // A stop counts for the act that it was meant for only.
        desk.progress().watch(None);
        worked.unwrap_or_else(|panic| std::panic::resume_unwind(panic))
    }

    /// Waits until the desk is done.
    fn wait(&mut self, state: &mut State, told: &Mutex<Option<Step>>, stop: &AtomicBool) {
        let before = state.notice.clone();
        let mut next = Instant::now() + FIRST;
        let mut shown: Option<Instant> = None;
        loop {
            let now = Instant::now();
            if now >= next {
                let step = *told.lock().unwrap_or_else(PoisonError::into_inner);
                let words = step.map_or_else(|| "at work".to_owned(), |step| step_text(&step));
                let end = if stop.load(Ordering::Relaxed) { "stopping" } else { "Esc stops" };
                state.notice = Some(Notice::Done(format!("{words}; {end}")));
                // A terminal that cannot be drawn on is told when the act is done.
                let _ = self.draw(state);
                shown.get_or_insert(now);
                next = now + BETWEEN;
            }
            match self.sources.incoming.recv_timeout(next.saturating_duration_since(now)) {
                Ok(Incoming::Done) | Err(RecvTimeoutError::Disconnected) => break,
                // A key that was pressed before anything was shown was meant for something else.
                Ok(Incoming::Key(Key::Esc | Key::Ctrl('c'), at))
                    if shown.is_some_and(|shown| at >= shown) =>
                {
                    stop.store(true, Ordering::Relaxed);
                    next = now;
                }
                Ok(incoming) => {
                    let ends = match &incoming {
                        Incoming::Signal(signal) => ![SIGTSTP, SIGCONT].contains(signal),
                        Incoming::Closed => true,
                        _ => false,
                    };
                    if ends {
                        stop.store(true, Ordering::Relaxed);
                    }
                    self.kept.push_back(incoming);
                }
                Err(RecvTimeoutError::Timeout) => {}
            }
        }
        state.notice = before;
    }
}
