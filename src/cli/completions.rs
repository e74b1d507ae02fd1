//! `scruple completions`: scripts for the shells.

use super::{Cli, Printed};
use clap::{Args, CommandFactory};
use clap_complete::{Shell, generate};

/// Arguments of `scruple completions`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple completions bash
  scruple completions fish")]
pub(super) struct CompletionsArgs {
    /// The shell
    #[arg(value_enum)]
    shell: Shell,
}

pub(super) fn run(args: &CompletionsArgs) -> Printed {
    let mut script = Vec::new();
    generate(args.shell, &mut Cli::command(), "scruple", &mut script);
    Printed::done(String::from_utf8_lossy(&script).into_owned())
}
