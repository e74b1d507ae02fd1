//! The packing list of a shipment: what the source says is in the parcel.
//!
//! Pure: text and catalogue in, rows or every bad cell out. Columns, in any order: `line`, `product`, `quantity`, and
//! optional `declared_mass`, `declared_fineness`, `unit_cost`, `currency`, `serials` (separated by blanks). A header
//! may name a unit (`declared_mass_g`), a cell may carry its own.

use super::row_error::RowError;
use super::serial::{Serial, read_serials};
use super::sheet::{self, Row, Sheet, column_name};
use crate::quantity::entry::{Typed, parse_field};
use crate::quantity::{Currency, Entry, Fineness, Mass, Money, Quantity, Unit};
use crate::reference::closest::closest;
use crate::reference::{Catalogue, ProductId};
use std::collections::HashMap;

/// Most pieces that one line may announce.
pub const MOST_PIECES: u32 = 100_000;
/// Largest number of a line.
pub const LARGEST_LINE: u32 = 99_999;

/// The columns a packing list may have.
const COLUMNS: [&str; 8] =
    ["line", "product", "quantity", "declared_mass", "declared_fineness", "unit_cost", "currency", "serials"];
/// The columns it must have.
const REQUIRED: [&str; 3] = ["line", "product", "quantity"];

/// One line of a packing list.
#[derive(Debug, Clone, PartialEq)]
pub struct PackingLine {
    /// Line of the file it stands on.
    pub row: usize,
    /// Its number, unique in the list.
    pub line: u32,
    /// The product declared.
    pub product: ProductId,
    /// Pieces declared, 1 to [`MOST_PIECES`].
    pub quantity: u32,
    /// Mass of one piece as declared.
    pub declared_mass: Option<Entry<Mass>>,
    /// Fineness as declared.
    pub declared_fineness: Option<Entry<Fineness>>,
    /// Price paid for one piece.
    pub unit_cost: Option<Money>,
    /// Serials declared; never more than pieces, none twice in the list.
    pub serials: Vec<Serial>,
}

/// A column of the list: its place, its name in the file, and the unit that the header names.
struct Column {
    index: usize,
    header: String,
    unit: Option<&'static Unit>,
}

type Columns = HashMap<&'static str, Column>;

/// Reads a packing list.
///
/// `currency` is meant where neither the cell nor a `currency` column names one.
///
/// # Errors
/// Every bad cell of the file in its order; the list is taken whole or not at all.
pub fn read(
    text: &str,
    catalogue: &Catalogue,
    currency: Currency,
) -> Result<Vec<PackingLine>, Vec<RowError>> {
    let sheet = sheet::read(text).map_err(|error| vec![error])?;
    let columns = columns(&sheet)?;
    let mut errors = sheet.surplus();
    let mut lines = Vec::new();
    if sheet.rows.is_empty() {
        errors.push(RowError::new(sheet.header.line, "*", "", "at least one line below the header"));
    }
    for row in &sheet.rows {
        let mut reader = Reader { row, columns: &columns, errors: &mut errors };
        lines.extend(reader.line(catalogue, currency));
    }
    repeated_lines(&lines, &columns, &mut errors);
    repeated_serials(&lines, &columns, &mut errors);
    if errors.is_empty() {
        return Ok(lines);
    }
    errors.sort_by_key(|error| error.row);
    Err(errors)
}

