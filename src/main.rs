//! Parse, run, print, exit code; everything else is in the library. The one place that knows both faces.

use scruple::cli::{self, Next, Screens};
use scruple::tui;
use std::process::ExitCode;

fn main() -> ExitCode {
    match cli::run() {
        Next::Exit(code) => code,
        Next::Screens(screens) => {
            let Screens { desk, devices, colors, mut kept } = *screens;
            let backup = !kept.is_thrown_away();
            let options = tui::Options { colors, backup, ..tui::Options::default() };
            let shown = tui::run_with(desk, devices, options, &mut || kept.invented_day());
            cli::end(shown, colors, kept)
        }
    }
}
