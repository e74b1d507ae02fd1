//! PDF files, read back by a small reader of content streams.

use std::collections::BTreeSet;

use proptest::prelude::*;
use scruple::report::document::{Block, Column, Document, Table};
use scruple::report::metrics::{Face, shortened, width, width_of_bytes, winansi, wrap};
use scruple::report::pdf::{self, MARGIN, Paper};

use super::samples::{day_sheet, piece_record, table};

/// A line of words on a page.
struct Run {
    page: usize,
    x: f64,
    y: f64,
    width: f64,
    text: String,
}

/// Returns the number that stands behind a name, as in `startxref 12`.
fn number_after(file: &[u8], name: &str) -> usize {
    let at = file.windows(name.len()).rposition(|part| part == name.as_bytes()).unwrap() + name.len();
    let digits =
        file[at..].iter().skip_while(|byte| byte.is_ascii_whitespace()).take_while(|b| b.is_ascii_digit());
    digits.fold(0, |sum, digit| 10 * sum + usize::from(digit - b'0'))
}

/// Returns the content streams in the order of the file, which is that of the pages.
fn streams(file: &[u8]) -> Vec<&[u8]> {
    let find = |from: usize, what: &[u8]| {
        file[from..].windows(what.len()).position(|part| part == what).map(|at| from + at)
    };
    let (mut streams, mut from) = (Vec::new(), 0);
    while let Some(start) = find(from, b"\nstream\n") {
        let end = find(start, b"\nendstream").unwrap();
        streams.push(&file[start + 8..end]);
        from = end;
    }
    streams
}

/// Reads the words of a file: every stream is a page, every string is shown by `Tj` after `Tf` and `Tm`.
fn runs(file: &[u8]) -> Vec<Run> {
    let mut runs = Vec::new();
    for (page, stream) in streams(file).into_iter().enumerate() {
        let (mut operands, mut at) = (Vec::<Vec<u8>>::new(), 0);
        let (mut face, mut size, mut place) = (Face::Regular, 0.0, (0.0, 0.0));
        while at < stream.len() {
            match stream[at] {
                byte if byte.is_ascii_whitespace() => at += 1,
                b'(' => {
                    let mut string = Vec::new();
                    let mut depth = 1;
                    at += 1;
                    while depth > 0 {
                        match stream[at] {
                            b'\\' => {
                                at += 1;
                                string.push(stream[at]);
                            }
                            b'(' => {
                                depth += 1;
                                string.push(b'(');
                            }
                            b')' if depth == 1 => depth = 0,
                            b')' => {
                                depth -= 1;
                                string.push(b')');
                            }
                            byte => string.push(byte),
                        }
                        at += 1;
                    }
                    operands.push(string);
                }
                b'<' => {
                    let end = at + stream[at..].iter().position(|&byte| byte == b'>').unwrap();
                    let digit = |byte: u8| char::from(byte).to_digit(16).unwrap() as u8;
                    operands.push(
                        stream[at + 1..end]
                            .chunks(2)
                            .map(|pair| 16 * digit(pair[0]) + digit(pair[1]))
                            .collect(),
                    );
                    at = end + 1;
                }
                _ => {
                    let ends = |byte: &u8| byte.is_ascii_whitespace() || b"(<[]".contains(byte);
                    let end =
                        at + stream[at..].iter().skip(1).position(ends).map_or(stream.len() - at, |p| p + 1);
                    let token = &stream[at..end];
                    at = end;
                    let value = |index: usize| -> f64 {
                        std::str::from_utf8(&operands[operands.len() - index]).unwrap().parse().unwrap()
                    };
                    match token {
                        b"Tf" => {
                            let name = &operands[operands.len() - 2];
                            face = if name == b"/F2" { Face::Bold } else { Face::Regular };
                            size = value(1);
                        }
                        b"Tm" => place = (value(2), value(1)),
                        b"Tj" => {
                            let bytes = operands.last().unwrap();
                            runs.push(Run {
                                page,
                                x: place.0,
                                y: place.1,
                                width: width_of_bytes(bytes, face, size),
                                text: from_winansi(bytes),
                            });
                        }
                        token if token[0].is_ascii_alphabetic() => operands.clear(),
                        token => operands.push(token.to_vec()),
                    }
                }
            }
        }
    }
    runs
}

/// Returns a text from its WinAnsi bytes. ISO 32000-1:2008, annex D.2.
fn from_winansi(bytes: &[u8]) -> String {
    const FROM_80: &str = "€?‚ƒ„…†‡ˆ‰Š‹Œ?Ž??‘’“”•–—˜™š›œ?žŸ";
    let high = |byte: u8| match byte {
        0x80..=0x9F => FROM_80.chars().nth(usize::from(byte - 0x80)).unwrap(),
        byte => char::from(byte),
    };
    bytes.iter().map(|&byte| high(byte)).collect()
}

