//! What each method takes on this desk: time, fee, damage; and the order that follows.

use super::doubt::{Cost, Damage, Method};
use super::policy::{PolicyError, number};
use crate::quantity::{Currency, Money};
use rust_decimal::Decimal;
use serde::Deserialize;
use std::collections::BTreeMap;

/// Costs as written in the policy.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields)]
pub(super) struct MethodsText {
    minute: Option<String>,
    #[serde(default)]
    cost: BTreeMap<String, CostText>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CostText {
    minutes: String,
    fee: String,
    damage: String,
}

/// What every method takes.
#[derive(Debug, Clone, PartialEq)]
pub struct MethodCosts {
    /// What a minute of a person at the desk costs.
    minute: Money,
    /// In the order of [`Method::ALL`].
    costs: Vec<Cost>,
    /// Place of each method, cheapest first, what destroys last; in the order of [`Method::ALL`].
    ranks: Vec<usize>,
}

impl MethodCosts {
    /// Returns what a method takes.
    pub fn cost(&self, method: Method) -> Cost {
        self.costs[place(method)]
    }

    /// Returns what a method costs in money, its minutes included.
    pub fn price(&self, method: Method) -> Money {
        let cost = self.cost(method);
        let amount = cost.fee.amount + self.minute.amount * Decimal::from(cost.minutes);
        Money { amount, ..cost.fee }
    }

    /// Returns the place of a method among all, from 0: what destroys comes after what does not, then the cheaper first.
    pub fn rank(&self, method: Method) -> usize {
        self.ranks[place(method)]
    }

    /// Reads the costs; a method that is not named takes what it takes in `base`.
    pub(super) fn read(
        file: &str,
        text: &MethodsText,
        currency: Currency,
        base: Option<&MethodCosts>,
    ) -> Result<Self, PolicyError> {
        let money = |field: &'static str, text: &str| {
            Money::parse(text, currency).map_err(|source| PolicyError::Money {
                file: file.to_owned(),
                field,
                source,
            })
        };
        if let Some(unknown) = text.cost.keys().find(|word| Method::named(word).is_none()) {
            return Err(PolicyError::Word {
                file: file.to_owned(),
                field: "methods.cost",
                found: unknown.clone(),
                allowed: Method::ALL.map(Method::word).join(", "),
            });
        }
        let minute = match (&text.minute, base) {
            (Some(minute), _) => money("methods.minute", minute)?,
            (None, Some(base)) => Money { currency, ..base.minute },
            (None, None) => Money { amount: Decimal::ZERO, currency },
        };
        let mut costs = Vec::with_capacity(Method::ALL.len());
        for method in Method::ALL {
            costs.push(match (text.cost.get(method.word()), base) {
                (Some(cost), _) => Cost {
                    minutes: number(file, "methods.cost minutes", &cost.minutes, 0.0, 100_000.0)?.round()
                        as u32,
                    fee: money("methods.cost fee", &cost.fee)?,
                    damage: Damage::named(&cost.damage).ok_or_else(|| PolicyError::Word {
                        file: file.to_owned(),
                        field: "methods.cost damage",
                        found: cost.damage.clone(),
                        allowed: "none, surface, destroys".to_owned(),
                    })?,
                },
                (None, Some(base)) => {
                    let cost = base.cost(method);
                    Cost { fee: Money { currency, ..cost.fee }, ..cost }
                }
                (None, None) => {
                    Cost { minutes: 0, fee: Money { amount: Decimal::ZERO, currency }, damage: Damage::None }
                }
            });
        }
        let mut read = MethodCosts { minute, costs, ranks: vec![0; Method::ALL.len()] };
        let mut order: Vec<usize> = (0..Method::ALL.len()).collect();
        order.sort_by_key(|&place| {
            let method = Method::ALL[place];
            let damage = read.costs[place].damage;
            (damage == Damage::Destroys, read.price(method).amount, damage, place)
        });
        for (rank, place) in order.into_iter().enumerate() {
            read.ranks[place] = rank;
        }
        Ok(read)
    }
}

/// Returns the place of a method in [`Method::ALL`].
fn place(method: Method) -> usize {
    Method::ALL.iter().position(|other| *other == method).expect("every method is listed")
}
