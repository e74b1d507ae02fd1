//! Reading TOML tables field by field, so that every mistake is found and none hides another.

use super::mistake::{Mistake, Place, Reason, listed};
use crate::quantity::{Quantity, entry};
use chrono::NaiveDate;
use std::any::TypeId;
use std::ops::Range;
use std::sync::Arc;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Most characters of an id.
const LONGEST_ID: usize = 64;

/// Parts per million in a percent.
const PPM_PER_PERCENT: f64 = 1e4;

/// A file while it is read: its text for places, and the mistakes found so far.
pub(crate) struct Page<'t> {
    file: Arc<str>,
    text: &'t str,
    line_starts: Vec<usize>,
    pub mistakes: Vec<Mistake>,
}

impl<'t> Page<'t> {
    pub fn new(file: &str, text: &'t str) -> Self {
        let line_starts = std::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).collect();
        Page { file: Arc::from(file), text, line_starts, mistakes: Vec::new() }
    }

    /// Returns the place of a byte of the text.
    pub fn place(&self, byte: usize) -> Place {
        let byte = byte.min(self.text.len());
        let line = self.line_starts.partition_point(|start| *start <= byte);
        let before = self.text.get(self.line_starts[line - 1]..byte).unwrap_or("");
        Place { file: self.file.clone(), line, column: before.chars().count() + 1 }
    }

    pub fn report(&mut self, span: Range<usize>, reason: Reason) {
        let place = self.place(span.start);
        self.mistakes.push(Mistake { place, reason });
    }
}

/// One TOML value with the name it goes by in messages.
pub(crate) struct Cell<'t, 'i> {
    pub name: String,
    pub value: &'t DeValue<'i>,
    pub span: Range<usize>,
}

impl<'t, 'i> Cell<'t, 'i> {
    fn new(name: String, value: &'t Spanned<DeValue<'i>>) -> Self {
        Cell { name, span: value.span(), value: value.get_ref() }
    }

    fn wrong_type(&self, expected: &'static str) -> Reason {
        Reason::WrongType { field: self.name.clone(), found: self.value.type_str(), expected }
    }

    /// Reads a text that is not empty.
    pub fn text(&self) -> Result<&'t str, Reason> {
        let text = self.value.as_str().ok_or_else(|| self.wrong_type("a text in quotes"))?;
        if text.trim().is_empty() { Err(Reason::Empty { field: self.name.clone() }) } else { Ok(text) }
    }

    /// Reads an id.
    pub fn id(&self) -> Result<&'t str, Reason> {
        let text = self.text()?;
        let allowed = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '.');
        if text.len() <= LONGEST_ID && text.chars().all(allowed) {
            Ok(text)
        } else {
            Err(Reason::BadId { found: text.to_owned(), most: LONGEST_ID })
        }
    }

    /// Reads a quantity with its unit; only a fineness may go without one.
    pub fn quantity<Q: Quantity>(&self) -> Result<Q, Reason> {
        let text = self.value.as_str().ok_or_else(|| self.wrong_type("a number with its unit, in quotes"))?;
        let entry =
            entry::parse::<Q>(text).map_err(|error| Reason::Quantity { field: self.name.clone(), error })?;
        let bare = !text.chars().any(|c| c.is_alphabetic() || matches!(c, '%' | '‰' | '"' | '°'));
        if bare && TypeId::of::<Q>() != TypeId::of::<crate::quantity::Fineness>() {
            let units: Vec<&str> = Q::UNITS.iter().map(|unit| unit.symbol).collect();
            return Err(Reason::NoUnit {
                field: self.name.clone(),
                found: text.to_owned(),
                allowed: listed(&units),
            });
        }
        Ok(entry.value)
    }

    /// Reads a plain number between two bounds.
    pub fn number(&self, least: f64, greatest: f64) -> Result<f64, Reason> {
        let digits = match self.value {
            DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str(),
            DeValue::Float(float) => float.as_str(),
            _ => return Err(self.wrong_type("a plain number")),
        };
        match digits.parse::<f64>() {
            Ok(number) if (least..=greatest).contains(&number) => Ok(number),
            _ => Err(Reason::NumberOutOfRange {
                field: self.name.clone(),
                found: digits.to_owned(),
                least: least.to_string(),
                greatest: greatest.to_string(),
            }),
        }
    }

    /// Reads `true` or `false`.
    pub fn flag(&self) -> Result<bool, Reason> {
        self.value.as_bool().ok_or_else(|| self.wrong_type("`true` or `false`"))
    }

    /// Reads a day, `2026-11-25`, bare or in quotes.
    pub fn day(&self) -> Result<NaiveDate, Reason> {
        let text = match self.value {
            DeValue::Datetime(moment) => moment.to_string(),
            value => value.as_str().ok_or_else(|| self.wrong_type("a day such as `2026-11-25`"))?.to_owned(),
        };
        let day = NaiveDate::parse_from_str(text.trim(), "%Y-%m-%d");
        day.map_err(|_| Reason::NotADay { field: self.name.clone(), found: text })
    }

    /// Reads a share written with its percent sign, in parts per million.
    pub fn share_ppm(&self) -> Result<u32, Reason> {
        let text =
            self.value.as_str().ok_or_else(|| self.wrong_type("a share such as `0.3 %`, in quotes"))?;
        let Some(digits) = text.trim().strip_suffix('%').map(str::trim) else {
            let (field, found) = (self.name.clone(), text.to_owned());
            return Err(Reason::NoUnit { field, found, allowed: listed(&["%"]) });
        };
        let plain = digits.chars().all(|c| c.is_ascii_digit() || c == '.');
        let share = digits.parse::<f64>().ok().filter(|share| plain && (0.0..=100.0).contains(share));
        share.map(|share| (share * PPM_PER_PERCENT).round() as u32).ok_or_else(|| Reason::NumberOutOfRange {
            field: self.name.clone(),
            found: text.to_owned(),
            least: "0 %".to_owned(),
            greatest: "100 %".to_owned(),
        })
    }

    /// Reads one word of a fixed list.
    pub fn word<W>(&self, from_word: fn(&str) -> Option<W>, words: &[&str]) -> Result<W, Reason> {
        let text = self.text()?;
        from_word(text).ok_or_else(|| Reason::UnknownWord {
            field: self.name.clone(),
            found: text.to_owned(),
            allowed: listed(words),
        })
    }

    /// Reads a list; its members keep the name of the list.
    pub fn list(&self) -> Result<impl Iterator<Item = Cell<'t, 'i>> + use<'t, 'i>, Reason> {
        let array = self.value.as_array().ok_or_else(|| self.wrong_type("a list in brackets"))?;
        let name = self.name.clone();
        Ok(array.iter().map(move |value| Cell::new(name.clone(), value)))
    }

    /// Reads a table.
    pub fn fields(&self) -> Result<Fields<'t, 'i>, Reason> {
        let table = self.value.as_table().ok_or_else(|| self.wrong_type("a table"))?;
        Ok(Fields {
            name: self.name.clone(),
            record: format!("`{}`", self.name),
            table,
            span: self.span.clone(),
            asked: Vec::new(),
        })
    }
}

