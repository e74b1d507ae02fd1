//! The shell: waits for keys, hands them to the session, rings and draws.
//!
//! Order of things: every key that has come is taken before anything is drawn, and half-typed text is on disk before
//! the next frame and before the next wait.

use super::devices::Device;
use super::face::Face;
use super::input::{Incoming, listen};
use super::keys::Keymap;
use super::session::{Act, Looks, Session, Wish};
use super::state::{Moment, State};
use super::terminal::{Guard, resume, ring, suspend};
use super::view::style::Theme;
use crate::desk::backups::DayBackup;
use crate::desk::devices::Devices;
use crate::desk::screen::{Bell, Plot, ScreenSettings};
use crate::desk::{AppError, Desk};
use crate::intake::device::DeviceProfile;
use crate::present::colors::Colors;
use crate::present::spectrum::Marks;
use chrono::{Local, Offset};
use ratatui::layout::Rect;
use signal_hook::consts::{SIGCONT, SIGHUP, SIGTSTP};
use std::io::{self, IsTerminal};
use std::sync::mpsc::RecvTimeoutError;
use std::time::{Duration, Instant};

/// Longest time keys are taken without drawing, so that a long burst still shows that it goes on.
const LONGEST_BATCH: Duration = Duration::from_millis(50);
/// How long a flash lasts.
const FLASH: Duration = Duration::from_millis(150);
/// Pause between two rings, so that two are heard.
const BETWEEN_RINGS: Duration = Duration::from_millis(180);

/// What the system says of a terminal that went away (POSIX, EIO; 5 on every system this runs on).
const GONE: i32 = 5;

/// How the screens are shown.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Options {
    /// Whether colours are used.
    pub colors: Colors,
    /// How the desk wants its screens.
    pub screen: ScreenSettings,
    /// Whether the book is backed up once a day when the screens close.
    pub backup: bool,
}

/// Fills a book that is thrown away with an invented day; whoever gives it keeps that book until the screens end.
pub type Invent<'i> = &'i mut dyn FnMut() -> Result<Desk, AppError>;

/// How the loop ended.
enum Ended {
    Wished(Wish),
    Signal(i32),
}

/// Runs the screens until the user or a signal ends them. A signal then ends the program as it would have.
///
/// The devices are listened to from the first frame on. `invent` is asked when somebody on a new book wants to look at an
/// invented day first. Returns how the backup of the day went, where one was made.
///
/// # Errors
/// When there is no terminal, when it cannot be drawn on, or when the book cannot be read at the start.
pub fn run_with(
    desk: Desk,
    devices: Vec<DeviceProfile>,
    options: Options,
    invent: Invent<'_>,
) -> Result<Option<DayBackup>, AppError> {
    if !io::stdout().is_terminal() {
        let message = "the screens need a terminal, and the output is not one".to_owned();
        let hint = "every act is a subcommand too; see `scruple --help`".to_owned();
        return Err(AppError::usage(message, vec![hint]));
    }
    let no_color = std::env::var("NO_COLOR").ok();
    let term = std::env::var("TERM").ok();
    let keymap = Keymap::of_desk(&options.screen)?;
    let theme = Theme { colored: options.colors.wanted(no_color.as_deref(), term.as_deref(), true) };
    let looks = Looks {
        marks: marks(options.screen.plot),
        settings: options.screen,
        keymap,
        offset: Local::now().offset().fix(),
    };
    let mut shell = Shell::new(desk, devices, looks)?;
    let ended = match shell.run(theme, options.backup, invent) {
        Err(error) if error.raw_os_error() == Some(GONE) => Ended::Signal(SIGHUP),
        ended => ended.map_err(terminal_gone)?,
    };
    let backup = shell.backup.take();
    // The book is closed before the program goes, whichever way.
    drop(shell);
    if let Ended::Signal(signal) = ended {
        signal_hook::low_level::emulate_default_handler(signal).map_err(terminal_gone)?;
    }
    Ok(backup)
}

