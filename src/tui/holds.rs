//! What the holds screen knows: open doubts by piece and by lot, those that look alike folded into one row.

use super::state::ListFilter;
use crate::desk::review_views::OpenGroup;
use crate::desk::views::HoldView;
use crate::present::holds::{best_text, kinds_text};
use crate::scoring::Scope;
use std::collections::{BTreeSet, HashMap};

/// From so many pieces of a lot on that look alike, one row stands for all of them.
const FOLD_FROM: usize = 3;

/// The open doubts of a piece or a lot, with what the list needs of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// The doubts.
    pub group: OpenGroup,
    /// The kinds of the doubts in words.
    pub kinds: String,
    /// What to try first.
    pub first: String,
    /// Everything that the filter looks into.
    text: String,
}

impl Held {
    fn of(group: OpenGroup) -> Self {
        let mut text = group.number.clone();
        for doubt in &group.doubts {
            let product = [&doubt.product_name, doubt.product.as_str()];
            let words = crate::present::causes::cause_text(&doubt.cause);
            for part in [doubt.lot.as_str(), &doubt.source, &doubt.operator, &words].iter().chain(&product) {
                text.push(' ');
                text.push_str(part);
            }
            text.push(' ');
            text.push_str(doubt.kind.label());
        }
        let (kinds, first) = (kinds_text(&group.doubts), best_text(&group.doubts));
        Held { group, kinds, first, text }
    }

    /// Returns the number of the lot.
    pub fn lot(&self) -> &str {
        match (self.group.doubts.first(), self.group.scope) {
            (Some(doubt), _) => &doubt.lot,
            (None, Scope::Lot) => &self.group.number,
            (None, Scope::Piece) => {
                self.group.number.rsplit_once('-').map_or(self.group.number.as_str(), |(lot, _)| lot)
            }
        }
    }

    /// Returns what the rows that are folded into one have in common.
    fn alike(&self) -> String {
        format!("{} {:?} {} {}", self.lot(), self.group.standing, self.kinds, self.first)
    }
}

/// One row of the list.
#[derive(Debug, Clone, PartialEq)]
pub enum HoldRow<'a> {
    /// A piece or a lot.
    One {
        /// It.
        held: &'a Held,
        /// Whether it belongs to the unfolded row above it.
        inside: bool,
    },
    /// Pieces of a lot that look alike.
    Fold {
        /// The pieces, at least three.
        held: Vec<&'a Held>,
        /// Whether they are also listed one by one.
        open: bool,
    },
}

impl<'a> HoldRow<'a> {
    /// Returns the piece or lot, or the first of those folded.
    pub fn first(&self) -> &'a Held {
        match self {
            HoldRow::One { held, .. } => held,
            HoldRow::Fold { held, .. } => held[0],
        }
    }

    /// Returns the numbers of its pieces; none for a lot.
    pub fn pieces(&self) -> Vec<String> {
        match self {
            HoldRow::One { held, .. } if held.group.scope == Scope::Lot => Vec::new(),
            HoldRow::One { held, .. } => vec![held.group.number.clone()],
            HoldRow::Fold { held, .. } => held.iter().map(|held| held.group.number.clone()).collect(),
        }
    }

    /// Returns what names the row after the list was read again.
    fn key(&self) -> String {
        match self {
            HoldRow::One { held, .. } => held.group.number.clone(),
            HoldRow::Fold { held, .. } => held[0].alike(),
        }
    }
}

/// The list of holds.
#[derive(Debug, Clone, Default)]
pub struct Holds {
    /// The open doubts by piece and by lot, as the desk ordered them: worst money first.
    pub held: Vec<Held>,
    /// Selected row among those shown.
    pub selected: usize,
    /// The filter.
    pub filter: ListFilter,
    /// Numbers of the pieces that are marked.
    pub marked: BTreeSet<String>,
    /// The rows that are unfolded.
    open: BTreeSet<String>,
}

impl Holds {
    /// Takes the doubts as the desk has them now; the selection stays on its piece, marks of pieces that are settled go.
    pub fn set(&mut self, groups: Vec<OpenGroup>) {
        let selected = self.current().map(|row| (row.key(), row.first().group.number.clone()));
        self.held = groups.into_iter().map(Held::of).collect();
        let numbers: BTreeSet<&str> = self.held.iter().map(|held| held.group.number.as_str()).collect();
        self.marked.retain(|number| numbers.contains(number.as_str()));
        let place = selected.and_then(|(key, number)| {
            let rows = self.rows();
            let by_key = rows.iter().position(|row| row.key() == key);
            by_key.or_else(|| rows.iter().position(|row| row.pieces().contains(&number)))
        });
        let last = self.rows().len().saturating_sub(1);
        self.selected = place.unwrap_or(self.selected).min(last);
    }

