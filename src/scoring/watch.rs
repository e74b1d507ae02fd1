//! What the desk watches for: physics says what is not excluded, and a desk cannot hold for all of it.
//!
//! A possibility holds a piece only when its practice class is watched *and* it pays: what it displaces, less what the substitute is
//! worth itself, less what it costs to make, is a share of the metal's value or an absolute stake, and never below a least sum.

use super::assessment::Construction;
use super::policy::{PolicyError, number};
use crate::quantity::{Currency, Money};
use crate::reference::{Kind, Practice};
use serde::Deserialize;

/// Skin in mm up to which a core is a plated piece and not a built one.
const PLATED_TO_MM: f64 = 0.05;
/// Mass in grams from which a bar is a large one.
const LARGE_FROM_G: f64 = 100.0;

/// The rules as written in the policy; a file written before the watch list does not have them.
#[derive(Deserialize, Clone)]
#[serde(deny_unknown_fields, default)]
pub(super) struct WatchText {
    hold: Vec<String>,
    core_share: String,
    solid_share: String,
    stake: String,
    least_share: String,
    least: String,
    two_quantities: String,
    fill_scatter: String,
    fill_scatter_worn: String,
    negligible: String,
    making_plated: String,
    making_core: String,
    making_core_of_large_bar: String,
}

impl Default for WatchText {
    fn default() -> Self {
        let text = |text: &str| text.to_owned();
        WatchText {
            hold: vec![text("met"), text("feasible")],
            core_share: text("20"),
            solid_share: text("5"),
            stake: text("500"),
            least_share: text("2"),
            least: text("20"),
            two_quantities: text("1000"),
            fill_scatter: text("2"),
            fill_scatter_worn: text("3"),
            negligible: text("0.25"),
            making_plated: text("5"),
            making_core: text("60"),
            making_core_of_large_bar: text("150"),
        }
    }
}

/// What the desk watches for, amounts in the policy's currency.
#[derive(Debug, Clone, PartialEq)]
pub struct WatchRules {
    /// Practice classes that hold.
    pub hold: Vec<Practice>,
    /// Share of the piece's metal value from which a core or an insert pays.
    pub core_share: f64,
    /// The same for a piece of one other material throughout.
    pub solid_share: f64,
    /// Gain from which anything pays, whatever its share.
    pub stake: Money,
    /// Share of the metal below which nothing pays, whatever the sum: no method of a desk proves less of a large bar.
    pub least_share: f64,
    /// Gain below which nothing pays.
    pub least: Money,
    /// Metal value from which mixtures that no list names are asked for by two independent quantities.
    pub two_quantities: f64,
    /// Scatter of the fill between pieces of one type, as a share.
    pub fill_scatter: f64,
    /// The same of circulated pieces.
    pub fill_scatter_worn: f64,
    /// Share of its mass that a piece may fall short without a doubt.
    pub negligible: f64,
    /// What a plated piece of something else costs to make.
    pub making_plated: Money,
    /// What a core under a built skin costs to make, in a coin or a bar below 100 g.
    pub making_core: Money,
    /// The same in a bar of 100 g or more.
    pub making_core_of_large_bar: Money,
}

impl WatchRules {
    /// Reads the rules.
    pub(super) fn read(file: &str, text: &WatchText, currency: Currency) -> Result<Self, PolicyError> {
        let money = |field: &'static str, text: &str| {
            Money::parse(text, currency).map_err(|source| PolicyError::Money {
                file: file.to_owned(),
                field,
                source,
            })
        };
        let percent = |field, text: &str, most| number(file, field, text, 0.0, most).map(|p| p / 100.0);
        let mut hold = Vec::new();
        for word in &text.hold {
            let class = Practice::from_word(word).ok_or_else(|| PolicyError::Word {
                file: file.to_owned(),
                field: "watch.hold",
                found: word.clone(),
                allowed: "met, feasible, remote".to_owned(),
            })?;
            hold.push(class);
        }
        Ok(WatchRules {
            hold,
            core_share: percent("watch.core_share", &text.core_share, 100.0)?,
            solid_share: percent("watch.solid_share", &text.solid_share, 100.0)?,
            stake: money("watch.stake", &text.stake)?,
            least_share: percent("watch.least_share", &text.least_share, 50.0)?,
            least: money("watch.least", &text.least)?,
            two_quantities: money("watch.two_quantities", &text.two_quantities)?.as_f64(),
            fill_scatter: percent("watch.fill_scatter", &text.fill_scatter, 20.0)?,
            fill_scatter_worn: percent("watch.fill_scatter_worn", &text.fill_scatter_worn, 20.0)?,
            negligible: percent("watch.negligible", &text.negligible, 5.0)?,
            making_plated: money("watch.making_plated", &text.making_plated)?,
            making_core: money("watch.making_core", &text.making_core)?,
            making_core_of_large_bar: money(
                "watch.making_core_of_large_bar",
                &text.making_core_of_large_bar,
            )?,
        })
    }

    /// Tells whether pieces of a practice class are held for.
    pub fn holds(&self, practice: Practice) -> bool {
        self.hold.contains(&practice)
    }

    /// Returns what a substitution costs to make; `skin` in mm.
    pub fn making(&self, built: Construction, kind: Kind, grams: f64, skin: f64) -> f64 {
        let plated = built == Construction::Solid || (built == Construction::Core && skin < PLATED_TO_MM);
        let cost = if plated {
            &self.making_plated
        } else if kind == Kind::Bar && grams >= LARGE_FROM_G {
            &self.making_core_of_large_bar
        } else {
            &self.making_core
        };
        cost.as_f64()
    }

    /// Tells whether a substitution pays: `displaced` is the share of the fine metal that is missing, `value` what all of it is
    /// worth, `costs` what the substitute and its making cost. Without a price the shares alone decide.
    pub fn pays(&self, built: Construction, displaced: f64, value: Option<f64>, costs: f64) -> bool {
        if displaced < self.least_share {
            return false;
        }
        let share = if built == Construction::Solid { self.solid_share } else { self.core_share };
        match value {
            None => displaced >= share,
            Some(value) => {
                let gain = displaced * value - costs;
                gain >= self.least.as_f64() && (gain >= share * value || gain >= self.stake.as_f64())
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scoring::Policy;

    #[test]
    fn a_gain_counts_by_share_or_by_stake_and_never_below_the_least() {
        let watch = Policy::built_in().watch;
        let core = |displaced, value, costs| watch.pays(Construction::Core, displaced, Some(value), costs);
        // A tenth of 2400 is below a fifth and below 500.
        assert!(!core(0.1, 2400.0, 60.0) && core(0.3, 2400.0, 60.0));
        // A thirtieth of a kilobar is more than the stake; a hundredth is more than anybody can prove.
        assert!(core(0.03, 80_000.0, 150.0) && !core(0.01, 80_000.0, 150.0));
        // All of a silver ounce does not pay for a built core.
        assert!(!core(1.0, 30.0, 60.0));
        assert!(watch.pays(Construction::Solid, 1.0, Some(30.0), 5.3));
        assert!(
            watch.pays(Construction::Solid, 0.06, None, 5.0)
                && !watch.pays(Construction::Core, 0.06, None, 5.0)
        );
    }
}
