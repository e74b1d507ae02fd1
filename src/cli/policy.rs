//! `scruple policy`: what the desk holds and what it lets pass.

use super::{Printed, input, json};
use crate::desk::{AppError, Desk, PolicyOrigin, PolicyView};
use crate::scoring::Policy;
use clap::{Args, Subcommand};
use serde_json::{Value, json};
use std::path::PathBuf;

/// Arguments of `scruple policy`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple policy show > policy.toml
  scruple policy check policy.toml")]
pub(super) struct PolicyArgs {
    #[command(subcommand)]
    act: PolicyAct,
}

#[derive(Debug, Subcommand)]
enum PolicyAct {
    /// Print the policy in force
    #[command(after_help = "\
Examples:
  scruple policy show
  scruple policy show --json")]
    Show,
    /// Read a file and say what is wrong with it; nothing is written
    #[command(after_help = "\
Examples:
  scruple policy check policy.toml
  scruple policy check - --json < policy.toml")]
    Check {
        /// The policy, TOML; `-` for standard input
        file: PathBuf,
    },
    /// Set the policy of the book, on every machine that opens it
    #[command(after_help = "\
Examples:
  scruple policy set policy.toml
  scruple policy set policy.toml --pin-stdin < pin")]
    Set {
        /// The policy, TOML
        file: PathBuf,
        /// Sign with your PIN from the first line of standard input
        #[arg(long)]
        pin_stdin: bool,
    },
    /// Let the policy of each machine count again
    #[command(after_help = "\
Examples:
  scruple policy unset
  scruple policy unset --pin-stdin < pin")]
    Unset {
        /// Sign with your PIN from the first line of standard input
        #[arg(long)]
        pin_stdin: bool,
    },
}

/// Opens the desk on demand: `check` needs no book.
pub(super) fn run(
    args: &PolicyArgs,
    desk: impl FnOnce() -> Result<Desk, AppError>,
    json: bool,
) -> Result<Printed, AppError> {
    match &args.act {
        PolicyAct::Show => {
            let view = desk()?.policy_view()?;
            if json {
                let mut fields = fields(&view);
                fields["text"] = json!(view.text);
                return Ok(Printed::done(json::document(fields)));
            }
            let ending = if view.text.ends_with('\n') { "" } else { "\n" };
            Ok(Printed::done(format!("# {}\n\n{}{ending}", words(&view), view.text)))
        }
        PolicyAct::Check { file } => {
            let text = input::read(file)?;
            let policy =
                Policy::parse(&text.name, &text.text).map_err(|error| AppError::failed(error.to_string()))?;
            if json {
                return Ok(Printed::done(json::document(json!({ "version": policy.version() }))));
            }
            Ok(Printed::done(format!("the policy is well formed, version {}\n", policy.version())))
        }
        PolicyAct::Set { file, pin_stdin } => {
            let mut desk = signed(desk, *pin_stdin)?;
            let text = input::read(file)?;
            said(&desk.set_policy(&text.name, &text.text)?, json)
        }
        PolicyAct::Unset { pin_stdin } => said(&signed(desk, *pin_stdin)?.unset_policy()?, json),
    }
}

fn signed(desk: impl FnOnce() -> Result<Desk, AppError>, pin_stdin: bool) -> Result<Desk, AppError> {
    let mut desk = desk()?;
    if let Some(pin) = input::pin(pin_stdin)? {
        desk.sign_in(&pin)?;
    }
    Ok(desk)
}

fn said(view: &PolicyView, json: bool) -> Result<Printed, AppError> {
    let data = if json { json::document(fields(view)) } else { format!("{}\n", words(view)) };
    Ok(Printed::done(data))
}

fn fields(view: &PolicyView) -> Value {
    let origin = match view.origin {
        PolicyOrigin::Desk => "desk",
        PolicyOrigin::Book => "book",
    };
    json!({ "version": view.version, "origin": origin })
}

fn words(view: &PolicyView) -> String {
    let origin = match view.origin {
        PolicyOrigin::Desk => "of this machine",
        PolicyOrigin::Book => "set in the book",
    };
    format!("policy {}, {origin}", view.version)
}
