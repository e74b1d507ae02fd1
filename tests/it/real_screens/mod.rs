//! The screens on a real book, drawn into memory: everything but the terminal itself.

mod footer_only;
mod random_keys;

use chrono::FixedOffset;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use scruple::desk::Desk;
use scruple::desk::screen::ScreenSettings;
use scruple::present::spectrum::Marks;
use scruple::tui::keymap::Key;
use scruple::tui::keys::Keymap;
use scruple::tui::session::{Looks, Session, Wish, unwatched};
use scruple::tui::state::Moment;
use scruple::tui::view::draw;
use scruple::tui::view::style::Theme;

/// Milliseconds between two keys of a person.
const BY_HAND: u64 = 150;

/// A session on a book with what it shows.
pub struct Screens {
    session: Session,
    clock: u64,
    size: (u16, u16),
}

impl Screens {
    /// Begins at a desk, on a screen of 80 columns and 24 rows.
    pub fn at(desk: Desk) -> Screens {
        let looks = Looks {
            settings: ScreenSettings::default(),
            keymap: Keymap::default(),
            marks: Marks::Braille,
            offset: FixedOffset::east_opt(0).unwrap(),
        };
        Screens { session: Session::begin(desk, Vec::new(), looks).unwrap(), clock: 1_000, size: (80, 24) }
    }

    pub fn press(&mut self, key: Key, pause: u64) -> Option<Wish> {
        self.clock += pause;
        self.session.press(key, Moment(self.clock), &mut unwatched)
    }

    pub fn paste(&mut self, text: &str) -> Option<Wish> {
        self.clock += BY_HAND;
        self.session.paste(text.to_owned(), Moment(self.clock), &mut unwatched)
    }

    pub fn type_text(&mut self, text: &str) {
        for c in text.chars() {
            assert_eq!(self.press(Key::Char(c), BY_HAND), None);
        }
    }

    /// Keeps half-typed text and draws, as the shell does before it waits; returns the lines shown.
    pub fn shown(&mut self) -> Vec<String> {
        self.session.keep_half_typed();
        let (width, height) = self.size;
        self.session.resize(width, height);
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        let state = self.session.state();
        terminal.draw(|frame| draw(state, Theme { colored: true }, frame)).unwrap();
        let buffer = terminal.backend().buffer();
        let line = |y: u16| (0..width).map(|x| buffer[(x, y)].symbol()).collect::<String>();
        (0..height).map(line).collect()
    }
}
