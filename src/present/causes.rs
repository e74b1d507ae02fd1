//! Causes in words: why a doubt is open, what a method can do about it, what is remarked. The only sentences about a piece.

use super::text::list_of;
use super::words::plain_name;
use crate::desk::views::HoldView;
use crate::quantity::Money;
use crate::scoring::{
    Because, Cause, Construction, Doubt, Figure, LearnedValue, Method, OddValue, Offer, OtherReading,
    Outcome, Remark, Rule,
};

/// Most names in a list; the rest is counted.
const NAMES: usize = 3;
/// Skin below which no skin is too thin.
const ANY_SKIN_MM: f64 = 0.005;

/// Returns a doubt in words, without its kind.
pub fn cause_text(cause: &Cause) -> String {
    match cause {
        Cause::Said { text } => text.clone(),
        Cause::Check { measurand, outcome, reason } => {
            let outcome = match outcome {
                Outcome::NotCapable => "undecidable",
                other => other.label(),
            };
            format!("{measurand} {outcome}: {reason}")
        }
        Cause::Possible { construction, names, thinnest, share, at_risk, pieces, unlisted } => {
            let money = at_risk.map_or_else(String::new, |money| at_risk_text(money, *pieces));
            let list = list_of(names.iter().map(|name| plain_name(name)), names.len(), NAMES);
            if names.is_empty() && *unlisted {
                return "a mixture of metals that no list names could be under the surface: density and sound have not both \
                        been asked"
                    .to_owned();
            }
            if *construction == Construction::Solid {
                return format!("could be {list} throughout{money}");
            }
            let skin = match thinnest.map(|skin| skin.as_millimetres()) {
                Some(skin) if skin >= ANY_SKIN_MM => format!("under {skin:.2} mm of skin or more"),
                Some(_) => "under any skin".to_owned(),
                None => "beside the measuring points".to_owned(),
            };
            format!("a core of {list} could hide {skin}, up to {:.0} % of it{money}", 100.0 * share)
        }
        Cause::ThinPlate { under } => {
            let part = |(name, from, to): &(std::sync::Arc<str>, _, _)| {
                let (from, to): (&crate::quantity::Length, &crate::quantity::Length) = (from, to);
                format!(
                    "{} under {:.3} to {:.3} mm",
                    plain_name(name),
                    from.as_millimetres(),
                    to.as_millimetres()
                )
            };
            let list: Vec<String> = under.iter().map(part).collect();
            format!("reads like a thin skin of the declared alloy over {}", list.join("; "))
        }
        Cause::Uneven { spread, limit } => format!(
            "spots differ by {:.2} MS/m, the meter repeats within {:.2} MS/m",
            spread.as_ms_per_m(),
            limit.as_ms_per_m()
        ),
        Cause::Fill { fill, least, greatest } => format!(
            "flat metal of this mass is {:.0} % of the thickness over the rim; struck coins have {:.0} to {:.0} %",
            100.0 * fill,
            100.0 * least,
            100.0 * greatest
        ),
        Cause::Strike { premium } => {
            let why = if *premium {
                "sells above its metal"
            } else {
                "its source is not one of those that the policy trusts"
            };
            format!("{why}, and a correct metal does not prove a correct strike")
        }
        Cause::Attracted => {
            "attracted by a magnet: precious metals and their trade alloys are not".to_owned()
        }
        Cause::Unproved { measurands, reason } => {
            let names: Vec<&str> = measurands.iter().map(|measurand| measurand.name()).collect();
            format!("{} unproved: {reason}", names.join(", "))
        }
        Cause::Disagrees { method, reason } => format!("{}: {reason}", method.label()),
        Cause::Echo { depth } => {
            let place = match depth {
                Some(depth) => format!("from {:.2} mm below the face", depth.as_millimetres()),
                None => "from inside".to_owned(),
            };
            format!("ultrasound: an echo {place}; one metal throughout gives none")
        }
        Cause::Foreign { elements } => {
            let list: Vec<String> =
                elements.iter().map(|(symbol, percent)| format!("{symbol} {percent:.2} %")).collect();
            format!("X-ray: {} at or through the surface, which no trade alloy of it holds", list.join(", "))
        }
        Cause::ExpertDisagrees { how } => {
            format!("expert: {how}: does not agree with what it is declared to be")
        }
        Cause::OddInLot { values } => {
            let parts: Vec<String> = values.iter().map(odd_text).collect();
            format!("differs from its lot: {}", parts.join("; "))
        }
        Cause::OddForType { values, significance, compared } => {
            let over =
                if *compared == 1 { "one quantity".to_owned() } else { format!("{compared} quantities") };
            let parts: Vec<String> = values.iter().map(learned_text).collect();
            format!(
                "differs from the type book: {}; a good piece does so in {} % of cases over {over}",
                parts.join("; "),
                100.0 * significance
            )
        }
        Cause::LotOff { quantity, centre, pieces, limit, below, decimals } => format!(
            "{}: the median {} of {pieces} pieces is {} {}",
            quantity.word(),
            centre.show(*decimals),
            if *below { "below" } else { "above" },
            limit.show(*decimals)
        ),
        Cause::TwoPopulations { quantity, below, above, count_below, pieces, units, decimals } => format!(
            "{}: {count_below} pieces up to {} and {} from {}, a gap of {units:.1} scale units: two populations?",
            quantity.word(),
            below.show(*decimals),
            pieces - count_below,
            above.show(*decimals)
        ),
        Cause::SerialTwice { serial, on, more } => {
            let mut names: Vec<String> = on.iter().map(|number| format!("`{number}`")).collect();
            if *more > 0 {
                names.push(format!("{more} more"));
            }
            format!("serial `{serial}` is on {} too", names.join(", "))
        }
        Cause::SerialMissing { declared } => {
            format!("no serial, though the packing list gives {declared} for this line")
        }
        Cause::SerialNotListed { serial } => {
            format!("serial `{serial}` is not on the packing list of this line")
        }
        Cause::Several { causes } => causes.iter().map(cause_text).collect::<Vec<_>>().join("; "),
    }
}

