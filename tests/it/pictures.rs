//! The pictures of the README: what the views draw of the invented day, cell by cell.
//!
//! `SCRUPLE_PICTURES=write cargo test --test it pictures` draws them anew.

use chrono::{DateTime, FixedOffset, TimeZone, Utc};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::buffer::{Buffer, Cell};
use ratatui::style::{Color, Modifier};
use scruple::desk::demo::{INSTRUMENTS, fill};
use scruple::desk::{Desk, Settings};
use scruple::present::spectrum::Marks;
use scruple::tui::dialog::{Dialog, page_room};
use scruple::tui::keymap::Key;
use scruple::tui::message::{Message, Opened};
use scruple::tui::reference::facts;
use scruple::tui::state::{Moment, State};
use scruple::tui::update::{press, update};
use scruple::tui::view::draw;
use scruple::tui::view::style::Theme;
use std::fmt::Write;
use std::path::Path;

/// Sizes of the terminal in the pictures.
const SIZES: [(u16, u16); 2] = [(80, 24), (120, 40)];
/// Size of a cell in units of the picture, and its margin.
const CELL: (u16, u16) = (9, 18);
const MARGIN: u16 = 12;
/// Paper and ink, dark on light: they read alike on a light and a dark page.
const PAPER: &str = "#faf8f3";
const INK: &str = "#2d2a26";
const DIM: &str = "#7a746b";

fn noon() -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2031, 3, 14, 12, 0, 0).unwrap()
}

/// Returns our own shade of one of the sixteen colours of a terminal.
fn shade(color: Color) -> Option<&'static str> {
    match color {
        Color::Reset => None,
        Color::Cyan => Some("#0c6b78"),
        Color::Green => Some("#2f6d38"),
        Color::Yellow => Some("#8a5a00"),
        Color::Red => Some("#a52a2a"),
        other => panic!("the views use no {other:?}"),
    }
}

/// Returns the attributes of a cell's text.
fn look(cell: &Cell) -> String {
    let mut look = String::new();
    let dim = if cell.modifier.contains(Modifier::DIM) { Some(DIM) } else { None };
    if let Some(fill) = shade(cell.fg).or(dim) {
        write!(look, " fill=\"{fill}\"").unwrap();
    }
    if cell.modifier.contains(Modifier::BOLD) {
        look.push_str(" font-weight=\"bold\"");
    }
    look
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

/// Draws a buffer: one text for each stretch of one look, as wide as its cells.
fn svg(buffer: &Buffer, what: &str) -> String {
    let size = (buffer.area.width, buffer.area.height);
    let (width, height) = (size.0 * CELL.0 + 2 * MARGIN, size.1 * CELL.1 + 2 * MARGIN);
    let mut text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" \
         role=\"img\">\n<title>{what}</title>\n<rect width=\"{width}\" height=\"{height}\" rx=\"6\" fill=\"{PAPER}\"/>\n\
         <g font-family=\"ui-monospace, Menlo, Consolas, 'DejaVu Sans Mono', monospace\" font-size=\"15\" fill=\"{INK}\" \
         xml:space=\"preserve\">\n"
    );
    for y in 0..size.1 {
        let mut x = 0;
        while x < size.0 {
            let here = look(&buffer[(x, y)]);
            let from = x;
            let mut run = String::new();
            while x < size.0 && look(&buffer[(x, y)]) == here {
                run.push_str(buffer[(x, y)].symbol());
                x += 1;
            }
            let words = run.trim_end();
            let blanks = words.chars().take_while(|c| *c == ' ').count();
            let words = words.trim_start();
            if words.is_empty() {
                continue;
            }
            let cells = words.chars().count() as u16;
            let at = MARGIN + (from + blanks as u16) * CELL.0;
            let line = MARGIN + y * CELL.1 + 14;
            let length = cells * CELL.0;
            writeln!(
                text,
                "<text x=\"{at}\" y=\"{line}\" textLength=\"{length}\"{here}>{}</text>",
                escaped(words)
            )
            .unwrap();
        }
    }
    text.push_str("</g>\n</svg>\n");
    text
}

/// Draws a state at its size and compares it with the picture on file.
#[track_caller]
fn picture(name: &str, what: &str, state: &State) {
    let (width, height) = (state.width, state.height);
    let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
    terminal.draw(|frame| draw(state, Theme { colored: true }, frame)).unwrap();
    let drawn = svg(terminal.backend().buffer(), what);
    let name = format!("{name}-{width}x{height}");
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("assets/pictures/{name}.svg"));
    if std::env::var("SCRUPLE_PICTURES").is_ok_and(|wish| wish == "write") {
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, &drawn).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    assert!(drawn == kept, "{name}: the program draws something else now; draw the pictures anew");
}

