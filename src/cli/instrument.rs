//! `scruple instrument`: the register of instruments and reference pieces.

use super::budget::quantity;
use super::{Printed, input, json};
use crate::desk::{AppError, Desk, InstrumentView, PolicyOrigin, RegisterView, Settings, check_register};
use crate::evidence::{Amount, Measurand, ReferencePiece};
use crate::metrology::rounding::decimals_of;
use crate::present::table::{Align, Table};
use crate::present::words::count;
use clap::{Args, Subcommand};
use serde_json::{Value, json};
use std::path::PathBuf;

/// Arguments of `scruple instrument`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple instrument list
  scruple instrument set instruments.toml")]
pub(super) struct InstrumentArgs {
    #[command(subcommand)]
    act: InstrumentAct,
}

#[derive(Debug, Subcommand)]
enum InstrumentAct {
    /// List the instruments, with what each is used for and checked on
    #[command(after_help = "\
Examples:
  scruple instrument list
  scruple instrument list --json")]
    List,
    /// Show what is on record about one instrument
    #[command(after_help = "\
Examples:
  scruple instrument show 'bench scale'
  scruple instrument show 'bench scale' --json")]
    Show {
        /// Name of the instrument
        name: String,
    },
    /// Read a register and say everything that is wrong with it; nothing is written
    #[command(after_help = "\
Examples:
  scruple instrument check instruments.toml
  scruple instrument check - --json < instruments.toml")]
    Check {
        /// The register, TOML; `-` for standard input
        file: PathBuf,
    },
    /// Set the register of the book, on every machine that opens it
    #[command(after_help = "\
Examples:
  scruple instrument set instruments.toml
  scruple instrument set instruments.toml --pin-stdin < pin")]
    Set {
        /// The register, TOML
        file: PathBuf,
        /// Sign with your PIN from the first line of standard input
        #[arg(long)]
        pin_stdin: bool,
    },
    /// Let the instruments of each machine count again
    #[command(after_help = "\
Examples:
  scruple instrument unset
  scruple instrument unset --pin-stdin < pin")]
    Unset {
        /// Sign with your PIN from the first line of standard input
        #[arg(long)]
        pin_stdin: bool,
    },
    /// Take an instrument into use
    #[command(after_help = "\
Examples:
  scruple instrument use 'bench scale'
  scruple instrument use 'thickness micrometer' --for thickness")]
    Use {
        /// Name of the instrument
        name: String,
        /// Only for this reading [else for every reading that its kind takes]
        #[arg(long = "for", value_name = "QUANTITY", value_parser = quantity)]
        quantities: Vec<Measurand>,
    },
}

/// Opens the desk on demand: `check` needs no book.
pub(super) fn run(
    args: &InstrumentArgs,
    settings: &dyn Fn() -> Result<Settings, AppError>,
    desk: impl FnOnce() -> Result<Desk, AppError>,
    json: bool,
) -> Result<Printed, AppError> {
    match &args.act {
        InstrumentAct::List => list(&desk()?.register_view()?, json),
        InstrumentAct::Show { name } => show(&desk()?.instrument_view(name)?, json),
        InstrumentAct::Check { file } => {
            let text = input::read(file)?;
            let read = check_register(&text.name, &text.text, &settings()?.catalogue)?;
            let (instruments, pieces) = (read.register.instruments().len(), read.register.references.len());
            if json {
                let fields = json!({
                    "instruments": instruments, "references": pieces, "probes": read.probes.len(),
                });
                return Ok(Printed::done(json::document(fields)));
            }
            Ok(Printed::done(format!(
                "the register is well formed: {}, {}, {}\n",
                count(instruments, "instrument", "instruments"),
                count(pieces, "reference piece", "reference pieces"),
                count(read.probes.len(), "probe", "probes"),
            )))
        }
        InstrumentAct::Set { file, pin_stdin } => {
            let mut desk = signed(desk, *pin_stdin)?;
            let text = input::read(file)?;
            said(&desk.set_register(&text.name, &text.text)?, json)
        }
        InstrumentAct::Unset { pin_stdin } => said(&signed(desk, *pin_stdin)?.unset_register()?, json),
        InstrumentAct::Use { name, quantities } => {
            let view = desk()?.use_instrument(name, quantities)?;
            if json {
                return Ok(Printed::done(json::document(json!({ "instrument": fields(&view) }))));
            }
            Ok(Printed::done(format!("{} takes {}\n", view.name, taken(&view))))
        }
    }
}

fn signed(desk: impl FnOnce() -> Result<Desk, AppError>, pin_stdin: bool) -> Result<Desk, AppError> {
    let mut desk = desk()?;
    if let Some(pin) = input::pin(pin_stdin)? {
        desk.sign_in(&pin)?;
    }
    Ok(desk)
}

