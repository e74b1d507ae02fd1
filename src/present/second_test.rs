//! Second tests in words: which method is worth the time, what to mind with it, and what it came to.

use super::causes::{because_text, hold_text};
use super::second_test_text::report_rows;
use super::text;
use super::tone::{Row, Tone};
use super::verdict::Because;
use super::words::{minute, money_text, outcome_tone, power_text, standing_text, standing_tone};
use crate::desk::SURRENDER_CAUTIONS;
use crate::desk::review_views::{SecondTestOutcome, SecondTestView};
use crate::desk::views::HoldView;
use crate::scoring::{Cost, Damage, Method, Outcome, Power, SecondTestReport};
use chrono::FixedOffset;

/// Columns of the labels.
const LABEL: usize = 16;

/// What a method says about one doubt.
#[derive(Debug, Clone, PartialEq)]
pub struct Why {
    /// The doubt, its kind in front.
    pub doubt: String,
    /// What the method can do about it.
    pub power: Power,
    /// The number why.
    pub why: String,
}

/// What a method can do about all open doubts of a piece together.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    /// The method.
    pub method: Method,
    /// The most it does; `None` when it was not considered against any of them.
    pub power: Option<Power>,
    /// Doubts that it settles.
    pub settles: usize,
    /// Doubts against which methods were considered.
    pub of: usize,
    /// What it takes.
    pub cost: Option<Cost>,
    /// What it says about each doubt.
    pub whys: Vec<Why>,
}

/// Tells whether a second test is recorded by this method; the others correct what was recorded before.
pub fn is_recorded(method: Method) -> bool {
    !matches!(method, Method::Reweigh | Method::Remeasure | Method::Correction)
}

/// Returns every method, ranked: of those that settle anything what destroys comes last, then whoever settles most comes
/// first, then the cheaper; likewise those that only narrow. Those that cannot do anything here, and those that were not
/// considered, come at the end.
pub fn ranked(reasons: &[Because]) -> Vec<Ranked> {
    let of = reasons.iter().filter(|reason| !reason.offers.is_empty()).count();
    let mut all: Vec<Ranked> = Method::ALL
        .into_iter()
        .filter_map(|method| {
            let whys: Vec<Why> = reasons
                .iter()
                .flat_map(|reason| reason.offers.iter().map(move |offer| (reason, offer)))
                .filter(|(_, offer)| offer.method == method)
                .map(|(reason, offer)| Why {
                    doubt: reason.text.clone(),
                    power: offer.power,
                    why: because_text(&offer.because),
                })
                .collect();
            let settles = whys.iter().filter(|why| why.power == Power::Settles).count();
            let power = whys.iter().map(|why| why.power).min_by_key(|power| place(Some(*power)));
            let mut offers = reasons.iter().flat_map(|reason| &reason.offers);
            let cost = offers.find(|offer| offer.method == method).and_then(|offer| offer.cost);
            (power.is_some() || is_recorded(method)).then_some(Ranked {
                method,
                power,
                settles,
                of,
                cost,
                whys,
            })
        })
        .collect();
    all.sort_by_key(|ranked| {
        let destroys = ranked.cost.is_some_and(|cost| cost.damage == Damage::Destroys);
        let cost = ranked.cost.map(|cost| (cost.fee.amount, cost.minutes));
        (place(ranked.power), destroys, std::cmp::Reverse(ranked.settles), cost)
    });
    all
}

fn place(power: Option<Power>) -> u8 {
    match power {
        Some(Power::Settles) => 0,
        Some(Power::Narrows) => 1,
        Some(Power::Cannot) => 2,
        None => 3,
    }
}

impl Ranked {
    /// Returns the sign that stands before the method.
    pub fn sign(&self) -> char {
        match self.power {
            Some(Power::Settles) => '+',
            Some(Power::Narrows) => '~',
            Some(Power::Cannot) => '-',
            None => ' ',
        }
    }

    /// Returns what it can do in a few words, `settles 2 of 3`.
    pub fn summary(&self) -> String {
        match self.power {
            Some(Power::Settles) if self.of < 2 => "settles it".to_owned(),
            Some(Power::Settles) if self.settles == self.of => format!("settles all {}", self.of),
            Some(Power::Settles) => format!("settles {} of {}", self.settles, self.of),
            Some(power) => power_text(power).to_owned(),
            None => "not considered".to_owned(),
        }
    }

    /// Returns the tone of that.
    pub fn tone(&self) -> Tone {
        match self.power {
            Some(Power::Settles) => Tone::Clear,
            Some(Power::Narrows) => Tone::Plain,
            Some(Power::Cannot) | None => Tone::Quiet,
        }
    }

    /// Returns the number why that decides: the one of the strongest offer.
    pub fn why(&self) -> &str {
        self.whys.iter().min_by_key(|why| place(Some(why.power))).map_or("", |why| why.why.as_str())
    }
}

