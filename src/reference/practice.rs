//! The watch list: which substitutes have been met under a declared metal, and what they cost.
//!
//! What it is for: physics says what a reading does not exclude; this says what a desk meets. What it must never do:
//! decide that something is impossible, which only a reading can. Read next: [`super::catalogue`].

use super::material::{MaterialId, Metal};
use super::source::{Mark, SourceId, Sourced, words};
use std::collections::HashMap;
use std::fmt;

words! {
    /// What is known of a substitute under a declared metal.
    Practice {
        /// Such pieces have been met in trade.
        Met = "met",
        /// Could be made at a gain; not known to have been met.
        Feasible = "feasible",
        /// Controlled, as dear as what it would displace, or not to be worked into such a piece.
        Remote = "remote",
    }
}

words! {
    /// How a substitute is built into a piece.
    BuiltAs {
        /// The whole piece is of it, bare or plated.
        Solid = "solid",
        /// It lies under a skin of the declared alloy; rods and plugs let into a bar count as cores.
        Core = "core",
    }
}

/// One entry of the watch list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PracticeEntry {
    /// The metal that the piece is declared to be of; never `Other`.
    pub metal: Metal,
    /// How the substitute is built in.
    pub built: BuiltAs,
    /// The substitute.
    pub material: MaterialId,
    /// What is known of it.
    pub class: Practice,
    /// How that is known.
    pub mark: Mark,
    /// Where it comes from, the weightiest first.
    pub sources: Vec<SourceId>,
}

impl PracticeEntry {
    /// Returns what the entry is about, for messages: `gold core W`.
    pub(super) fn label(&self) -> String {
        format!("{} {} {}", self.metal, self.built, self.material)
    }
}

/// What a base material costs.
#[derive(Debug, Clone, PartialEq)]
pub struct WorthEntry {
    /// The material; never one of a precious metal.
    pub material: MaterialId,
    /// Price of a kilogram in the desk's currency, an order of magnitude.
    pub per_kg: Sourced<f64>,
}

/// Every entry, found by metal, way of building and material without a walk through the list.
#[derive(Debug, Clone, Default)]
pub(super) struct WatchList {
    entries: Vec<PracticeEntry>,
    places: HashMap<(Metal, BuiltAs), HashMap<MaterialId, usize>>,
    worths: Vec<WorthEntry>,
    worth_places: HashMap<MaterialId, usize>,
}

impl WatchList {
    /// Puts an entry in the place of the one about the same thing, or at the end.
    pub fn put(&mut self, entry: PracticeEntry) {
        let places = self.places.entry((entry.metal, entry.built)).or_default();
        match places.get(&entry.material) {
            Some(at) => self.entries[*at] = entry,
            None => {
                places.insert(entry.material.clone(), self.entries.len());
                self.entries.push(entry);
            }
        }
    }

    /// Puts the worth of a material in the place of the one before, or at the end.
    pub fn put_worth(&mut self, worth: WorthEntry) {
        match self.worth_places.get(&worth.material) {
            Some(at) => self.worths[*at] = worth,
            None => {
                self.worth_places.insert(worth.material.clone(), self.worths.len());
                self.worths.push(worth);
            }
        }
    }

    pub fn entry(&self, metal: Metal, built: BuiltAs, material: &MaterialId) -> Option<&PracticeEntry> {
        let at = self.places.get(&(metal, built))?.get(material)?;
        Some(&self.entries[*at])
    }

    pub fn entries(&self) -> impl ExactSizeIterator<Item = &PracticeEntry> {
        self.entries.iter()
    }

    pub fn worth(&self, material: &MaterialId) -> Option<&WorthEntry> {
        self.worth_places.get(material).map(|at| &self.worths[*at])
    }

    pub fn worths(&self) -> impl ExactSizeIterator<Item = &WorthEntry> {
        self.worths.iter()
    }
}
