//! How a desk's screens look and sound: `screen.toml` on the screens, line by line, and in what `scruple doctor` says.

use super::bench::SILVER;
use super::cli::{Call, write};
use super::screens::data::Desk;
use ratatui::style::{Color, Modifier};
use ratatui::{Terminal, backend::TestBackend};
use scruple::desk::screen::ScreenSettings;
use scruple::present::spectrum::{DOT, Marks};
use scruple::tui::keymap::Key;
use scruple::tui::keys::Keymap;
use scruple::tui::view::{draw, style::Theme};
use tempfile::TempDir;

/// The example of the README.
fn example() -> String {
    let readme = include_str!("../../README.md");
    let blocks = readme.split("```toml\n").skip(1).filter_map(|rest| rest.split("```").next());
    let found: Vec<&str> = blocks.filter(|block| block.contains("[keys]")).collect();
    let [one] = found.as_slice() else { panic!("{} examples of screen.toml", found.len()) };
    (*one).to_owned()
}

fn with(mut desk: Desk, text: &str) -> Desk {
    desk.state.settings = ScreenSettings::parse("screen.toml", text).unwrap();
    desk.state.keymap = Keymap::of_desk(&desk.state.settings).unwrap();
    desk
}

/// A folder with a book in which a lot of silver was received, and a `screen.toml`.
fn folder(text: &str) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    Call::new(&folder, &["price", "silver", "30"]).done();
    let list = format!("line,product,quantity\n1,{SILVER},3\n");
    Call::new(&folder, &["receive", "-", "--source", "Moonpond Bullion (invented)"]).input(&list).done();
    configure(&folder, text);
    folder
}

fn configure(folder: &TempDir, text: &str) {
    std::fs::create_dir_all(folder.path().join("config")).unwrap();
    write(folder, "config/screen.toml", text);
}

fn plain(folder: &TempDir, typed: &str) -> String {
    Call::new(folder, &["plain"]).input(typed).done()
}

fn text_of(folder: &TempDir, piece: &str) -> Vec<(String, i64)> {
    let piece = Call::new(folder, &["piece", piece, "--json"]).json(0);
    let readings = piece["piece"]["readings"].as_array().unwrap();
    let stored = |reading: &serde_json::Value| {
        let typed = reading["text"].as_str().unwrap().to_owned();
        let shown = reading["stored"].as_str().unwrap().split(' ').next().unwrap().replace('.', "");
        (typed, shown.parse().unwrap())
    };
    readings.iter().map(stored).collect()
}

#[test]
fn the_example_of_the_readme_is_read_and_its_keys_can_be_had() {
    let settings = ScreenSettings::parse("README.md", &example()).unwrap();
    Keymap::of_desk(&settings).unwrap();
    assert_ne!(settings, ScreenSettings { file: settings.file.clone(), ..ScreenSettings::default() });
}

#[test]
fn the_doctor_says_which_settings_are_in_force_or_what_is_wrong_with_them() {
    let folder = folder("theme = \"mono\"\ndecimal_mark = \",\"\n[units]\nmass = \"ozt\"\n");
    let said = Call::new(&folder, &["doctor"]).run();
    let said = String::from_utf8(said.stdout).unwrap();
    let line = said.lines().find(|line| line.contains("screen.toml")).unwrap();
    assert!(line.starts_with("+ ok       screens "), "{line}");
    assert!(line.ends_with(
        "theme mono, plot by the terminal, bell sound, decimal mark `,`, mass ozt, length mm, conductivity MS/m, keys as shipped"
    ), "{line}");
    configure(&folder, "bell = \"off\"\n[keys]\nfind = [\"Ctrl-P\"]\n");
    let said = String::from_utf8(Call::new(&folder, &["doctor"]).run().stdout).unwrap();
    let line = said.lines().find(|line| line.contains("screen.toml")).unwrap();
    assert!(line.starts_with("x trouble  screens "), "{line}");
    assert!(
        line.contains("screen.toml:3: `keys.find`: `Ctrl-P` is the key of `acts` in the same place"),
        "{line}"
    );
}

#[test]
fn a_mistake_stops_the_bench_and_no_subcommand() {
    let folder = folder("theme = \"dark\"\n");
    let refused = Call::new(&folder, &["plain"]).input("lots\n").run();
    let said = String::from_utf8(refused.stderr).unwrap();
    assert_eq!(refused.status.code(), Some(1));
    assert!(
        said.contains("screen.toml:1: `theme`: `dark` is not one of `default`, `high contrast`, `mono`"),
        "{said}"
    );
    let list =
        "line,mass,diameter,thickness,conductivity,temperature,probe\n1,31.10,40.60,2.98,61.9,21.3,flat\n";
    Call::new(&folder, &["log", "-", "--shipment", "S-0001"]).input(list).done();
    Call::new(&folder, &["shipments"]).done();
}

