//! An uncertainty budget: line by line what contributes to one uncertainty, and from where the number comes.

use super::normal;
use super::uncertain::UncertainError;

/// One line of a budget.
///
/// # Source
/// JCGM 100:2008, clause 8, and example H.1, table H.1 (columns).
#[derive(Debug, Clone, PartialEq)]
pub struct BudgetLine {
    name: String,
    standard_uncertainty: f64,
    sensitivity: f64,
    degrees_of_freedom: f64,
    source: String,
}

impl BudgetLine {
    /// Makes a line with infinite degrees of freedom.
    ///
    /// `standard_uncertainty` in the input's unit, `sensitivity` in the result's unit per unit of the input, `source` in
    /// words for people.
    ///
    /// # Errors
    /// `BadUncertainty` for a negative, infinite or missing uncertainty, `BadLine` for a sensitivity that is not finite.
    pub fn new(
        name: impl Into<String>,
        standard_uncertainty: f64,
        sensitivity: f64,
        source: impl Into<String>,
    ) -> Result<Self, UncertainError> {
        if !(standard_uncertainty.is_finite() && standard_uncertainty >= 0.0) {
            return Err(UncertainError::BadUncertainty { found: standard_uncertainty });
        }
        if !sensitivity.is_finite() {
            return Err(UncertainError::BadLine { name: "sensitivity", found: sensitivity });
        }
        Ok(BudgetLine {
            name: name.into(),
            standard_uncertainty,
            sensitivity,
            degrees_of_freedom: f64::INFINITY,
            source: source.into(),
        })
    }

    /// Sets the degrees of freedom, above zero; infinite is allowed.
    ///
    /// # Errors
    /// `BadLine` for anything else.
    pub fn with_degrees_of_freedom(self, degrees_of_freedom: f64) -> Result<Self, UncertainError> {
        if degrees_of_freedom > 0.0 {
            Ok(BudgetLine { degrees_of_freedom, ..self })
        } else {
            Err(UncertainError::BadLine { name: "degrees of freedom", found: degrees_of_freedom })
        }
    }

    /// Returns the name of the input.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Returns the input's standard uncertainty, in the input's unit.
    pub fn standard_uncertainty(&self) -> f64 {
        self.standard_uncertainty
    }

    /// Returns the sensitivity: change of the result per change of the input.
    pub fn sensitivity(&self) -> f64 {
        self.sensitivity
    }

    /// Returns the degrees of freedom; infinite when the uncertainty is taken as known.
    pub fn degrees_of_freedom(&self) -> f64 {
        self.degrees_of_freedom
    }

    /// Returns where the number comes from.
    pub fn source(&self) -> &str {
        &self.source
    }

    /// Returns the contribution to the result's standard uncertainty: |sensitivity| times u, in the result's unit.
    pub fn contribution(&self) -> f64 {
        self.sensitivity.abs() * self.standard_uncertainty
    }
}

/// The lines of one budget; the inputs are taken as independent of each other.
///
/// For inputs that share an error use [`super::Uncertain`], which knows them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Budget {
    lines: Vec<BudgetLine>,
}

impl Budget {
    /// Makes a budget from its lines, any number, in the order to be shown.
    pub fn new(lines: Vec<BudgetLine>) -> Self {
        Budget { lines }
    }

    /// Adds a line at the end.
    pub fn push(&mut self, line: BudgetLine) {
        self.lines.push(line);
    }

    /// Returns the lines in the order they were added.
    pub fn lines(&self) -> &[BudgetLine] {
        &self.lines
    }

    /// Returns the combined standard uncertainty: the root of the sum of the squared contributions.
    ///
    /// # Source
    /// JCGM 100:2008, equation 10.
    pub fn combined(&self) -> f64 {
        self.lines.iter().map(|line| line.contribution().powi(2)).sum::<f64>().sqrt()
    }

    /// Returns the expanded uncertainty U = k·u.
    pub fn expanded(&self, coverage_factor: f64) -> f64 {
        coverage_factor * self.combined()
    }

    /// Returns the effective degrees of freedom; infinite when no line limits them.
    pub fn effective_degrees_of_freedom(&self) -> f64 {
        let parts: Vec<(f64, f64)> =
            self.lines.iter().map(|line| (line.contribution(), line.degrees_of_freedom)).collect();
        welch_satterthwaite(self.combined(), &parts)
    }

    /// Returns the line that contributes most; `None` for an empty budget.
    pub fn largest(&self) -> Option<&BudgetLine> {
        self.lines.iter().max_by(|a, b| a.contribution().total_cmp(&b.contribution()))
    }
}

/// Returns the effective degrees of freedom u⁴/Σ(uᵢ⁴/νᵢ) of a combined standard uncertainty.
///
/// `parts`: (contribution in the unit of `combined`, degrees of freedom), any order, may be empty. Infinite when no part
/// has finite degrees of freedom. The standard truncates the result to a whole number before it looks up t.
///
/// # Source
/// JCGM 100:2008, G.4.1, equation G.2b (Welch–Satterthwaite).
pub fn welch_satterthwaite(combined: f64, parts: &[(f64, f64)]) -> f64 {
    let sum: f64 = parts.iter().map(|(contribution, nu)| contribution.powi(4) / nu).sum();
    if sum > 0.0 { combined.powi(4) / sum } else { f64::INFINITY }
}

/// Returns the coverage factor for a level of confidence: the two-sided quantile of Student's t.
///
/// `confidence` between 0 and 1, exclusive; infinite degrees of freedom give the normal distribution. `None` outside.
///
/// # Source
/// JCGM 100:2008, G.3 and table G.2.
pub fn coverage_factor(confidence: f64, degrees_of_freedom: f64) -> Option<f64> {
    // The lower tail keeps digits that (1 + p)/2 would lose; t is symmetric.
    if confidence > 0.0 && confidence < 1.0 {
        normal::student_t_quantile((1.0 - confidence) / 2.0, degrees_of_freedom).map(|t| -t)
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_budget_adds_contributions_in_squares_and_finds_the_largest() {
        let line = |name: &str, u, c| BudgetLine::new(name, u, c, "test").unwrap();
        let budget = Budget::new(vec![line("a", 3.0, 1.0), line("b", 2.0, -2.0)]);
        assert_eq!(budget.combined(), 5.0);
        assert_eq!(budget.expanded(2.0), 10.0);
        assert_eq!(budget.largest().unwrap().name(), "b");
        assert_eq!(budget.effective_degrees_of_freedom(), f64::INFINITY);
    }

    #[test]
    fn a_line_without_meaning_is_refused() {
        assert!(BudgetLine::new("a", -1.0, 1.0, "").is_err());
        assert!(BudgetLine::new("a", f64::NAN, 1.0, "").is_err());
        assert!(BudgetLine::new("a", 1.0, f64::INFINITY, "").is_err());
        assert!(BudgetLine::new("a", 1.0, 1.0, "").unwrap().with_degrees_of_freedom(0.0).is_err());
        assert_eq!(coverage_factor(1.0, 5.0), None);
        assert_eq!(coverage_factor(0.95, f64::NAN), None);
    }

    #[test]
    fn equal_parts_with_equal_freedom_add_their_freedom() {
        // JCGM 100:2008, G.4.1: for m equal parts ν_eff = m·ν.
        let line = |name: &str| {
            BudgetLine::new(name, 1.0, 1.0, "test").unwrap().with_degrees_of_freedom(5.0).unwrap()
        };
        let budget = Budget::new(vec![line("a"), line("b"), line("c")]);
        assert!((budget.effective_degrees_of_freedom() - 15.0).abs() < 1e-12);
    }
}
