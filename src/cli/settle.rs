//! `scruple settle`: a doubt settled by the numbers of a second test, or by a person with a reason.

use super::test_args::TestArgs;
use super::{Printed, SOMETHING_IS_OPEN, input, json, second};
use crate::desk::{AppError, Desk, ErrorKind, HoldView};
use crate::intake::HoldId;
use crate::present::causes::hold_text;
use crate::present::text::clean;
use crate::scoring::DoubtKind;
use clap::Args;
use serde_json::{Value, json};
use std::io::Write;
use std::path::PathBuf;
use uuid::Uuid;

/// Arguments of `scruple settle`.
#[derive(Debug, Args)]
#[command(after_help = "\
With the readings of a second test the test is recorded and the piece scored again: its own numbers close doubts. A doubt
that stays open is settled by a person: with --reason it rests on the test, which is refused when the test cannot tell;
with --decide it rests on the person's word alone.

Examples:
  scruple settle S-0001/3-07 --method ultrasound --thickness 2.87mm --time-of-flight 1.77us --echo none
  scruple settle S-0001/3-07 --doubt identity --decide --reason 'the supplier sent the list again'")]
pub(super) struct SettleArgs {
    /// Number or serial of the piece, number of the lot, or id of the hold
    #[arg(value_name = "PIECE|HOLD")]
    target: String,
    #[command(flatten)]
    test: TestArgs,
    /// The kind of doubt, such as hidden-core, where more than one is open
    #[arg(long, value_name = "KIND")]
    doubt: Option<String>,
    /// Settle by a person's decision, without a test
    #[arg(long, requires = "reason", conflicts_with = "method")]
    decide: bool,
    /// Why it is settled
    #[arg(long, value_name = "TEXT")]
    reason: Option<String>,
    /// Read your PIN from the first line of standard input
    #[arg(long)]
    pin_stdin: bool,
    /// Draw the spectrum of a recording into a new file
    #[arg(long, value_name = "FILE.svg")]
    spectrum: Option<PathBuf>,
    /// Exit with 3 when nothing was settled
    #[arg(long)]
    check: bool,
}

pub(super) fn run(args: &SettleArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let kind = args.doubt.as_deref().map(doubt_kind).transpose()?;
    let typed = args.test.read(desk)?;
    let pin = input::pin(args.pin_stdin)?;
    let pin = pin.as_deref();
    if let Some(typed) = typed {
        let piece = piece_meant(desk, &args.target)?;
        second::draw(args.spectrum.as_deref(), typed.heard.as_ref(), &piece)?;
        let outcome = desk.record_second_test(&piece, typed.test)?;
        let mut settled = Ok(None);
        if let Some(reason) = &args.reason {
            settled = settle_the_rest(args, kind, desk, &outcome, reason, pin);
        }
        let heard = typed.heard.as_ref();
        let nothing = outcome.closed.is_empty() && !matches!(settled, Ok(Some(_)));
        let mut code = if args.check && nothing { SOMETHING_IS_OPEN } else { 0 };
        let mut data = if json { String::new() } else { second::outcome_text(&outcome, heard) };
        let mut fields = second::outcome_json(&outcome, heard);
        match settled {
            Ok(hold) => {
                if let Some(hold) = &hold {
                    data.push_str(&settled_text(hold, args.reason.as_deref()));
                }
                fields["settled"] = json!(hold.as_ref().map(json::hold));
                fields["refused"] = Value::Null;
            }
            // The test stands in the book and is told; that it settles nothing is told beside it.
            Err(error) => {
                code = error.kind.exit_code();
                refused(&error);
                fields["settled"] = Value::Null;
                fields["refused"] = json!(error.message);
            }
        }
        return Ok(Printed { data: if json { json::document(fields) } else { data }, code });
    }
    let Some(reason) = &args.reason else {
        let message =
            "nothing to settle with: give the readings of a second test, or `--decide` with a `--reason`";
        return Err(AppError::usage(message, Vec::new()));
    };
    let hold = hold_meant(desk, &args.target, kind)?;
    let evidence = match args.test.method() {
        Some(method) => Some(desk.evidence_of(hold.id, method.method())?),
        None if args.decide => None,
        None => {
            let message =
                "a person's decision needs `--decide`, or the `--method` whose recorded test it rests on";
            return Err(AppError::usage(message, Vec::new()));
        }
    };
    let hold = desk.settle(hold.id, reason, evidence, pin)?;
    if json {
        let fields = json!({
            "settled": json::hold(&hold),
            "evidence": evidence.map(|id| id.to_string()),
            "reason": reason,
        });
        return Ok(Printed::done(json::document(fields)));
    }
    Ok(Printed::done(settled_text(&hold, Some(reason))))
}