/// Returns a doubt in words with its kind in front.
pub fn doubt_text(doubt: &Doubt) -> String {
    format!("{}: {}", doubt.kind.label(), cause_text(&doubt.cause))
}

/// Returns an open doubt of the book in words with its kind in front.
pub fn hold_text(hold: &HoldView) -> String {
    format!("{}: {}", hold.kind.label(), cause_text(&hold.cause))
}

/// Says how much money stands behind a possibility, in whole units.
fn at_risk_text(money: Money, pieces: u32) -> String {
    let whole = Money { amount: money.amount.round(), ..money };
    if pieces < 2 {
        return format!(", {whole}");
    }
    let all = Money { amount: (money.amount * rust_decimal::Decimal::from(pieces)).round(), ..money };
    format!(", {whole} a piece, {all} in the lot")
}

fn odd_text(odd: &OddValue) -> String {
    let digits = odd.decimals;
    format!(
        "{} {}: the lot's median is {}, its scale {}; {:+.1} scale units, statistic {:.2} above {:.2}, and more than {} away",
        odd.quantity.word(),
        odd.value.show(digits),
        odd.centre.show(digits),
        odd.scale.show(digits + 1),
        odd.score,
        odd.statistic,
        odd.critical,
        odd.limit.show(digits + 1)
    )
}

fn learned_text(value: &LearnedValue) -> String {
    let digits = value.decimals;
    format!(
        "{} {}, where {} released pieces read with {} lie at {} and scatter by {}: {} to {} expected",
        value.quantity.word(),
        value.value.show(digits),
        value.pieces,
        value.instrument,
        value.centre.show(digits),
        value.scatter.show(digits + 1),
        value.lower.show(digits),
        value.upper.show(digits)
    )
}

/// Returns why a method can do what it can, in words.
pub fn because_text(because: &Because) -> String {
    match because {
        Because::Said { text } => text.clone(),
        Because::Tells { good, other, leaves } => {
            let mut text = expected_text(*good, other.as_ref());
            if !leaves.is_empty() {
                let names = list_of(leaves.iter().map(ToString::to_string), leaves.len(), NAMES);
                let stop = if text.is_empty() { "" } else { "; " };
                text = format!("{text}{stop}leaves some of {names}");
            }
            text
        }
        Because::TellsNone => "it reads what is open as it reads a good piece".to_owned(),
        Because::NotHere { reason } | Because::TakeAgain { reason } => reason.clone(),
        Because::Always { rule } => rule_text(*rule).to_owned(),
    }
}

/// Returns what a good piece reads and what the first alternative reads, `3190 to 3420 m/s is good, tungsten 5180 to 5320 m/s`.
pub fn expected_text(good: Option<(Figure, Figure)>, other: Option<&OtherReading>) -> String {
    match (good, other) {
        (Some(good), Some(other)) => {
            format!("{} is good, {} reads {}", span(good), plain_name(&other.name), span(other.reads))
        }
        (Some(good), None) => format!("{} is good", span(good)),
        (None, _) => String::new(),
    }
}