/// Returns time and fee of a method, `10 min, 15.00 EUR`.
pub fn time_and_fee(cost: Cost) -> String {
    if cost.fee.amount.is_zero() {
        format!("{} min", cost.minutes)
    } else {
        format!("{} min, {}", cost.minutes, money_text(cost.fee))
    }
}

/// Returns what a method takes in a few words, `10 min, 15.00 EUR, destroys a part`.
pub fn cost_text(cost: Cost) -> String {
    let mut parts = vec![time_and_fee(cost)];
    match cost.damage {
        Damage::None => {}
        Damage::Surface => parts.push("may mark the surface".to_owned()),
        Damage::Destroys => parts.push("destroys a part".to_owned()),
    }
    parts.join(", ")
}

/// Returns what to mind with a method; common practice, no source.
pub fn caution(method: Method) -> Option<&'static str> {
    match method {
        Method::Magnet => Some("Strong magnets: keep them away from pacemakers, and mind pinched fingers."),
        Method::XRay => Some(
            "Trained and, where the law says so, licensed operator only. Never hold the piece in the beam. It sees the \
             surface only.",
        ),
        Method::Assay => Some(
            "Acids, lead fume and furnaces: accredited laboratory only. It destroys a part of the piece.",
        ),
        Method::Immersion => {
            Some("Water harms proof surfaces and packaging. Take the piece out, dry it at once, do not rub.")
        }
        Method::Ultrasound => {
            Some("Couplant harms proof surfaces and packaging. Take the piece out, wipe it off, do not rub.")
        }
        Method::Ring => {
            Some("Ring the free piece on a soft support: a knock on the edge marks a proof surface.")
        }
        Method::Expert => Some(
            "A suspected counterfeit of legal tender goes to nobody but an expert or the authorities; local law decides.",
        ),
        Method::Conductivity | Method::Reweigh | Method::Remeasure | Method::Correction => None,
    }
}

/// Returns what to mind before a piece is handed to the authorities.
pub fn surrender_caution() -> String {
    let mut words: Vec<String> = SURRENDER_CAUTIONS
        .iter()
        .map(|caution| {
            let mut letters = caution.chars();
            let first = letters.next().map_or_else(String::new, |first| first.to_uppercase().to_string());
            format!("{first}{}.", letters.as_str())
        })
        .collect();
    words.push("This cannot be undone.".to_owned());
    words.join(" ")
}

/// Adds a text beside a label, wrapped.
fn labelled(rows: &mut Vec<Row>, label: &str, tone: Tone, words: &str, columns: usize) {
    let room = columns.saturating_sub(LABEL).max(1);
    for (index, line) in text::wrap(words, room).into_iter().enumerate() {
        let label = if index == 0 { label } else { "" };
        rows.push(Row::of(Tone::Quiet, text::pad_end(label, LABEL.min(columns))).with(tone, line));
    }
}

/// Adds a heading with a blank line above it.
fn heading(rows: &mut Vec<Row>, words: &str) {
    rows.push(Row::blank());
    rows.push(Row::of(Tone::Strong, words));
}

/// Returns the page about a methods' choice: for each doubt what it can do about it, then cost and caution.
pub fn method_rows(ranked: &Ranked, columns: usize) -> Vec<Row> {
    let mut rows = Vec::new();
    for (index, why) in ranked.whys.iter().enumerate() {
        let merged =
            ranked.whys[..index].iter().any(|before| before.why == why.why && before.power == why.power);
        if merged {
            continue;
        }
        let tone = if why.power == Power::Cannot { Tone::Quiet } else { Tone::Plain };
        let words = if why.why.is_empty() {
            power_text(why.power).to_owned()
        } else {
            format!("{}: {}", power_text(why.power), why.why)
        };
        labelled(&mut rows, if index == 0 { "why" } else { "" }, tone, &words, columns);
    }
    if ranked.whys.is_empty() {
        labelled(&mut rows, "why", Tone::Quiet, "no number was computed against these doubts", columns);
    }
    if let Some(cost) = ranked.cost {
        labelled(&mut rows, "takes", Tone::Plain, &cost_text(cost), columns);
    }
    if let Some(caution) = caution(ranked.method) {
        labelled(&mut rows, "mind", Tone::Hold, caution, columns);
    }
    rows
}

/// Returns a second test in one line, `ring (5102.3 ± 1.2) Hz, k = 2, inside, 2026-03-14 17:05`.
pub fn test_text(test: &SecondTestView, desk: FixedOffset) -> String {
    let result = test.report.result().map_or_else(String::new, |result| format!(" {result}"));
    format!(
        "{}{result}, {}, {} by {}",
        test.report.method.label(),
        test.report.outcome.label(),
        minute(test.at, desk),
        test.operator
    )
}

