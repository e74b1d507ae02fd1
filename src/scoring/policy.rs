//! What a desk holds and what it lets pass: one TOML file, versioned by the hash of its text.

use super::method_costs::{MethodCosts, MethodsText};
use super::review_rules::{ReviewRules, ReviewText};
use super::type_book::{TypeBookRules, TypeBookText};
use super::watch::{WatchRules, WatchText};
use crate::quantity::entry::{EntryError, parse};
use crate::quantity::{Currency, Length, MoneyError};
use crate::reference::{Kind, Product, ProductId};
use serde::Deserialize;
use sha2::{Digest, Sha256};
use thiserror::Error;

/// The policy in effect.
#[derive(Debug, Clone, PartialEq)]
pub struct Policy {
    /// Currency of the limits and of the book.
    pub currency: Currency,
    /// Conformance probability from which a check is inside.
    pub inside: f64,
    /// Probability that stays on the right side of a limit when a check is outside.
    pub outside: f64,
    /// What the desk watches for.
    pub watch: WatchRules,
    /// Assumed tolerance of mass, as a share.
    pub mass_share: f64,
    /// Assumed tolerance of diameter, length and width: a length ...
    pub diameter: Length,
    /// ... plus a share of the nominal.
    pub diameter_share: f64,
    /// Assumed tolerance of thickness: a length ...
    pub thickness: Length,
    /// ... plus a share of the nominal.
    pub thickness_share: f64,
    /// Least share of its envelope that a struck coin fills.
    pub fill_least: f64,
    /// Greatest share of its envelope that a struck coin fills.
    pub fill_greatest: f64,
    /// Share of its envelope below which no piece of any metal is plausible.
    pub fill_impossible: f64,
    /// Products that sell above their metal.
    pub premium_products: Vec<ProductId>,
    /// Sources whose coins need no expert; empty when no source is doubted.
    pub trusted_sources: Vec<String>,
    /// What each method takes.
    pub methods: MethodCosts,
    /// How lots are sampled and screened.
    pub sampling: Sampling,
    /// Who may release, and how long sources are held.
    pub review: ReviewRules,
    /// When learned figures count.
    pub type_book: TypeBookRules,
    version: String,
}

/// How lots are sampled and screened.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sampling {
    /// Confidence with which a sample finds a lot that holds too many bad pieces.
    pub confidence: f64,
    /// Share of bad pieces that a sample must find when the source is new, known or trusted, in the order of
    /// [`crate::scoring::SourceRecord::ALL`].
    pub detect_shares: [f64; 3],
    /// Pieces of a source, none of them refused or sent back, from which on it is known, and trusted.
    pub known_from: u32,
    /// Likewise trusted.
    pub trusted_from: u32,
    /// Chance that a lot without odd pieces is said to have one, all its quantities together.
    pub odd_significance: f64,
}

/// A policy file that cannot be used.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PolicyError {
    /// The text is not TOML of the expected form; the message names line and column.
    #[error("{file}: {message}")]
    Form {
        /// Name of the file.
        file: String,
        /// What the reader found.
        message: String,
    },
    /// A number is not one, or out of its range.
    #[error("{file}: `{field}`: `{found}` is not a number from {least} to {greatest}")]
    Number {
        /// Name of the file.
        file: String,
        /// The field.
        field: &'static str,
        /// What was found.
        found: String,
        /// Least value allowed.
        least: f64,
        /// Greatest value allowed.
        greatest: f64,
    },
    /// A quantity breaks the grammar.
    #[error("{file}: `{field}`: {source}")]
    Quantity {
        /// Name of the file.
        file: String,
        /// The field.
        field: &'static str,
        /// What is wrong.
        source: EntryError,
    },
    /// An amount of money breaks the grammar.
    #[error("{file}: `{field}`: {source}")]
    Money {
        /// Name of the file.
        file: String,
        /// The field.
        field: &'static str,
        /// What is wrong.
        source: MoneyError,
    },
    /// A word is not one of the words allowed.
    #[error("{file}: `{field}`: `{found}` is not one of {allowed}")]
    Word {
        /// Name of the file.
        file: String,
        /// The field.
        field: &'static str,
        /// What was found.
        found: String,
        /// What is allowed.
        allowed: String,
    },
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileText {
    currency: String,
    gate: GateText,
    /// What policies of before the watch list limited; it decides nothing any more.
    #[serde(default, rename = "displaced")]
    _displaced: Option<toml::Value>,
    #[serde(default)]
    watch: WatchText,
    assumed_tolerance: ToleranceText,
    struck: StruckText,
    #[serde(default)]
    strike: StrikeText,
    #[serde(default)]
    methods: MethodsText,
    #[serde(default)]
    sampling: SamplingText,
    #[serde(default)]
    review: ReviewText,
    #[serde(default)]
    type_book: TypeBookText,
}