/// Settles the doubt that was meant and is still open on the test that was just recorded; `None` when none is open.
fn settle_the_rest(
    args: &SettleArgs,
    kind: Option<DoubtKind>,
    desk: &mut Desk,
    outcome: &crate::desk::review_views::SecondTestOutcome,
    reason: &str,
    pin: Option<&str>,
) -> Result<Option<HoldView>, AppError> {
    let meant = hold_id(&args.target);
    let left = outcome.piece.doubts.iter().filter(|hold| match meant {
        Some(id) => hold.id == id,
        None => kind.is_none_or(|kind| hold.kind == kind),
    });
    let left: Vec<&HoldView> = left.collect();
    match left.as_slice() {
        [] => Ok(None),
        [only] => desk.settle(only.id, reason, Some(outcome.test.id), pin).map(Some),
        several => Err(several_open(&outcome.piece.number, several)),
    }
}

fn settled_text(hold: &HoldView, reason: Option<&str>) -> String {
    let number = hold.piece.as_ref().unwrap_or(&hold.lot);
    let reason = reason.map_or_else(String::new, |reason| format!(": {}", clean(reason)));
    format!("settled {} of {number}{reason}\n", hold.kind.label())
}

/// Names a refusal on standard error, while the data goes to standard output.
fn refused(error: &AppError) {
    let mut lines = format!("refused: {}\n", clean(&error.message));
    for hint in &error.hints {
        lines.push_str(&format!("hint: {}\n", clean(hint)));
    }
    // Nobody is left to tell when standard error itself is gone.
    let _ = std::io::stderr().lock().write_all(lines.as_bytes());
}

/// Reads a kind of doubt; hyphens and blanks may stand for underscores.
pub(super) fn doubt_kind(text: &str) -> Result<DoubtKind, AppError> {
    let word = text.trim().to_lowercase().replace(['-', ' '], "_");
    DoubtKind::named(&word).ok_or_else(|| {
        let allowed: Vec<String> =
            DoubtKind::ALL.iter().map(|kind| format!("`{}`", kind.word().replace('_', "-"))).collect();
        let message = format!("doubt `{}` is not one of {}", clean(text), allowed.join(", "));
        AppError::usage(message, Vec::new())
    })
}

fn hold_id(target: &str) -> Option<HoldId> {
    Uuid::parse_str(target.trim()).ok().map(HoldId::new)
}

/// Returns the piece to test: the one named, or the one of a hold.
fn piece_meant(desk: &Desk, target: &str) -> Result<String, AppError> {
    let Some(id) = hold_id(target) else { return Ok(target.to_owned()) };
    let hold = open_hold(desk, id)?;
    hold.piece.ok_or_else(|| {
        AppError::failed(format!("the hold is of lot `{}`; a second test is of a piece", hold.lot))
            .with_hint("draw a sample with `scruple sample`, and test its pieces")
    })
}

fn open_hold(desk: &Desk, id: HoldId) -> Result<HoldView, AppError> {
    let open = desk.holds()?.into_iter().find(|hold| hold.id == id);
    open.ok_or_else(|| {
        AppError::failed(format!("hold `{id}` is not open"))
            .with_hint("`scruple holds --json` lists the open holds with their ids")
    })
}

/// Returns the open hold that is meant by its id, or by a piece or lot with the kind of doubt.
fn hold_meant(desk: &Desk, target: &str, kind: Option<DoubtKind>) -> Result<HoldView, AppError> {
    if let Some(id) = hold_id(target) {
        return open_hold(desk, id);
    }
    let holds = desk.holds()?;
    let is_lot = |hold: &&HoldView| hold.piece.is_none() && hold.lot.eq_ignore_ascii_case(target.trim());
    let mut found: Vec<&HoldView> = holds.iter().filter(is_lot).collect();
    let mut number = target.trim().to_owned();
    if found.is_empty() {
        number = desk.find_piece(target)?.number;
        found = holds.iter().filter(|hold| hold.piece.as_deref() == Some(number.as_str())).collect();
    }
    found.retain(|hold| kind.is_none_or(|kind| hold.kind == kind));
    match found.as_slice() {
        [only] => Ok((*only).clone()),
        [] => {
            let what = kind.map_or("doubt".to_owned(), |kind| format!("doubt `{}`", kind.label()));
            Err(AppError::failed(format!("no {what} of `{}` is open", clean(&number))))
        }
        several => Err(several_open(&number, several)),
    }
}

/// Makes the error of a doubt that is not named clearly enough; the hints name each with its id.
fn several_open(number: &str, holds: &[&HoldView]) -> AppError {
    let message = format!("{} doubts of `{}` are open; name one by its id", holds.len(), clean(number));
    let hints = holds.iter().map(|hold| format!("{} {}", hold.id, hold_text(hold))).collect();
    AppError { hints, ..AppError::new(ErrorKind::Usage, message) }
}
