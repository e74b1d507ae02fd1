//! The shell: waits for keys, lets `update` decide, carries effects out through the desk, draws.
//!
//! Order of things: every key that has come is taken before anything is drawn, and half-typed text is on disk before
//! the next frame and before the next wait. What was accepted is on disk before the next key is looked at.

use super::effect::{Effect, Then};
use super::input::{Incoming, listen};
use super::message::{Logged, Message, Opened, Trouble};
use super::reference::facts;
use super::state::{Bell, Moment, State};
use super::terminal::{Guard, Screen, ring};
use super::update::{press, update};
use super::view::{draw, style::Theme};
use crate::desk::views::{Draft, LotView};
use crate::desk::{AppError, Desk};
use crate::intake::LotId;
use crate::present::colors::Colors;
use chrono::{Local, Offset};
use std::collections::VecDeque;
use std::io::{self, IsTerminal};
use std::sync::mpsc::RecvTimeoutError;
use std::time::{Duration, Instant};

/// Longest time keys are taken without drawing, so that a long burst still shows that it goes on.
const LONGEST_BATCH: Duration = Duration::from_millis(50);
/// Pause between two rings, so that two are heard.
const BETWEEN_RINGS: Duration = Duration::from_millis(180);

/// How the screens are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Options {
    /// Whether colours are used.
    pub colors: Colors,
    /// Whether the bell rings.
    pub bell: Bell,
}

/// How the loop ended.
enum Ended {
    Quit,
    Signal(i32),
}

/// Runs the screens until the user or a signal ends them. A signal then ends the program as it would have.
///
/// # Errors
/// When there is no terminal, when it cannot be drawn on, or when the book cannot be read at the start.
pub fn run_with(desk: Desk, options: Options) -> Result<(), AppError> {
    if !io::stdout().is_terminal() {
        let message = "the screens need a terminal, and the output is not one".to_owned();
        let hint = "every act is a subcommand too; see `scruple --help`".to_owned();
        return Err(AppError::usage(message, vec![hint]));
    }
    let no_color = std::env::var("NO_COLOR").ok();
    let term = std::env::var("TERM").ok();
    let theme = Theme { colored: options.colors.wanted(no_color.as_deref(), term.as_deref(), true) };
    let mut shell = Shell::new(desk, options.bell);
    shell.start()?;
    let ended = shell.run(theme).map_err(terminal_gone)?;
    // The book is closed before the program goes, whichever way.
    drop(shell);
    if let Ended::Signal(signal) = ended {
        signal_hook::low_level::emulate_default_handler(signal).map_err(terminal_gone)?;
    }
    Ok(())
}

/// Runs the screens with the usual options.
///
/// # Errors
/// As [`run_with`].
pub fn run(desk: Desk) -> Result<(), AppError> {
    run_with(desk, Options::default())
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
    bell: Bell,
    /// Half-typed text that is not on disk yet.
    half_typed: Option<Draft>,
    rings: u8,
    redraw: bool,
    started: Instant,
}

