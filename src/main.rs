//! Parse, run, print, exit code; everything else is in the library. The one place that knows both faces.

use scruple::cli::{self, Next, Screens};
use scruple::tui;
use std::process::ExitCode;

fn main() -> ExitCode {
    match cli::run(tui::keys::check) {
        Next::Exit(code) => code,
        Next::Screens(screens) => {
            let Screens { desk, devices, colors, screen, mut kept } = *screens;
            let backup = !kept.is_thrown_away();
            let options = tui::Options { colors, screen, backup };
            let shown = tui::run_with(desk, devices, options, &mut || kept.invented_day());
            cli::end(shown, colors, kept)
        }
    }
}
