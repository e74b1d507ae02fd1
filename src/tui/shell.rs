//! The shell: waits for keys, lets `update` decide, carries effects out through the desk, draws.
//!
//! Order of things: every key that has come is taken before anything is drawn, and half-typed text is on disk before
//! the next frame and before the next wait. What was accepted is on disk before the next key is looked at.

use super::devices::Device;
use super::effect::Effect;
use super::face::Face;
use super::input::{Incoming, listen};
use super::keys::Keymap;
use super::message::Message;
use super::perform::{perform, trouble};
use super::reference::facts;
use super::state::{Moment, State};
use super::terminal::{Guard, resume, ring, suspend};
use super::update::{press, update};
use super::view::style::Theme;
use crate::desk::backups::DayBackup;
use crate::desk::devices::{Devices, HeardFrom};
use crate::desk::screen::{Bell, Plot, ScreenSettings};
use crate::desk::views::Draft;
use crate::desk::{AppError, Desk};
use crate::intake::device::DeviceProfile;
use crate::present::colors::Colors;
use crate::present::spectrum::Marks;
use chrono::{Local, Offset};
use signal_hook::consts::{SIGCONT, SIGHUP, SIGTSTP};
use std::collections::VecDeque;
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
    Quit,
    Demo,
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
    let mut shell = Shell::new(desk, devices, options.screen, keymap);
    shell.start()?;
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

/// Desk, state, and what is owed to disk and ear.
struct Shell {
    desk: Desk,
    state: State,
    devices: Option<Devices>,
    /// Half-typed text that is not on disk yet.
    half_typed: Option<Draft>,
    rings: u8,
    redraw: bool,
    /// Whether the book is that of an invented day.
    invented: bool,
    /// Whether a clock that was set back has been told of.
    clock_told: bool,
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
    fn new(desk: Desk, devices: Vec<DeviceProfile>, settings: ScreenSettings, keymap: Keymap) -> Self {
        let facts = facts(&desk, Local::now().offset().fix(), marks(settings.plot));
        let mut state = State::new(facts);
        state.settings = settings;
        state.keymap = keymap;
        state.devices = devices.into_iter().map(Device::new).collect();
        Shell {
            desk,
            state,
            devices: None,
            half_typed: None,
            rings: 0,
            redraw: false,
            invented: false,
            clock_told: false,
            started: Instant::now(),
            backup: None,
            face: None,
        }
    }

    /// Reads the shipments, and the piece that was in hand when the program last ended.
    fn start(&mut self) -> Result<(), AppError> {
        let shipments = self.desk.shipments()?;
        let mut effects = update(&mut self.state, Message::Shipments(shipments));
        if let Some(draft) = self.desk.draft()? {
            effects.push(Effect::OpenLot(draft.lot));
        }
        self.carry_out(effects);
        if self.desk.is_untouched()? {
            let currency = self.desk.policy().currency.code().to_owned();
            update(&mut self.state, Message::FirstStart { currency });
        }
        if let Some(notice) = self.clock_set_back() {
            update(&mut self.state, Message::Noted(notice));
        }
        self.rings = 0;
        Ok(())
    }

    /// Takes the terminal, works until the end, makes the backup of the day, and gives the terminal back.
    fn run(&mut self, theme: Theme, backup: bool, invent: Invent<'_>) -> io::Result<Ended> {
        let (_guard, screen) = Guard::enter()?;
        self.face = Some(Face::new(screen, listen()?, theme));
        let ended = self.work(invent);
        if matches!(ended, Ok(Ended::Quit)) && backup && !self.invented {
            self.backup = self.watched(|desk| desk.backup_of_the_day().transpose());
        }
        // The guard gives the terminal back after that.
        self.face = None;
        ended
    }

    /// Lets the desk work; while the screens are there they show how far it is.
    fn watched<T: Send>(&mut self, act: impl FnOnce(&mut Desk) -> T + Send) -> T {
        match self.face.as_mut() {
            Some(face) => face.while_working(&mut self.desk, &mut self.state, act),
            None => act(&mut self.desk),
        }
    }