#[test]
fn a_bare_number_is_understood_in_the_unit_of_the_desk_and_kept_with_it() {
    let folder = folder("decimal_mark = \",\"\n[units]\nmass = \"ozt\"\nconductivity = \"%IACS\"\n");
    let said = plain(&folder, "open S-0001/1\n1,0\n40.60\n2.98\n106.7\n21.3\n");
    assert!(said.contains("piece 1 of 3, mass in ozt?"), "{said}");
    assert!(said.contains("piece 1 of 3, diameter?"), "{said}");
    // The echo has the digits that were typed, in the unit and with the mark of the desk.
    assert!(said.contains("\nmass 1,0 ozt\n"), "{said}");
    assert!(said.contains("\nconductivity 106,7 %IACS\n"), "{said}");
    let verdict = said.lines().find(|line| line.starts_with("mass ") && line.contains("k = 2")).unwrap();
    assert!(verdict.contains(" ozt, k = 2"), "{verdict}");
    let readings = text_of(&folder, "S-0001/1-01");
    let texts: Vec<&str> = readings.iter().map(|(text, _)| text.as_str()).collect();
    assert!(
        texts.contains(&"1,0 ozt") && texts.contains(&"106.7 %IACS") && texts.contains(&"40.60"),
        "{texts:?}"
    );
    // What is written for programs keeps point and stored unit. NIST SP 811 App. B.8: 1 ozt = 31.1034768 g.
    assert_eq!(readings[0].1, 31);
    let json = Call::new(&folder, &["plain", "--json"]).input("piece S-0001/1-01\n").done();
    assert!(!json.contains("0,0"), "{json}");
}

#[test]
fn a_piece_begun_under_one_unit_means_the_same_under_another() {
    let folder = folder("[units]\nmass = \"ozt\"\n");
    // The mass is accepted; the end of the input leaves the piece half filled.
    plain(&folder, "open S-0001/1\n1.00\n");
    configure(&folder, "[units]\nmass = \"g\"\n");
    let said = plain(&folder, "fields\n40.60\n2.98\n61.9\n21.3\n");
    assert!(said.contains("mass: 1.00 ozt"), "{said}");
    // Back again: what was accepted in grams stays in grams.
    plain(&folder, "open S-0001/1\n31.10\n");
    configure(&folder, "[units]\nmass = \"ozt\"\n");
    plain(&folder, "40.60\n2.98\n61.9\n21.3\n");
    let mass = |piece: &str| text_of(&folder, piece)[0].clone();
    assert_eq!(mass("S-0001/1-01"), ("1.00 ozt".to_owned(), 311));
    assert_eq!(mass("S-0001/1-02"), ("31.10".to_owned(), 3110));
}

#[test]
fn the_form_of_the_bench_names_the_unit_and_keeps_it_with_the_number() {
    let mut desk =
        with(Desk::on_bench(), "[units]\nmass = \"ozt\"\nlength = \"in\"\nconductivity = \"%IACS\"\n");
    let screen = desk.screen(80, 24);
    for label in ["mass, ozt\n", "diameter, in  ", "cond. 1, %IACS  "] {
        assert!(screen.contains(label), "{label}\n{screen}");
    }
    desk.keys("MB-0041<Enter>1.091<Enter>32.70 mm<Enter>");
    assert_eq!(desk.field("mass"), ("1.091 ozt".to_owned(), true));
    assert_eq!(desk.field("diameter"), ("32.70 mm".to_owned(), true));
    // Going back and accepting what is accepted changes nothing.
    desk.keys("<Up><Up><Enter>");
    assert_eq!(desk.field("mass"), ("1.091 ozt".to_owned(), true));
    // What was accepted before the desk chose another unit keeps its meaning.
    let mut desk = Desk::on_bench();
    desk.keys("MB-0041<Enter>33.93<Enter>");
    let mut desk = with(desk, "[units]\nmass = \"ozt\"\n");
    desk.keys("<Up><Enter>");
    assert_eq!(desk.field("mass"), ("33.93".to_owned(), true));
    assert!(desk.screen(80, 24).contains(" 33.93      1.0909 ozt"), "{}", desk.screen(80, 24));
}

