//! What has to hold on every screen, whichever part of the job it belongs to.

use super::data::Desk;
use ratatui::style::Color;
use ratatui::{Terminal, backend::TestBackend};
use scruple::tui::dialog::Dialog;
use scruple::tui::keymap::{Key, TABLE};
use scruple::tui::state::Screen;
use scruple::tui::view::{draw, style::Theme};

/// Screens to look at, each with a name for the message.
pub type Screens = Vec<(&'static str, Desk)>;

/// The sizes at which each screen has a picture on file.
const SIZES: [(u16, u16); 4] = [(40, 10), (80, 24), (120, 40), (200, 50)];

/// Returns the screen at every size that has a picture on file.
pub fn at_every_size(desk: &Desk) -> String {
    SIZES.map(|(width, height)| format!("{width}x{height}\n{}\n", desk.screen(width, height))).concat()
}

/// Draws every screen at many sizes, from nothing on: none panics, the help key is always in the footer, and a screen too
/// small to work at says which size it needs.
pub fn check_sizes(screens: Screens) {
    let widths: Vec<u16> =
        (0..=60).step_by(6).chain([1, 7, 20, 39, 40, 41, 79, 80, 95, 109, 110, 111, 120, 161, 200]).collect();
    let heights: Vec<u16> =
        (0..=25).step_by(4).chain([1, 5, 9, 10, 11, 13, 17, 19, 21, 30, 34, 40, 50]).collect();
    for (name, desk) in screens {
        for &width in &widths {
            for &height in &heights {
                let screen = desk.screen(width, height);
                if width >= 40 && height >= 10 {
                    let footer = screen.lines().nth(usize::from(height) - 1).unwrap_or_default();
                    assert!(footer.contains("F1 help"), "{name} at {width}x{height}: {footer}");
                } else if width >= 20 && height >= 5 {
                    assert!(screen.contains("needs"), "{name} at {width}x{height}");
                }
            }
        }
    }
}

/// Draws every screen with and without colour: the words are the same, no colour is left without, and with it only the
/// terminal's own few, never a background.
pub fn check_colour_only_supports(screens: Screens) {
    let every = screens.iter().flat_map(|screen| SIZES.map(|size| (screen, size)));
    for ((name, desk), (width, height)) in every {
        let mut state = desk.state.clone();
        (state.width, state.height) = (width, height);
        let cells = |colored: bool| {
            let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
            terminal.draw(|frame| draw(&state, Theme { colored }, frame)).unwrap();
            terminal.backend().buffer().content().to_vec()
        };
        let (with, without) = (cells(true), cells(false));
        let text = |cells: &[ratatui::buffer::Cell]| {
            cells.iter().map(|cell| cell.symbol().to_owned()).collect::<String>()
        };
        assert_eq!(text(&with), text(&without), "{name} at {width}x{height}");
        assert!(without.iter().all(|cell| cell.fg == Color::Reset), "{name}");
        let allowed = [Color::Reset, Color::Cyan, Color::Green, Color::Yellow, Color::Red];
        assert!(with.iter().all(|cell| allowed.contains(&cell.fg) && cell.bg == Color::Reset), "{name}");
    }
}

/// Presses every key of the table on every screen; the screens are made anew for each key.
pub fn check_every_key(screens: impl Fn() -> Screens) {
    for key in TABLE.iter().flat_map(|row| row.keys) {
        for (name, mut desk) in screens() {
            desk.press(*key, 200);
            assert!(!desk.screen(80, 24).is_empty(), "{name} {key:?}");
        }
    }
}

/// Returns the keys of the table, but for those that end the program.
pub fn keys_that_stay() -> Vec<Key> {
    let quit = [Key::F(10), Key::Ctrl('q'), Key::Ctrl('c')];
    TABLE.iter().flat_map(|row| row.keys.iter().copied()).filter(|key| !quit.contains(key)).collect()
}

/// Returns what kind of dialog has the keys, `none` where there is none.
fn dialog(desk: &Desk) -> &'static str {
    match desk.state.dialogs.last() {
        None => "none",
        Some(Dialog::Palette { .. }) => "palette",
        Some(Dialog::Finder(_)) => "finder",
        Some(Dialog::LastActs(_)) => "last acts",
        Some(Dialog::Choice(_)) => "choice",
        Some(Dialog::Form(_)) => "form",
        Some(Dialog::Page(_)) => "page",
        Some(Dialog::Methods(_)) => "methods",
        Some(Dialog::Partials(_)) => "partials",
    }
}

/// Checks that every screen without a dialog and every kind of dialog is among the screens.
pub fn check_nothing_is_left_out(screens: &Screens) {
    for screen in Screen::ALL {
        let bare = |desk: &Desk| desk.state.screen == screen && dialog(desk) == "none";
        assert!(screens.iter().any(|(_, desk)| bare(desk)), "{screen:?}");
    }
    for kind in ["palette", "finder", "last acts", "choice", "form", "page", "methods", "partials"] {
        assert!(screens.iter().any(|(_, desk)| dialog(desk) == kind), "{kind}");
    }
}
