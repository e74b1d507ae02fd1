//! The end of the day: marking, second tests, samples, decisions, release.

use super::super::dialog::{Answer, Choice, Content, Dialog, Heard, Methods, Page, Partials};
use super::super::effect::{Effect, Then};
use super::super::holds::HoldRow;
use super::super::keymap::{Act, Place};
use super::super::state::{Notice, ReceiveAt, Screen, State};
use super::forms::{Target, target};
use super::{forms, moved, review_forms};
use crate::desk::review_views::{Ending, SampleView, SecondTestOutcome, StockView};
use crate::desk::views::PieceView;
use crate::physics::recording::RingRecording;
use crate::present::second_test::{is_recorded, ranked};
use crate::present::verdict::reasons;
use crate::present::words::{count, money_text};
use crate::quantity::Frequency;
use crate::scoring::{Method, Scope};

/// Puts a refusal above the footer.
fn refused(state: &mut State, text: &str) -> Vec<Effect> {
    state.notice = Some(Notice::Refused(text.to_owned()));
    Vec::new()
}

/// Returns the numbers of the pieces that an act concerns.
fn chosen(state: &State) -> Vec<String> {
    if state.dialogs.is_empty() && state.screen == Screen::Holds {
        return state.holds.chosen();
    }
    match target(state) {
        Target::Piece(piece) => vec![piece.number],
        Target::Load(number) => vec![number],
        Target::None => Vec::new(),
    }
}

/// Returns the lot whose row is selected on the holds screen, where it is the lot itself.
fn selected_lot(state: &State) -> Option<(String, Vec<crate::desk::views::HoldView>)> {
    match state.holds.current() {
        Some(HoldRow::One { held, .. }) if held.group.scope == Scope::Lot => {
            Some((held.lot().to_owned(), held.group.doubts.clone()))
        }
        _ => None,
    }
}

/// Says that one piece is needed; unfolds the pieces to choose from.
fn one_piece(state: &mut State) -> Vec<Effect> {
    if let Some(HoldRow::Fold { open: false, .. }) = state.holds.current() {
        state.holds.turn();
    }
    let key = state.keymap.key(Place::Holds, Act::Sample);
    refused(state, &format!("choose one of these pieces, or draw a sample of their lot with {key}"))
}

/// Carries out an act of the review.
pub(super) fn act(state: &mut State, act: Act) -> Vec<Effect> {
    let on_list = state.dialogs.is_empty() && state.screen == Screen::Holds;
    match act {
        Act::Mark => {
            state.holds.mark();
            Vec::new()
        }
        Act::SecondTest | Act::Settle => {
            if on_list && matches!(state.holds.current(), Some(HoldRow::Fold { .. })) {
                return one_piece(state);
            }
            if on_list && let Some((lot, doubts)) = selected_lot(state) {
                return if act == Act::SecondTest {
                    vec![Effect::LoadSamples { lot }]
                } else {
                    review_forms::ask_settle_lot(state, &lot, &doubts)
                };
            }
            let then = if act == Act::SecondTest { Then::Test } else { Then::Settle };
            match target(state) {
                // The page may be older than the book.
                Target::Piece(piece) => vec![Effect::OpenPiece { number: piece.number, then }],
                Target::Load(number) => vec![Effect::OpenPiece { number, then }],
                Target::None => refused(state, "no logged piece is selected"),
            }
        }
        Act::Sample => {
            let lot = match state.screen {
                Screen::Holds => state.holds.current().map(|row| row.first().lot().to_owned()),
                Screen::Receive => state.receive.current_lot().map(|lot| lot.number.clone()),
                _ => None,
            };
            match lot {
                Some(lot) => vec![Effect::LoadSamples { lot }],
                None => refused(state, "no lot is selected"),
            }
        }
        Act::PartWith => {
            let pieces = chosen(state);
            if pieces.is_empty() {
                let key = state.keymap.key(Place::Holds, Act::Mark);
                return refused(state, &format!("no piece is selected; {key} marks pieces"));
            }
            let title = format!("Part with {}", named(&pieces));
            let answers = vec![
                ("send back to the source".to_owned(), Answer::PartWith(Ending::SentBack, pieces.clone())),
                ("surrender to the authorities".to_owned(), Answer::PartWith(Ending::Surrendered, pieces)),
                ("stay".to_owned(), Answer::Stay),
            ];
            state.dialogs.push(Dialog::Choice(Choice { title, text: String::new(), answers, selected: 0 }));
            Vec::new()
        }
        Act::Release => {
            if state.dialogs.is_empty() && state.screen == Screen::Receive {
                let lot = state.receive.current_lot().filter(|_| state.receive.at == ReceiveAt::Lots);
                return match lot.map(|lot| (lot.number.clone(), lot.clear)) {
                    Some((lot, 0)) => refused(state, &format!("no piece of {lot} is clear")),
                    Some((lot, _)) => {
                        ask_release_lot(state, lot);
                        Vec::new()
                    }
                    None => refused(state, "no lot is selected"),
                };
            }
            let pieces = chosen(state);
            if pieces.is_empty() {
                let key = state.keymap.key(Place::Holds, Act::Mark);
                return refused(state, &format!("no piece is selected; {key} marks pieces"));
            }
            ask_release(state, pieces);
            Vec::new()
        }
        Act::WriteFiles => review_forms::ask_files(state),
        _ => Vec::new(),
    }
}

