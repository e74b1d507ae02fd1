//! What is wrong with a profile: file, line, field, found and allowed.

use super::pattern::PatternError;
use crate::quantity::entry::EntryError;
use thiserror::Error;

/// A profile that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{file}:{line}: {mistake}")]
pub struct ProfileError {
    /// Name of the file.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// What is wrong there.
    pub mistake: ProfileMistake,
}

/// What is wrong in a profile.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ProfileMistake {
    /// The text is not TOML, or not of the expected form; the message names the field.
    #[error("{message}")]
    Form {
        /// What the reader found.
        message: String,
    },
    /// A word that is not one of those allowed.
    #[error("`{field}`: `{found}` is not one of {allowed}")]
    Word {
        /// The field.
        field: &'static str,
        /// What was found.
        found: String,
        /// What is allowed, with backticks.
        allowed: String,
    },
    /// A list that may not be empty.
    #[error("`{field}` is empty; allowed is at least one")]
    Empty {
        /// The field.
        field: &'static str,
    },
    /// Measurands that no single device gives.
    #[error("`feeds`: `{first}` and `{other}` have different units; one device feeds one quantity")]
    Mixed {
        /// The first measurand.
        first: &'static str,
        /// One that does not go with it.
        other: &'static str,
    },
    /// A pattern that cannot be used.
    #[error("`lines`: {0}")]
    Pattern(PatternError),
    /// A mark that cannot be told from the rest of a line.
    #[error(
        "`{field}`: mark `{found}` is not one of 1 to 12 characters that begins with no digit and has no blank"
    )]
    Mark {
        /// The field.
        field: &'static str,
        /// The mark.
        found: String,
    },
    /// A mark with two meanings.
    #[error("`{field}`: mark `{found}` is there twice; allowed is one meaning")]
    MarkTwice {
        /// The field.
        field: &'static str,
        /// The mark.
        found: String,
    },
    /// Marks that no line has a place for, or a place that no mark can fill.
    #[error("`words` and the places `{{mark}}` of `lines` belong together; {missing}")]
    MarksUnused {
        /// Which of the two is missing.
        missing: &'static str,
    },
    /// A field that these patterns need.
    #[error("`{field}` is missing: {why}; allowed are {allowed}")]
    Needed {
        /// The field.
        field: &'static str,
        /// Why it is needed.
        why: &'static str,
        /// What is allowed, with backticks.
        allowed: &'static str,
    },
    /// A field that these patterns or settings make meaningless.
    #[error("`{field}` means nothing here: {why}")]
    Meaningless {
        /// The field.
        field: &'static str,
        /// Why.
        why: &'static str,
    },
    /// A quantity that breaks the grammar.
    #[error("`{field}`: {error}")]
    Quantity {
        /// The field.
        field: &'static str,
        /// What is wrong with it.
        error: EntryError,
    },
    /// A number outside what it can be.
    #[error("`{field}`: {found} is out of range; allowed is {least} to {greatest}")]
    Range {
        /// The field.
        field: &'static str,
        /// What was found.
        found: u64,
        /// Smallest allowed.
        least: u64,
        /// Largest allowed.
        greatest: u64,
    },
}
