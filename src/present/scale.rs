//! Round marks on an axis and the way from values to places, for every plot.

/// The way from the values of an axis to places on paper or on a screen.
#[derive(Clone, Copy, Debug)]
pub struct Scale {
    /// Value at the start.
    pub from: f64,
    /// Value at the end.
    pub to: f64,
    /// Place of the start.
    pub start: f64,
    /// Place of the end.
    pub end: f64,
}

impl Scale {
    /// Returns the place of a value, also beyond the ends.
    pub fn place(&self, value: f64) -> f64 {
        self.start + (value - self.from) / (self.to - self.from) * (self.end - self.start)
    }

    /// Returns the place of a value, at the nearer end for values beyond.
    pub fn place_within(&self, value: f64) -> f64 {
        self.place(value.clamp(self.from, self.to))
    }

    /// Tells whether a value lies on the axis.
    pub fn holds(&self, value: f64) -> bool {
        (self.from..=self.to).contains(&value)
    }
}

/// Round marks with the decimals that tell them apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Ticks {
    /// Where they stand, rising.
    pub values: Vec<f64>,
    decimals: usize,
}

impl Ticks {
    /// Returns at most about `most` marks from `from` to `to`, a multiple of 1, 2 or 5 times a power of ten apart.
    ///
    /// `from` below `to`, both finite; `most` at least 2.
    pub fn between(from: f64, to: f64, most: usize) -> Ticks {
        let step = round_step((to - from) / most.max(2) as f64);
        let (first, last) = ((from / step - 1e-6).ceil(), (to / step + 1e-6).floor());
        let count = ((last - first).clamp(0.0, 100.0)) as usize;
        let values = (0..=count).map(|index| (first + index as f64) * step).collect();
        Ticks { values, decimals: decimals(step) }
    }

    /// Returns what is written at a mark.
    pub fn text(&self, value: f64) -> String {
        let text = format!("{value:.*}", self.decimals);
        // A mark at zero may be a negative zero by rounding.
        if text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') {
            text.trim_start_matches('-').to_owned()
        } else {
            text
        }
    }
}

/// Returns the smallest of 1, 2 or 5 times a power of ten that is not below a step.
pub fn round_step(least: f64) -> f64 {
    let power = 10f64.powf(least.max(1e-12).log10().floor());
    let factor = [1.0, 2.0, 5.0, 10.0].into_iter().find(|factor| factor * power >= least * (1.0 - 1e-9));
    factor.unwrap_or(10.0) * power
}

/// Returns the decimals that a round step needs.
pub fn decimals(step: f64) -> usize {
    (-(step * 1.000_001).log10().floor()).clamp(0.0, 9.0) as usize
}

/// Returns least and greatest of the values with a margin in parts of their range.
///
/// Values that are not finite are passed over; without any, 0 to 1.
pub fn range_around(values: impl IntoIterator<Item = f64>, part: f64) -> (f64, f64) {
    let finite = values.into_iter().filter(|value| value.is_finite());
    let (least, greatest) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, greatest), value| {
        (least.min(value), greatest.max(value))
    });
    if least > greatest {
        return (0.0, 1.0);
    }
    let extent = greatest - least;
    let margin = match extent > 0.0 {
        true => part * extent,
        false => (1e-4 * least.abs()).max(1e-9),
    };
    (least - margin, greatest + margin)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_within_the_range_and_written_with_the_decimals_they_need() {
        let check = |from, to, most, expected: &[&str]| {
            let ticks = Ticks::between(from, to, most);
            assert_eq!(ticks.values.iter().map(|&v| ticks.text(v)).collect::<Vec<_>>(), expected);
        };
        check(0.0, 10.0, 5, &["0", "2", "4", "6", "8", "10"]);
        check(-0.3, 0.25, 6, &["-0.3", "-0.2", "-0.1", "0.0", "0.1", "0.2"]);
        check(31.08, 31.13, 5, &["31.08", "31.09", "31.10", "31.11", "31.12", "31.13"]);
        check(18.9, 19.42, 4, &["19.0", "19.2", "19.4"]);
        check(-100.0, 0.0, 4, &["-100", "-50", "0"]);
    }

    #[test]
    fn a_range_without_extent_or_without_values_can_be_drawn() {
        assert_eq!(range_around([], 0.06), (0.0, 1.0));
        assert_eq!(range_around([f64::NAN, f64::INFINITY], 0.06), (0.0, 1.0));
        let (from, to) = range_around([0.0], 0.06);
        assert!(from < 0.0 && to > 0.0);
        let (from, to) = range_around([31.1, 31.1], 0.06);
        assert!(from < 31.1 && 31.1 < to);
    }
}