/// Returns the error of a terminal that cannot be used.
fn terminal_gone(error: io::Error) -> AppError {
    let hint = "everything accepted is in the book; start again on another terminal".to_owned();
    AppError::usage(format!("the terminal cannot be used: {error}"), vec![hint])
}

/// A session on a terminal.
struct Shell {
    session: Session,
    profiles: Vec<DeviceProfile>,
    devices: Option<Devices>,
    looks: Looks,
    /// Whether the book is that of an invented day.
    invented: bool,
    started: Instant,
    /// How the backup of the day went. Who is told to go at once makes none first.
    backup: Option<DayBackup>,
    /// The terminal, while the screens are on it.
    face: Option<Face>,
}

/// Rings or flashes that are owed.
#[derive(Default)]
struct Calls {
    left: u8,
    /// When the next is due, or a flash ends.
    at: Option<Instant>,
}

impl Calls {
    /// Adds rings; those that were owed before are no longer.
    fn add(&mut self, rings: u8) {
        if rings > 0 {
            self.left = rings;
        }
    }
}

impl Shell {
    fn new(desk: Desk, profiles: Vec<DeviceProfile>, looks: Looks) -> Result<Self, AppError> {
        let devices = profiles.iter().cloned().map(Device::new).collect();
        Ok(Shell {
            session: Session::begin(desk, devices, looks.clone())?,
            profiles,
            devices: None,
            looks,
            invented: false,
            started: Instant::now(),
            backup: None,
            face: None,
        })
    }

    /// Takes the terminal, works until the end, makes the backup of the day, and gives the terminal back.
    fn run(&mut self, theme: Theme, backup: bool, invent: Invent<'_>) -> io::Result<Ended> {
        let (_guard, screen) = Guard::enter()?;
        self.face = Some(Face::new(screen, listen()?, theme));
        let ended = self.work(invent);
        if matches!(ended, Ok(Ended::Wished(Wish::Quit))) && backup && !self.invented {
            let (desk, state) = self.session.parts();
            let face = self.face.as_mut();
            self.backup = face.and_then(|face| {
                face.while_working(desk, state, |desk| desk.backup_of_the_day().transpose())
            });
        }
        // The guard gives the terminal back after that.
        self.face = None;
        ended
    }

    /// Waits, takes, draws, until the end.
    fn work(&mut self, invent: Invent<'_>) -> io::Result<Ended> {
        if let Some(face) = &self.face {
            self.devices = Some(Devices::listen(&self.profiles, face.sources.device_bell()));
        }
        let mut calls = Calls::default();
        loop {
            self.session.keep_half_typed();
            self.draw()?;
            calls.add(self.session.rings());
            self.call(&mut calls)?;
            let first = loop {
                match self.face.as_mut().map(|face| face.next(calls.at)) {
                    Some(Err(RecvTimeoutError::Timeout)) => self.call(&mut calls)?,
                    Some(Err(RecvTimeoutError::Disconnected)) | None => break Incoming::Closed,
                    Some(Ok(incoming)) => break incoming,
                }
            };
            let batch = Instant::now();
            let mut next = Some(first);
            while let Some(incoming) = next {
                if let Some(ended) = self.take(incoming) {
                    self.session.keep_half_typed();
                    match ended {
                        Ok(Ended::Wished(Wish::Demo)) => self.show_invented(invent()),
                        ended => return ended,
                    }
                }
                let more = batch.elapsed() < LONGEST_BATCH;
                next = self.face.as_mut().filter(|_| more).and_then(Face::at_once);
            }
        }
    }

