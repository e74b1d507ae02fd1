//! The lot in hand: what is asked for, what an answer does, what the words do.

use super::words::{WORDS, Word, word};
use super::{Kind, Speaker};
use crate::desk::screen::Units;
use crate::desk::views::{Draft, Field, LotView};
use crate::desk::{AppError, Desk, ErrorKind, PieceView};
use crate::evidence::Measurand;
use crate::present::plain;
use crate::present::units::echo as echo_in_units;
use crate::present::words::count;
use std::io::Write;

/// A session at the bench.
pub(super) struct Bench<W> {
    pub(super) desk: Desk,
    units: Units,
    pub(super) speaker: Speaker<W>,
    work: Option<Work>,
}

/// The lot that is being logged.
struct Work {
    lot: LotView,
    draft: Draft,
}

impl Work {
    fn half_filled(&self) -> bool {
        self.draft.fields.iter().any(|field| !field.text.is_empty())
    }

    /// Returns the field that is asked for.
    fn field(&self) -> Option<Field> {
        self.draft.fields.get(self.draft.focus).map(|field| field.field)
    }

    /// Goes to the first field that was not accepted yet.
    fn go_on(&mut self) {
        let open = self.draft.fields.iter().position(|field| !field.accepted);
        self.draft.focus = open.unwrap_or(self.draft.fields.len());
    }
}

/// Returns how a field is called here: a lone conductivity needs no number.
fn label(draft: &Draft, field: Field) -> String {
    let second = Field::Reading(Measurand::Conductivity, 2);
    match field {
        Field::Reading(Measurand::Conductivity, _)
            if draft.fields.iter().all(|other| other.field != second) =>
        {
            "conductivity".to_owned()
        }
        field => field.label(),
    }
}

impl<W: Write> Bench<W> {
    pub(super) fn new(desk: Desk, units: Units, speaker: Speaker<W>) -> Self {
        // Each line is short work, and nobody is shown a line that is drawn over.
        desk.progress().watch(None);
        Bench { desk, units, speaker, work: None }
    }

    fn say(&mut self, text: impl AsRef<str>) {
        self.speaker.say(Kind::Said, text.as_ref());
    }

    /// Says where one is, and opens the lot of the piece that was left half filled.
    pub(super) fn start(&mut self) -> Result<(), AppError> {
        self.say("scruple, line by line; help lists the words");
        let left = self.desk.draft()?.filter(|draft| draft.fields.iter().any(|field| !field.text.is_empty()));
        if let Some(draft) = left {
            let number = self.desk.lot(draft.lot)?.number;
            self.open(&number)?;
            return Ok(());
        }
        if self.desk.shipments()?.is_empty() {
            self.say("no shipment yet; scruple receive LIST takes one in");
        }
        Ok(())
    }

    /// Says what is asked for.
    pub(super) fn ask(&mut self) {
        let Some(work) = &self.work else {
            self.speaker.say(Kind::Ask, "which lot? open and its number, or another word");
            return;
        };
        let Some(field) = work.field() else {
            self.speaker.say(Kind::Ask, "every field is filled: score saves the piece, back goes to a field");
            return;
        };
        let next = work.lot.logged + 1;
        let name = label(&work.draft, field);
        let how = match field {
            Field::Serial => ", or nothing for none; words with / here",
            field if field.may_stay_empty() => ", or nothing",
            _ => "",
        };
        let unit = match field {
            Field::Reading(measurand, _) => self.units.other_than_stored(measurand),
            Field::Serial => None,
        };
        let unit = unit.map_or_else(String::new, |unit| format!(" in {}", unit.symbol));
        let text = format!("piece {next} of {}, {name}{unit}{how}?", work.lot.expected);
        self.speaker.say(Kind::Ask, &text);
    }

    /// Takes a line; tells whether it ends the session.
    pub(super) fn take(&mut self, line: &str) -> Result<bool, AppError> {
        let serial_asked = self.work.as_ref().is_some_and(|work| work.field() == Some(Field::Serial));
        let done = match word(line, serial_asked) {
            Some(Word::Quit) => return Ok(true),
            Some(word) => self.act(word),
            None => self.answer(line),
        };
        match done {
            Ok(()) => Ok(false),
            // What the book itself cannot do is no matter of another answer.
            Err(error) if matches!(error.kind, ErrorKind::Damaged | ErrorKind::Io) => Err(error),
            Err(error) => {
                self.speaker.refuse(&error);
                Ok(false)
            }
        }
    }

