//! Keys as the terminal sends them, turned into the program's own; and the two threads that wait for them.
//!
//! Reading has a thread of its own, so that a burst is taken from the terminal while the last entry is being saved,
//! and so that each key has the moment at which it came. Waiting uses no processor time.

use super::keymap::Key;
use crossterm::event::{Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use signal_hook::consts::{SIGCONT, SIGHUP, SIGINT, SIGTERM, SIGTSTP};
use signal_hook::iterator::{Handle, Signals};
use std::io;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::Instant;

/// Something from outside.
#[derive(Debug)]
pub(super) enum Incoming {
    /// A key and when it came.
    Key(Key, Instant),
    /// Pasted text and when it came.
    Paste(String, Instant),
    /// The terminal has a new size.
    Resized,
    /// Something waits in the queue of the devices.
    Device,
    /// The desk has done what it was asked for.
    Done,
    /// A signal came: to end, to stop for a while, or to go on.
    Signal(i32),
    /// The terminal is gone.
    Closed,
}

/// Turns a terminal's key into the program's own; `None` for keys that mean nothing here.
pub(super) fn translate(event: KeyEvent) -> Option<Key> {
    if event.kind == KeyEventKind::Release {
        return None;
    }
    let ctrl = event.modifiers.contains(KeyModifiers::CONTROL);
    Some(match event.code {
        // In raw mode a line feed arrives as Ctrl-J; the others are what these codes are on any keyboard.
        KeyCode::Char(c) if ctrl => match c.to_ascii_lowercase() {
            'j' => Key::LineFeed,
            'm' => Key::Enter,
            'i' => Key::Tab,
            'h' => Key::Backspace,
            '[' => Key::Esc,
            c => Key::Ctrl(c),
        },
        KeyCode::Char(_) if event.modifiers.contains(KeyModifiers::ALT) => return None,
        KeyCode::Char(c) => Key::Char(c),
        KeyCode::F(number) => Key::F(number),
        KeyCode::Enter => Key::Enter,
        KeyCode::Tab => Key::Tab,
        KeyCode::BackTab => Key::BackTab,
        KeyCode::Esc => Key::Esc,
        KeyCode::Backspace => Key::Backspace,
        KeyCode::Delete => Key::Delete,
        KeyCode::Left => Key::Left,
        KeyCode::Right => Key::Right,
        KeyCode::Up => Key::Up,
        KeyCode::Down => Key::Down,
        KeyCode::Home => Key::Home,
        KeyCode::End => Key::End,
        KeyCode::PageUp => Key::PageUp,
        KeyCode::PageDown => Key::PageDown,
        _ => return None,
    })
}

/// The threads that wait; dropping it ends the one for signals.
pub(super) struct Sources {
    /// Where everything arrives.
    pub incoming: Receiver<Incoming>,
    sender: Sender<Incoming>,
    signals: Handle,
}

impl Sources {
    /// Returns where something else can be put among what arrives.
    pub fn sender(&self) -> Sender<Incoming> {
        self.sender.clone()
    }

    /// Returns what the devices call when something waits in their queue.
    pub fn device_bell(&self) -> impl Fn() + Clone + Send + 'static {
        let sender = self.sender.clone();
        // Nobody is left to hear it when the screens have ended.
        move || drop(sender.send(Incoming::Device))
    }
}

impl Drop for Sources {
    fn drop(&mut self) {
        self.signals.close();
    }
}

/// Says that the terminal is gone, however the reading thread ends.
struct Farewell(Sender<Incoming>);

impl Drop for Farewell {
    fn drop(&mut self) {
        let _ = self.0.send(Incoming::Closed);
    }
}

/// Starts both threads.
///
/// # Errors
/// What the operating system says about the signal handlers.
pub(super) fn listen() -> io::Result<Sources> {
    let (sender, incoming) = channel();
    let mut waiting = Signals::new([SIGTERM, SIGHUP, SIGINT, SIGTSTP, SIGCONT])?;
    let signals = waiting.handle();
    let (from_signals, kept) = (sender.clone(), sender.clone());
    std::thread::spawn(move || {
        for signal in waiting.forever() {
            if from_signals.send(Incoming::Signal(signal)).is_err() {
                break;
            }
        }
    });
    std::thread::spawn(move || {
        let farewell = Farewell(sender);
        while let Ok(event) = crossterm::event::read() {
            let now = Instant::now();
            let arrived = match event {
                Event::Key(key) => translate(key).map(|key| Incoming::Key(key, now)),
                Event::Paste(text) => Some(Incoming::Paste(text, now)),
                Event::Resize(..) => Some(Incoming::Resized),
                Event::FocusGained | Event::FocusLost | Event::Mouse(_) => None,
            };
            if let Some(arrived) = arrived
                && farewell.0.send(arrived).is_err()
            {
                break;
            }
        }
    });
    Ok(Sources { incoming, sender: kept, signals })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(code: KeyCode, modifiers: KeyModifiers, expected: Option<Key>) {
        assert_eq!(translate(KeyEvent::new(code, modifiers)), expected);
    }

    #[test]
    fn control_codes_are_the_keys_that_share_them() {
        // ECMA-48: BS 08, HT 09, LF 0A, CR 0D, ESC 1B are Ctrl with H, I, J, M and [.
        check(KeyCode::Char('j'), KeyModifiers::CONTROL, Some(Key::LineFeed));
        check(KeyCode::Char('h'), KeyModifiers::CONTROL, Some(Key::Backspace));
        check(KeyCode::Char('K'), KeyModifiers::CONTROL, Some(Key::Ctrl('k')));
        check(KeyCode::Char('k'), KeyModifiers::NONE, Some(Key::Char('k')));
    }

    #[test]
    fn alt_with_a_letter_is_not_data() {
        check(KeyCode::Char('x'), KeyModifiers::ALT, None);
    }
}
