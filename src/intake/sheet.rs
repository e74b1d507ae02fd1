//! A delimited text as rows of cells with the line each row begins on.
//!
//! Comma, semicolon and tab are told apart by the header line, because a list with decimal commas is separated by
//! semicolons. A byte order mark, CRLF, blank lines and quoted cells are normal. What it must never do: guess a value.

use super::row_error::RowError;
use std::collections::HashSet;

/// One row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Line of the file on which it begins, from 1.
    pub line: usize,
    /// The cells as they are.
    pub cells: Vec<String>,
}

/// A list: header and rows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sheet {
    /// What separates the cells.
    pub delimiter: char,
    /// The first row that is not blank.
    pub header: Row,
    /// The rows after it, blank ones left out.
    pub rows: Vec<Row>,
}

/// Reads a delimited text.
///
/// # Errors
/// A text without any row, and a quotation mark that is never closed; a row with more cells than the header is for
/// [`Sheet::surplus`] to report.
pub fn read(text: &str) -> Result<Sheet, RowError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let delimiter = delimiter_of(text);
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter as u8)
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes());
    let mut rows: Vec<Row> = Vec::new();
    let mut record = csv::StringRecord::new();
    // The text is valid UTF-8 and in memory, so the reader has nothing else to fail on.
    while reader.read_record(&mut record).unwrap_or(false) {
        let start = record.position().map_or((0, 1), |at| (at.byte() as usize, at.line() as usize));
        // The reader counts from the end of the row before: the blank lines in between are still to be counted.
        let blank = text[start.0..].bytes().take_while(|byte| matches!(byte, b'\r' | b'\n'));
        let line = start.1 + blank.filter(|byte| *byte == b'\n').count();
        if record.iter().any(|cell| !cell.trim().is_empty()) {
            rows.push(Row { line, cells: record.iter().map(str::to_owned).collect() });
        }
    }
    if let Some(last) = rows.last().filter(|_| ends_inside_quotes(text, delimiter)) {
        let found: String = last.cells.last().map_or("", |cell| cell).chars().take(20).collect();
        return Err(RowError::new(
            last.line,
            "*",
            found.lines().next().unwrap_or(""),
            "a closing quotation mark",
        )
        .with_hint("a cell that begins with `\"` ends with one; a mark inside it is written twice"));
    }
    let mut rows = rows.into_iter();
    match rows.next() {
        Some(header) => Ok(Sheet { delimiter, header, rows: rows.collect() }),
        None => Err(RowError::new(1, "*", "", "a header line with the names of the columns")),
    }
}

/// Tells whether a text ends inside a cell that a quotation mark opened; a mark inside a plain cell, as in `1.5"`, is data.
fn ends_inside_quotes(text: &str, delimiter: char) -> bool {
    enum At {
        Start,
        Plain,
        Quoted,
        Closed,
    }
    let mut at = At::Start;
    for c in text.chars() {
        at = match (at, c) {
            (At::Start | At::Closed, '"') => At::Quoted,
            (At::Quoted, '"') => At::Closed,
            (At::Quoted, _) => At::Quoted,
            (_, '\n' | '\r') => At::Start,
            (_, c) if c == delimiter => At::Start,
            _ => At::Plain,
        };
    }
    matches!(at, At::Quoted)
}

/// Tells comma, semicolon and tab apart by the first line that is not blank.
fn delimiter_of(text: &str) -> char {
    let header = text.lines().find(|line| !line.trim().is_empty()).unwrap_or("");
    let count = |mark: char| {
        let mut quoted = false;
        header
            .chars()
            .filter(|&c| {
                quoted ^= c == '"';
                c == mark && !quoted
            })
            .count()
    };
    let (semicolons, tabs, commas) = (count(';'), count('\t'), count(','));
    if semicolons > 0 && semicolons >= tabs && semicolons >= commas {
        ';'
    } else if tabs > 0 && tabs >= commas {
        '\t'
    } else {
        ','
    }
}

