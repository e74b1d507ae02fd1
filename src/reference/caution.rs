//! Cautions: what law and duty may ask of a dealer, as pointers, never as advice.

use super::source::{Mark, words};
use std::fmt;

words! {
    /// What a caution is about.
    CautionKind {
        /// How a law sorts bars and coins.
        Classification = "classification",
        /// What a law may ask of a dealer.
        Obligation = "obligation",
    }
}

/// A pointer to a rule that a dealer should check; local law decides.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caution {
    /// What it is about.
    pub kind: CautionKind,
    /// Where it applies.
    pub place: String,
    /// A few words that name it.
    pub topic: String,
    /// What the rule says, in own words.
    pub text: String,
    /// Where it was found.
    pub source: String,
    /// How it is known.
    pub mark: Mark,
}
