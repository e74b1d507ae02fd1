//! Tables as CSV and as workbooks.

use std::io::{Cursor, Read};

use chrono::NaiveDate;
use proptest::prelude::*;
use scruple::report::document::{Column, Table};
use scruple::report::sheet::{SheetError, csv, guarded, workbook};

use super::samples::{decimal, table};
use super::text_of_markup;

/// The texts with which a formula begins. OWASP, CSV Injection; from memory.
const FORMULAS: [&str; 6] = ["=1+1", "+1", "-1+2", "@SUM(A1)", "\t=1", "\r=1"];

fn made_on() -> NaiveDate {
    NaiveDate::from_ymd_opt(2031, 3, 14).unwrap()
}

fn risky() -> Table {
    let mut table = Table::new("ignored", [Column::words("=head"), Column::numbers("mass in g")]);
    for text in FORMULAS {
        table.push([text.into(), decimal("-3.250").into()]);
    }
    table.push(["Tin \"Kettle\", Ltd".into(), decimal("31.1034768").into()]);
    table
}

/// Returns a file of a workbook.
fn part(workbook: &[u8], name: &str) -> String {
    let mut archive = zip::ZipArchive::new(Cursor::new(workbook)).unwrap();
    let mut text = String::new();
    archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
    text
}

/// Place and content of the cells of a sheet.
type Cells = Vec<(String, String)>;

/// Returns the cells of a sheet of a workbook, texts and numbers apart.
fn cells(workbook: &[u8], sheet: usize) -> (Cells, Cells) {
    let strings = part(workbook, "xl/sharedStrings.xml");
    let strings: Vec<String> = strings
        .split("<si>")
        .skip(1)
        .map(|item| {
            let item = &item[item.find("<t").unwrap()..item.find("</t>").unwrap()];
            let text = &item[item.find('>').unwrap() + 1..];
            text_of_markup(text)
        })
        .collect();
    let sheet = part(workbook, &format!("xl/worksheets/sheet{sheet}.xml"));
    assert!(!sheet.contains("<f>"), "no cell has a formula");
    let (mut texts, mut numbers) = (Vec::new(), Vec::new());
    for cell in sheet.split("<c r=\"").skip(1) {
        let place = cell.split('"').next().unwrap().to_owned();
        let value = cell.split("<v>").nth(1).unwrap().split("</v>").next().unwrap().to_owned();
        if cell.split('>').next().unwrap().contains("t=\"s\"") {
            texts.push((place, strings[value.parse::<usize>().unwrap()].clone()));
        } else {
            numbers.push((place, value));
        }
    }
    (texts, numbers)
}

#[test]
fn no_text_of_a_csv_is_a_formula_and_numbers_stay_numbers() {
    let text = csv(&risky());
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    assert_eq!(reader.headers().unwrap(), vec!["'=head", "mass in g"]);
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    for (row, formula) in rows.iter().zip(FORMULAS) {
        assert_eq!(row, vec![format!("'{formula}"), "-3.250".to_owned()]);
    }
    assert_eq!(rows[6], vec!["Tin \"Kettle\", Ltd", "31.1034768"]);
}

#[test]
fn a_csv_has_as_many_cells_in_each_row_as_columns() {
    let mut ragged = Table::new("", [Column::words("a"), Column::words("b")]);
    ragged.push(["1".into()]);
    ragged.push(["1".into(), "2".into(), "3".into()]);
    assert_eq!(csv(&ragged), "a,b\n1,\n1,2\n");
    assert_eq!(csv(&table(500)).lines().count(), 501);
}