/// Finds the columns by the header.
fn columns(sheet: &Sheet) -> Result<Columns, Vec<RowError>> {
    let row = sheet.header.line;
    let mut columns = Columns::new();
    let mut errors = Vec::new();
    for (index, header) in sheet.header.cells.iter().enumerate() {
        let name = column_name(header);
        if name.is_empty()
            && sheet.rows.iter().all(|row| row.cells.get(index).is_none_or(|c| c.trim().is_empty()))
        {
            continue;
        }
        let Some((known, unit)) = known_column(&name) else {
            let allowed = COLUMNS.map(|name| format!("`{name}`")).join(", ");
            let error =
                RowError::new(row, header.trim(), header.trim(), format!("one of the columns {allowed}"));
            errors.push(match closest(&name, COLUMNS.into_iter(), 1).first() {
                Some(near) => error.with_hint(format!("closest: `{near}`")),
                None => error,
            });
            continue;
        };
        let column = Column { index, header: header.trim().to_owned(), unit };
        if columns.insert(known, column).is_some() {
            errors.push(RowError::new(
                row,
                header.trim(),
                header.trim(),
                format!("one column `{known}` only"),
            ));
        }
    }
    for name in REQUIRED.into_iter().filter(|name| !columns.contains_key(name)) {
        errors.push(RowError::new(row, name, "", format!("a column `{name}` in the header")));
    }
    if errors.is_empty() { Ok(columns) } else { Err(errors) }
}

/// Returns the column that a header names, with the unit after it.
fn known_column(name: &str) -> Option<(&'static str, Option<&'static Unit>)> {
    let lower = name.to_lowercase();
    if let Some(known) = COLUMNS.into_iter().find(|known| *known == lower) {
        return Some((known, None));
    }
    let known = ["declared_mass", "declared_fineness"]
        .into_iter()
        .find(|known| lower.strip_prefix(known).is_some_and(|rest| rest.starts_with('_')))?;
    let spelling = name.get(known.len() + 1..)?;
    let unit = if known == "declared_mass" { Mass::unit(spelling) } else { Fineness::unit(spelling) };
    unit.map(|unit| (known, Some(unit)))
}

struct Reader<'a> {
    row: &'a Row,
    columns: &'a Columns,
    errors: &'a mut Vec<RowError>,
}

