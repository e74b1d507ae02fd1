//! The forms of the end of the day: second tests, decisions, samples, PINs, files.

use super::super::dialog::{Dialog, Form, FormRow, Purpose, RowKind};
use super::super::effect::{Effect, Files, Pin};
use super::super::message::Trouble;
use super::super::second_test::{build, rows};
use super::super::state::{Notice, State};
use super::forms::{as_shown, ask, refuse};
use crate::desk::ControlRequest;
use crate::desk::review_views::{Ending, SecondTestView};
use crate::desk::views::{HoldView, PieceView};
use crate::evidence::Measurand;
use crate::evidence::control::ControlReason;
use crate::intake::HoldId;
use crate::present::causes::hold_text;
use crate::present::holds::numbers_text;
use crate::present::second_test::{caution, surrender_caution, test_text};
use crate::scoring::{DoubtKind, Method};

/// Makes the row for a reason.
fn why() -> FormRow {
    FormRow::new("why", "the reason, for the record", RowKind::Text)
}

/// Makes a row of a few words.
fn options(label: &'static str, hint: &str, options: Vec<String>) -> FormRow {
    FormRow::new(label, hint, RowKind::Options { options, selected: 0 })
}

/// Asks for the result of a second test.
pub(super) fn ask_test(state: &mut State, piece: &PieceView, method: Method) -> Vec<Effect> {
    let rows = rows(method, &state.facts);
    if rows.is_empty() {
        return Vec::new();
    }
    let title = format!("{}, second test by {}", piece.number, method.label());
    let purpose = Purpose::SecondTest { piece: piece.number.clone(), method };
    ask(state, Form::new(purpose, title, rows).with_caution(caution(method).map(str::to_owned)))
}

/// Asks which doubt of a piece is settled, on what, and why.
pub(super) fn ask_settle(state: &mut State, piece: &PieceView, tests: &[SecondTestView]) -> Vec<Effect> {
    if piece.doubts.is_empty() {
        let text =
            format!("no doubt of {} itself is open; those of its lot are settled on a sample", piece.number);
        state.notice = Some(Notice::Refused(text));
        return Vec::new();
    }
    let doubts: Vec<HoldId> = piece.doubts.iter().map(|doubt| doubt.id).collect();
    let mut evidence = vec!["none, only the reason".to_owned()];
    evidence.extend(tests.iter().map(|test| test_text(test, state.facts.offset)));
    let rows = vec![
        options("doubt", "arrows choose", piece.doubts.iter().map(hold_text).collect()),
        options("second test", "arrows choose the test that the decision rests on", evidence),
        why(),
    ];
    let purpose = Purpose::Settle { doubts, tests: tests.iter().map(|test| test.id).collect() };
    ask(state, Form::new(purpose, format!("Settle a doubt of {}", piece.number), rows))
}

/// Asks which doubt of a lot is settled by decision, and why.
pub(super) fn ask_settle_lot(state: &mut State, lot: &str, doubts: &[HoldView]) -> Vec<Effect> {
    let rows = vec![options("doubt", "arrows choose", doubts.iter().map(hold_text).collect()), why()];
    let purpose =
        Purpose::Settle { doubts: doubts.iter().map(|doubt| doubt.id).collect(), tests: Vec::new() };
    ask(state, Form::new(purpose, format!("Settle a doubt of {lot} by decision"), rows))
}

/// Asks why the doubts of a lot are settled on its sample.
pub(super) fn ask_on_sample(state: &mut State, lot: String, kind: DoubtKind) -> Vec<Effect> {
    let title = format!("Settle `{}` of {lot} on its sample", kind.label());
    ask(state, Form::new(Purpose::OnSample { lot, kind }, title, vec![why()]))
}

/// Asks for the seed of a sample.
pub(super) fn ask_seed(state: &mut State, lot: String) -> Vec<Effect> {
    let hint = "a whole number; whoever has it draws the same pieces again";
    let title = format!("Seed of the sample of {lot}");
    ask(state, Form::new(Purpose::Seed { lot }, title, vec![FormRow::new("seed", hint, RowKind::Text)]))
}