fn said(view: &RegisterView, json: bool) -> Result<Printed, AppError> {
    if json {
        let fields = json!({ "version": view.version, "origin": origin_word(view.origin) });
        return Ok(Printed::done(json::document(fields)));
    }
    Ok(Printed::done(format!("{}\n", words(view))))
}

fn origin_word(origin: PolicyOrigin) -> &'static str {
    match origin {
        PolicyOrigin::Desk => "desk",
        PolicyOrigin::Book => "book",
    }
}

fn words(view: &RegisterView) -> String {
    let origin = match view.origin {
        PolicyOrigin::Desk => "of this machine",
        PolicyOrigin::Book => "set in the book",
    };
    format!("instruments {}, {origin}", view.version)
}

fn list(view: &RegisterView, json: bool) -> Result<Printed, AppError> {
    if json {
        let references: Vec<Value> =
            view.references.iter().map(|known| reference(&known.piece, &known.checks)).collect();
        let fields = json!({
            "version": view.version,
            "origin": origin_word(view.origin),
            "instruments": view.instruments.iter().map(fields).collect::<Vec<_>>(),
            "references": references,
            "probes": view.probes,
            "text": view.text,
        });
        return Ok(Printed::done(json::document(fields)));
    }
    let mut table = Table::new(&[
        ("instrument", Align::Left),
        ("kind", Align::Left),
        ("takes", Align::Left),
        ("due", Align::Left),
        ("checked on", Align::Left),
    ]);
    for one in &view.instruments {
        table.row([one.name.as_str(), one.kind.word(), &taken(one), &due(one), &checked(one)]);
    }
    let mut data = table.text();
    if !view.references.is_empty() {
        let mut table =
            Table::new(&[("reference piece", Align::Left), ("assigned", Align::Left), ("k", Align::Right)]);
        for known in &view.references {
            table.row([known.piece.name.as_str(), &assigned(&known.piece), &known.piece.k.to_string()]);
        }
        data.push_str(&format!("\n{}", table.text()));
    }
    if view.instruments.iter().any(|one| one.assumed) {
        data.push_str("\nwhat is assumed asks for no control: register your own to prove readings\n");
    }
    data.push_str(&format!("\n{}\n", words(view)));
    Ok(Printed::done(data))
}

fn show(view: &InstrumentView, json: bool) -> Result<Printed, AppError> {
    if json {
        return Ok(Printed::done(json::document(json!({ "instrument": fields(view) }))));
    }
    let mut table = Table::new(&[(view.name.as_str(), Align::Left), ("", Align::Left)]);
    table.row(["kind", if view.assumed { "assumed" } else { view.kind.word() }]);
    table.row(["takes", &taken(view)]);
    for (name, fact) in &view.facts {
        table.row([*name, fact]);
    }
    table.row(["due", &due(view)]);
    table.row(["checked on", &checked(view)]);
    Ok(Printed::done(table.text()))
}

fn taken(view: &InstrumentView) -> String {
    let words: Vec<&str> = view.in_use_for.iter().map(|of| of.name()).collect();
    if words.is_empty() { "-".to_owned() } else { words.join(", ") }
}

fn due(view: &InstrumentView) -> String {
    match view.due {
        None => "-".to_owned(),
        Some(due) if view.past_due => format!("{due}, past"),
        Some(due) => due.to_string(),
    }
}

fn checked(view: &InstrumentView) -> String {
    match view.checked_on.as_slice() {
        [] => "nothing: no control is asked for".to_owned(),
        pieces => pieces.join(", "),
    }
}

/// Prints the assigned value of a reference piece with its expanded uncertainty.
pub(super) fn assigned(piece: &ReferencePiece) -> String {
    let decimals = decimals_of(piece.expanded.value(), 2);
    let unit = piece.assigned.unit().symbol;
    let digits = |amount: Amount| amount.digits(decimals);
    format!("({} ± {}) {unit}", digits(piece.assigned), digits(piece.expanded))
}

fn fields(view: &InstrumentView) -> Value {
    let facts: serde_json::Map<String, Value> =
        view.facts.iter().map(|(name, fact)| (name.replace(' ', "_"), json!(fact))).collect();
    json!({
        "name": view.name,
        "kind": view.kind.word(),
        "assumed": view.assumed,
        "in_use_for": view.in_use_for.iter().map(|of| of.name()).collect::<Vec<_>>(),
        "facts": facts,
        "due": view.due.map(|due| due.to_string()),
        "past_due": view.past_due,
        "checked_on": view.checked_on,
    })
}

fn reference(piece: &ReferencePiece, checks: &[String]) -> Value {
    json!({
        "name": piece.name,
        "material": piece.material.as_ref().map(|id| id.to_string()),
        "quantity": piece.assigned.measurand.name(),
        "unit": piece.assigned.unit().symbol,
        "value": piece.assigned.value(),
        "expanded": piece.expanded.value(),
        "k": piece.k,
        "certificate": piece.certificate,
        "date": piece.date,
        "checks": checks,
    })
}
