//! `scruple correct`, `scruple void`, `scruple undo` and `scruple redo`: the record mended; nothing is deleted.

use super::{Printed, input, json};
use crate::desk::{ActView, AppError, Desk, Field, PieceView};
use crate::evidence::Measurand;
use crate::present::holds_text::holds_text;
use crate::present::table::{Align, Table};
use clap::Args;
use clap::builder::PossibleValuesParser;
use serde_json::json;

/// Columns of a text that goes to a file or a terminal of any width.
const COLUMNS: usize = 80;
/// The word for the serial number.
const SERIAL: &str = "serial";

/// Arguments of `scruple correct`.
#[derive(Debug, Args)]
#[command(after_help = "\
The value before stays in the book, with the reason. `-` means not measured.

Examples:
  scruple correct S-0001/3-07 mass 31.10g --reason 'read the wrong line'
  scruple correct S-0001/3-07 conductivity '61.9 MS/m' --spot 2 --reason 'probe not flat' --json")]
pub(super) struct CorrectArgs {
    /// Number or serial of the piece
    #[arg(value_name = "PIECE")]
    piece: String,
    /// What was wrong
    #[arg(value_parser = fields())]
    field: String,
    /// The value that is right
    #[arg(allow_hyphen_values = true)]
    value: String,
    /// Spot of a conductivity reading
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=99))]
    spot: u8,
    /// Why
    #[arg(long, value_name = "TEXT")]
    reason: String,
}

/// Arguments of `scruple void`.
#[derive(Debug, Args)]
#[command(after_help = "\
For a piece that was logged by mistake; its readings stay in the book. A piece that leaves the desk is sent back,
surrendered or released.

Examples:
  scruple void S-0001/3-07 --reason 'logged twice'
  scruple void S-0001/3-07 --reason 'logged under the wrong lot' --json")]
pub(super) struct VoidArgs {
    /// Number or serial of the piece
    #[arg(value_name = "PIECE")]
    piece: String,
    /// Why
    #[arg(long, value_name = "TEXT")]
    reason: String,
}

/// Arguments of `scruple undo`.
#[derive(Debug, Args)]
#[command(after_help = "\
Takes back your own last act by a linked correction; nothing is deleted.

Examples:
  scruple undo
  scruple undo --list --json")]
pub(super) struct UndoArgs {
    /// List your last acts instead: which can be undone, which are undone
    #[arg(long)]
    list: bool,
}

/// Arguments of `scruple redo`.
#[derive(Debug, Args)]
#[command(after_help = "\
Does an undone act again as a new act of today, with all its refusals; a piece whose entry was undone comes back as the
half-filled piece in hand.

Examples:
  scruple redo
  scruple redo 214 --pin-stdin --json < pin")]
pub(super) struct RedoArgs {
    /// Number of the act in the list of `scruple undo --list`; without it, what was undone last
    act: Option<i64>,
    /// Read your PIN from the first line of standard input
    #[arg(long)]
    pin_stdin: bool,
}

/// Acts that the list shows.
const LISTED: u32 = 20;

/// Returns the parser of the fields, which also tells them in `--help`.
fn fields() -> PossibleValuesParser {
    PossibleValuesParser::new(std::iter::once(SERIAL).chain(Measurand::ALL.map(Measurand::name)))
}

pub(super) fn correct(args: &CorrectArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let piece = desk.find_piece(&args.piece)?;
    let field = Measurand::named(&args.field).map_or(Field::Serial, |what| Field::Reading(what, args.spot));
    let corrected = desk.correct(piece.id, field, &args.value, &args.reason)?;
    Ok(Printed::done(if json {
        json::document(json!({ "piece": json::piece(&corrected) }))
    } else {
        format!("corrected {} of piece {}\n{}", field.label(), corrected.number, standing_text(&corrected))
    }))
}

pub(super) fn void(args: &VoidArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let piece = desk.find_piece(&args.piece)?;
    desk.void_piece(piece.id, &args.reason)?;
    Ok(Printed::done(if json {
        json::document(json!({ "voided": piece.number, "reason": args.reason }))
    } else {
        format!("voided piece {}; its readings stay in the book\n", piece.number)
    }))
}

/// Lists this operator's last acts.
fn list(desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let acts = desk.own_acts(LISTED)?;
    if json {
        let act = |act: &ActView| {
            json!({
                "act": act.sequence,
                "at": json::time(act.at),
                "what": act.what,
                "about": act.about,
                "state": act.state.word(),
            })
        };
        let acts = acts.iter().map(act).collect::<Vec<_>>();
        return Ok(Printed::done(json::document(json!({ "operator": desk.operator(), "acts": acts }))));
    }
    if acts.is_empty() {
        return Ok(Printed::done(format!("`{}` has nothing to undo\n", desk.operator())));
    }
    let mut table =
        Table::new(&[("act", Align::Right), ("when", Align::Left), ("what", Align::Left), ("", Align::Left)]);
    for act in &acts {
        table.row([
            act.sequence.to_string(),
            act.at.format("%Y-%m-%d %H:%M UTC").to_string(),
            format!("{} {}", act.what, act.about),
            act.state.label().to_owned(),
        ]);
    }
    Ok(Printed::done(table.text()))
}

pub(super) fn redo(args: &RedoArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let pin = input::pin(args.pin_stdin)?;
    let done = desk.redo(args.act, pin.as_deref())?;
    Ok(Printed::done(if json {
        json::document(json!({ "redone": done.words }))
    } else {
        format!("{}\n", done.words)
    }))
}

pub(super) fn undo(args: &UndoArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    if args.list {
        return list(desk, json);
    }
    let done = desk.undo()?;
    Ok(Printed::done(if json { json::document(json!({ "undone": done })) } else { format!("{done}\n") }))
}

/// Returns where a piece stands now, and what is open.
pub(super) fn standing_text(piece: &PieceView) -> String {
    let standing = format!("it stands at {}\n", piece.standing.word());
    if piece.doubts.is_empty() {
        standing
    } else {
        format!("{standing}\n{}", holds_text(&piece.doubts, COLUMNS))
    }
}
