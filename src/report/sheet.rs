//! Tables as CSV and as workbooks.
//!
//! What it is for: to hand tables on. What it must never do: write a text that a spreadsheet takes for a formula.

use chrono::{Datelike, NaiveDate};
use rust_decimal::prelude::ToPrimitive;
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, FormatAlign, Workbook, Worksheet, XlsxError};

use crate::report::document::{Align, Cell, Table};

/// Most rows of a sheet, its head included.
pub const MOST_ROWS: usize = 1_048_576;
/// Most characters of a cell.
pub const MOST_CHARACTERS: usize = 32_767;
/// Digits that a spreadsheet keeps of a number.
const SPREADSHEET_DIGITS: usize = 15;

/// Why a workbook cannot be made.
#[derive(Debug, thiserror::Error)]
pub enum SheetError {
    /// Too many rows.
    #[error("sheet `{sheet}` has {found} rows, allowed are at most {most}")]
    TooManyRows {
        /// The sheet.
        sheet: String,
        /// Its rows.
        found: usize,
        /// Most rows.
        most: usize,
    },
    /// A text that is too long for a cell.
    #[error("sheet `{sheet}`, row {row}: a cell has {found} characters, allowed are at most {most}")]
    TooLong {
        /// The sheet.
        sheet: String,
        /// The row, the head being 1.
        row: usize,
        /// Its characters.
        found: usize,
        /// Most characters.
        most: usize,
    },
    /// No sheets.
    #[error("workbook has 0 sheets, allowed is at least 1")]
    NoSheets,
    /// The workbook cannot be written.
    #[error("workbook cannot be written")]
    Write(#[from] XlsxError),
}

/// Returns a text that no spreadsheet takes for a formula: one that begins with `=`, `+`, `-`, `@`, a tab or a line
/// end gets a leading apostrophe.
///
/// # Source
/// OWASP, CSV Injection; from memory.
pub fn guarded(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

/// Returns a table as CSV: a line of headings, then the rows; numbers with a decimal point and the digits shown.
///
/// Lines end with a line feed. A cell is quoted where it has to be.
///
/// # Source
/// RFC 4180, clause 2 (quoting).
pub fn csv(table: &Table) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut write = |cells: Vec<String>| {
        writer
            .write_record(cells)
            .expect("every row has as many cells as there are columns, and memory takes them");
    };
    write(table.columns.iter().map(|column| guarded(&column.title)).collect());
    for row in &table.rows {
        let cell = |index: usize| match row.get(index) {
            Some(Cell::Text(text)) => guarded(text),
            Some(Cell::Number(number)) => number.to_string(),
            None => String::new(),
        };
        write((0..table.columns.len()).map(cell).collect());
    }
    let bytes = writer.into_inner().expect("memory takes what is left");
    String::from_utf8(bytes).expect("cells are text")
}

/// Returns tables as a workbook, each with a name for its sheet; numbers are numbers, texts are guarded.
///
/// Names are made to fit: at most 31 characters, no `[ ] : * ? / \`, no two alike. `made_on` stands in the file, so
/// that the same tables give the same bytes. A number with more than 15 digits is written as text, since a
/// spreadsheet would round it.
///
/// # Errors
/// One variant of [`SheetError`] for each reason.
pub fn workbook(sheets: &[(&str, &Table)], made_on: NaiveDate) -> Result<Vec<u8>, SheetError> {
    if sheets.is_empty() {
        return Err(SheetError::NoSheets);
    }
    let mut workbook = Workbook::new();
    let year = u16::try_from(made_on.year()).unwrap_or(1900).max(1900);
    let made_on = ExcelDateTime::from_ymd(year, made_on.month() as u8, made_on.day() as u8)?;
    workbook.set_properties(&DocProperties::new().set_creation_datetime(&made_on));
    let mut names: Vec<String> = Vec::new();
    for (name, table) in sheets {
        let name = fitting_name(name, &names);
        fill(workbook.add_worksheet(), &name, table)?;
        names.push(name);
    }
    Ok(workbook.save_to_buffer()?)
}

/// Returns a name that a sheet can have and none has yet.
fn fitting_name(name: &str, taken: &[String]) -> String {
    const MOST: usize = 31;
    let clean: String =
        name.chars().map(|c| if "[]:*?/\\".contains(c) || c.is_control() { '-' } else { c }).collect();
    let clean = clean.trim().trim_matches('\'');
    let clean = if clean.is_empty() { "sheet" } else { clean };
    (1..)
        .map(|number| {
            let tail = if number == 1 { String::new() } else { format!(" {number}") };
            // A sheet counts in units of UTF-16.
            let (mut room, mut kept) = (MOST - tail.len(), String::new());
            for character in clean.chars() {
                if character.len_utf16() > room {
                    break;
                }
                room -= character.len_utf16();
                kept.push(character);
            }
            format!("{}{tail}", kept.trim_end())
        })
        .find(|name| !taken.iter().any(|other| other.to_lowercase() == name.to_lowercase()))
        .expect("there are more numbers than sheets")
}

fn fill(sheet: &mut Worksheet, name: &str, table: &Table) -> Result<(), SheetError> {
    let found = table.rows.len() + 1;
    if found > MOST_ROWS {
        return Err(SheetError::TooManyRows { sheet: name.to_owned(), found, most: MOST_ROWS });
    }
    sheet.set_name(name)?;
    let mut write = |row: usize, column: usize, cell: &Cell, format: &Format| -> Result<(), SheetError> {
        let (at, column) = (row as u32, column as u16);
        if let Cell::Number(number) = cell
            && digits(&number.to_string()) <= SPREADSHEET_DIGITS
            && let Some(value) = number.to_f64()
        {
            let decimals = number.scale() as usize;
            let pattern = if decimals == 0 { "0".to_owned() } else { format!("0.{}", "0".repeat(decimals)) };
            sheet.write_number_with_format(at, column, value, &format.clone().set_num_format(pattern))?;
            return Ok(());
        }
        let text = match cell {
            Cell::Text(text) => guarded(text),
            Cell::Number(number) => number.to_string(),
        };
        let found = text.encode_utf16().count();
        if found > MOST_CHARACTERS {
            let sheet = name.to_owned();
            return Err(SheetError::TooLong { sheet, row: row + 1, found, most: MOST_CHARACTERS });
        }
        sheet.write_string_with_format(at, column, text, format)?;
        Ok(())
    };
    let head = Format::new().set_bold().set_text_wrap();
    for (index, column) in table.columns.iter().enumerate() {
        write(0, index, &Cell::Text(column.title.clone()), &head)?;
    }
    for (row, cells) in table.rows.iter().enumerate() {
        for (index, (cell, column)) in cells.iter().zip(&table.columns).enumerate() {
            let side = if column.align == Align::Right { FormatAlign::Right } else { FormatAlign::Left };
            write(row + 1, index, cell, &Format::new().set_align(side))?;
        }
    }
    for index in 0..table.columns.len() {
        let longest =
            (0..table.rows.len()).map(|row| table.shown(row, index).chars().count()).max().unwrap_or(0);
        let wide = longest.max(table.columns[index].title.chars().count()).clamp(6, 50) + 2;
        sheet.set_column_width(index as u16, wide as f64)?;
    }
    sheet.set_freeze_panes(1, 0)?;
    Ok(())
}

/// Returns how many digits a number has.
fn digits(number: &str) -> usize {
    let digits = number.chars().filter(char::is_ascii_digit).collect::<String>();
    digits.trim_start_matches('0').len()
}
