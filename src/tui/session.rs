//! The screens at a desk, without a terminal: what a key, a paste or a device does to the state and to the book.
//!
//! What was accepted is on disk before the next key is looked at. Half-typed text is owed to the disk until
//! [`Session::keep_half_typed`]; whoever drives a session calls it before he draws or waits.

use super::devices::Device;
use super::effect::Effect;
use super::keymap::Key;
use super::keys::Keymap;
use super::message::Message;
use super::perform::{perform, trouble};
use super::reference::facts;
use super::state::{Moment, State};
use super::update::{press, update};
use crate::desk::devices::HeardFrom;
use crate::desk::screen::ScreenSettings;
use crate::desk::views::Draft;
use crate::desk::{AppError, Desk};
use crate::present::spectrum::Marks;
use chrono::FixedOffset;
use std::collections::VecDeque;

/// What a session leaves to whoever drives it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wish {
    /// End.
    Quit,
    /// Go on with an invented day instead.
    Demo,
}

/// An act of the desk with the answers that come of it, to be watched while it works.
pub type Act<'a> = Box<dyn FnOnce(&mut Desk) -> Vec<Message> + Send + 'a>;

/// Lets the desk work and may show meanwhile how far it is.
pub type Watch<'w> = &'w mut dyn FnMut(&mut Desk, &mut State, Act<'_>) -> Vec<Message>;

/// Lets the desk work, and shows nothing.
pub fn unwatched(desk: &mut Desk, _: &mut State, act: Act<'_>) -> Vec<Message> {
    act(desk)
}

/// How a session looks, whichever desk it is at.
#[derive(Debug, Clone)]
pub struct Looks {
    /// How the desk wants its screens.
    pub settings: ScreenSettings,
    /// Its keys.
    pub keymap: Keymap,
    /// With which marks plots are drawn.
    pub marks: Marks,
    /// Time of the desk against UTC.
    pub offset: FixedOffset,
}

/// Desk, state, and what is owed to disk, ear and eye.
pub struct Session {
    desk: Desk,
    state: State,
    /// Half-typed text that is not on disk yet.
    half_typed: Option<Draft>,
    rings: u8,
    redraw: bool,
    /// Whether a clock that was set back has been told of.
    clock_told: bool,
}

impl Session {
    /// Begins at a desk: the list of shipments, or the piece that was in hand when the program last ended, or the questions of a
    /// new book.
    ///
    /// # Errors
    /// What the book says.
    pub fn begin(desk: Desk, devices: Vec<Device>, looks: Looks) -> Result<Self, AppError> {
        let mut state = State::new(facts(&desk, looks.offset, looks.marks));
        state.settings = looks.settings;
        state.keymap = looks.keymap;
        state.devices = devices;
        let mut session =
            Session { desk, state, half_typed: None, rings: 0, redraw: false, clock_told: false };
        let shipments = session.desk.shipments()?;
        let mut effects = update(&mut session.state, Message::Shipments(shipments));
        if let Some(draft) = session.desk.draft()? {
            effects.push(Effect::OpenLot(draft.lot));
        }
        session.carry_out(effects, &mut unwatched);
        if session.desk.is_untouched()? {
            let currency = session.desk.policy().currency.code().to_owned();
            update(&mut session.state, Message::FirstStart { currency });
        }
        if let Some(notice) = session.clock_set_back() {
            update(&mut session.state, Message::Noted(notice));
        }
        session.rings = 0;
        Ok(session)
    }

    /// Returns what the screens show.
    pub fn state(&self) -> &State {
        &self.state
    }

    /// Says whether what is shown flashes.
    pub fn flash(&mut self, on: bool) {
        self.state.flash = on;
    }

    /// Returns the desk with the state, for an act that no key asked for.
    pub fn parts(&mut self) -> (&mut Desk, &mut State) {
        (&mut self.desk, &mut self.state)
    }

    /// Returns how often is to be rung since it was last asked.
    pub fn rings(&mut self) -> u8 {
        std::mem::take(&mut self.rings)
    }

    /// Tells whether everything is to be drawn anew, once.
    pub fn wants_all_drawn(&mut self) -> bool {
        std::mem::take(&mut self.redraw)
    }

    /// Asks for everything to be drawn anew.
    pub fn draw_all(&mut self) {
        self.redraw = true;
    }

    /// Takes a key that came at a moment; returns what is left to whoever drives the session.
    pub fn press(&mut self, key: Key, at: Moment, watch: Watch<'_>) -> Option<Wish> {
        let effects = press(&mut self.state, key, at);
        self.carry_out(effects, watch)
    }

    /// Takes pasted text that came at a moment.
    pub fn paste(&mut self, text: String, at: Moment, watch: Watch<'_>) -> Option<Wish> {
        self.state.moment = at;
        self.take(Message::Paste(text), watch)
    }

    /// Takes what a device did.
    pub fn hear(&mut self, heard: HeardFrom, watch: Watch<'_>) -> Option<Wish> {
        self.take(Message::Device(heard), watch)
    }

    /// Takes a new size of the terminal.
    pub fn resize(&mut self, width: u16, height: u16) {
        update(&mut self.state, Message::Resize { width, height });
    }

    /// Shows an error.
    pub fn tell(&mut self, error: AppError) {
        update(&mut self.state, Message::Failed(trouble(error)));
    }

    fn take(&mut self, message: Message, watch: Watch<'_>) -> Option<Wish> {
        let effects = update(&mut self.state, message);
        self.carry_out(effects, watch)
    }

    /// Carries effects out, and those that their answers bring, until none is left. Returns what is left to whoever drives
    /// the session.
    fn carry_out(&mut self, effects: Vec<Effect>, watch: Watch<'_>) -> Option<Wish> {
        let mut queue: VecDeque<Effect> = effects.into();
        while let Some(effect) = queue.pop_front() {
            let answers = match effect {
                Effect::Quit => return Some(Wish::Quit),
                Effect::Demo => return Some(Wish::Demo),
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
                    let act: Act<'_> = Box::new(|desk| perform(desk, other));
                    let mut answers = watch(&mut self.desk, &mut self.state, act);
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
    pub fn keep_half_typed(&mut self) {
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
}
