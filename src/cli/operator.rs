//! `scruple operator`: who works at the desk.

use super::review_json::{self, role_word};
use super::{Printed, input, json};
use crate::desk::review_views::Role;
use crate::desk::{AppError, Desk};
use crate::present::table::{Align, Table};
use crate::present::text::clean;
use clap::{Args, Subcommand, ValueEnum};
use serde_json::json;

/// Arguments of `scruple operator`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple operator list
  scruple operator add MIRA --role owner --pin-stdin < pin")]
pub(super) struct OperatorArgs {
    #[command(subcommand)]
    act: OperatorAct,
}

#[derive(Debug, Subcommand)]
enum OperatorAct {
    /// Enter an operator, or change role and PIN of one; the first operator of a book is its owner
    #[command(after_help = "\
Examples:
  scruple operator add MIRA --role owner --pin-stdin < pin
  scruple operator add OSKAR --role receiver --sign-stdin < own-pin")]
    Add(AddArgs),
    /// List the operators
    #[command(after_help = "\
Examples:
  scruple operator list
  scruple operator list --json")]
    List,
}

#[derive(Debug, Args)]
struct AddArgs {
    /// Name
    name: String,
    /// What the operator may do
    #[arg(long, value_enum)]
    role: RoleName,
    /// Read the operator's PIN from a line of standard input
    #[arg(long)]
    pin_stdin: bool,
    /// Sign with your own PIN, read from the line before it
    #[arg(long)]
    sign_stdin: bool,
}

/// A role as it is typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum RoleName {
    /// Logs pieces and second tests
    Receiver,
    /// Settles, sends back, releases
    Reviewer,
    /// Everything, operators and policy included
    Owner,
}

impl From<RoleName> for Role {
    fn from(name: RoleName) -> Self {
        match name {
            RoleName::Receiver => Role::Receiver,
            RoleName::Reviewer => Role::Reviewer,
            RoleName::Owner => Role::Owner,
        }
    }
}

pub(super) fn run(args: &OperatorArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    match &args.act {
        OperatorAct::Add(args) => add(args, desk, json),
        OperatorAct::List => list(desk, json),
    }
}

fn add(args: &AddArgs, desk: &mut Desk, json: bool) -> Result<Printed, AppError> {
    let mut pins = input::pins(usize::from(args.sign_stdin) + usize::from(args.pin_stdin))?.into_iter();
    if args.sign_stdin
        && let Some(own) = pins.next()
    {
        desk.sign_in(&own)?;
    }
    let pin = pins.next();
    let operator = desk.add_operator(&args.name, args.role.into(), pin.as_deref())?;
    if json {
        let fields = json!({ "operator": review_json::operator(&operator) });
        return Ok(Printed::done(json::document(fields)));
    }
    let pin = if operator.has_pin { "with a PIN" } else { "without a PIN" };
    Ok(Printed::done(format!("{} is {}, {pin}\n", clean(&operator.name), role_word(operator.role))))
}

fn list(desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let operators = desk.operators()?;
    if json {
        let operators: Vec<_> = operators.iter().map(review_json::operator).collect();
        return Ok(Printed::done(json::document(json!({ "operators": operators }))));
    }
    if operators.is_empty() {
        return Ok(Printed::done("the book names no operator: whoever works is the owner\n".to_owned()));
    }
    let mut table = Table::new(&[("name", Align::Left), ("role", Align::Left), ("PIN", Align::Left)]);
    for operator in &operators {
        let pin = if operator.has_pin { "set" } else { "none" };
        table.row([operator.name.as_str(), role_word(operator.role), pin]);
    }
    Ok(Printed::done(table.text()))
}