impl Reader<'_> {
    fn cell(&self, name: &str) -> &str {
        let column = self.columns.get(name);
        column.and_then(|column| self.row.cells.get(column.index)).map_or("", |cell| cell.trim())
    }

    fn header(&self, name: &str) -> String {
        self.columns.get(name).map_or_else(|| name.to_owned(), |column| column.header.clone())
    }

    fn report(&mut self, name: &str, allowed: impl Into<String>) {
        let error = RowError::new(self.row.line, &self.header(name), self.cell(name), allowed);
        self.errors.push(error);
    }

    fn line(&mut self, catalogue: &Catalogue, currency: Currency) -> Option<PackingLine> {
        let line = self.whole("line", LARGEST_LINE);
        let product = self.product(catalogue);
        let quantity = self.whole("quantity", MOST_PIECES);
        let declared_mass = self.quantity::<Mass>("declared_mass");
        let declared_fineness = self.quantity::<Fineness>("declared_fineness");
        let unit_cost = self.unit_cost(currency);
        let serials = self.serials(quantity);
        Some(PackingLine {
            row: self.row.line,
            line: line?,
            product: product?,
            quantity: quantity?,
            declared_mass,
            declared_fineness,
            unit_cost,
            serials,
        })
    }

    fn whole(&mut self, name: &'static str, most: u32) -> Option<u32> {
        let cell = self.cell(name);
        let plain = !cell.is_empty() && cell.bytes().all(|byte| byte.is_ascii_digit());
        let number =
            if plain { cell.parse().ok().filter(|number| (1..=most).contains(number)) } else { None };
        if number.is_none() {
            self.report(name, format!("a whole number from 1 to {most}"));
        }
        number
    }

    fn product(&mut self, catalogue: &Catalogue) -> Option<ProductId> {
        let cell = self.cell("product").to_owned();
        if let Some(product) = catalogue.product(&cell) {
            return Some(product.id.clone());
        }
        let error =
            RowError::new(self.row.line, &self.header("product"), &cell, "a product id of the reference");
        let near = catalogue.closest_products(&cell);
        self.errors.push(if near.is_empty() {
            error.with_hint("`scruple reference list` shows every id")
        } else {
            let near: Vec<String> = near.iter().map(|id| format!("`{id}`")).collect();
            error.with_hint(format!("closest: {}", near.join(", ")))
        });
        None
    }

    fn quantity<Q: Quantity>(&mut self, name: &'static str) -> Option<Entry<Q>> {
        let unit = self.columns.get(name).and_then(|column| column.unit).unwrap_or(&Q::UNITS[0]);
        match parse_field::<Q>(self.cell(name), unit) {
            Ok(Typed::Value(entry)) => Some(entry),
            Ok(Typed::Nothing | Typed::NotMeasured) => None,
            Ok(Typed::Repeat) => {
                self.report(name, format!("a {} or nothing", Q::NAME));
                None
            }
            Err(error) => {
                let error = RowError::of_entry(self.row.line, &self.header(name), self.cell(name), &error);
                self.errors.push(error);
                None
            }
        }
    }

    fn unit_cost(&mut self, currency: Currency) -> Option<Money> {
        let named = match self.cell("currency") {
            "" => None,
            code => match Currency::parse(code) {
                Ok(currency) => Some(currency),
                Err(error) => {
                    let error = RowError::of_money(self.row.line, &self.header("currency"), code, &error);
                    self.errors.push(error);
                    return None;
                }
            },
        };
        let cell = self.cell("unit_cost").to_owned();
        if cell.is_empty() || cell == "-" {
            return None;
        }
        match Money::parse(&cell, named.unwrap_or(currency)) {
            Ok(cost) if cost.amount.is_sign_negative() && !cost.amount.is_zero() => {
                self.report("unit_cost", "an amount of 0 or more");
                None
            }
            Ok(cost) if named.is_some_and(|named| named != cost.currency) => {
                let column = self.cell("currency").to_owned();
                self.report("unit_cost", format!("an amount in `{column}`, the currency of its row"));
                None
            }
            Ok(cost) => Some(cost),
            Err(error) => {
                let error = RowError::of_money(self.row.line, &self.header("unit_cost"), &cell, &error);
                self.errors.push(error);
                None
            }
        }
    }

    fn serials(&mut self, quantity: Option<u32>) -> Vec<Serial> {
        let (serials, bad) = read_serials(self.cell("serials"));
        let header = self.header("serials");
        self.errors.extend(
            bad.into_iter().map(|error| RowError::new(self.row.line, &header, &error.found, error.allowed())),
        );
        if let Some(quantity) = quantity.filter(|quantity| serials.len() > *quantity as usize) {
            let found = format!("{} serials", serials.len());
            let allowed = format!("at most {quantity}, the quantity of the line");
            self.errors.push(RowError::new(self.row.line, &header, &found, allowed));
        }
        serials
    }
}

/// Reports a line number that stands a second time.
fn repeated_lines(lines: &[PackingLine], columns: &Columns, errors: &mut Vec<RowError>) {
    let mut first: HashMap<u32, usize> = HashMap::new();
    for line in lines {
        if let Some(before) = first.get(&line.line) {
            let allowed = format!("each line number once; row {before} has it too");
            errors.push(RowError::new(line.row, &columns["line"].header, &line.line.to_string(), allowed));
        } else {
            first.insert(line.line, line.row);
        }
    }
}

/// Reports a serial that stands a second time anywhere in the list.
fn repeated_serials(lines: &[PackingLine], columns: &Columns, errors: &mut Vec<RowError>) {
    let mut first: HashMap<&str, usize> = HashMap::new();
    for (line, serial) in lines.iter().flat_map(|line| line.serials.iter().map(move |serial| (line, serial)))
    {
        if let Some(before) = first.get(serial.key()) {
            let allowed = format!("each serial once; row {before} has it too");
            errors.push(RowError::new(line.row, &columns["serials"].header, serial.text(), allowed));
        } else {
            first.insert(serial.key(), line.row);
        }
    }
}
