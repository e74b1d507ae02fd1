//! Carrying out what the screens wish: one use case of the desk an effect.

use super::effect::{Effect, Then};
use super::message::{Logged, Message, Opened, Trouble};
use super::perform_review::review;
use crate::desk::{AppError, Desk, FirstAnswers};
use crate::intake::LotId;
use crate::scoring::Thing;

/// Returns an error of the desk in the words of the screens, the bad rows of a file one a line.
pub(super) fn trouble(error: AppError) -> Trouble {
    let mut message = error.message;
    for row in &error.rows {
        let hint = row.hint.as_ref().map_or_else(String::new, |hint| format!(" ({hint})"));
        message.push_str(&format!("\n{row}{hint}"));
    }
    Trouble { message, hints: error.hints }
}

/// Carries one effect out through the desk.
pub(super) fn perform(desk: &mut Desk, effect: Effect) -> Vec<Message> {
    let asked = effect.clone();
    attempt(desk, effect).unwrap_or_else(|error| {
        let pin = super::perform_review::asks_for_pin(&error);
        let trouble = trouble(error);
        vec![if pin {
            Message::PinWanted { effect: Box::new(asked), trouble }
        } else {
            Message::Failed(trouble)
        }]
    })
}

/// Carries one effect out and returns what came of it.
fn attempt(desk: &mut Desk, effect: Effect) -> Result<Vec<Message>, AppError> {
    let changed =
        |piece, text: &str| vec![Message::PieceChanged { piece: Box::new(piece), text: text.to_owned() }];
    Ok(match effect {
        Effect::LoadPolicy => vec![Message::Policy(desk.policy_view()?)],
        Effect::LoadTypeBook => vec![Message::TypeBook(desk.type_book(None)?)],
        Effect::LoadShipments => vec![Message::Shipments(desk.shipments()?)],
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
            Err(error) => vec![Message::Failed(unreadable("packing list", &path, &error))],
        },
        Effect::SetUp { name, currency, path } => set_up(desk, name, currency, &path)?,
        Effect::NewShipment { source } => vec![Message::Received(Box::new(desk.new_shipment(&source)?))],
        Effect::AddLine { shipment, product, quantity } => {
            vec![Message::LineAdded(Box::new(desk.add_line(shipment, &product, quantity)?))]
        }
        Effect::OpenPiece { number, then: Then::Settle } => {
            let piece = Box::new(desk.find_piece(&number)?);
            let tests = desk.second_tests(piece.id)?;
            vec![Message::Settling { piece, tests }]
        }
        Effect::OpenPiece { number, then } => {
            vec![Message::PieceOpened { piece: Box::new(desk.find_piece(&number)?), then }]
        }
        Effect::Explain { number, thing } => vec![explain(desk, &number, &thing)?],
        Effect::Search { text } => {
            let hits = desk.search(&text, HITS)?;
            vec![Message::Hits { text, hits }]
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
        Effect::LoadActs => vec![Message::LastActs(desk.own_acts(ACTS)?)],
        Effect::Undo { act } => vec![Message::Undone(desk.undo_act(act)?)],
        Effect::Redo { act, pin } => {
            vec![Message::Redone(desk.redo(Some(act), pin.as_ref().map(|pin| pin.0.as_str()))?)]
        }
        // Carried out by the loop itself.
        Effect::Echo { .. }
        | Effect::KeepDraft(_)
        | Effect::SaveDraft(_)
        | Effect::Bell(_)
        | Effect::Redraw
        | Effect::Demo
        | Effect::Quit => Vec::new(),
        other => return review(desk, other),
    })
}

/// Says where something about a piece comes from.
fn explain(desk: &Desk, number: &str, thing: &Thing) -> Result<Message, AppError> {
    let explained = desk.explain(number)?;
    let explanation = match explained.of(thing) {
        Some(explanation) => explanation,
        // The page is older than the book, or the reference lost a material: the word is refused with what there is.
        None => explained.named(&thing.word())?,
    };
    Ok(Message::Explained { number: explained.number.clone(), explanation: Box::new(explanation.clone()) })
}

/// Sets a new desk up, with the register of a file where one is named.
fn set_up(desk: &mut Desk, name: String, currency: String, path: &str) -> Result<Vec<Message>, AppError> {
    let register = match path {
        "" => None,
        path => match std::fs::read_to_string(home(path)) {
            Ok(text) => Some((path.to_owned(), text)),
            Err(error) => return Ok(vec![Message::Failed(unreadable("register", path, &error))]),
        },
    };
    desk.set_up(&FirstAnswers { name: name.clone(), currency, register })?;
    Ok(vec![Message::SetUp { name }])
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

/// Acts that the list of last acts shows.
const ACTS: u32 = 40;
/// Most hits of the finder.
const HITS: usize = 40;

/// Finds a piece, a shipment, a lot, or the lot that waits for a serial, by its number or serial in full.
fn find(desk: &Desk, text: &str) -> Result<Message, AppError> {
    let no_piece = match desk.find_piece(text) {
        Ok(piece) => return Ok(Message::PieceOpened { piece: Box::new(piece), then: Then::ShowEvidence }),
        Err(error) => error,
    };
    if let Ok(shipment) = desk.shipment(text) {
        return Ok(Message::FoundShipment(Box::new(shipment)));
    }
    let hits = desk.search(text, HITS)?;
    let lot = hits.iter().filter(|hit| hit.exact).find_map(|hit| hit.lot);
    lot.map(Message::FoundLot).ok_or(no_piece)
}

/// Says that a file cannot be read, and how paths are given.
pub(super) fn unreadable(what: &str, path: &str, error: &std::io::Error) -> Trouble {
    let hint = "give the path from the folder the program was started in, or from `/` or `~`".to_owned();
    Trouble { message: format!("{what} `{path}` cannot be read: {error}"), hints: vec![hint] }
}

/// Returns a path with a leading `~` replaced by the home folder.
pub(super) fn home(path: &str) -> std::path::PathBuf {
    match (path.strip_prefix("~/"), std::env::var_os("HOME")) {
        (Some(rest), Some(home)) => std::path::Path::new(&home).join(rest),
        _ => path.into(),
    }
}