/// Prints a range of figures with its unit once.
fn span((low, high): (Figure, Figure)) -> String {
    let decimals = figure_decimals(low);
    let from = low.show(decimals);
    if from == high.show(decimals) {
        return from;
    }
    let digits = from.split(' ').next().unwrap_or_default();
    format!("{digits} to {}", high.show(decimals))
}

/// Returns the decimals with which people read a figure.
fn figure_decimals(figure: Figure) -> u32 {
    match figure {
        Figure::Density(_) => 2,
        Figure::Velocity(_) | Figure::Frequency(_) => 0,
        Figure::MassShare(_) | Figure::Fineness(_) | Figure::Conductivity(_) => 1,
    }
}

fn rule_text(rule: Rule) -> &'static str {
    match rule {
        Rule::TakeTheReading => "take the reading",
        Rule::FinerInstrument => "with an instrument of smaller uncertainty",
        Rule::FinerOrMore => "with an instrument of smaller uncertainty, or the mean of more readings",
        Rule::RulesOutASlip => "only rules out a slip of the first reading",
        Rule::NamesTheSurface => "names the alloy of the surface; trained operator",
        Rule::Laboratory => "an accredited laboratory takes a sample; it destroys a part",
        Rule::ControlThenAgain => "a control that passes, then take the reading again",
        Rule::MoreSpots => "more spots on both faces and both ends",
        Rule::Sweep => "a sweep over the whole face finds inserts, and tells a core from a single flaw",
        Rule::MeasureSizes => "measure thickness and diameter again",
        Rule::OnlyAnExpert => "only an expert examination tells one strike from another",
        Rule::SeesThroughPlate => "sees the core's lines through a thin plate; trained operator",
        Rule::SecondOpinion => "a second opinion, with the first in hand",
        Rule::ControlFirst => {
            "a control of the instrument first: a whole lot that is off may be a scale that is off"
        }
        Rule::SplitTheLot => "split the lot and judge each part by itself",
        Rule::WholeDensity => "the density of the whole shows a body that is not of the declared alloy",
        Rule::ReadTheSerial => {
            "read the serial again and correct it with a reason, or record what the supplier says"
        }
        Rule::TellsWhy => "settles another doubt of the piece, which may tell why",
        Rule::SomebodyLooks => {
            "an examination on record, or whoever looks again, answers what made somebody stop"
        }
    }
}

/// Returns a method with what it can do and why, `ultrasound settles it: 3190 to 3420 m/s is good, ...`.
pub fn offer_text(offer: &Offer) -> String {
    with_why(&format!("{} {}", offer.method.label(), super::words::power_text(offer.power)), &offer.because)
}

/// Adds why to words, where there is a why.
pub fn with_why(words: &str, because: &Because) -> String {
    match because_text(because) {
        why if why.is_empty() => words.to_owned(),
        why => format!("{words}: {why}"),
    }
}

/// Returns a remark in words.
pub fn remark_text(remark: &Remark) -> String {
    match remark {
        Remark::Said { text } => text.clone(),
        Remark::NoPrice => {
            "no price of the metal is known: shares alone decide what pays; enter one with `scruple price`"
                .to_owned()
        }
        Remark::OutsideModel { reason } => format!("outside model: {reason}; conductivity excluded no core"),
        Remark::StrikeNotProved => "a correct metal does not prove a correct strike".to_owned(),
        Remark::Cover { spots, full, share } => format!(
            "{spots} of {full} spots that would cover one face: {:.0} % seen; cover never adds depth",
            100.0 * share
        ),
        Remark::Negligible { measurand, share } => format!(
            "{measurand} is at its limit and this instrument cannot decide it; at most {:.2} % of the piece is in question, so it \
             holds nothing",
            100.0 * share
        ),
        Remark::TypeBook { values } => {
            let part = |value: &LearnedValue| {
                format!(
                    "{} {}, {} to {} expected from {} pieces",
                    value.quantity.word(),
                    value.value.show(value.decimals),
                    value.lower.show(value.decimals),
                    value.upper.show(value.decimals),
                    value.pieces
                )
            };
            let parts: Vec<String> = values.iter().map(part).collect();
            format!("type book: {}", parts.join("; "))
        }
    }
}

/// Returns the methods of a list of offers in words, one each.
pub fn offers_text(offers: &[Offer]) -> Vec<String> {
    offers.iter().map(offer_text).collect()
}

/// Returns the label of a method as a step of a plan, `ultrasound, swept over the face`.
pub fn step_label(method: Method, swept: bool) -> String {
    let swept = if swept { ", swept over the face" } else { "" };
    format!("{}{swept}", method.label())
}