impl Sheet {
    /// Reports every row that has more cells than the header names columns.
    pub fn surplus(&self) -> Vec<RowError> {
        let named = self.header.cells.len();
        let surplus = |row: &Row| row.cells.iter().skip(named).find(|cell| !cell.trim().is_empty()).cloned();
        self.rows
            .iter()
            .filter_map(|row| {
                let found = surplus(row)?;
                let column = format!("{}", named + 1);
                let error =
                    RowError::new(row.line, &column, &found, format!("{named} cells, as in the header"));
                Some(match self.delimiter {
                    ',' => error
                        .with_hint("a decimal comma? put the cell in quotation marks, or separate by `;`"),
                    _ => error,
                })
            })
            .collect()
    }

    /// Writes the header and the rows that begin on the given lines as a list of the same form.
    pub fn only(&self, lines: &HashSet<usize>) -> String {
        let mut writer =
            csv::WriterBuilder::new().delimiter(self.delimiter as u8).flexible(true).from_writer(Vec::new());
        let kept = self.rows.iter().filter(|row| lines.contains(&row.line));
        for row in std::iter::once(&self.header).chain(kept) {
            writer.write_record(&row.cells).expect("writing to memory cannot fail");
        }
        let bytes = writer.into_inner().expect("writing to memory cannot fail");
        String::from_utf8(bytes).expect("the cells are valid UTF-8")
    }
}

/// Brings the name of a column into one form: lower case, single underscores; the unit after it keeps its case.
pub fn column_name(header: &str) -> String {
    let cleaned: String = header
        .trim()
        .chars()
        .filter(|c| !c.is_control() && !matches!(c, ')' | ']'))
        .map(|c| if matches!(c, '(' | '[' | ' ' | '-') { '_' } else { c })
        .collect();
    let mut name = String::new();
    for part in cleaned.split('_').filter(|part| !part.is_empty()) {
        if !name.is_empty() {
            name.push('_');
        }
        name.push_str(part);
    }
    name
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_keep_the_line_of_the_file_they_begin_on() {
        let sheet = read("\u{feff}\r\na;b\r\n\r\n1;\"x\ny\"\r\n;\r\n\r\n\r\n2;z\r\n").unwrap();
        assert_eq!(sheet.delimiter, ';');
        assert_eq!(sheet.header.line, 2);
        let rows: Vec<_> = sheet.rows.iter().map(|row| (row.line, row.cells.join("|"))).collect();
        assert_eq!(rows, [(4, "1|x\ny".to_owned()), (9, "2|z".to_owned())]);
    }

    #[test]
    fn the_header_tells_what_separates() {
        assert_eq!(read("line,product\n").unwrap().delimiter, ',');
        assert_eq!(read("line\tproduct\n1\ta,b,c\n").unwrap().delimiter, '\t');
        assert_eq!(read("line;\"a,b,c\"\n").unwrap().delimiter, ';');
        assert_eq!(read("line\n").unwrap().delimiter, ',');
    }

    #[test]
    fn an_open_quotation_mark_is_named_with_its_row() {
        let error = read("a,b\n1,2\n3,\"4\n5,6\n").unwrap_err();
        assert_eq!((error.row, error.allowed.as_str()), (3, "a closing quotation mark"));
    }

    #[test]
    fn an_inch_mark_in_a_plain_cell_is_data() {
        let sheet = read("line,diameter\n1,1.5\"\n").unwrap();
        assert_eq!(sheet.rows[0].cells[1], "1.5\"");
    }

    #[test]
    fn rejected_rows_come_back_in_their_own_form() {
        let sheet = read("a;b\n1;\"x;y\"\n2;z\n").unwrap();
        assert_eq!(sheet.only(&HashSet::from([2])), "a;b\n1;\"x;y\"\n");
    }

    #[test]
    fn column_names_have_one_form() {
        assert_eq!(column_name(" Mass (g) "), "Mass_g");
        assert_eq!(column_name("conductivity 1 [%IACS]"), "conductivity_1_%IACS");
    }
}
