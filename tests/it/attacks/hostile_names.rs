//! Names that steer a terminal, turn the reading direction, or are formulas or markup: put into the book past every check of
//! the program, as another client could, and then shown by every face.

use super::super::cli::Call;
use super::super::faults::SESSION;
use super::super::screens::data::facts;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use rusqlite::Connection;
use scruple::desk::{Desk, Settings};
use scruple::tui::message::{Message, Opened};
use scruple::tui::state::{Screen, State};
use scruple::tui::update::update;
use scruple::tui::view::draw;
use scruple::tui::view::style::Theme;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// Escape sequences of ECMA-48 in 7 and 8 bits, a title of xterm, marks of direction (Unicode UAX 9), a bell, a tag.
const EVIL: &str = "=cmd|' /C x'!A1\u{1b}[31m\u{1b}]0;owned\u{7}\u{9b}2J\u{202e}kcab\u{2066}\u{200f}\u{61c}\u{7f}<script>alert(1)</script>";

/// Tells whether a text could steer a terminal or turn the reading direction.
fn steers(text: &str) -> Option<char> {
    text.chars().find(|c| {
        (c.is_control() && *c != '\n')
            || matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    })
}

/// A book of a session in which every name is evil.
fn evil_book() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("a.book");
    let mut desk = Desk::open(&book, Settings::built_in("MIRA")).unwrap();
    for step in SESSION {
        (step.act)(&mut desk).unwrap();
    }
    let piece = desk.find_piece("S-0001/1-04").unwrap().id;
    desk.hold_piece(piece, "scratch").unwrap();
    desk.release(&["S-0001/1-01".to_owned()], None).unwrap();
    drop(desk);
    let client = Connection::open(&book).unwrap();
    let triggers: Vec<String> = {
        let mut statement = client.prepare("SELECT name FROM sqlite_schema WHERE type = 'trigger'").unwrap();
        statement.query_map([], |row| row.get(0)).unwrap().map(|name| name.unwrap()).collect()
    };
    for trigger in triggers {
        client.execute_batch(&format!("DROP TRIGGER {trigger}")).unwrap();
    }
    for (table, column) in [
        ("shipment", "source"),
        ("shipment", "operator"),
        ("piece", "serial"),
        ("piece", "operator"),
        ("hold", "text"),
        ("hold", "opened_by"),
        ("reading", "operator"),
        ("reading", "reason"),
        ("decision", "reason"),
        ("decision", "operator"),
        ("stock", "released_by"),
        ("price", "operator"),
    ] {
        let changed = client
            .execute(
                &format!(
                    "UPDATE {table} SET {column} = ?1 WHERE {column} IS NOT NULL OR '{column}' = 'serial'"
                ),
                [EVIL],
            )
            .unwrap();
        assert!(changed > 0 || column == "reason", "{table}.{column}");
    }
    (folder, book)
}

/// What the program prints about such a book.
const SHOWN: [&[&str]; 21] = [
    &["shipments"],
    &["holds"],
    &["stock"],
    &["day"],
    &["piece", "S-0001/1-01"],
    &["piece", "S-0001/1-04"],
    &["budget", "S-0001/1-01"],
    &["explain", "S-0001/1-01"],
    &["explain", "S-0001/1-01", "hold-1"],
    &["find", "S-0001"],
    &["undo", "--list"],
    &["second", "list", "S-0001/1-04"],
    &["price"],
    &["operator", "list"],
    &["journal", "verify"],
    &["instrument", "list"],
    &["controls"],
    &["recall", "list"],
    &["type-book"],
    &["record", "S-0001/1-01"],
    &["undo"],
];

#[test]
fn nothing_that_the_command_line_prints_steers_a_terminal() {
    let (folder, _) = evil_book();
    let mut seen = 0;
    for args in SHOWN {
        for json in [false, true] {
            let mut args = args.to_vec();
            if json {
                args.push("--json");
            }
            let output = Call::new(&folder, &args).run();
            for (stream, bytes) in [("output", &output.stdout), ("errors", &output.stderr)] {
                let text = String::from_utf8(bytes.clone()).unwrap();
                assert_eq!(steers(&text), None, "{args:?} {stream}: {text:?}");
                seen += usize::from(text.contains("cmd|"));
            }
        }
    }
    assert!(seen >= 8, "the evil names were shown {seen} times only");
}

#[test]
fn evil_arguments_and_lists_are_told_without_harm() {
    let folder = tempfile::tempdir().unwrap();
    let list = format!(
        "line,product,quantity,serials\n1,us-5112-e{EVIL},1,\n2,us-5112-e,{EVIL},\n3,us-5112-e,1,A{EVIL}\n"
    );
    for args in [
        vec!["receive", "-", "--source", EVIL],
        vec!["--operator", EVIL, "shipments"],
        vec!["piece", EVIL],
        vec!["log", "-", "--shipment", EVIL],
        vec!["hold", "S-0001/1-01", "--reason", EVIL],
    ] {
        // An argument holds no zero byte and these have none.
        let output = Call::new(&folder, &args).input(&list).run();
        for bytes in [&output.stdout, &output.stderr] {
            let text = String::from_utf8_lossy(bytes).into_owned();
            assert_eq!(steers(&text), None, "{args:?}: {text:?}");
        }
    }
    for entry in logs(folder.path()) {
        let text = std::fs::read_to_string(&entry).unwrap();
        assert_eq!(steers(&text), None, "{}: {text:?}", entry.display());
    }
}