#[test]
fn shown_numbers_take_the_mark_of_the_desk_and_typed_ones_stay() {
    let point = with(Desk::with_pieces(), "");
    let comma = with(Desk::with_pieces(), "decimal_mark = \",\"\n");
    let (point, comma) = (point.screen(120, 40), comma.screen(120, 40));
    // Nothing moves: between digits a point became a comma, and nothing else did.
    let mut changed = 0;
    for (at, (old, new)) in point.chars().zip(comma.chars()).enumerate() {
        if old != new {
            assert_eq!((old, new), ('.', ','), "at {at}");
            changed += 1;
        }
    }
    assert_eq!(point.chars().count(), comma.chars().count());
    assert!(changed > 3 && comma.contains(" \u{b1} 0,0"), "{comma}");
    let mut desk = with(Desk::on_bench(), "decimal_mark = \",\"\n");
    desk.keys("MB-0041<Enter>33.93<Enter>32.7");
    let screen = desk.screen(80, 24);
    assert!(screen.contains("33.93") && screen.contains("32.7"), "{screen}");
}

#[test]
fn high_contrast_dims_nothing_and_mono_has_no_colour() {
    let cells = |text: &str, colored: bool| {
        let desk = with(Desk::with_pieces(), text);
        let mut terminal = Terminal::new(TestBackend::new(80, 24)).unwrap();
        terminal.draw(|frame| draw(&desk.state, Theme { colored }, frame)).unwrap();
        terminal.backend().buffer().content().to_vec()
    };
    let strong = cells("theme = \"high contrast\"\n", true);
    assert!(strong.iter().all(|cell| !cell.modifier.contains(Modifier::DIM) && cell.bg == Color::Reset));
    let bright = [Color::Reset, Color::LightGreen, Color::LightYellow, Color::LightRed];
    assert!(strong.iter().all(|cell| bright.contains(&cell.fg)));
    assert!(strong.iter().any(|cell| cell.modifier.contains(Modifier::REVERSED)));
    assert!(cells("theme = \"mono\"\n", true).iter().all(|cell| cell.fg == Color::Reset));
    for theme in ["default", "high contrast", "mono"] {
        let plain = cells(&format!("theme = \"{theme}\"\n"), false);
        assert!(plain.iter().all(|cell| cell.fg == Color::Reset), "{theme}");
    }
}

#[test]
fn a_flash_turns_the_line_above_the_footer_and_nothing_else() {
    let mut desk = Desk::with_pieces();
    let cells = |desk: &Desk| {
        let mut terminal = Terminal::new(TestBackend::new(80, 24)).unwrap();
        terminal.draw(|frame| draw(&desk.state, Theme { colored: true }, frame)).unwrap();
        terminal.backend().buffer().content().to_vec()
    };
    let before = cells(&desk);
    desk.state.flash = true;
    for (at, (old, new)) in before.iter().zip(cells(&desk)).enumerate() {
        assert_eq!(old.symbol(), new.symbol());
        assert_eq!(new.modifier.contains(Modifier::REVERSED), at / 80 == 22, "{at}");
    }
}

#[test]
fn other_keys_work_and_are_shown_in_footer_help_and_list_of_acts() {
    let text = "[keys]\n\"new shipment\" = [\"F12\", \"Ctrl-D\"]\nhelp = [\"F11\", \"Ctrl-G\"]\n";
    let mut desk = with(Desk::with_shipments(), text);
    let screen = desk.screen(120, 40);
    assert!(screen.contains("F11 help") && screen.contains("F12 new shipment"), "{screen}");
    desk.press(Key::F(1), 200);
    assert!(desk.state.dialogs.is_empty());
    desk.press(Key::F(11), 200);
    assert!(desk.screen(120, 40).contains("F12 or Ctrl-D"));
    desk.keys("<Esc><F2>");
    assert!(desk.screen(120, 40).contains("F12 or Ctrl-D"));
    desk.keys("<Esc><C-d>");
    assert!(desk.screen(120, 40).contains("New shipment"));
    let empty = with(Desk::empty(), text).screen(80, 24);
    assert!(empty.contains("F12 takes in the first one"), "{empty}");
}

#[test]
fn a_desk_chooses_the_marks_of_its_plots_as_far_as_the_terminal_shows_them() {
    let plot = |text: &str| ScreenSettings::parse("screen.toml", text).unwrap().plot;
    let (utf8, term) = (Some("en_GB.UTF-8"), Some("xterm"));
    assert_eq!(Marks::chosen(plot(""), utf8, term), Marks::Braille);
    assert_eq!(Marks::chosen(plot("plot = \"dot\"\n"), utf8, term), Marks::Dot);
    assert_eq!(Marks::chosen(plot("plot = \"ascii\"\n"), utf8, term), Marks::Ascii);
    assert_eq!(Marks::chosen(plot("plot = \"dot\"\n"), Some("C"), term), Marks::Ascii);
    assert_eq!(Marks::chosen(plot("plot = \"braille\"\n"), utf8, Some("dumb")), Marks::Ascii);
    assert_ne!(DOT, '|');
}