/// Asks why pieces leave without being sold.
pub(super) fn ask_part_with(state: &mut State, ending: Ending, pieces: Vec<String>) -> Vec<Effect> {
    let numbers: Vec<&str> = pieces.iter().map(String::as_str).collect();
    let whose = match numbers.as_slice() {
        [one] => (*one).to_owned(),
        [first, ..] => {
            let lot = first.rsplit_once('-').map_or("", |(lot, _)| lot);
            let same =
                numbers.iter().all(|number| number.rsplit_once('-').is_some_and(|(other, _)| other == lot));
            if same {
                format!("{lot}{}", numbers_text(&numbers))
            } else {
                format!("{} pieces", numbers.len())
            }
        }
        [] => String::new(),
    };
    let (title, caution) = match ending {
        Ending::Surrendered => (format!("Surrender {whose}"), Some(surrender_caution())),
        Ending::SentBack | Ending::Released => (format!("Send back {whose}"), None),
    };
    ask(state, Form::new(Purpose::PartWith { ending, pieces }, title, vec![why()]).with_caution(caution))
}

/// Asks for the PIN that an act needs; when one was asked for already, that one was wrong.
pub(super) fn ask_pin(state: &mut State, effect: Effect, trouble: Trouble) -> Vec<Effect> {
    if let Some(Dialog::Form(form)) = state.dialogs.last_mut()
        && matches!(form.purpose, Purpose::Pin { .. })
    {
        form.rows[0].input = tui_input::Input::default();
        form.fault = Some(trouble);
        return vec![Effect::Bell(1)];
    }
    let hints =
        if trouble.hints.is_empty() { String::new() } else { format!("; {}", trouble.hints.join("; ")) };
    let row = FormRow::new("PIN", &format!("{}{hints}", trouble.message), RowKind::Secret);
    // Not through `ask`: a PIN is never put aside and must not drop what is.
    let form = Form::new(Purpose::Pin { effect: Box::new(effect) }, "PIN", vec![row]);
    state.dialogs.push(Dialog::Form(Box::new(form)));
    Vec::new()
}

/// Asks where the day sheet is written.
pub(super) fn ask_files(state: &mut State) -> Vec<Effect> {
    let Some(day) = state.day.view.as_ref().map(|view| view.day) else { return Vec::new() };
    let hint = "path without an ending; files that are there already are left alone";
    let mut path = FormRow::new("path", hint, RowKind::Text);
    path.input = format!("day-sheet-{day}").into();
    let words = ["HTML and PDF", "HTML, for a browser", "PDF, for paper"];
    let kinds = options("files", "arrows choose", words.map(str::to_owned).to_vec());
    ask(
        state,
        Form::new(Purpose::WriteDay { day }, format!("Write the day sheet of {day}"), vec![path, kinds]),
    )
}

/// Asks for the value of a control of the selected instrument.
pub(super) fn ask_control(state: &mut State) -> Vec<Effect> {
    let Some(row) = state.instruments.current() else { return Vec::new() };
    if row.instrument.checked_on.is_empty() {
        let text = format!(
            "the register holds no reference piece for `{}`; `scruple instrument set FILE` registers some",
            row.instrument.name
        );
        state.notice = Some(Notice::Refused(text));
        return Vec::new();
    }
    let measured: Vec<Measurand> = row.instrument.kind.measurands().iter().take(1).copied().collect();
    let mut reasons = vec!["as it follows".to_owned()];
    reasons.extend(ControlReason::ALL.iter().map(|reason| reason.words().to_owned()));
    let rows = vec![
        options("on", "arrows choose the reference piece", row.instrument.checked_on.clone()),
        FormRow::new("value", &as_shown(&state.settings.units, &measured), RowKind::Text),
        FormRow::new("temperature", "of the reference piece; may stay empty", RowKind::Optional),
        options("why", "arrows choose", reasons),
    ];
    let title = format!("Control of {}", row.name());
    let purpose = Purpose::Control { instrument: row.instrument.name.clone(), probe: row.probe.clone() };
    ask(state, Form::new(purpose, title, rows))
}