    /// Takes an answer to what is asked for.
    fn answer(&mut self, line: &str) -> Result<(), AppError> {
        let Some(work) = self.work.as_mut() else {
            if line.is_empty() {
                return Ok(());
            }
            let message = format!("`{line}` is not one of the words, and no lot is open");
            return Err(AppError::usage(message, vec!["help lists the words".to_owned()]));
        };
        let (lot, at) = (work.draft.lot, work.draft.focus);
        let Some(field) = work.field() else {
            let message = format!("`{line}` is not one of the words, and every field is filled");
            return Err(AppError::usage(message, vec!["score saves the piece".to_owned()]));
        };
        let name = label(&work.draft, field);
        if line.is_empty() && !field.may_stay_empty() {
            let hint = "type it, or - when it was not measured".to_owned();
            return Err(AppError::usage(format!("{name} is empty"), vec![hint]));
        }
        let line = &self.units.kept_in(field, line);
        let echo = match line.as_str() {
            "" => None,
            line => Some(self.desk.echo(lot, field, line)?),
        };
        let Some(work) = self.work.as_mut() else { return Ok(()) };
        let slot = &mut work.draft.fields[at];
        line.clone_into(&mut slot.text);
        slot.reason = None;
        slot.device_line = None;
        slot.accepted = echo.as_ref().is_none_or(|echo| echo.question.is_none());
        let accepted = slot.accepted;
        if accepted {
            work.go_on();
        }
        // On disk before the next line is read.
        self.desk.save_draft(&work.draft)?;
        match echo {
            Some(echo) => match echo.question {
                Some(question) => {
                    self.speaker.say(Kind::Question, &question);
                    self.say("type it again, or keep and the reason");
                }
                None => {
                    let shown = match field {
                        Field::Reading(measurand, _) => echo_in_units(measurand, line, &self.units),
                        Field::Serial => None,
                    };
                    self.say(format!("{name} {}", shown.unwrap_or(echo.stored)));
                }
            },
            None => self.say(format!("{name} left empty")),
        }
        if accepted { self.log_when_filled() } else { Ok(()) }
    }

    /// Scores and saves the piece once every field is accepted.
    fn log_when_filled(&mut self) -> Result<(), AppError> {
        let Some(work) = self.work.as_ref().filter(|work| work.field().is_none()) else { return Ok(()) };
        let piece = self.desk.log_piece(&work.draft)?;
        let lot = self.desk.lot(piece.lot)?;
        self.speaker.all(Kind::Verdict, &plain::verdict(&piece, &self.units));
        self.say(plain::lot(&lot));
        if lot.logged >= lot.expected {
            self.say(format!("lot {} is complete; lots lists the others", lot.number));
            self.work = None;
            return Ok(());
        }
        let draft = self.desk.new_draft(lot.id)?;
        self.work = Some(Work { lot, draft });
        Ok(())
    }

    /// Does what a word stands for.
    fn act(&mut self, word: Word) -> Result<(), AppError> {
        match word {
            Word::Help => {
                for (_, written, does) in WORDS {
                    self.say(format!("{written}: {does}"));
                }
                self.say("anything else is the answer to what is asked for; - means not measured");
            }
            Word::Lots => {
                let lines = plain::lots(&self.desk.shipments()?);
                if lines.is_empty() {
                    self.say("no shipment yet; scruple receive LIST takes one in");
                }
                self.speaker.all(Kind::Said, &lines);
            }
            Word::Open(number) => return self.open(&number),
            Word::Fields => self.fields(),
            Word::Back => self.back()?,
            Word::Clear => self.clear()?,
            Word::Score => return self.score(),
            Word::Keep(reason) => return self.keep(reason),
            Word::Probe(name) => return self.probe(name),
            Word::Holds => {
                let holds = self.desk.holds()?;
                let lines: Vec<String> = holds.iter().map(plain::hold).collect();
                self.speaker.all(Kind::Said, &lines);
                match lines.len() {
                    0 => self.say("nothing is on hold"),
                    open => self.say(format!("{} open", count(open, "doubt", "doubts"))),
                }
            }
            Word::Piece(number) => {
                let piece = self.desk.find_piece(&number)?;
                self.speaker.all(Kind::Verdict, &plain::verdict(&piece, &self.units));
            }
            Word::Correct { piece, field, value, reason } => {
                let piece = self.desk.find_piece(&piece)?;
                let field = named_field(&piece, &field)?;
                let piece =
                    self.desk.correct(piece.id, field, &self.units.kept_in(field, &value), &reason)?;
                self.say("corrected; the value before stays in the book, with the reason");
                self.changed(&piece)?;
            }
            Word::Hold { piece, reason } => {
                let piece = self.desk.find_piece(&piece)?;
                let piece = self.desk.hold_piece(piece.id, &reason)?;
                self.changed(&piece)?;
            }
            Word::TakeBack { piece, reason } => {
                let piece = self.desk.find_piece(&piece)?;
                let piece = self.desk.take_back_hold(piece.id, &reason)?;
                self.changed(&piece)?;
            }
            Word::Void { piece, reason } => {
                let piece = self.desk.find_piece(&piece)?;
                self.desk.void_piece(piece.id, &reason)?;
                self.say(format!("piece {} is void", piece.number));
                self.refresh()?;
            }
            Word::Undo => {
                let words = self.desk.undo()?;
                self.say(words);
                self.refresh()?;
            }
            Word::Unfinished(written) => {
                let message = "the word wants something else after it".to_owned();
                return Err(AppError::usage(message, vec![format!("it is written `{written}`")]));
            }
            Word::Quit => {}
        }
        Ok(())
    }