/// Numbers that a file written before lots were sampled does not have.
#[derive(Deserialize)]
#[serde(deny_unknown_fields, default)]
struct SamplingText {
    confidence: String,
    detect_share: String,
    detect_share_known: String,
    detect_share_trusted: String,
    known_from: String,
    trusted_from: String,
    odd_significance: String,
}

impl Default for SamplingText {
    fn default() -> Self {
        SamplingText {
            confidence: "0.95".to_owned(),
            detect_share: "0.10".to_owned(),
            detect_share_known: "0.20".to_owned(),
            detect_share_trusted: "0.35".to_owned(),
            known_from: "50".to_owned(),
            trusted_from: "500".to_owned(),
            odd_significance: "0.05".to_owned(),
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct GateText {
    inside: String,
    outside: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ToleranceText {
    mass_percent: String,
    diameter: String,
    diameter_percent: String,
    thickness: String,
    thickness_percent: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct StruckText {
    fill_least: String,
    fill_greatest: String,
    fill_impossible: String,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields)]
struct StrikeText {
    #[serde(default)]
    premium_products: Vec<String>,
    #[serde(default)]
    trusted_sources: Vec<String>,
}

/// The file shipped with the program.
const BUILT_IN: &str = include_str!("../../assets/desk/policy.toml");

impl Policy {
    /// Returns the policy that is shipped with the program.
    pub fn built_in() -> Self {
        Self::parse("assets/desk/policy.toml", BUILT_IN).expect("the shipped policy is well formed")
    }

    /// Reads a policy file.
    ///
    /// # Errors
    /// The first thing that is wrong, with file and field (and line, where the form is wrong).
    pub fn parse(file: &str, text: &str) -> Result<Self, PolicyError> {
        let form = |error: toml::de::Error| PolicyError::Form {
            file: file.to_owned(),
            message: error.to_string().trim_end().to_owned(),
        };
        let parsed: FileText = toml::from_str(text).map_err(form)?;
        let number = |field, found: &str, least, greatest| number(file, field, found, least, greatest);
        let length = |field, text: &str| {
            parse::<Length>(text).map(|entry| entry.value).map_err(|source| PolicyError::Quantity {
                file: file.to_owned(),
                field,
                source,
            })
        };
        let money_error = |field| move |source| PolicyError::Money { file: file.to_owned(), field, source };
        let currency = Currency::parse(&parsed.currency).map_err(money_error("currency"))?;
        let tolerance = &parsed.assumed_tolerance;
        Ok(Policy {
            currency,
            inside: number("gate.inside", &parsed.gate.inside, 0.5, 0.999_999)?,
            outside: number("gate.outside", &parsed.gate.outside, 1e-9, 0.5)?,
            watch: WatchRules::read(file, &parsed.watch, currency)?,
            mass_share: number("assumed_tolerance.mass_percent", &tolerance.mass_percent, 0.001, 10.0)?
                / 100.0,
            diameter: length("assumed_tolerance.diameter", &tolerance.diameter)?,
            diameter_share: number(
                "assumed_tolerance.diameter_percent",
                &tolerance.diameter_percent,
                0.0,
                10.0,
            )? / 100.0,
            thickness: length("assumed_tolerance.thickness", &tolerance.thickness)?,
            thickness_share: number(
                "assumed_tolerance.thickness_percent",
                &tolerance.thickness_percent,
                0.0,
                20.0,
            )? / 100.0,
            fill_least: number("struck.fill_least", &parsed.struck.fill_least, 0.0, 1.0)?,
            fill_greatest: number("struck.fill_greatest", &parsed.struck.fill_greatest, 0.0, 1.0)?,
            fill_impossible: number("struck.fill_impossible", &parsed.struck.fill_impossible, 0.0, 1.0)?,
            premium_products: parsed.strike.premium_products.iter().map(|id| ProductId::new(id)).collect(),
            trusted_sources: parsed.strike.trusted_sources,
            methods: MethodCosts::read(file, &parsed.methods, currency, Some(&built_in_costs(currency)))?,
            sampling: Sampling {
                confidence: number("sampling.confidence", &parsed.sampling.confidence, 0.5, 0.999_999)?,
                detect_shares: [
                    number("sampling.detect_share", &parsed.sampling.detect_share, 0.000_1, 0.9)?,
                    number("sampling.detect_share_known", &parsed.sampling.detect_share_known, 0.000_1, 0.9)?,
                    number(
                        "sampling.detect_share_trusted",
                        &parsed.sampling.detect_share_trusted,
                        0.000_1,
                        0.9,
                    )?,
                ],
                known_from: number("sampling.known_from", &parsed.sampling.known_from, 1.0, 1e9)? as u32,
                trusted_from: number("sampling.trusted_from", &parsed.sampling.trusted_from, 1.0, 1e9)?
                    as u32,
                odd_significance: number(
                    "sampling.odd_significance",
                    &parsed.sampling.odd_significance,
                    1e-6,
                    0.5,
                )?,
            },
            review: ReviewRules::read(file, &parsed.review, currency, Some(&shipped().review))?,
            type_book: TypeBookRules::read(file, &parsed.type_book)?,
            version: short_hash(text),
        })
    }

    /// Tells why an expert has to look at the strike of a product from a source: because it sells above its metal, or (`false`)
    /// because its source is not trusted; `None` when none has to.
    ///
    /// Bars and rounds are asked for by product only: their strike is not legal tender, and sources are trusted for coins.
    pub(super) fn wants_an_expert(&self, product: &Product, source: Option<&str>) -> Option<bool> {
        if self.premium_products.contains(&product.id) {
            return Some(true);
        }
        let same = |trusted: &String| {
            source.is_some_and(|source| trusted.trim().eq_ignore_ascii_case(source.trim()))
        };
        let doubted = product.kind == Kind::Coin
            && source.is_some()
            && !self.trusted_sources.is_empty()
            && !self.trusted_sources.iter().any(same);
        doubted.then_some(false)
    }

    /// Returns the version kept with every assessment: the first 12 hex digits of the text's SHA-256.
    pub fn version(&self) -> &str {
        &self.version
    }
}

/// Returns the shipped policy as it is written.
fn shipped() -> FileText {
    toml::from_str(BUILT_IN).expect("the shipped policy is well formed")
}

/// Returns what the methods take by the shipped policy, its amounts in another currency.
fn built_in_costs(currency: Currency) -> MethodCosts {
    MethodCosts::read("assets/desk/policy.toml", &shipped().methods, currency, None)
        .expect("the shipped costs are well formed")
}

/// Returns the first 12 hex digits of the SHA-256 of a text.
pub(super) fn short_hash(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().take(6).map(|byte| format!("{byte:02x}")).collect()
}

/// Reads a plain number, naming file and field when it is wrong.
pub(super) fn number(
    file: &str,
    field: &'static str,
    found: &str,
    least: f64,
    greatest: f64,
) -> Result<f64, PolicyError> {
    found.trim().parse::<f64>().ok().filter(|value| (least..=greatest).contains(value)).ok_or_else(|| {
        PolicyError::Number { file: file.to_owned(), field, found: found.to_owned(), least, greatest }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scoring::doubt::Method;

    #[test]
    fn the_shipped_policy_is_read() {
        let policy = Policy::built_in();
        assert_eq!(policy.inside, 0.95);
        assert_eq!(policy.watch.stake.to_string(), "500 EUR");
        assert_eq!(policy.version().len(), 12);
    }

    #[test]
    fn methods_are_ranked_by_money_and_what_destroys_comes_last() {
        let costs = Policy::built_in().methods;
        let mut order = Method::ALL;
        order.sort_by_key(|method| costs.rank(*method));
        assert_eq!(order.last(), Some(&Method::Assay));
        assert!(costs.rank(Method::Magnet) < costs.rank(Method::Ultrasound));
        assert!(costs.rank(Method::Ring) < costs.rank(Method::Immersion));
        for pair in order[..10].windows(2) {
            assert!(costs.price(pair[0]).amount <= costs.price(pair[1]).amount, "{pair:?}");
        }
        // A shipped policy names every method.
        for method in Method::ALL {
            assert!(BUILT_IN.contains(&format!("\n{} = {{", method.word())), "{}", method.word());
        }
    }

    #[test]
    fn a_policy_without_costs_takes_the_shipped_ones_in_its_own_currency() {
        let old = &BUILT_IN[..BUILT_IN.find("[methods]").unwrap()];
        let policy = Policy::parse("old.toml", &old.replace("\"EUR\"", "\"USD\"")).unwrap();
        let (own, shipped) = (policy.methods, Policy::built_in().methods);
        assert_eq!(own.cost(Method::Expert).fee.amount, shipped.cost(Method::Expert).fee.amount);
        assert_eq!(own.cost(Method::Expert).fee.currency.code(), "USD");
        assert_eq!(policy.sampling, Policy::built_in().sampling);
        let error = Policy::parse("mine.toml", &BUILT_IN.replace("\nring = {", "\nrong = {")).unwrap_err();
        assert!(
            error.to_string().starts_with("mine.toml: `methods.cost`: `rong` is not one of reweigh"),
            "{error}"
        );
    }

    #[test]
    fn a_policy_without_a_type_book_takes_the_shipped_rules_and_a_wrong_one_is_named() {
        let old = &BUILT_IN[..BUILT_IN.find("[type_book]").unwrap()];
        let policy = Policy::parse("old.toml", old).unwrap();
        assert_eq!(policy.type_book, TypeBookRules { significance: 0.01, least: 20 });
        assert_eq!(policy.type_book, Policy::built_in().type_book);
        for found in ["19", "20.5", "many"] {
            let text =
                BUILT_IN.replace("\nleast = \"20\"\n# ... and", &format!("\nleast = \"{found}\"\n# ... and"));
            let error = Policy::parse("mine.toml", &text).unwrap_err().to_string();
            let expected = format!("mine.toml: `type_book.least`: `{found}` is not a number from 20 to 1000");
            assert_eq!(error, expected);
        }
        let text = BUILT_IN.replace("\nsignificance =", "\nsignificant =");
        let error = Policy::parse("mine.toml", &text).unwrap_err().to_string();
        assert!(error.starts_with("mine.toml: TOML parse error at line"), "{error}");
    }

    #[test]
    fn a_number_out_of_range_names_file_and_field() {
        let error = Policy::parse("mine.toml", &BUILT_IN.replace("\"0.95\"", "\"1.5\"")).unwrap_err();
        assert_eq!(error.to_string(), "mine.toml: `gate.inside`: `1.5` is not a number from 0.5 to 0.999999");
    }
}