#[track_caller]
pub fn check_within_margins(file: &[u8], paper: Paper) {
    let runs = runs(file);
    assert!(!runs.is_empty());
    for run in &runs {
        assert!(run.x >= MARGIN - 0.01, "{} starts at {}", run.text, run.x);
        assert!(
            run.x + run.width <= paper.width - MARGIN + 0.01,
            "{} ends at {}",
            run.text,
            run.x + run.width
        );
        assert!(run.y >= 20.0 && run.y <= paper.height - 36.0, "{} stands at {}", run.text, run.y);
    }
}

/// Returns the words of a file, line by line.
pub fn words(file: &[u8]) -> String {
    runs(file).iter().map(|run| run.text.as_str()).collect::<Vec<_>>().join(" ")
}

#[test]
fn every_word_of_a_report_can_be_read_out_of_the_file() {
    let text = words(&pdf::report(&day_sheet(3), Paper::A4));
    for part in [
        "Day sheet",
        "Desk 1 · 14 March 2031 · receiver R. Bramble, reviewer T. Oak",
        "counted against the packing lists",
        "(1 866.20 ± 0.31) g, k = 2",
        "EUR 171,204.33 received; 152,880.10 sellable; 18,324.23 on hold",
        "Caution",
        "Two pieces are suspected counterfeits of legal tender.",
        "S-0012/3-03",
        "7.9652",
        "Mass of the pieces of lot S-0012/3",
        "least 31.070, statute",
        "tungsten",
        "conductivity in MS/m",
        "density in g/cm³",
        "scruple 0.1.0 · reference 2031-02 · policy 4 · journal 3f9a 77c0 12de 9b41",
        "page 1 of 2",
        "page 2 of 2",
    ] {
        assert!(text.contains(part), "{part} in {text}");
    }
}

#[test]
fn no_words_stand_beyond_the_margins_on_any_paper() {
    let mut hard = Document::new("W".repeat(300), "a very long subtitle ".repeat(30));
    hard.footer = "footer that goes on ".repeat(40);
    let mut wide = Table::new(
        "wide ".repeat(60),
        (0..14).map(|i| Column::numbers(format!("Quantity{i}ofTheThing in g"))),
    );
    wide.push((0..14).map(|i| format!("{}", 10i64.pow(i)).into()));
    hard.push(Block::heading("H".repeat(200)));
    hard.push(Block::key_values([("k".repeat(90), "v".repeat(400)), ("short".to_owned(), "w ".repeat(900))]));
    hard.push(Block::Table(wide)).push(Block::caution("Mind the long word ".to_owned() + &"x".repeat(300)));
    hard.push(Block::paragraph("i".repeat(900)));
    for paper in [Paper::A4, Paper::LETTER, Paper::A4.turned()] {
        for document in [day_sheet(120), piece_record(), hard.clone()] {
            check_within_margins(&pdf::report(&document, paper), paper);
        }
    }
}

#[test]
fn a_table_of_five_hundred_rows_breaks_between_rows_and_repeats_its_head() {
    let mut document = Document::new("Long", "");
    document.push(Block::Table(table(500)));
    let file = pdf::report(&document, Paper::A4);
    let runs = runs(&file);
    let pages = runs.last().unwrap().page + 1;
    assert!(pages > 10);
    assert_eq!(streams(&file).len(), pages);
    let pieces: Vec<&Run> = runs.iter().filter(|run| run.text.starts_with("S-0012/3-")).collect();
    let expected: Vec<String> = (1..=500).map(|number| format!("S-0012/3-{number:02}")).collect();
    assert_eq!(pieces.iter().map(|run| run.text.clone()).collect::<Vec<_>>(), expected);
    for page in 0..pages {
        let on_page =
            |text: &str| runs.iter().filter(|run| run.page == page && run.text == text).collect::<Vec<_>>();
        let head = on_page("piece");
        assert_eq!(head.len(), 1, "page {page}");
        assert_eq!(on_page("Pieces of the day (continued)").len(), usize::from(page > 0));
        assert_eq!(on_page(&format!("page {} of {pages}", page + 1)).len(), 1);
        let rows: Vec<&&Run> = pieces.iter().filter(|run| run.page == page).collect();
        assert!(!rows.is_empty() && rows.iter().all(|run| run.y < head[0].y), "page {page}");
        assert!(
            rows.windows(2).all(|pair| pair[0].y - pair[1].y > 10.0),
            "rows on each other on page {page}"
        );
        // Both lines of a row stand on its page: as many second lines as first ones.
        assert_eq!(
            on_page("German states").len() + on_page("1915, German states").len(),
            rows.len(),
            "page {page}"
        );
    }
}

#[test]
fn a_row_taller_than_a_page_goes_on_on_the_next_page() {
    let mut tall = Table::new("", [Column::words("note"), Column::words("by")]);
    let note: Vec<String> = (0..1500).map(|number| format!("word{number}")).collect();
    tall.push([note.join(" ").into(), "T. Oak".into()]);
    tall.push(["the end".into(), "T. Oak".into()]);
    let mut document = Document::new("Tall", "");
    document.push(Block::Table(tall));
    let file = pdf::report(&document, Paper::LETTER);
    check_within_margins(&file, Paper::LETTER);
    let text = words(&file);
    assert!(note.iter().all(|word| text.split(' ').any(|found| found == word)));
    assert!(runs(&file).iter().any(|run| run.text == "the end" && run.page > 0));
    assert!(text.contains("continued"));
}