#[test]
fn a_workbook_holds_numbers_as_numbers_and_no_formulas() {
    let file = workbook(&[("Day", &risky())], made_on()).unwrap();
    let (texts, numbers) = cells(&file, 1);
    let expected: Vec<String> = FORMULAS.iter().map(|formula| format!("'{formula}")).collect();
    let column: Vec<&str> =
        texts.iter().filter(|(place, _)| place.starts_with('A')).map(|(_, text)| text.as_str()).collect();
    assert_eq!(column[0], "'=head");
    // XML reads a carriage return as a line feed; the apostrophe stands before either.
    for (found, expected) in column[1..7].iter().zip(&expected) {
        assert_eq!(found.replace("_x000D_", "\r"), *expected);
    }
    assert_eq!(column[7], "Tin \"Kettle\", Ltd");
    assert_eq!(numbers.len(), 7);
    assert_eq!(numbers[0], ("B2".to_owned(), "-3.25".to_owned()));
    assert_eq!(numbers[6], ("B8".to_owned(), "31.1034768".to_owned()));
    let styles = part(&file, "xl/styles.xml");
    assert!(styles.contains("\"0.000\"") && styles.contains("\"0.0000000\""), "the digits shown are kept");
}

#[test]
fn a_number_that_a_spreadsheet_would_round_is_written_as_text() {
    let mut long = Table::new("", [Column::numbers("ng")]);
    long.push([decimal("1234567890123456789").into()]);
    long.push([decimal("123456789012.345").into()]);
    let file = workbook(&[("x", &long)], made_on()).unwrap();
    let (texts, numbers) = cells(&file, 1);
    assert!(texts.contains(&("A2".to_owned(), "1234567890123456789".to_owned())), "{texts:?}");
    assert_eq!(numbers, [("A3".to_owned(), "123456789012.345".to_owned())]);
}

#[test]
fn names_of_sheets_are_made_to_fit_and_differ() {
    let small = table(1);
    let long = "a name of a sheet that is longer than allowed";
    let names =
        [(long, &small), (long, &small), ("S-0012/3: [held]", &small), ("", &small), ("SHEET", &small)];
    let file = workbook(&names, made_on()).unwrap();
    let book = part(&file, "xl/workbook.xml");
    let found: Vec<&str> =
        book.split("<sheet name=\"").skip(1).map(|rest| rest.split('"').next().unwrap()).collect();
    let expected = [
        "a name of a sheet that is longe",
        "a name of a sheet that is lon 2",
        "S-0012-3- -held-",
        "sheet",
        "SHEET 2",
    ];
    assert_eq!(found, expected);
}

#[test]
fn the_same_tables_give_the_same_workbook() {
    let once = || workbook(&[("Day", &table(20))], made_on()).unwrap();
    assert_eq!(once(), once());
    assert!(part(&once(), "docProps/core.xml").contains("2031-03-14"));
}

#[test]
fn what_no_workbook_can_hold_is_refused_with_what_was_found_and_what_is_allowed() {
    let error = workbook(&[], made_on()).unwrap_err();
    assert_eq!(error.to_string(), "workbook has 0 sheets, allowed is at least 1");
    let mut long = Table::new("", [Column::words("note")]);
    long.push(["x".repeat(40_000).into()]);
    let error = workbook(&[("notes", &long)], made_on()).unwrap_err();
    assert_eq!(
        error.to_string(),
        "sheet `notes`, row 2: a cell has 40000 characters, allowed are at most 32767"
    );
    assert!(matches!(error, SheetError::TooLong { row: 2, .. }));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_text_comes_back_from_a_csv_and_never_begins_a_formula(text in "[=+@\t\r\n\"',;a-z0-9 -]{0,12}") {
        let mut table = Table::new("", [Column::words("a"), Column::words("b")]);
        table.push([text.clone().into(), "end".into()]);
        let file = csv(&table);
        let record = csv::Reader::from_reader(file.as_bytes()).records().next().unwrap().unwrap();
        prop_assert_eq!(&record[0], &guarded(&text));
        prop_assert_eq!(record[0].strip_prefix('\'').filter(|_| guarded(&text) != text).unwrap_or(&record[0]), &text);
        prop_assert!(!record[0].starts_with(['=', '+', '-', '@', '\t', '\r']));
    }
}