    fn changed(&mut self, piece: &PieceView) -> Result<(), AppError> {
        self.speaker.all(Kind::Verdict, &plain::verdict(piece, &self.units));
        self.refresh()
    }

    /// Reads the counts of the lot in hand again.
    fn refresh(&mut self) -> Result<(), AppError> {
        if let Some(work) = self.work.as_mut() {
            work.lot = self.desk.lot(work.lot.id)?;
        }
        Ok(())
    }

    /// Opens a lot; the half-filled piece of another one is not given up for it.
    fn open(&mut self, number: &str) -> Result<(), AppError> {
        let wanted = number.trim().to_uppercase();
        let shipments = self.desk.shipments()?;
        let found = shipments.iter().flat_map(|shipment| &shipment.lots);
        let Some(lot) = found.into_iter().find(|lot| lot.number.to_uppercase() == wanted).cloned() else {
            let message = format!("`{number}` is not a lot of this book");
            return Err(AppError::usage(
                message,
                vec!["lots lists them; a lot has a number such as `S-0012/3`".to_owned()],
            ));
        };
        if let Some(work) = self.work.as_ref().filter(|work| work.half_filled() && work.lot.id != lot.id) {
            let message = format!("lot {} has a half-filled piece", work.lot.number);
            return Err(AppError::failed(message).with_hint("finish it, or empty it with `clear all`"));
        }
        if lot.logged >= lot.expected {
            return Err(AppError::failed(format!("lot {} is complete: it takes no more", lot.number)));
        }
        let saved = self.desk.draft()?.filter(|draft| draft.lot == lot.id && !draft.fields.is_empty());
        let draft = match saved {
            Some(draft) => draft,
            None => self.desk.new_draft(lot.id)?,
        };
        self.say(plain::lot(&lot));
        if let Some(probe) = &draft.probe {
            self.say(format!("probe {probe}"));
        }
        let mut work = Work { lot, draft };
        let half = work.half_filled();
        work.go_on();
        self.work = Some(work);
        if half {
            self.say("the half-filled piece is as you left it");
            self.fields();
        }
        Ok(())
    }

    /// Says what is typed so far.
    fn fields(&mut self) {
        let Some(work) = &self.work else {
            self.say("no lot is open");
            return;
        };
        let typed = work.draft.fields.iter().map(|field| {
            let text = match (field.text.as_str(), field.accepted) {
                ("", true) => "left empty".to_owned(),
                ("", false) => "open".to_owned(),
                (text, true) => text.to_owned(),
                (text, false) => format!("{text}, not accepted yet"),
            };
            format!("{}: {text}", label(&work.draft, field.field))
        });
        let lines: Vec<String> = typed.collect();
        for line in &lines {
            self.speaker.say_as_typed(Kind::Said, line);
        }
    }

    /// Asks for the field before again; what was typed in it stays until it is typed over.
    fn back(&mut self) -> Result<(), AppError> {
        let Some(work) = self.work.as_mut() else { return Err(no_lot()) };
        let Some(before) = work.draft.focus.checked_sub(1) else {
            return Err(AppError::failed("this is the first field"));
        };
        work.draft.focus = before;
        work.draft.fields[before].accepted = false;
        self.desk.save_draft(&work.draft)
    }

