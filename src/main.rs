//! Parse, run, print, exit code; everything else is in the library. The one place that knows both faces.

use scruple::cli::{self, Next};
use scruple::tui;
use std::process::ExitCode;

fn main() -> ExitCode {
    match cli::run() {
        Next::Exit(code) => code,
        Next::Screens(screens) => {
            let backup = !screens.kept.is_thrown_away();
            let options = tui::Options { colors: screens.colors, backup, ..tui::Options::default() };
            cli::end(tui::run_with(screens.desk, screens.devices, options), screens.colors, screens.kept)
        }
    }
}