    /// Rings or flashes when it is time for it.
    fn call(&mut self, calls: &mut Calls) -> io::Result<()> {
        if calls.at.is_some_and(|at| at > Instant::now()) {
            return Ok(());
        }
        calls.at = None;
        if self.session.state().flash {
            self.session.flash(false);
            self.draw()?;
            calls.at = (calls.left > 0).then(|| Instant::now() + FLASH);
        } else if calls.left > 0 {
            calls.left -= 1;
            match self.session.state().settings.bell {
                Bell::Off => calls.left = 0,
                Bell::Sound => {
                    if let Some(face) = self.face.as_mut() {
                        ring(&mut face.screen)?;
                    }
                    calls.at = (calls.left > 0).then(|| Instant::now() + BETWEEN_RINGS);
                }
                Bell::Flash => {
                    self.session.flash(true);
                    self.draw()?;
                    calls.at = Some(Instant::now() + FLASH);
                }
            }
        }
        Ok(())
    }

    /// Goes on with the book of an invented day, without the devices of the desk.
    fn show_invented(&mut self, filled: Result<Desk, AppError>) {
        match filled.and_then(|desk| Session::begin(desk, Vec::new(), self.looks.clone())) {
            Ok(session) => {
                self.devices = None;
                self.session = session;
                self.invented = true;
            }
            Err(error) => self.session.tell(error),
        }
    }

    /// Takes one thing from outside; returns how the loop ends, when it does.
    fn take(&mut self, incoming: Incoming) -> Option<io::Result<Ended>> {
        let (face, devices, started) = (&mut self.face, &self.devices, self.started);
        let mut watch = |desk: &mut Desk, state: &mut State, act: Act<'_>| match face {
            Some(face) => face.while_working(desk, state, act),
            None => act(desk),
        };
        let wish = match incoming {
            Incoming::Key(key, at) => self.session.press(key, moment(started, at), &mut watch),
            Incoming::Paste(text, at) => self.session.paste(text, moment(started, at), &mut watch),
            Incoming::Device => {
                let heard = devices.as_ref().map(Devices::heard).unwrap_or_default();
                heard.into_iter().find_map(|heard| self.session.hear(heard, &mut watch))
            }
            Incoming::Resized | Incoming::Done => None,
            Incoming::Signal(SIGTSTP) => return self.redrawn_after(suspend()),
            Incoming::Signal(SIGCONT) => return self.redrawn_after(resume()),
            Incoming::Signal(signal) => return Some(Ok(Ended::Signal(signal))),
            // A terminal that goes away ends the program as the signal for it does, whichever is noticed first.
            Incoming::Closed => return Some(Ok(Ended::Signal(SIGHUP))),
        };
        wish.map(|wish| Ok(Ended::Wished(wish)))
    }

    /// Draws everything anew after the terminal was somebody else's.
    fn redrawn_after(&mut self, taken: io::Result<()>) -> Option<io::Result<Ended>> {
        self.session.draw_all();
        taken.err().map(Err)
    }

    fn draw(&mut self) -> io::Result<()> {
        let Some(face) = self.face.as_mut() else { return Ok(()) };
        let size = face.screen.size()?;
        if self.session.wants_all_drawn() {
            // This clears without asking the terminal where the cursor is: the answer would go to the thread that reads keys.
            face.screen.resize(Rect::new(0, 0, size.width, size.height))?;
        }
        self.session.resize(size.width, size.height);
        face.draw(self.session.state())
    }
}

/// Returns a moment of the session's clock.
fn moment(started: Instant, at: Instant) -> Moment {
    // One second past zero, so that the first key is not taken for a fast follower.
    let since = at.saturating_duration_since(started) + Duration::from_secs(1);
    Moment(u64::try_from(since.as_millis()).unwrap_or(u64::MAX))
}

/// Returns the marks that the terminal can show, as far as its language setting tells.
fn marks(plot: Option<Plot>) -> Marks {
    let set = |name: &str| std::env::var(name).ok().filter(|value| !value.is_empty());
    let language = set("LC_ALL").or_else(|| set("LC_CTYPE")).or_else(|| set("LANG"));
    Marks::chosen(plot, language.as_deref(), set("TERM").as_deref())
}
