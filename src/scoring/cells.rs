//! A set of cells of a grid, one bit each: readings and second tests are masks, and what is left is what no mask took.

/// A set of cells; all sets of one grid have the same length.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Cells {
    words: Vec<u64>,
    length: usize,
}

impl Cells {
    /// Returns the empty set over so many cells.
    pub(super) fn none(length: usize) -> Self {
        Cells { words: vec![0; length.div_ceil(64)], length }
    }

    /// Returns the set of the cells for which a rule holds.
    pub(super) fn of(length: usize, mut rule: impl FnMut(usize) -> bool) -> Self {
        let mut cells = Cells::none(length);
        for (place, word) in cells.words.iter_mut().enumerate() {
            let from = 64 * place;
            let mut bits = 0;
            for cell in from..length.min(from + 64) {
                bits |= u64::from(rule(cell)) << (cell - from);
            }
            *word = bits;
        }
        cells
    }

    pub(super) fn has(&self, cell: usize) -> bool {
        self.words[cell / 64] >> (cell % 64) & 1 == 1
    }

    pub(super) fn is_empty(&self) -> bool {
        self.words.iter().all(|word| *word == 0)
    }

    /// Adds the cells of another set.
    pub(super) fn add(&mut self, other: &Cells) {
        for (own, other) in self.words.iter_mut().zip(&other.words) {
            *own |= other;
        }
    }

    /// Returns the cells of this set that are not in another.
    pub(super) fn without(&self, other: &Cells) -> Cells {
        let words = self.words.iter().zip(&other.words).map(|(own, other)| own & !other).collect();
        Cells { words, length: self.length }
    }

    /// Returns the cells of both sets.
    pub(super) fn and(&self, other: &Cells) -> Cells {
        let words = self.words.iter().zip(&other.words).map(|(own, other)| own & other).collect();
        Cells { words, length: self.length }
    }

    /// Returns the cells of the set, rising.
    pub(super) fn iter(&self) -> impl Iterator<Item = usize> + '_ {
        self.words.iter().enumerate().flat_map(|(place, word)| {
            let mut left = *word;
            std::iter::from_fn(move || {
                (left != 0).then(|| {
                    let bit = left.trailing_zeros() as usize;
                    left &= left - 1;
                    64 * place + bit
                })
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_set_holds_what_its_rule_says_and_masks_take_away() {
        let threes = Cells::of(200, |cell| cell % 3 == 0);
        let fives = Cells::of(200, |cell| cell % 5 == 0);
        assert_eq!(threes.and(&fives).iter().collect::<Vec<_>>(), (0..200).step_by(15).collect::<Vec<_>>());
        assert!(threes.without(&fives).iter().all(|cell| cell % 3 == 0 && cell % 5 != 0));
        let mut both = threes.clone();
        both.add(&fives);
        assert!(both.has(9) && both.has(10) && !both.has(11) && !both.is_empty());
        assert!(Cells::none(130).is_empty());
    }
}