#[test]
fn a_heading_stands_on_the_page_of_what_follows_it() {
    for lines in 30..60 {
        let mut document = Document::new("Headings", "");
        document.push(Block::paragraph("line\n".repeat(lines)));
        document.push(Block::heading("The lots")).push(Block::paragraph("first line\nsecond line"));
        let runs = runs(&pdf::report(&document, Paper::A4));
        let page = |text: &str| runs.iter().find(|run| run.text == text).unwrap().page;
        assert_eq!(page("The lots"), page("first line"), "{lines} lines");
    }
}

#[test]
fn characters_that_the_typefaces_lack_are_spelled_or_numbered_never_dropped() {
    let mut document = Document::new("Łódź σ ≥ 4", "");
    document.push(Block::paragraph("U ≤ 0.016 · −3 K · 中 · 5 Ω · μ · €5 · ½ · ‰ · a\u{202F}b"));
    let text = words(&pdf::report(&document, Paper::A4));
    assert!(text.contains("[U+0141]ód[U+017A] sigma >= 4"), "{text}");
    assert!(text.contains("U <= 0.016 · -3 K · [U+4E2D] · 5 ohm · µ · €5 · ½ · ‰ · a b"), "{text}");
}

#[test]
fn the_cross_reference_table_points_at_every_object() {
    // ISO 32000-1:2008, 7.5.4 (entries of 20 bytes) and 7.5.5 (trailer).
    let file = pdf::report(&day_sheet(40), Paper::A4);
    assert!(file.starts_with(b"%PDF-1.") && file.ends_with(b"%%EOF"));
    let table = &file[number_after(&file, "startxref")..];
    assert!(table.starts_with(b"xref\n0 "));
    let lines: Vec<&[u8]> = table.split(|&byte| byte == b'\n').collect();
    let count = number_after(&file, "/Size");
    for index in 1..count {
        let entry = std::str::from_utf8(lines[2 + index]).unwrap();
        let offset: usize = entry[..10].parse().unwrap();
        assert!(file[offset..].starts_with(format!("{index} 0 obj").as_bytes()), "object {index}");
    }
}

#[test]
fn the_same_report_gives_the_same_bytes() {
    assert_eq!(pdf::report(&day_sheet(9), Paper::A4), pdf::report(&day_sheet(9), Paper::A4));
}

#[test]
fn widths_are_those_of_the_published_metrics() {
    // Adobe Core 14 font metrics: Helvetica A 667, i 222, W 944, @ 1015, digits 556, plusminus 584, endash 556;
    // Helvetica-Bold A 722, i 278, @ 975, mu 611.
    let check = |text: &str, face, thousandths: f64| {
        assert!(
            (width(text, face, 1000.0) - thousandths).abs() < 1e-9,
            "{text}: {}",
            width(text, face, 1000.0)
        );
    };
    for (text, thousandths) in
        [("A", 667.0), ("i", 222.0), ("W", 944.0), ("@", 1015.0), ("31", 1112.0), ("±", 584.0), ("–", 556.0)]
    {
        check(text, Face::Regular, thousandths);
    }
    for (text, thousandths) in [("A", 722.0), ("i", 278.0), ("@", 975.0), ("µ", 611.0), ("31", 1112.0)] {
        check(text, Face::Bold, thousandths);
    }
}

#[test]
fn a_shortened_text_says_so_and_fits() {
    let text = shortened("the journal of the day", Face::Regular, 10.0, 60.0);
    assert!(text.ends_with('…') && width(&text, Face::Regular, 10.0) <= 60.0, "{text}");
    assert_eq!(shortened("short", Face::Regular, 10.0, 60.0), "short");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn wrapped_lines_fit_and_keep_every_character(text in "[ a-zA-Z0-9äß±=/\n.-]{0,200}", greatest in 40.0..300.0f64) {
        let lines = wrap(&text, Face::Regular, 9.5, greatest);
        for line in &lines {
            prop_assert!(width(line, Face::Regular, 9.5) <= greatest + 1e-9, "{line}");
        }
        let bare = |text: &str| text.chars().filter(|c| !c.is_whitespace()).collect::<String>();
        prop_assert_eq!(bare(&lines.concat()), bare(&text));
    }

    #[test]
    fn any_text_makes_a_file_that_can_be_read_back(text in "\\PC{0,60}", rows in 0usize..4) {
        let mut document = Document::new(text.clone(), text.clone());
        document.footer = text.clone();
        let mut table = Table::new(text.clone(), [Column::words(text.clone()), Column::numbers("n")]);
        (0..rows).for_each(|_| table.push([text.clone().into(), text.clone().into()]));
        document.push(Block::heading(text.clone())).push(Block::caution(text.clone())).push(Block::Table(table));
        let file = pdf::report(&document, Paper::A4);
        check_within_margins(&file, Paper::A4);
        let found: BTreeSet<u8> = runs(&file).iter().flat_map(|run| winansi(&run.text)).collect();
        prop_assert!(winansi(&text).iter().filter(|byte| **byte != b' ').all(|byte| found.contains(byte)));
    }
}
