//! The finder: what is typed, and what fits it so far.

use super::message::Trouble;
use crate::desk::Hit;
use tui_input::Input;

/// The finder.
#[derive(Debug, Clone, Default)]
pub struct Finder {
    /// What is typed.
    pub input: Input,
    /// What fits the text that was answered.
    pub hits: Vec<Hit>,
    /// The text that the hits belong to.
    pub answered: String,
    /// Selected hit.
    pub selected: usize,
    /// Whether somebody chose it: then Enter opens it though others are named just so.
    pub chosen: bool,
    /// Why nothing was opened.
    pub fault: Option<Trouble>,
}

impl Finder {
    /// Returns the text as it is looked up.
    pub fn text(&self) -> &str {
        self.input.value().trim()
    }

    /// Tells whether the hits belong to what is typed.
    pub fn is_answered(&self) -> bool {
        self.answered == self.text()
    }
}