    fn clear(&mut self) -> Result<(), AppError> {
        let Some(work) = self.work.as_mut() else { return Err(no_lot()) };
        work.draft = self.desk.new_draft(work.lot.id)?;
        self.desk.save_draft(&work.draft)?;
        self.say("the piece in hand is empty");
        Ok(())
    }

    /// Scores with what was measured: what is open counts as not measured.
    fn score(&mut self) -> Result<(), AppError> {
        let Some(work) = self.work.as_mut() else { return Err(no_lot()) };
        if !work.half_filled() {
            return Err(AppError::failed("nothing was measured yet"));
        }
        if let Some(field) = work.draft.fields.iter().find(|field| !field.accepted && !field.text.is_empty())
        {
            let name = label(&work.draft, field.field);
            return Err(AppError::failed(format!("{name} `{}` is not accepted yet", field.text))
                .with_hint("type it again"));
        }
        for field in work.draft.fields.iter_mut().filter(|field| !field.accepted) {
            if !field.field.may_stay_empty() {
                "-".clone_into(&mut field.text);
            }
            field.accepted = true;
        }
        work.go_on();
        self.desk.save_draft(&work.draft)?;
        self.log_when_filled()
    }

    /// Keeps a value far off with a reason.
    fn keep(&mut self, reason: String) -> Result<(), AppError> {
        let Some(work) = self.work.as_mut() else { return Err(no_lot()) };
        let focus = work.draft.focus;
        let Some(field) =
            work.draft.fields.get_mut(focus).filter(|field| !field.accepted && !field.text.is_empty())
        else {
            return Err(AppError::failed("no value is in question"));
        };
        field.reason = Some(reason);
        field.accepted = true;
        let text = field.text.clone();
        work.go_on();
        self.desk.save_draft(&work.draft)?;
        self.speaker.say_as_typed(Kind::Said, &format!("{text} is kept, with the reason"));
        self.log_when_filled()
    }

    /// Takes another probe, or lists them.
    fn probe(&mut self, name: Option<String>) -> Result<(), AppError> {
        let known: Vec<String> =
            self.desk.instruments().probes.iter().map(|probe| probe.name.clone()).collect();
        let Some(name) = name else {
            let now = self.work.as_ref().and_then(|work| work.draft.probe.clone());
            let now = now.map_or_else(String::new, |now| format!("; in use is {now}"));
            self.say(format!("probes: {}{now}", known.join(", ")));
            return Ok(());
        };
        let Some(work) = self.work.as_mut() else { return Err(no_lot()) };
        let Some(found) = known.iter().find(|one| one.eq_ignore_ascii_case(&name)) else {
            let message = format!("probe `{name}` is not one of {}", known.join(", "));
            return Err(AppError::usage(message, Vec::new()));
        };
        work.draft.probe = Some(found.clone());
        self.desk.save_draft(&work.draft)?;
        self.say(format!("probe {found}"));
        Ok(())
    }

    /// Says that a half-filled piece is kept.
    pub(super) fn say_what_is_kept(&mut self) {
        if let Some(work) = self.work.as_ref().filter(|work| work.half_filled()) {
            let text = format!("the half-filled piece of lot {} is kept in the book", work.lot.number);
            self.say(text);
        }
    }
}

fn no_lot() -> AppError {
    AppError::usage("no lot is open", vec!["open and the number of a lot".to_owned()])
}

/// Returns the field of a piece with a name.
fn named_field(piece: &PieceView, name: &str) -> Result<Field, AppError> {
    let mut fields = vec![Field::Serial];
    fields.extend(piece.readings.iter().map(|reading| Field::Reading(reading.measurand, reading.spot)));
    for check in &piece.assessment.checks {
        let field = Field::Reading(check.measurand, 1);
        if !fields.contains(&field) {
            fields.push(field);
        }
    }
    fields.iter().find(|field| field.label() == name).copied().ok_or_else(|| {
        let known: Vec<String> = fields.iter().map(|field| format!("`{}`", field.label())).collect();
        AppError::usage(
            format!("field `{name}` of piece {} is not one of {}", piece.number, known.join(", ")),
            Vec::new(),
        )
    })
}
