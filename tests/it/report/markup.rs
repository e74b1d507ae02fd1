//! HTML, SVG and plain text.

use scruple::report::document::{Block, Column, Document, Table};
use scruple::report::{chart, html, plain, svg};
use unicode_width::UnicodeWidthStr;

use super::samples::{day_sheet, heap, piece_record, reach, scatter, spectrum};
use super::text_of_markup;

/// A document whose every text is an attack.
fn hostile() -> Document {
    let evil = "</td><script>alert(\"1\")</script> & 'x' <b>\u{0}\u{1B}[31m";
    let mut plot = scatter();
    plot.title = evil.to_owned();
    plot.note = evil.to_owned();
    let mut table = Table::new(evil, [Column::words(evil), Column::numbers(evil)]);
    table.push([evil.into(), evil.into()]);
    let mut document = Document::new(evil, evil);
    document.footer = evil.to_owned();
    document
        .push(Block::heading(evil))
        .push(Block::paragraph(evil))
        .push(Block::caution(evil))
        .push(Block::key_values([(evil, evil)]))
        .push(Block::Table(table))
        .push(Block::plot(plot));
    document
}

#[test]
fn an_html_report_is_well_formed_and_says_everything() {
    let page = html::page(&day_sheet(3));
    let text = text_of_markup(&page);
    for part in [
        "Desk 1 · 14 March 2031",
        "2 (S-0012 of Tin Kettle & Daughters, S-0013 of Three Geese)",
        "(1 866.20 ± 0.31) g, k = 2",
        "S-0012/3-03",
        "fine mass in g",
        "Caution",
        "greatest 31.150",
        "journal 3f9a 77c0 12de 9b41",
    ] {
        assert!(text.contains(part), "{part} in {text}");
    }
    assert_eq!(page.matches("<svg").count(), 2);
    assert_eq!(page.matches("<thead>").count(), 1);
}

#[test]
fn an_html_report_fetches_nothing_and_runs_nothing() {
    let page = html::page(&piece_record()) + &html::page(&hostile());
    // The one address is the name of the SVG language.
    assert_eq!(page.matches("http").count(), page.matches("xmlns=\"http://www.w3.org/2000/svg\"").count());
    for word in ["<script", "<link", "<img", "<iframe", "src=", "href=", "@import", "url("] {
        assert!(!page.contains(word), "{word}");
    }
}

#[test]
fn no_text_is_read_as_markup() {
    let page = html::page(&hostile());
    text_of_markup(&page);
    assert!(!page.contains("<b>") && !page.contains("alert(\"1\")"));
    assert!(page.contains(
        "&lt;/td&gt;&lt;script&gt;alert(&quot;1&quot;)&lt;/script&gt; &amp; &#39;x&#39; &lt;b&gt;"
    ));
    assert!(!page.contains(['\u{0}', '\u{1B}']));
}

#[test]
fn every_plot_is_a_well_formed_svg_with_its_words() {
    for (plot, parts) in [
        (scatter(), vec!["tungsten", "least 19.10", "clear", "on hold", "conductivity in MS/m", "k = 1"]),
        (
            spectrum(),
            vec!["A 3120.6 Hz", "B 5480.2 Hz", "C 5702.0 Hz", "D 8911.7 Hz", "E 12640.0 Hz", "level in dB"],
        ),
        (
            heap(),
            vec!["least 31.070, statute", "mass in g", "Each cell is one piece; a heap is 0.005 g wide."],
        ),
        (
            reach(),
            vec!["half the thickness 1.11 mm", "something could still hide here", "the method cannot tell"],
        ),
    ] {
        let file = svg::file(&chart::draw(&plot, 500.0));
        assert!(file.starts_with("<?xml"));
        let text = text_of_markup(&file);
        for part in parts {
            assert!(text.contains(part), "{part} in {text}");
        }
        assert!(!file.contains("NaN") && !file.contains("inf"));
    }
}

#[test]
fn plain_text_keeps_to_eighty_columns_and_says_everything() {
    for document in [day_sheet(12), piece_record(), hostile()] {
        let text = plain::text(&document);
        for line in text.lines() {
            assert!(line.width() <= plain::COLUMNS, "{line}");
        }
        assert!(!text.contains(['\u{1B}', '\u{0}']));
    }
    let text = plain::text(&piece_record());
    for part in
        ["A 3120.6 Hz", "(3.9938 ± 0.0006) g, balance B2", "depth in mm 0 to 0.34: tested by the method"]
    {
        assert!(text.contains(part), "{part} in {text}");
    }
    assert!(plain::text(&day_sheet(2)).contains("! CAUTION: Two pieces are suspected"));
}

#[test]
fn numbers_of_a_plain_table_stand_below_each_other() {
    let text = plain::text(&day_sheet(3));
    let ends: Vec<usize> = text.lines().filter_map(|line| Some(line.find("7.1685")? + 6)).collect();
    assert_eq!(ends.len(), 3);
    assert!(ends.windows(2).all(|pair| pair[0] == pair[1]), "{ends:?}");
}