/// Draws a state at every size.
#[track_caller]
fn pictures(name: &str, what: &str, state: &mut State) {
    for size in SIZES {
        (state.width, state.height) = size;
        picture(name, what, state);
    }
}

/// Scrolls the page on top down to the row that begins with a text, as the arrow keys would.
fn scroll_to(state: &mut State, text: &str) {
    let at = |state: &State| match state.dialogs.last() {
        Some(Dialog::Page(page)) => {
            let (columns, _) = page_room(state.width, state.height);
            page.rows(state, columns).iter().position(|row| row.text().starts_with(text)).unwrap()
        }
        other => panic!("no page: {other:?}"),
    };
    press(state, Key::Home, Moment(1));
    for _ in 0..at(state) {
        press(state, Key::Down, Moment(1));
    }
}

/// Opens a book in a folder with the instruments of the invented day.
fn open(folder: &Path) -> Desk {
    let settings = Settings::built_in("MIRA").with_clock(noon);
    let settings = settings.with_instruments("assets/demo/instruments.toml", INSTRUMENTS).unwrap();
    Desk::open(&folder.join("demo.book"), settings).unwrap()
}

/// Returns the screens as they start on a book.
fn started(desk: &Desk) -> State {
    let mut state = State::new(facts(desk, FixedOffset::east_opt(0).unwrap(), Marks::Braille));
    update(&mut state, Message::Shipments(desk.shipments().unwrap()));
    state
}

#[test]
fn the_first_start_is_what_the_program_draws() {
    let folder = tempfile::tempdir().unwrap();
    let desk = open(folder.path());
    assert!(desk.is_untouched().unwrap());
    let mut state = started(&desk);
    update(&mut state, Message::FirstStart { currency: desk.policy().currency.code().to_owned() });
    pictures("first-start", "An empty book: what to begin with", &mut state);
}

#[test]
fn the_invented_day_is_what_the_program_draws() {
    let folder = tempfile::tempdir().unwrap();
    let mut desk = open(folder.path());
    fill(&mut desk).unwrap();

    let mut state = started(&desk);
    press(&mut state, Key::Enter, Moment(1000));
    pictures("receive", "Receiving: the lots of a shipment, each with what is logged of it", &mut state);

    // A lot with pieces on hold and some still to come.
    let lot = desk.shipments().unwrap()[0].lots[1].id;
    let draft = desk.new_draft(lot).unwrap();
    let echoes = vec![None; draft.fields.len()];
    let (lot, pieces) = (desk.lot(lot).unwrap(), desk.pieces(lot).unwrap());
    update(&mut state, Message::LotOpened(Box::new(Opened { lot, pieces, draft, echoes })));
    press(&mut state, Key::PageUp, Moment(5000));
    pictures("bench", "The bench: the verdict on the piece logged last, and its lot in plots", &mut state);

    press(&mut state, Key::Esc, Moment(6000));
    press(&mut state, Key::Char('3'), Moment(7000));
    update(&mut state, Message::Holds(desk.open_groups().unwrap()));
    pictures("holds", "Holds: what is set aside, the most money at risk first", &mut state);

    press(&mut state, Key::Char('5'), Moment(8000));
    update(&mut state, Message::Instruments(Box::new(desk.instruments_view().unwrap())));
    let prospect = desk.prospect("ca-gold-50", Some("pencil")).unwrap();
    update(&mut state, Message::Reach(Box::new(prospect)));
    for size in SIZES {
        (state.width, state.height) = size;
        scroll_to(&mut state, "Depth from the surface");
        picture("reach", "The reach of a probe: how deep a reading sees, core by core", &state);
    }
}

#[test]
fn the_readme_shows_a_few_of_the_pictures() {
    let readme = include_str!("../../README.md");
    for name in SHOWN {
        assert!(readme.contains(&format!("(assets/pictures/{name}.svg)")), "the README does not show {name}");
    }
    assert_eq!(readme.matches("(assets/pictures/").count(), SHOWN.len());
}

/// The pictures that the README shows.
const SHOWN: [&str; 3] = ["first-start-80x24", "bench-120x40", "holds-120x40"];