/// Returns pieces in words: the number of one, the count of several.
fn named(pieces: &[String]) -> String {
    match pieces {
        [one] => one.clone(),
        several => count(several.len(), "piece", "pieces"),
    }
}

/// Asks whether pieces are to be released.
fn ask_release(state: &mut State, pieces: Vec<String>) {
    let text = match pieces.as_slice() {
        [one] => format!("{one} becomes stock"),
        several => format!("{} become stock", several.join(", ")),
    };
    let words = named(&pieces);
    confirm_release(state, &words, &text, pieces);
}

/// Asks whether the clear pieces of a lot are to be released.
fn ask_release_lot(state: &mut State, lot: String) {
    let words = format!("what is clear of {lot}");
    let text = format!("Every clear piece of {lot} that is still at the desk becomes stock");
    confirm_release(state, &words, &text, vec![lot]);
}

/// Asks whether what was named is to be released.
fn confirm_release(state: &mut State, words: &str, text: &str, pieces: Vec<String>) {
    let text = format!("{text} that can be sold. While any doubt is open, nothing is released.");
    let answers =
        vec![(format!("release {words}"), Answer::Release(pieces)), ("stay".to_owned(), Answer::Stay)];
    let title = format!("Release {words}");
    state.dialogs.push(Dialog::Choice(Choice { title, text, answers, selected: 0 }));
}

/// Does what an answer of the review stands for.
pub(super) fn answered(state: &mut State, answer: Answer) -> Vec<Effect> {
    match answer {
        Answer::Release(pieces) => vec![Effect::Release { pieces, pin: None }],
        Answer::PartWith(ending, pieces) => review_forms::ask_part_with(state, ending, pieces),
        Answer::Test(number) => vec![Effect::OpenPiece { number, then: Then::Test }],
        Answer::Draw(lot) => vec![Effect::DrawSample { lot, seed: None }],
        Answer::AskSeed(lot) => review_forms::ask_seed(state, lot),
        Answer::OnSample(lot, kind) => review_forms::ask_on_sample(state, lot, kind),
        _ => Vec::new(),
    }
}

/// Lists the methods for a second test of a piece.
pub(super) fn methods(state: &mut State, piece: PieceView) -> Vec<Effect> {
    let ranked = ranked(&reasons(&piece));
    state.dialogs.push(Dialog::Methods(Box::new(Methods { piece, ranked, selected: 0 })));
    Vec::new()
}

/// Carries out an act of the list of methods, or of the list of partials.
pub(super) fn choose(state: &mut State, act: Act) -> Vec<Effect> {
    match state.dialogs.last_mut() {
        Some(Dialog::Methods(methods)) => match act {
            Act::Back => {
                state.dialogs.pop();
            }
            Act::Accept => {
                let chosen = methods.ranked.get(methods.selected).map(|ranked| ranked.method);
                let piece = methods.piece.clone();
                return chosen.map_or_else(Vec::new, |method| begin(state, &piece, method));
            }
            _ => methods.selected = moved(methods.selected, act, methods.ranked.len(), 8),
        },
        Some(Dialog::Partials(partials)) => match act {
            Act::Back => {
                state.dialogs.pop();
            }
            Act::Accept => return hear(state),
            _ => partials.selected = moved(partials.selected, act, partials.recording.partials.len(), 8),
        },
        _ => {}
    }
    Vec::new()
}

/// Opens the form of a method; one that corrects a record opens the correction.
fn begin(state: &mut State, piece: &PieceView, method: Method) -> Vec<Effect> {
    if is_recorded(method) {
        review_forms::ask_test(state, piece, method)
    } else {
        state.dialogs.pop();
        forms::ask_piece(state, piece, Then::Correct)
    }
}

/// Shows the partials of a recording, the lowest selected: it is the one that the ring test asks for.
pub(super) fn recording_read(
    state: &mut State,
    row: usize,
    path: String,
    recording: RingRecording,
) -> Vec<Effect> {
    if !matches!(state.dialogs.last(), Some(Dialog::Form(_))) {
        return Vec::new();
    }
    let lowest = recording
        .partials
        .iter()
        .enumerate()
        .min_by(|(_, one), (_, other)| one.frequency_hz.total_cmp(&other.frequency_hz))
        .map_or(0, |(index, _)| index);
    state.dialogs.push(Dialog::Partials(Box::new(Partials { row, path, recording, selected: lowest })));
    Vec::new()
}

