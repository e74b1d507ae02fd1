//! The first start on a new book: what to begin with, then three questions.

use super::super::dialog::{Answer, Choice, Dialog, Form, FormRow, Purpose, RowKind};
use super::super::effect::Effect;
use super::super::keymap::{Act, Place};
use super::super::state::{Notice, State};
use super::forms;
use tui_input::Input;

/// Asks what to begin with.
pub(super) fn ask(state: &mut State, currency: String) -> Vec<Effect> {
    let answers = vec![
        ("set this desk up: three questions".to_owned(), Answer::SetUp { currency }),
        ("look at an invented day first, in a book that is thrown away".to_owned(), Answer::Demo),
        ("go on without; the next start asks again".to_owned(), Answer::Stay),
    ];
    let choice = Choice {
        title: "A new book".to_owned(),
        text: "Nothing is in this book yet. Everything that is answered now can be changed later.".to_owned(),
        answers,
        selected: 0,
    };
    state.dialogs.push(Dialog::Choice(choice));
    Vec::new()
}

/// Asks the three questions.
pub(super) fn questions(state: &mut State, currency: &str) -> Vec<Effect> {
    let mut rows = vec![
        FormRow::new("name", "what the desk is called, for its day sheets", RowKind::Text),
        FormRow::new("currency", "code of the money it buys in, such as EUR, USD or CHF", RowKind::Text),
        FormRow::new(
            "instruments",
            "path of a register file, or nothing: those shipped are then assumed until you enter yours",
            RowKind::Optional,
        ),
    ];
    rows[1].input = Input::from(currency);
    forms::ask(state, Form::new(Purpose::SetUp, "Set this desk up", rows))
}

/// Says that the desk is set up and what comes next.
pub(super) fn done(state: &mut State, name: &str) -> Vec<Effect> {
    forms::done(state);
    let key = state.keymap.key(Place::Shipments, Act::NewShipment);
    state.notice = Some(Notice::Done(format!("{name} is set up. {key} takes in the first shipment.")));
    Vec::new()
}
