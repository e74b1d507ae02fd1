//! What has to hold on every screen, whichever part of the job it belongs to.

use super::data::Desk;
use ratatui::style::Color;
use ratatui::{Terminal, backend::TestBackend};
use scruple::tui::keymap::{Key, TABLE};
use scruple::tui::view::{draw, style::Theme};

/// Screens to look at, each with a name for the message.
pub type Screens = Vec<(&'static str, Desk)>;

/// Draws every screen at many sizes, from nothing on: none panics, the help key is always in the footer, and a screen too
/// small to work at says which size it needs.
pub fn check_sizes(screens: Screens) {
    let widths = [0, 1, 7, 20, 39, 40, 41, 57, 79, 80, 95, 109, 110, 111, 120, 161, 200];
    let heights = [0, 1, 5, 9, 10, 11, 13, 17, 19, 20, 21, 24, 30, 40, 50];
    for (name, desk) in screens {
        for width in widths {
            for height in heights {
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
    for (name, desk) in screens {
        let cells = |colored: bool| {
            let mut terminal = Terminal::new(TestBackend::new(80, 24)).unwrap();
            terminal.draw(|frame| draw(&desk.state, Theme { colored }, frame)).unwrap();
            terminal.backend().buffer().content().to_vec()
        };
        let (with, without) = (cells(true), cells(false));
        let text = |cells: &[ratatui::buffer::Cell]| {
            cells.iter().map(|cell| cell.symbol().to_owned()).collect::<String>()
        };
        assert_eq!(text(&with), text(&without), "{name}");
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
