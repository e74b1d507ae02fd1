//! The terminal: taken on entry, given back on every way out.
//!
//! Raw mode, alternate screen and bracketed paste are on while the guard lives; the mouse stays with the terminal. The
//! guard gives everything back when it is dropped, and a panic gives it back before its message is printed. Signals
//! are handled by the shell, which drops the guard first, or asks for a pause.

use crossterm::event::{DisableBracketedPaste, EnableBracketedPaste};
use crossterm::style::{Attribute, SetAttribute};
use crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use crossterm::{cursor, execute};
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use signal_hook::consts::SIGTSTP;
use std::io::{self, BufWriter, Stdout, Write};
use std::sync::Once;
use std::sync::atomic::{AtomicBool, Ordering};

/// Whether the terminal is ours, so that it is given back once and not twice.
static TAKEN: AtomicBool = AtomicBool::new(false);
/// The panic hook is set once in the life of the program.
static HOOK: Once = Once::new();

/// A frame goes out in one write.
const FRAME_BYTES: usize = 64 * 1024;

/// The terminal's drawing side.
pub(super) type Screen = Terminal<CrosstermBackend<BufWriter<Stdout>>>;

/// Holds the terminal; dropping it gives the terminal back.
pub(super) struct Guard;

impl Guard {
    /// Takes the terminal.
    ///
    /// # Errors
    /// What the operating system says; the terminal is given back then.
    pub fn enter() -> io::Result<(Guard, Screen)> {
        HOOK.call_once(|| {
            let before = std::panic::take_hook();
            std::panic::set_hook(Box::new(move |info| {
                give_back();
                before(info);
            }));
        });
        let guard = Guard;
        take()?;
        let backend = CrosstermBackend::new(BufWriter::with_capacity(FRAME_BYTES, io::stdout()));
        Ok((guard, Terminal::new(backend)?))
    }
}

/// Takes the terminal, or takes it again after somebody else had it: whatever was set meanwhile is set anew.
fn take() -> io::Result<()> {
    if TAKEN.swap(true, Ordering::SeqCst) {
        disable_raw_mode()?;
    }
    enable_raw_mode()?;
    execute!(io::stdout(), EnterAlternateScreen, EnableBracketedPaste)
}

/// Gives the terminal back, stops the program as the signal from outside asked, and takes the terminal again when it goes on.
///
/// # Errors
/// What the operating system says.
pub(super) fn suspend() -> io::Result<()> {
    give_back();
    signal_hook::low_level::emulate_default_handler(SIGTSTP)?;
    take()
}

/// Takes the terminal again after the program was stopped behind its back.
///
/// # Errors
/// What the operating system says.
pub(super) fn resume() -> io::Result<()> {
    take()
}

impl Drop for Guard {
    fn drop(&mut self) {
        give_back();
    }
}

/// Gives the terminal back if it is ours. Nothing can be done about an error here: the terminal may be gone.
fn give_back() {
    if TAKEN.swap(false, Ordering::SeqCst) {
        let mut out = io::stdout();
        // A console without an alternate screen keeps what was drawn last: it is wiped, so that the shell begins on a clear one.
        let _ = execute!(
            out,
            SetAttribute(Attribute::Reset),
            Clear(ClearType::All),
            cursor::MoveTo(0, 0),
            DisableBracketedPaste,
            LeaveAlternateScreen,
            cursor::Show
        );
        let _ = disable_raw_mode();
        let _ = out.flush();
    }
}

/// Rings the terminal's bell once.
pub(super) fn ring(screen: &mut Screen) -> io::Result<()> {
    let out = screen.backend_mut();
    out.write_all(b"\x07")?;
    io::Write::flush(out)
}
