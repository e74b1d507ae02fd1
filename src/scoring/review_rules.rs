//! What the end of the day asks for: who may release, and how long each kind of source is held.

use super::policy::{PolicyError, number};
use crate::quantity::{Currency, Money};
use serde::Deserialize;
use std::collections::BTreeMap;

/// Longest holding period in days; more is a slip of the keyboard.
const MOST_DAYS: f64 = 3650.0;

/// The rules as written in the policy; a file written before pieces were released does not have them.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields)]
pub(super) struct ReviewText {
    four_eyes: Option<String>,
    #[serde(default)]
    holding_days: BTreeMap<String, String>,
    #[serde(default)]
    source_kinds: BTreeMap<String, String>,
}

/// Who may release, and how long each kind of source is held.
#[derive(Debug, Clone, PartialEq)]
pub struct ReviewRules {
    /// Value of its fine metal above which a piece is released by somebody else than the person who logged it.
    pub four_eyes: Money,
    /// Days from receipt, by kind of source, before which nothing is released.
    pub holding_days: BTreeMap<String, u32>,
    /// Kinds of the sources that are known by name.
    pub source_kinds: BTreeMap<String, String>,
}

impl ReviewRules {
    /// Returns the kind of a source that the policy names; upper and lower case are alike.
    pub fn kind_of(&self, source: &str) -> Option<&str> {
        let wanted = source.trim().to_lowercase();
        self.source_kinds
            .iter()
            .find(|(name, _)| name.trim().to_lowercase() == wanted)
            .map(|(_, kind)| kind.as_str())
    }

    /// Reads the rules; what is not given is taken from the shipped policy, its amounts in the policy's currency.
    pub(super) fn read(
        file: &str,
        text: &ReviewText,
        currency: Currency,
        shipped: Option<&ReviewText>,
    ) -> Result<Self, PolicyError> {
        let four_eyes =
            text.four_eyes.as_deref().or(shipped.and_then(|shipped| shipped.four_eyes.as_deref()));
        let four_eyes = Money::parse(four_eyes.unwrap_or("0"), currency).map_err(|source| {
            PolicyError::Money { file: file.to_owned(), field: "review.four_eyes", source }
        })?;
        let mut holding_days = BTreeMap::new();
        for (kind, days) in &text.holding_days {
            let days = number(file, "review.holding_days", days, 0.0, MOST_DAYS)?;
            holding_days.insert(kind.clone(), days.ceil() as u32);
        }
        let mut kinds = text.source_kinds.values();
        if let Some(kind) = kinds.find(|kind| !holding_days.contains_key(*kind)) {
            return Err(PolicyError::Word {
                file: file.to_owned(),
                field: "review.source_kinds",
                found: kind.clone(),
                allowed: holding_days.keys().cloned().collect::<Vec<_>>().join(", "),
            });
        }
        Ok(ReviewRules { four_eyes, holding_days, source_kinds: text.source_kinds.clone() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scoring::Policy;

    const SHIPPED: &str = include_str!("../../assets/desk/policy.toml");

    fn with(rules: &str) -> Result<Policy, PolicyError> {
        let head = &SHIPPED[..SHIPPED.find("[review]").unwrap()];
        Policy::parse("mine.toml", &format!("{head}{rules}"))
    }

    #[test]
    fn a_source_known_by_name_has_the_holding_days_of_its_kind() {
        let rules = with(
            "[review]\nholding_days = { private = \"14\" }\nsource_kinds = { \"Walk-in\" = \"private\" }\n",
        );
        let rules = rules.unwrap().review;
        assert_eq!(rules.kind_of(" walk-in "), Some("private"));
        assert_eq!(rules.holding_days["private"], 14);
        assert_eq!(rules.kind_of("Moonpond"), None);
        assert_eq!(rules.four_eyes.to_string(), "1000 EUR");
    }

    #[test]
    fn a_kind_without_days_and_days_out_of_range_are_named() {
        let error =
            with("[review]\nholding_days = { private = \"14\" }\nsource_kinds = { W = \"privat\" }\n")
                .unwrap_err();
        assert_eq!(error.to_string(), "mine.toml: `review.source_kinds`: `privat` is not one of private");
        let error = with("[review]\nholding_days = { private = \"99999\" }\n").unwrap_err();
        assert_eq!(
            error.to_string(),
            "mine.toml: `review.holding_days`: `99999` is not a number from 0 to 3650"
        );
    }
}
