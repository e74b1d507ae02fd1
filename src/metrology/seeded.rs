//! Reproducible random numbers and the random selection of pieces: the seed comes from the caller and is logged.
//!
//! Not for secrets: whoever knows the seed knows the selection.

/// The SplitMix64 generator.
///
/// # Source
/// G. Steele, D. Lea and C. Flood, Fast splittable pseudorandom number generators, OOPSLA 2014 (constants from memory).
#[derive(Debug, Clone, PartialEq)]
pub struct SplitMix64 {
    state: u64,
    spare_normal: Option<f64>,
}

impl SplitMix64 {
    /// Starts the sequence of a seed; every seed is as good as any other.
    pub fn new(seed: u64) -> Self {
        SplitMix64 { state: seed, spare_normal: None }
    }

    /// Returns the next 64 random bits.
    pub fn next_bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Returns a number from 0 up to but not including `bound`, each equally likely; 0 for a bound of 0.
    pub fn below(&mut self, bound: u64) -> u64 {
        if bound == 0 {
            return 0;
        }
        // The last, incomplete run of `bound` numbers would favour the small ones; it is drawn again.
        let incomplete = (u64::MAX % bound + 1) % bound;
        loop {
            let bits = self.next_bits();
            if bits <= u64::MAX - incomplete {
                return bits % bound;
            }
        }
    }

    /// Returns a number from 0 up to but not including 1, in steps of 2⁻⁵³.
    pub fn uniform(&mut self) -> f64 {
        (self.next_bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Returns a standard normal number.
    ///
    /// # Source
    /// G. Marsaglia and T. Bray, SIAM Review 6 (1964), 260–264 (polar method).
    pub fn standard_normal(&mut self) -> f64 {
        if let Some(spare) = self.spare_normal.take() {
            return spare;
        }
        loop {
            let (x, y) = (2.0 * self.uniform() - 1.0, 2.0 * self.uniform() - 1.0);
            let square = x * x + y * y;
            if square > 0.0 && square < 1.0 {
                let factor = (-2.0 * square.ln() / square).sqrt();
                self.spare_normal = Some(y * factor);
                return x * factor;
            }
        }
    }
}

/// A random selection, with everything needed to make it again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Selection {
    /// The seed it was made with.
    pub seed: u64,
    /// Number of pieces it was made from.
    pub population: usize,
    /// The chosen positions, from 0, rising.
    pub chosen: Vec<usize>,
}

/// Selects pieces without replacement; every set of `count` is equally likely over the seeds.
///
/// `None` when more are asked for than there are.
///
/// # Source
/// R. Durstenfeld, Communications of the ACM 7 (1964), 420, algorithm 235, stopped after `count` steps.
pub fn select(population: usize, count: usize, seed: u64) -> Option<Selection> {
    if count > population {
        return None;
    }
    let mut random = SplitMix64::new(seed);
    let mut positions: Vec<usize> = (0..population).collect();
    for place in 0..count {
        let other = place + random.below((population - place) as u64) as usize;
        positions.swap(place, other);
    }
    positions.truncate(count);
    positions.sort_unstable();
    Some(Selection { seed, population, chosen: positions })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sequence_is_the_published_one() {
        // Outputs of the reference implementation for seed 1234567 (from memory).
        let mut random = SplitMix64::new(1_234_567);
        for expected in [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423] {
            assert_eq!(random.next_bits(), expected);
        }
    }

    #[test]
    fn a_selection_is_reproducible_and_has_no_piece_twice() {
        let selection = select(500, 56, 7).unwrap();
        assert_eq!(selection, select(500, 56, 7).unwrap());
        assert_ne!(selection.chosen, select(500, 56, 8).unwrap().chosen);
        assert_eq!(selection.chosen.len(), 56);
        assert!(selection.chosen.windows(2).all(|pair| pair[0] < pair[1]) && selection.chosen[55] < 500);
        assert_eq!(select(3, 4, 1), None);
        assert_eq!(select(3, 3, 1).unwrap().chosen, [0, 1, 2]);
        assert!(select(0, 0, 1).unwrap().chosen.is_empty());
    }

    #[test]
    fn every_piece_is_selected_equally_often() {
        let mut hits = [0_u32; 10];
        for seed in 0..5000 {
            for position in select(10, 3, seed).unwrap().chosen {
                hits[position] += 1;
            }
        }
        // 1500 expected each, standard deviation √(5000·0.3·0.7) = 32; five of them.
        assert!(hits.iter().all(|count| count.abs_diff(1500) < 162), "{hits:?}");
    }

    #[test]
    fn normal_numbers_have_mean_zero_and_variance_one() {
        let mut random = SplitMix64::new(42);
        let (mut sum, mut squares) = (0.0, 0.0);
        for _ in 0..20_000 {
            let z = random.standard_normal();
            sum += z;
            squares += z * z;
        }
        // Five standard deviations: 5/√n and 5·√(2/n).
        assert!((sum / 20_000.0).abs() < 0.036 && (squares / 20_000.0 - 1.0).abs() < 0.05);
    }
}