impl Shell {
    fn new(desk: Desk, bell: Bell) -> Self {
        let facts = facts(&desk, Local::now().offset().fix());
        Shell {
            desk,
            state: State::new(facts),
            bell,
            half_typed: None,
            rings: 0,
            redraw: false,
            started: Instant::now(),
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
        self.rings = 0;
        Ok(())
    }

    /// Waits, takes, draws, until the end.
    fn run(&mut self, theme: Theme) -> io::Result<Ended> {
        let (_guard, mut screen) = Guard::enter()?;
        let sources = listen()?;
        let mut ring_again: Option<Instant> = None;
        loop {
            self.keep_half_typed();
            self.draw(&mut screen, theme)?;
            if self.rings > 0 && self.bell == Bell::Sound {
                ring(&mut screen)?;
                ring_again = (self.rings > 1).then(|| Instant::now() + BETWEEN_RINGS);
            }
            self.rings = 0;
            let first = loop {
                let got = match ring_again {
                    None => sources.incoming.recv().map_err(|_| RecvTimeoutError::Disconnected),
                    Some(at) => sources.incoming.recv_timeout(at.saturating_duration_since(Instant::now())),
                };
                match got {
                    Err(RecvTimeoutError::Timeout) => {
                        ring(&mut screen)?;
                        ring_again = None;
                    }
                    Err(RecvTimeoutError::Disconnected) => break Incoming::Closed,
                    Ok(incoming) => break incoming,
                }
            };
            let batch = Instant::now();
            let mut next = Some(first);
            while let Some(incoming) = next {
                if let Some(ended) = self.take(incoming) {
                    self.keep_half_typed();
                    return ended;
                }
                next = if batch.elapsed() < LONGEST_BATCH { sources.incoming.try_recv().ok() } else { None };
            }
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
            Incoming::Resized => Vec::new(),
            Incoming::Signal(signal) => return Some(Ok(Ended::Signal(signal))),
            Incoming::Closed => return Some(Err(io::ErrorKind::UnexpectedEof.into())),
        };
        self.carry_out(effects).then_some(Ok(Ended::Quit))
    }

    fn moment(&self, at: Instant) -> Moment {
        // One second past zero, so that the first key is not taken for a fast follower.
        let since = at.saturating_duration_since(self.started) + Duration::from_secs(1);
        Moment(u64::try_from(since.as_millis()).unwrap_or(u64::MAX))
    }

    /// Carries effects out, and those that their answers bring, until none is left. Tells whether to quit.
    fn carry_out(&mut self, effects: Vec<Effect>) -> bool {
        let mut queue: VecDeque<Effect> = effects.into();
        while let Some(effect) = queue.pop_front() {
            let answers = match effect {
                Effect::Quit => return true,
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
                    perform(&mut self.desk, other)
                }
            };
            for answer in answers {
                queue.extend(update(&mut self.state, answer));
            }
        }
        false
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

    fn draw(&mut self, screen: &mut Screen, theme: Theme) -> io::Result<()> {
        if std::mem::take(&mut self.redraw) {
            screen.clear()?;
        }
        let size = screen.size()?;
        update(&mut self.state, Message::Resize { width: size.width, height: size.height });
        screen.draw(|frame| draw(&self.state, theme, frame))?;
        Ok(())
    }
}

/// Returns an error of the desk in the words of the screens, the bad rows of a file one a line.
fn trouble(error: AppError) -> Trouble {
    let mut message = error.message;
    for row in &error.rows {
        let hint = row.hint.as_ref().map_or_else(String::new, |hint| format!(" ({hint})"));
        message.push_str(&format!("\n{row}{hint}"));
    }
    Trouble { message, hints: error.hints }
}

/// Carries one effect out through the desk.
fn perform(desk: &mut Desk, effect: Effect) -> Vec<Message> {
    attempt(desk, effect).unwrap_or_else(|error| vec![Message::Failed(trouble(error))])
}

/// Carries one effect out and returns what came of it.
fn attempt(desk: &mut Desk, effect: Effect) -> Result<Vec<Message>, AppError> {
    let changed =
        |piece, text: &str| vec![Message::PieceChanged { piece: Box::new(piece), text: text.to_owned() }];
    Ok(match effect {
        Effect::LoadShipments => vec![Message::Shipments(desk.shipments()?)],
        Effect::LoadHolds => vec![Message::Holds(desk.holds()?)],
        Effect::OpenLot(lot) => vec![Message::LotOpened(Box::new(open_lot(desk, lot)?))],
        Effect::RefreshLot(lot) => match desk.lot(lot) {
            Ok(view) => vec![Message::LotRefreshed { lot: Box::new(view), pieces: desk.pieces(lot)? }],
            Err(_) => vec![Message::LotGone(lot)],
        },
        Effect::Log(draft) => {
            let piece = desk.log_piece(&draft)?;
            let logged = Logged { piece, lot: desk.lot(draft.lot)?, draft: desk.new_draft(draft.lot)? };
            vec![Message::Logged(Box::new(logged))]
        }
        Effect::Receive { source, path } => match std::fs::read_to_string(home(&path)) {
            Ok(text) => vec![Message::Received(Box::new(desk.receive(&source, &path, &text, false)?))],
            Err(error) => {
                let message = format!("packing list `{path}` cannot be read: {error}");
                let hint =
                    "give the path from the folder the program was started in, or from `/` or `~`".to_owned();
                vec![Message::Failed(Trouble { message, hints: vec![hint] })]
            }
        },
        Effect::NewShipment { source } => vec![Message::Received(Box::new(desk.new_shipment(&source)?))],
        Effect::AddLine { shipment, product, quantity } => {
            vec![Message::LineAdded(Box::new(desk.add_line(shipment, &product, quantity)?))]
        }
        Effect::OpenPiece { number, then } => {
            vec![Message::PieceOpened { piece: Box::new(desk.find_piece(&number)?), then }]
        }
        Effect::Find { text } => vec![find(desk, &text)?],
        Effect::Correct { piece, field, text, reason } => {
            let view = desk.correct(piece, field, &text, &reason)?;
            changed(view, "Corrected. The value before stays in the book, with the reason.")
        }
        Effect::Hold { piece, reason } => changed(desk.hold_piece(piece, &reason)?, "The piece is on hold."),
        Effect::TakeBack { piece, reason } => {
            changed(desk.take_back_hold(piece, &reason)?, "The hold set by hand is taken back.")
        }
        Effect::Void { piece, reason } => {
            desk.void_piece(piece, &reason)?;
            vec![Message::Voided(piece)]
        }
        Effect::Undo => vec![Message::Undone(desk.undo()?)],
        // Carried out by the loop itself.
        Effect::Echo { .. }
        | Effect::KeepDraft(_)
        | Effect::SaveDraft(_)
        | Effect::Bell(_)
        | Effect::Redraw
        | Effect::Quit => Vec::new(),
    })
}

/// Reads a lot with its pieces and the piece in hand.
fn open_lot(desk: &Desk, lot: LotId) -> Result<Opened, AppError> {
    let saved = desk.draft()?.filter(|draft| draft.lot == lot && !draft.fields.is_empty());
    let draft = match saved {
        Some(draft) => draft,
        None => desk.new_draft(lot)?,
    };
    let echoes = draft
        .fields
        .iter()
        .map(|field| {
            let known = field.accepted && !field.text.trim().is_empty();
            known.then(|| desk.echo(lot, field.field, &field.text).ok().map(|echo| echo.stored)).flatten()
        })
        .collect();
    Ok(Opened { lot: desk.lot(lot)?, pieces: desk.pieces(lot)?, draft, echoes })
}

/// Finds a piece, a shipment, a lot, or the lot that waits for a serial.
fn find(desk: &Desk, text: &str) -> Result<Message, AppError> {
    let no_piece = match desk.find_piece(text) {
        Ok(piece) => return Ok(Message::PieceOpened { piece: Box::new(piece), then: Then::ShowEvidence }),
        Err(error) => error,
    };
    if let Ok(shipment) = desk.shipment(text) {
        return Ok(Message::FoundShipment(Box::new(shipment)));
    }
    let wanted = text.to_uppercase();
    let has = |lot: &LotView| {
        lot.number.to_uppercase() == wanted
            || lot.serials_open.iter().any(|open| open.to_uppercase() == wanted)
    };
    for shipment in desk.shipments()? {
        if let Some(index) = shipment.lots.iter().position(has) {
            return Ok(Message::FoundLot { shipment: Box::new(shipment), index });
        }
    }
    Err(no_piece)
}

/// Returns a path with a leading `~` replaced by the home folder.
fn home(path: &str) -> std::path::PathBuf {
    match (path.strip_prefix("~/"), std::env::var_os("HOME")) {
        (Some(rest), Some(home)) => std::path::Path::new(&home).join(rest),
        _ => path.into(),
    }
}
