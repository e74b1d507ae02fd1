//! What the policy says about learned figures.

use crate::scoring::policy::{PolicyError, number};
use serde::Deserialize;

/// Fewest pieces that the policy may ask for.
const LEAST_OF_LEAST: f64 = 20.0;
/// Most pieces that the policy may ask for.
const MOST_OF_LEAST: f64 = 1000.0;

/// The rules as written in the policy; a file written before figures were learned does not have them.
#[derive(Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(in crate::scoring) struct TypeBookText {
    significance: String,
    least: String,
}

impl Default for TypeBookText {
    fn default() -> Self {
        TypeBookText { significance: "0.01".to_owned(), least: "20".to_owned() }
    }
}

/// When learned figures count, and how often they may doubt a good piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TypeBookRules {
    /// Chance that a good piece is doubted, all its quantities together.
    pub significance: f64,
    /// Released pieces from which on a quantity counts as learned.
    pub least: u32,
}

impl TypeBookRules {
    /// Reads the rules.
    ///
    /// # Errors
    /// A number out of its range, or a part of a piece.
    pub(in crate::scoring) fn read(file: &str, text: &TypeBookText) -> Result<Self, PolicyError> {
        let significance = number(file, "type_book.significance", &text.significance, 1e-6, 0.5)?;
        let least = number(file, "type_book.least", &text.least, LEAST_OF_LEAST, MOST_OF_LEAST)?;
        if least.fract() != 0.0 {
            return Err(PolicyError::Number {
                file: file.to_owned(),
                field: "type_book.least",
                found: text.least.clone(),
                least: LEAST_OF_LEAST,
                greatest: MOST_OF_LEAST,
            });
        }
        Ok(TypeBookRules { significance, least: least as u32 })
    }
}
