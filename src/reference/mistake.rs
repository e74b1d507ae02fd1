//! Mistakes in a reference file: each with its place, what was found and what is allowed.

use crate::quantity::EntryError;
use std::fmt;
use std::sync::Arc;
use thiserror::Error;

/// A place in a reference file.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    /// Name of the file, as it was handed in.
    pub file: Arc<str>,
    /// Line, counted from 1.
    pub line: usize,
    /// Column, counted from 1 in characters.
    pub column: usize,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}", self.file, self.line, self.column)
    }
}

/// Why a reference file is refused.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum Reason {
    /// The text is not TOML.
    #[error("not valid TOML: {message}")]
    Syntax {
        /// What the TOML reader objects to.
        message: String,
    },
    /// A field that nothing reads.
    #[error("`{field}` is not a field here; allowed are {allowed}")]
    UnknownField {
        /// The field.
        field: String,
        /// The fields that are read, with backticks.
        allowed: String,
    },
    /// A field that must be there is not.
    #[error("{record} has no field `{field}`")]
    MissingField {
        /// The record it belongs to.
        record: String,
        /// The field.
        field: String,
    },
    /// A field holds the wrong kind of TOML value.
    #[error("`{field}` is a {found}, expected {expected}")]
    WrongType {
        /// The field.
        field: String,
        /// What was found.
        found: &'static str,
        /// What is allowed.
        expected: &'static str,
    },
    /// A text is empty.
    #[error("`{field}` is empty")]
    Empty {
        /// The field.
        field: String,
    },
    /// A quantity does not follow the grammar, has a wrong unit or is out of range.
    #[error("`{field}`: {error}")]
    Quantity {
        /// The field.
        field: String,
        /// What is wrong with it.
        error: EntryError,
    },
    /// A quantity without a unit.
    #[error("`{field}`: `{found}` has no unit; allowed are {allowed}")]
    NoUnit {
        /// The field.
        field: String,
        /// What was found.
        found: String,
        /// The units, with backticks.
        allowed: String,
    },
    /// A number outside what it can be.
    #[error("`{field}`: {found} is out of range; allowed is {least} to {greatest}")]
    NumberOutOfRange {
        /// The field.
        field: String,
        /// What was found.
        found: String,
        /// Least value allowed.
        least: String,
        /// Largest value allowed.
        greatest: String,
    },
    /// A value that lies outside its own range.
    #[error("`{field}`: value `{value}` is not between low `{low}` and high `{high}`")]
    OutsideOwnRange {
        /// The field.
        field: String,
        /// The value.
        value: String,
        /// Low end of the range.
        low: String,
        /// High end of the range.
        high: String,
    },
    /// A deviation larger than the nominal value.
    #[error("`{field}`: deviation `{deviation}` is not smaller than the nominal value `{nominal}`")]
    DeviationTooLarge {
        /// The field.
        field: String,
        /// The deviation.
        deviation: String,
        /// The nominal value.
        nominal: String,
    },
    /// A word that is not one of a fixed list.
    #[error("`{field}`: `{found}` is not one of {allowed}")]
    UnknownWord {
        /// The field.
        field: String,
        /// What was found.
        found: String,
        /// The words, with backticks.
        allowed: String,
    },
    /// An id with characters that ids do not have.
    #[error("id `{found}` may only have ASCII letters, digits, hyphens and dots, at most {most} of them")]
    BadId {
        /// What was found.
        found: String,
        /// Most characters allowed.
        most: usize,
    },
    /// An id that stands twice.
    #[error("{kind} `{id}` stands already at {first}")]
    DuplicateId {
        /// Source, material or product.
        kind: &'static str,
        /// The id.
        id: String,
        /// Where it stood first.
        first: Place,
    },
    /// A value without a source.
    #[error("`{field}` names no source; a number without a source is not accepted")]
    NoSource {
        /// The field.
        field: String,
    },
    /// A source that is not in the catalogue.
    #[error("`{field}`: source `{id}` is not known{closest}")]
    UnknownSource {
        /// The field.
        field: String,
        /// The id.
        id: String,
        /// A suggestion, or nothing.
        closest: Suggestion,
    },
    /// A material that is not in the catalogue.
    #[error("`{field}`: material `{id}` is not known{closest}")]
    UnknownMaterial {
        /// The field.
        field: String,
        /// The id.
        id: String,
        /// A suggestion, or nothing.
        closest: Suggestion,
    },
    /// A product whose alloy is of another metal.
    #[error("product `{product}` is of {metal}, but its alloy `{alloy}` is of {found}")]
    AlloyOfOtherMetal {
        /// The product.
        product: String,
        /// Its metal.
        metal: &'static str,
        /// Its alloy.
        alloy: String,
        /// The metal of the alloy.
        found: &'static str,
    },
    /// More fine metal than metal.
    #[error("fine content `{fine}` is larger than the gross mass `{gross}`")]
    FineAboveGross {
        /// The fine content.
        fine: String,
        /// The gross mass.
        gross: String,
    },
    /// A dimension that a shape does not have.
    #[error("a {shape} product has no `{field}`")]
    NotOfThisShape {
        /// The field.
        field: &'static str,
        /// The shape.
        shape: &'static str,
    },
    /// A text that is no day.
    #[error("`{field}`: `{found}` is not a day such as `2026-11-25`")]
    NotADay {
        /// The field.
        field: String,
        /// What was found.
        found: String,
    },
    /// A name that is too long or has characters that names do not have.
    #[error("name `{found}` must have 1 to {most} characters and no control characters")]
    BadName {
        /// What was found.
        found: String,
        /// Most characters allowed.
        most: usize,
    },
    /// Not exactly one of several fields.
    #[error("{record} takes exactly one of {fields}")]
    NotOneOf {
        /// The record.
        record: String,
        /// The fields, with backticks.
        fields: String,
    },
    /// A field that does not go with the kind of its record.
    #[error("{record} does not take `{field}`: {why}")]
    DoesNotGo {
        /// The record.
        record: String,
        /// The field.
        field: String,
        /// Why not.
        why: &'static str,
    },
    /// A name that nothing in the file bears.
    #[error("`{field}`: nothing here is called `{name}`{closest}")]
    UnknownName {
        /// The field.
        field: String,
        /// The name.
        name: String,
        /// A suggestion, or nothing.
        closest: Suggestion,
    },
    /// A probe that cannot be read.
    #[error("{message}")]
    Probe {
        /// What is wrong with it.
        message: String,
    },
    /// Fineness present for a base metal or absent for a precious one.
    #[error("material `{material}` is of {metal}: fineness is {expected}")]
    FinenessAndMetal {
        /// The material.
        material: String,
        /// Its metal.
        metal: &'static str,
        /// `required` or `not allowed`.
        expected: &'static str,
    },
}

/// The ids that come closest to a misspelled one; prints as nothing when there are none.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Suggestion(pub Vec<String>);

impl fmt::Display for Suggestion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.is_empty() { Ok(()) } else { write!(f, "; closest: {}", listed(&self.0)) }
    }
}

/// Writes words with backticks and commas, as messages list what is allowed.
pub(crate) fn listed<S: AsRef<str>>(words: &[S]) -> String {
    words.iter().map(|word| format!("`{}`", word.as_ref())).collect::<Vec<_>>().join(", ")
}

/// One mistake with its place.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{place}: {reason}")]
pub struct Mistake {
    /// Where it is.
    pub place: Place,
    /// What it is.
    pub reason: Reason,
}

/// Every mistake of a set of reference files, in the order of the files and of the lines; never empty.
#[derive(Debug, Clone, PartialEq, Error)]
pub struct Mistakes(pub Vec<Mistake>);

impl fmt::Display for Mistakes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, mistake) in self.0.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            write!(f, "{mistake}")?;
        }
        Ok(())
    }
}
