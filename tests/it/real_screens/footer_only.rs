//! Somebody who has read nothing and looks only at the footer logs a first piece.

use super::{BY_HAND, Screens};
use scruple::desk::{Desk, Settings};
use scruple::tui::keymap::Key;

/// Returns the key with a name as footers write it.
fn key_named(name: &str) -> Key {
    match name {
        "Enter" => Key::Enter,
        "Tab" => Key::Tab,
        "Esc" => Key::Esc,
        _ => match (name.strip_prefix("Ctrl-"), name.strip_prefix('F')) {
            (Some(letter), _) => Key::Ctrl(letter.to_lowercase().chars().next().expect("a letter")),
            (None, Some(number)) => Key::F(number.parse().expect("a number")),
            (None, None) => panic!("a footer names the key `{name}`"),
        },
    }
}

impl Screens {
    /// Presses the key beside a word of the footer.
    #[track_caller]
    fn follow(&mut self, word: &str) {
        let lines = self.shown();
        let footer = lines.last().unwrap().trim();
        let found = footer.split("  ").find_map(|part| part.strip_suffix(word)?.strip_suffix(' '));
        let key = found.unwrap_or_else(|| panic!("`{word}` is not in the footer of\n{}", lines.join("\n")));
        self.press(key_named(key), BY_HAND);
    }

    /// Returns the label that the mark of the focus stands at.
    fn asked(&mut self) -> Option<String> {
        let lines = self.shown();
        let at = |line: &String| line.split_once("> ").map(|(_, rest)| rest.to_owned());
        lines.iter().find_map(at).map(|rest| rest.split("  ").next().unwrap_or_default().trim().to_owned())
    }
}

/// One dollar silver coin, fine silver: one troy ounce, 40.6 mm (31 U.S.C. 5112(e)); thickness and conductivity in order (from memory).
fn value_for(label: &str) -> &'static str {
    match label {
        "mass" => "31,12 g",
        "diameter" => "40.6",
        "thickness" => "2.98",
        "temperature" => "21",
        "conductivity" | "conductivity 1" => "61.5",
        _ => "",
    }
}

#[test]
fn a_first_piece_is_logged_by_the_footers_alone() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("new.book");
    let mut screens = Screens::at(Desk::open(&book, Settings::built_in("MIRA")).unwrap());
    screens.follow("choose");
    screens.type_text("Tin Kettle Traders (invented)");
    for _ in ["name", "currency", "instruments"] {
        screens.follow("next");
    }
    screens.follow("new shipment");
    screens.type_text("Moonpond Bullion (invented)");
    for _ in ["source", "packing list"] {
        screens.follow("next");
    }
    // A shipment without a list asks for its first line by itself.
    screens.type_text("us-5112-e");
    screens.follow("next");
    screens.type_text("1");
    screens.follow("next");
    screens.follow("open");
    // Every field in its turn, as it is asked for, until the verdict is there.
    let mut asked = Vec::new();
    while screens.shown().iter().all(|line| !line.contains("on 4 checks")) {
        let label = screens.asked().unwrap_or_default();
        assert!(asked.len() < 20, "{asked:?}\n{}", screens.shown().join("\n"));
        screens.type_text(value_for(&label));
        asked.push(label);
        screens.follow("next");
    }
    drop(screens);
    let desk = Desk::open(&book, Settings::built_in("MIRA")).unwrap();
    let piece = desk.find_piece("S-0001/1-01").unwrap();
    // 31.12 g, typed with a decimal comma.
    assert!(piece.readings.iter().any(|reading| reading.text == "31,12 g"), "{:?}", piece.readings);
    assert!(asked.len() >= 4, "{asked:?}");
}