/// Returns the log files below a home.
pub fn logs(home: &Path) -> Vec<PathBuf> {
    let folder = home.join(".local/state/scruple");
    let files = std::fs::read_dir(&folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
    files.map(|entry| entry.unwrap().path()).collect()
}

#[test]
fn no_cell_of_a_screen_steers_the_terminal() {
    let (_folder, book) = evil_book();
    let desk = Desk::open(&book, Settings::built_in("MIRA")).unwrap();
    let mut state = State::new(facts());
    let shipments = desk.shipments().unwrap();
    let lot = shipments[0].lots[0].clone();
    let opened = Opened {
        pieces: desk.pieces(lot.id).unwrap(),
        draft: desk.new_draft(lot.id).unwrap(),
        echoes: vec![None; 8],
        lot,
    };
    let messages = [
        (Screen::Receive, Message::Shipments(shipments)),
        (Screen::Bench, Message::LotOpened(Box::new(opened))),
        (Screen::Holds, Message::Holds(desk.open_groups().unwrap())),
        (Screen::Stock, Message::Stock(desk.newest_stock().unwrap())),
        (Screen::Day, Message::Day(Box::new(desk.day(None).unwrap()))),
        (Screen::Receive, Message::Noted(EVIL.to_owned())),
    ];
    let mut seen = 0;
    for (screen, message) in messages {
        update(&mut state, message);
        state.screen = screen;
        for (width, height) in [(40, 10), (80, 24), (200, 50)] {
            update(&mut state, Message::Resize { width, height });
            let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
            terminal.draw(|frame| draw(&state, Theme { colored: false }, frame)).unwrap();
            for cell in terminal.backend().buffer().content() {
                assert_eq!(steers(cell.symbol()), None, "{screen:?} {:?}", cell.symbol());
                seen += usize::from(cell.symbol() == "|");
            }
        }
    }
    assert!(seen > 0, "the evil names were not shown");
}

#[test]
fn reports_neither_run_nor_compute_a_name_and_are_for_their_owner_only() {
    use std::os::unix::fs::PermissionsExt;
    let (folder, book) = evil_book();
    Call::new(&folder, &["day", "--html", "d.html", "--pdf", "d.pdf"]).done();
    Call::new(&folder, &["record", "S-0001/1-01", "--html", "r.html"]).done();
    Call::new(&folder, &["stock", "--csv", "s.csv", "--xlsx", "s.xlsx"]).done();
    for name in ["d.html", "r.html"] {
        let page = std::fs::read_to_string(folder.path().join(name)).unwrap();
        assert!(page.contains("&lt;script&gt;"), "{name}: the name is not in it");
        assert!(!page.contains("<script"), "{name}");
        assert_eq!(steers(&page.replace('\t', " ")), None, "{name}");
    }
    // Each cell that would be a formula begins with an apostrophe.
    let sheet = std::fs::read_to_string(folder.path().join("s.csv")).unwrap();
    let mut rows = csv::ReaderBuilder::new().from_reader(sheet.as_bytes());
    let mut guarded = 0;
    for row in rows.records() {
        for cell in &row.unwrap() {
            let formula = cell.starts_with(['=', '+', '@', '\t', '\r']);
            assert!(!formula, "{cell:?}");
            guarded += usize::from(cell.starts_with("'="));
        }
    }
    assert!(guarded > 0, "{sheet}");
    let mut workbook =
        zip::ZipArchive::new(std::fs::File::open(folder.path().join("s.xlsx")).unwrap()).unwrap();
    let mut guarded = false;
    for at in 0..workbook.len() {
        let mut text = String::new();
        std::io::Read::read_to_string(&mut workbook.by_index(at).unwrap(), &mut text).unwrap();
        // ECMA-376, 18.3.1.40: a formula stands in an element `f`.
        assert!(!text.contains("<f>"), "{text}");
        guarded |= text.contains(">'=cmd");
    }
    assert!(guarded);
    drop(Desk::open(&book, Settings::built_in("MIRA")).unwrap());
    let files: Vec<PathBuf> = std::fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.is_file())
        .chain(logs(folder.path()))
        .collect();
    assert!(files.len() >= 7, "{files:?}");
    for file in files {
        let mode = std::fs::metadata(&file).unwrap().permissions().mode() & 0o777;
        assert_eq!(mode, 0o600, "{}", file.display());
    }
}