    /// Returns the rows that pass the filter: those of a lot together, in the order in which their lots first appear, its
    /// own doubts before those of its pieces.
    pub fn rows(&self) -> Vec<HoldRow<'_>> {
        let passing: Vec<&Held> = self.held.iter().filter(|held| self.filter.passes(&held.text)).collect();
        let mut lots: Vec<(&str, Vec<&Held>)> = Vec::new();
        let mut places: HashMap<&str, usize> = HashMap::new();
        for held in passing {
            let place = *places.entry(held.lot()).or_insert_with(|| {
                lots.push((held.lot(), Vec::new()));
                lots.len() - 1
            });
            lots[place].1.push(held);
        }
        lots.iter().flat_map(|(_, held)| self.rows_of(held)).collect()
    }

    /// Returns the rows of one lot.
    fn rows_of<'a>(&self, held: &[&'a Held]) -> Vec<HoldRow<'a>> {
        let mut rows: Vec<HoldRow<'a>> = Vec::new();
        let (lot, pieces): (Vec<&Held>, Vec<&Held>) =
            held.iter().partition(|held| held.group.scope == Scope::Lot);
        rows.extend(lot.into_iter().map(|held| HoldRow::One { held, inside: false }));
        let mut alike: Vec<(String, Vec<&'a Held>)> = Vec::new();
        let mut places: HashMap<String, usize> = HashMap::new();
        for held in pieces {
            let key = held.alike();
            let place = *places.entry(key.clone()).or_insert_with(|| {
                alike.push((key, Vec::new()));
                alike.len() - 1
            });
            alike[place].1.push(held);
        }
        for (key, mut held) in alike {
            if held.len() < FOLD_FROM {
                rows.extend(held.into_iter().map(|held| HoldRow::One { held, inside: false }));
                continue;
            }
            held.sort_by_key(|held| (held.group.number.len(), held.group.number.clone()));
            let open = self.open.contains(&key);
            rows.push(HoldRow::Fold { held: held.clone(), open });
            if open {
                rows.extend(held.into_iter().map(|held| HoldRow::One { held, inside: true }));
            }
        }
        rows
    }

    /// Returns the selected row.
    pub fn current(&self) -> Option<HoldRow<'_>> {
        let mut rows = self.rows();
        (self.selected < rows.len()).then(|| rows.swap_remove(self.selected))
    }

    /// Folds or unfolds the selected row; tells whether it is one that can be.
    pub fn turn(&mut self) -> bool {
        let Some(row @ HoldRow::Fold { .. }) = self.current() else { return false };
        let key = row.key();
        if !self.open.remove(&key) {
            self.open.insert(key);
        }
        true
    }

    /// Marks the pieces of the selected row, or takes the marks off when all of them are marked, and goes on to the next.
    pub fn mark(&mut self) {
        let Some(row) = self.current() else { return };
        let numbers: Vec<String> = match &row {
            // The row of a lot stands for its pieces on the list.
            HoldRow::One { held, .. } if held.group.scope == Scope::Lot => {
                let whole = self.held.iter().filter(|other| other.lot() == held.lot());
                let pieces = whole.filter(|other| other.group.scope == Scope::Piece);
                pieces.map(|piece| piece.group.number.clone()).collect()
            }
            row => row.pieces(),
        };
        if numbers.iter().all(|number| self.marked.contains(number)) {
            self.marked.retain(|number| !numbers.contains(number));
        } else {
            self.marked.extend(numbers);
        }
        let last = self.rows().len().saturating_sub(1);
        self.selected = (self.selected + 1).min(last);
    }

    /// Returns the pieces that an act concerns: the marked ones, else those of the selected row.
    pub fn chosen(&self) -> Vec<String> {
        if self.marked.is_empty() {
            return self.current().map_or_else(Vec::new, |row| row.pieces());
        }
        self.marked.iter().cloned().collect()
    }

    /// Returns the kinds of doubts that are open in a lot, of its pieces or of itself, with one doubt each.
    pub fn kinds_in(&self, lot: &str) -> Vec<&HoldView> {
        let mut kinds: Vec<&HoldView> = Vec::new();
        let doubts = self.held.iter().filter(|held| held.lot() == lot).flat_map(|held| &held.group.doubts);
        for doubt in doubts {
            if !kinds.iter().any(|known| known.kind == doubt.kind) {
                kinds.push(doubt);
            }
        }
        kinds
    }
}