    /// Waits, takes, draws, until the end.
    fn work(&mut self, invent: Invent<'_>) -> io::Result<Ended> {
        let profiles: Vec<DeviceProfile> =
            self.state.devices.iter().map(|device| device.profile.clone()).collect();
        if let Some(face) = &self.face {
            self.devices = Some(Devices::listen(&profiles, face.sources.device_bell()));
        }
        let mut calls = Calls::default();
        loop {
            self.keep_half_typed();
            self.draw()?;
            calls.add(std::mem::take(&mut self.rings));
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
                    self.keep_half_typed();
                    match ended {
                        Ok(Ended::Demo) => self.show_invented(invent()),
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
        if self.state.flash {
            self.state.flash = false;
            self.draw()?;
            calls.at = (calls.left > 0).then(|| Instant::now() + FLASH);
        } else if calls.left > 0 {
            calls.left -= 1;
            match self.state.settings.bell {
                Bell::Off => calls.left = 0,
                Bell::Sound => {
                    if let Some(face) = self.face.as_mut() {
                        ring(&mut face.screen)?;
                    }
                    calls.at = (calls.left > 0).then(|| Instant::now() + BETWEEN_RINGS);
                }
                Bell::Flash => {
                    self.state.flash = true;
                    self.draw()?;
                    calls.at = Some(Instant::now() + FLASH);
                }
            }
        }
        Ok(())
    }

    /// Goes on with the book of an invented day, without the devices of the desk.
    fn show_invented(&mut self, filled: Result<Desk, AppError>) {
        let shown = filled.and_then(|desk| {
            self.devices = None;
            let (settings, keymap) = (self.state.settings.clone(), self.state.keymap.clone());
            self.state = State::new(facts(&desk, Local::now().offset().fix(), marks(settings.plot)));
            self.state.settings = settings;
            self.state.keymap = keymap;
            self.desk = desk;
            self.invented = true;
            self.start()
        });
        if let Err(error) = shown {
            update(&mut self.state, Message::Failed(trouble(error)));
        }
    }

    /// Takes one thing from outside; returns how the loop ends, when it does.
    fn take(&mut self, incoming: Incoming) -> Option<io::Result<Ended>> {
        let effects = match incoming {
            Incoming::Key(key, at) => {
                let moment = self.moment(at);
                press(&mut self.state, key, moment)
            }
            Incoming::Paste(text, at) => {
                self.state.moment = self.moment(at);
                update(&mut self.state, Message::Paste(text))
            }
            Incoming::Device => {
                let heard = self.devices.as_ref().map(Devices::heard).unwrap_or_default();
                return self.take_heard(heard);
            }
            Incoming::Resized | Incoming::Done => Vec::new(),
            Incoming::Signal(SIGTSTP) => return self.redrawn_after(suspend()),
            Incoming::Signal(SIGCONT) => return self.redrawn_after(resume()),
            Incoming::Signal(signal) => return Some(Ok(Ended::Signal(signal))),
            // A terminal that goes away ends the program as the signal for it does, whichever is noticed first.
            Incoming::Closed => return Some(Ok(Ended::Signal(SIGHUP))),
        };
        self.carry_out(effects).map(Ok)
    }

    /// Draws everything anew after the terminal was somebody else's.
    fn redrawn_after(&mut self, taken: io::Result<()>) -> Option<io::Result<Ended>> {
        self.redraw = true;
        taken.err().map(Err)
    }

    /// Takes what the devices did; returns how the loop ends, when it does.
    fn take_heard(&mut self, heard: Vec<HeardFrom>) -> Option<io::Result<Ended>> {
        for heard in heard {
            let effects = update(&mut self.state, Message::Device(heard));
            if let Some(ended) = self.carry_out(effects) {
                return Some(Ok(ended));
            }
        }
        None
    }

    fn moment(&self, at: Instant) -> Moment {
        // One second past zero, so that the first key is not taken for a fast follower.
        let since = at.saturating_duration_since(self.started) + Duration::from_secs(1);
        Moment(u64::try_from(since.as_millis()).unwrap_or(u64::MAX))
    }

    /// Carries effects out, and those that their answers bring, until none is left. Returns how the loop ends, when it does.
    fn carry_out(&mut self, effects: Vec<Effect>) -> Option<Ended> {
        let mut queue: VecDeque<Effect> = effects.into();
        while let Some(effect) = queue.pop_front() {
            let answers = match effect {
                Effect::Quit => return Some(Ended::Quit),
                Effect::Demo => return Some(Ended::Demo),
                Effect::Redraw => {
                    self.redraw = true;
                    Vec::new()
                }
                Effect::Bell(times) => {
                    self.rings = self.rings.max(times);
                    Vec::new()
                }
                Effect::KeepDraft(draft) => {
                    self.half_typed = Some(draft);
                    Vec::new()
                }
                Effect::SaveDraft(draft) => {
                    // The whole draft goes to disk, with whatever was half typed.
                    self.half_typed = None;
                    self.save(&draft)
                }
                // Understanding a field reads nothing that half-typed text could change.
                Effect::Echo { lot, index, field, text } => match self.desk.echo(lot, field, &text) {
                    Ok(echo) => vec![Message::Echoed { index, echo }],
                    Err(error) => vec![Message::NotUnderstood { index, trouble: trouble(error) }],
                },
                other => {
                    self.keep_half_typed();
                    let notice = self.clock_set_back();
                    let mut answers = self.watched(|desk| perform(desk, other));
                    answers.extend(notice.map(Message::Noted));
                    answers
                }
            };
            for answer in answers {
                queue.extend(update(&mut self.state, answer));
            }
        }
        None
    }

    /// Returns what there is to say of a clock that was set back, once.
    fn clock_set_back(&mut self) -> Option<String> {
        if self.clock_told {
            return None;
        }
        // An error of the book is told by the act itself.
        let notice = self.desk.clock_notice().ok().flatten()?;
        self.clock_told = true;
        Some(notice)
    }

    /// Puts half-typed text on disk.
    fn keep_half_typed(&mut self) {
        if let Some(draft) = self.half_typed.take() {
            for answer in self.save(&draft) {
                for effect in update(&mut self.state, answer) {
                    if let Effect::Bell(times) = effect {
                        self.rings = self.rings.max(times);
                    }
                }
            }
        }
    }

    fn save(&mut self, draft: &Draft) -> Vec<Message> {
        match self.desk.save_draft(draft) {
            Ok(()) => vec![Message::DraftSaved],
            Err(error) => vec![Message::DraftNotSaved(trouble(error))],
        }
    }

    fn draw(&mut self) -> io::Result<()> {
        let Some(face) = self.face.as_mut() else { return Ok(()) };
        if std::mem::take(&mut self.redraw) {
            face.screen.clear()?;
        }
        let size = face.screen.size()?;
        update(&mut self.state, Message::Resize { width: size.width, height: size.height });
        face.draw(&self.state)
    }
}

/// Returns the marks that the terminal can show, as far as its language setting tells.
fn marks(plot: Option<Plot>) -> Marks {
    let set = |name: &str| std::env::var(name).ok().filter(|value| !value.is_empty());
    let language = set("LC_ALL").or_else(|| set("LC_CTYPE")).or_else(|| set("LANG"));
    Marks::chosen(plot, language.as_deref(), set("TERM").as_deref())
}