/// Asks which product the selected probe would be used on.
pub(super) fn ask_reach(state: &mut State) -> Vec<Effect> {
    let probe = state.instruments.current().and_then(|row| row.probe.clone());
    let title =
        probe.as_ref().map_or("What each probe proves".to_owned(), |probe| format!("What {probe} proves"));
    let kind = RowKind::Product { matches: Vec::new(), selected: 0 };
    let rows = vec![FormRow::new("on product", "its id, or a word of its name", kind)];
    ask(state, Form::new(Purpose::Reach { probe }, title, rows))
}

/// Carries out a filled form of the review.
pub(super) fn submit(state: &mut State, purpose: Purpose) -> Vec<Effect> {
    let Some(Dialog::Form(form)) = state.dialogs.last_mut() else { return Vec::new() };
    let text = |index: usize| {
        form.rows.get(index).map_or_else(String::new, |row| row.input.value().trim().to_owned())
    };
    let chosen = |index: usize| match form.rows.get(index).map(|row| &row.kind) {
        Some(RowKind::Options { selected, .. }) => *selected,
        _ => 0,
    };
    match purpose {
        Purpose::SecondTest { piece, method } => match build(method, form, &state.facts) {
            Ok(test) => vec![Effect::RecordTest { piece, test: Box::new(test) }],
            Err(unfit) => {
                form.focus = unfit.row;
                refuse(form, unfit.message)
            }
        },
        Purpose::Settle { doubts, tests } => {
            let Some(hold) = doubts.get(chosen(0)).copied() else { return Vec::new() };
            let evidence = chosen(1).checked_sub(1).and_then(|index| tests.get(index)).copied();
            // Without second tests the form has no row for them.
            let reason = text(form.rows.len() - 1);
            vec![Effect::Settle { hold, reason, evidence, pin: None }]
        }
        Purpose::Seed { lot } => match text(0).parse::<u64>() {
            Ok(seed) => vec![Effect::DrawSample { lot, seed: Some(seed) }],
            Err(_) => {
                let message = format!("seed `{}` is not a whole number from 0 to {}", text(0), u64::MAX);
                refuse(form, message)
            }
        },
        Purpose::OnSample { lot, kind } => {
            vec![Effect::SettleOnSample { lot, kind, reason: text(0), pin: None }]
        }
        Purpose::PartWith { ending, pieces } => {
            vec![Effect::PartWith { ending, pieces, reason: text(0), pin: None }]
        }
        Purpose::Pin { effect } => {
            // A PIN counts as typed, blanks and all.
            let pin = form.rows.first().map_or_else(String::new, |row| row.input.value().to_owned());
            vec![effect.with_pin(Pin(pin))]
        }
        Purpose::Reach { probe } => vec![Effect::LoadReach { product: text(0), probe }],
        Purpose::Control { instrument, probe } => {
            let reference = match form.rows.first().map(|row| &row.kind) {
                Some(RowKind::Options { options, selected }) => {
                    options.get(*selected).cloned().unwrap_or_default()
                }
                _ => String::new(),
            };
            let reason = chosen(3).checked_sub(1).and_then(|index| ControlReason::ALL.get(index)).copied();
            let rows = state.instruments.view.iter().flat_map(|view| &view.rows);
            let row = rows.into_iter().find(|row| row.instrument.name == instrument);
            let measured = row.and_then(|row| row.instrument.kind.measurands().first());
            let value = measured.map_or(text(1), |one| state.settings.units.kept(*one, &text(1)));
            vec![Effect::RecordControl(Box::new(ControlRequest {
                reference,
                value,
                instrument: Some(instrument),
                probe,
                temperature: Some(text(2)).filter(|text| !text.is_empty()),
                reason,
            }))]
        }
        Purpose::WriteDay { day } => {
            let files = Files { html: chosen(1) != 2, pdf: chosen(1) != 1 };
            vec![Effect::WriteDay { day, path: text(0), files }]
        }
        _ => Vec::new(),
    }
}