/// Returns the section of a piece's page about its second tests; nothing when there are none.
pub fn tests_section(reports: &[SecondTestReport], columns: usize) -> Vec<Row> {
    let mut rows = Vec::new();
    if reports.is_empty() {
        return rows;
    }
    heading(&mut rows, "Second tests (expanded uncertainty, k = 2)");
    for (index, report) in reports.iter().enumerate() {
        if index > 0 {
            rows.push(Row::blank());
        }
        rows.extend(report_rows(report, columns));
    }
    rows
}

/// Returns the page about a second test that was just recorded: first what changed, then what it rests on.
pub fn outcome_page(outcome: &SecondTestOutcome, columns: usize) -> Vec<Row> {
    let piece = &outcome.piece;
    let mut rows = vec![
        Row::of(Tone::Strong, &piece.number)
            .to_column(LABEL)
            .with(standing_tone(piece.standing), standing_text(piece.standing)),
        Row::blank(),
    ];
    let report = &outcome.test.report;
    let result = report.result().map_or_else(String::new, |result| format!("{result}  "));
    rows.push(
        Row::of(Tone::Quiet, text::pad_end(report.method.label(), LABEL))
            .with(Tone::Strong, result)
            .with(outcome_tone(report.outcome), report.outcome.label()),
    );
    if report.outcome != Outcome::Inside && !report.reason.is_empty() {
        labelled(&mut rows, "because", outcome_tone(report.outcome), &report.reason, columns);
    }
    let doubt = hold_text;
    let mut list = |label: &str, tone: Tone, holds: &[String], none: &str| {
        for (index, words) in holds.iter().enumerate() {
            labelled(&mut rows, if index == 0 { label } else { "" }, tone, words, columns);
        }
        if holds.is_empty() {
            labelled(&mut rows, label, Tone::Quiet, none, columns);
        }
    };
    let closed: Vec<String> = outcome.closed.iter().map(doubt).collect();
    let opened: Vec<String> = outcome.opened.iter().map(doubt).collect();
    let known = |hold: &&HoldView| !outcome.opened.iter().any(|new| new.id == hold.id);
    let open: Vec<String> = piece.doubts.iter().filter(known).map(doubt).collect();
    list("doubts closed", Tone::Clear, &closed, "none");
    if !opened.is_empty() {
        list("new doubts", Tone::Refuse, &opened, "");
    }
    list("still open", Tone::Hold, &open, "nothing of this piece; its lot may still be held");
    heading(&mut rows, "What it rests on");
    rows.extend(report_rows(report, columns));
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Currency, Money};
    use crate::scoring::{Offer, Thing};

    fn offer(method: Method, power: Power, minutes: u32, fee: &str, damage: Damage) -> Offer {
        let fee = Money::parse(fee, Currency::parse("EUR").unwrap()).unwrap();
        Offer {
            cost: Some(Cost { minutes, fee, damage }),
            ..Offer::new(method, power, crate::scoring::Because::Said { text: "as computed".to_owned() })
        }
    }

    #[test]
    fn methods_are_ranked_by_power_then_damage_and_cost_and_those_that_cannot_come_last() {
        let reasons = [
            Because {
                thing: Thing::Doubt(0),
                text: "hidden core: tungsten".to_owned(),
                offers: vec![
                    offer(Method::Assay, Power::Settles, 30, "60", Damage::Destroys),
                    offer(Method::Ultrasound, Power::Settles, 6, "0", Damage::Surface),
                    offer(Method::Ring, Power::Settles, 4, "0", Damage::None),
                    offer(Method::Immersion, Power::Cannot, 10, "0", Damage::Surface),
                ],
            },
            Because {
                thing: Thing::Doubt(0),
                text: "wrong alloy: brass".to_owned(),
                offers: vec![
                    offer(Method::Assay, Power::Settles, 30, "60", Damage::Destroys),
                    offer(Method::Ultrasound, Power::Settles, 6, "0", Damage::Surface),
                    offer(Method::Conductivity, Power::Narrows, 3, "0", Damage::None),
                ],
            },
        ];
        let shown: Vec<String> = ranked(&reasons)
            .iter()
            .map(|ranked| format!("{} {} {}", ranked.sign(), ranked.method.label(), ranked.summary()))
            .collect();
        assert_eq!(
            shown,
            [
                "+ ultrasound settles all 2",
                "+ ring settles 1 of 2",
                "+ assay settles all 2",
                "~ conductivity narrows it",
                "- immersion cannot tell",
                "  magnet not considered",
                "  X-ray not considered",
                "  expert not considered",
            ]
        );
    }

    #[test]
    fn what_a_method_takes_is_said_in_time_money_and_damage() {
        let cost = offer(Method::Assay, Power::Settles, 30, "60", Damage::Destroys).cost.unwrap();
        assert_eq!(cost_text(cost), "30 min, 60.00 EUR, destroys a part");
    }
}