/// A table whose fields are asked for one after the other; [`Fields::finish`] reports the ones nobody asked for.
pub(crate) struct Fields<'t, 'i> {
    name: String,
    record: String,
    table: &'t DeTable<'i>,
    pub span: Range<usize>,
    asked: Vec<&'static str>,
}

impl<'t, 'i> Fields<'t, 'i> {
    pub fn top(table: &'t Spanned<DeTable<'i>>) -> Self {
        let span = table.span();
        Fields {
            name: String::new(),
            record: "the file".to_owned(),
            table: table.get_ref(),
            span,
            asked: Vec::new(),
        }
    }

    /// Names the record in messages, for instance ``product `us-5112-a7` ``; its fields go by their own names.
    pub fn call(&mut self, record: String) {
        self.record = record;
        self.name.clear();
    }

    /// Returns a field if it is there.
    pub fn optional(&mut self, field: &'static str) -> Option<Cell<'t, 'i>> {
        self.asked.push(field);
        let name = if self.name.is_empty() { field.to_owned() } else { format!("{}.{field}", self.name) };
        self.table.get(field).map(|value| Cell::new(name, value))
    }

    /// Returns a field, or reports that it is missing.
    pub fn required(&mut self, field: &'static str, page: &mut Page<'_>) -> Option<Cell<'t, 'i>> {
        let cell = self.optional(field);
        if cell.is_none() {
            let reason = Reason::MissingField { record: self.record.clone(), field: field.to_owned() };
            page.report(self.span.clone(), reason);
        }
        cell
    }

    /// Reports every field that was not asked for.
    pub fn finish(self, page: &mut Page<'_>) {
        for key in self.table.keys() {
            let field: &str = key.get_ref();
            if !self.asked.contains(&field) {
                let allowed = listed(&self.asked);
                page.report(key.span(), Reason::UnknownField { field: field.to_owned(), allowed });
            }
        }
    }
}

/// Keeps a value, or reports why there is none.
pub(crate) trait OrReport<T> {
    fn or_report(self, span: &Range<usize>, page: &mut Page<'_>) -> Option<T>;
}

impl<T> OrReport<T> for Result<T, Reason> {
    fn or_report(self, span: &Range<usize>, page: &mut Page<'_>) -> Option<T> {
        self.map_err(|reason| page.report(span.clone(), reason)).ok()
    }
}