/// Puts the chosen partial into the row of the form that waits for it, with its uncertainty.
fn hear(state: &mut State) -> Vec<Effect> {
    let Some(Dialog::Partials(partials)) = state.dialogs.pop() else { return Vec::new() };
    let Some(partial) = partials.recording.partials.get(partials.selected) else { return Vec::new() };
    let Some(Dialog::Form(form)) = state.dialogs.last_mut() else { return Vec::new() };
    let text = format!("{:.1} Hz", partial.frequency_hz);
    let Some(row) = form.rows.get_mut(partials.row) else { return Vec::new() };
    row.input = text.as_str().into();
    form.heard.push(Heard {
        row: partials.row,
        text,
        uncertainty: Frequency::from_hertz(partial.uncertainty_hz),
    });
    form.focus = partials.row;
    // The value is taken as if it had been typed.
    forms::act(state, Act::Accept)
}

/// Shows what a second test came to.
pub(super) fn recorded(state: &mut State, outcome: SecondTestOutcome) {
    forms::done(state);
    while matches!(state.dialogs.last(), Some(Dialog::Methods(_))) {
        state.dialogs.pop();
    }
    // An earlier outcome gives way to the new one.
    state.dialogs.retain(|dialog| !matches!(dialog, Dialog::Page(Page { content: Content::Outcome(_), .. })));
    let title = format!("Second test of {}", outcome.piece.number);
    let closed = count(outcome.closed.len(), "doubt is", "doubts are");
    let text = match outcome.closed.len() {
        0 => "The second test is on record. It closes no doubt.".to_owned(),
        _ => format!("The second test is on record. {closed} closed by it."),
    };
    state.notice = Some(Notice::Done(text));
    state.dialogs.push(Dialog::Page(Page::new(&title, Content::Outcome(Box::new(outcome)))));
}

/// Shows the last sample of a lot with what can be done about it, or offers to draw one.
pub(super) fn samples(state: &mut State, lot: String, samples: &[SampleView]) -> Vec<Effect> {
    forms::done(state);
    let mut answers = Vec::new();
    let text = match samples.last() {
        None => {
            answers.push(("draw a random sample".to_owned(), Answer::Draw(lot.clone())));
            answers.push(("draw it with a seed of your own".to_owned(), Answer::AskSeed(lot.clone())));
            "No sample is drawn yet. Doubts that every piece of the lot shares are settled on one: its pieces are tested, \
             and not one may be bad."
                .to_owned()
        }
        Some(sample) => {
            for kind in state.holds.kinds_in(&lot) {
                let words = format!("settle `{}` on this sample", kind.kind.label());
                answers.push((words, Answer::OnSample(lot.clone(), kind.kind)));
            }
            for piece in &sample.pieces {
                let tested = if sample.tested.contains(piece) { ", agrees" } else { "" };
                answers.push((format!("test {piece}{tested}"), Answer::Test(piece.clone())));
            }
            // The desk refuses it as long as the lot is the one that the sample was drawn from.
            answers.push((
                "draw anew, after pieces were added or taken out".to_owned(),
                Answer::Draw(lot.clone()),
            ));
            let bad = match sample.disagreed {
                0 => String::new(),
                bad => format!(" {bad} disagree: every piece of the lot has to be tested."),
            };
            format!(
                "{} of {}, drawn with seed {}. {} tested and in agreement.{bad}\n{}",
                count(sample.pieces.len(), "piece", "pieces"),
                sample.of,
                sample.seed,
                sample.agreed,
                sample.bound
            )
        }
    };
    answers.push(("stay".to_owned(), Answer::Stay));
    // As long as pieces are to be tested, the first of them is what one wants.
    let selected = match samples.last() {
        Some(sample) if (sample.agreed as usize) < sample.pieces.len() => {
            let untested =
                |answer: &Answer| matches!(answer, Answer::Test(piece) if !sample.tested.contains(piece));
            answers.iter().position(|(_, answer)| untested(answer)).unwrap_or(0)
        }
        _ => 0,
    };
    let title = format!("Sample of {lot}");
    state.dialogs.push(Dialog::Choice(Choice { title, text, answers, selected }));
    Vec::new()
}

/// Takes note that pieces were released.
pub(super) fn released(state: &mut State, pieces: &[StockView]) {
    forms::done(state);
    let text = match pieces {
        [one] => {
            let value = one.value.map_or_else(String::new, |value| format!(", {}", money_text(value)));
            format!("{} is in stock{value}.", one.piece)
        }
        several => format!("{} are in stock.", count(several.len(), "piece", "pieces")),
    };
    for piece in pieces {
        state.holds.marked.remove(&piece.piece);
    }
    state.notice = Some(Notice::Done(text));
}
