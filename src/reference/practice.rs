//! Practice: which materials are met in the place of a declared metal, which could be, and which nobody would use; and what they cost.
//!
//! What it is for: physics leaves many things possible, and a desk watches for those that are made. What it must never do: judge a
//! piece. Every entry is a fact of the trade, marked "common practice, no source", and a desk lays its own over it.

use super::material::{MaterialId, Metal};
use super::source::words;
use std::collections::HashMap;
use std::fmt;

words! {
    /// How often a material is met in the place of a declared metal.
    Practice {
        /// Such pieces have been met.
        Met = "met",
        /// Could be made at a gain, not known to have been met.
        Feasible = "feasible",
        /// Controlled, dearer than what it would displace, or not to be worked into such a piece.
        Remote = "remote",
    }
}

words! {
    /// How the other material is built into a piece.
    BuiltAs {
        /// The piece is of it throughout, or plated over it.
        Solid = "solid",
        /// It lies under a skin of the declared alloy, or is let into it.
        Core = "core",
    }
}

/// Some materials of one practice class, as a file lists them.
#[derive(Debug, Clone, PartialEq)]
pub struct PracticeEntry {
    /// The declared metal.
    pub metal: Metal,
    /// How it is built.
    pub built: BuiltAs,
    /// How often it is met.
    pub class: Practice,
    /// The materials.
    pub materials: Vec<MaterialId>,
    /// Where that is known from.
    pub source: String,
}

/// What some materials cost.
#[derive(Debug, Clone, PartialEq)]
pub struct WorthEntry {
    /// An order of magnitude, in the currency of the desk for a kilogram.
    pub per_kg: f64,
    /// The materials.
    pub materials: Vec<MaterialId>,
    /// Where that is known from.
    pub source: String,
}

/// Everything that is known of practice.
#[derive(Debug, Clone, Default)]
pub(super) struct WatchList {
    pub(super) entries: Vec<PracticeEntry>,
    classes: HashMap<(Metal, BuiltAs, MaterialId), Practice>,
    worth: HashMap<MaterialId, f64>,
}

impl WatchList {
    pub(super) fn add(&mut self, entry: PracticeEntry) {
        for material in &entry.materials {
            self.classes.insert((entry.metal, entry.built, material.clone()), entry.class);
        }
        self.entries.push(entry);
    }

    pub(super) fn add_worth(&mut self, entry: WorthEntry) {
        for material in entry.materials {
            self.worth.insert(material, entry.per_kg);
        }
    }

    /// Returns the class of a material; what is in no list is feasible.
    pub(super) fn class(&self, metal: Metal, built: BuiltAs, material: &MaterialId) -> Practice {
        self.classes.get(&(metal, built, material.clone())).copied().unwrap_or(Practice::Feasible)
    }

    pub(super) fn worth(&self, material: &MaterialId) -> Option<f64> {
        self.worth.get(material).copied()
    }
}
