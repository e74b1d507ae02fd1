//! The words for people: standings, outcomes, counts, dates.

use super::tone::Tone;
use crate::quantity::{Length, Money};
use crate::reference::Mark;
use crate::scoring::{Candidate, Construction, Outcome, Power, Scope, Standing};
use chrono::{DateTime, FixedOffset, Utc};

/// Returns the sign that stands before a standing wherever it appears.
pub fn standing_sign(standing: Standing) -> char {
    match standing {
        Standing::Clear => '+',
        Standing::Hold => '?',
        Standing::Refuse => 'x',
    }
}

/// Returns sign and word, `? hold`.
pub fn standing_text(standing: Standing) -> String {
    format!("{} {}", standing_sign(standing), standing.word())
}

/// Returns the tone of a standing.
pub fn standing_tone(standing: Standing) -> Tone {
    match standing {
        Standing::Clear => Tone::Clear,
        Standing::Hold => Tone::Hold,
        Standing::Refuse => Tone::Refuse,
    }
}

/// Returns the tone of an outcome.
pub fn outcome_tone(outcome: Outcome) -> Tone {
    match outcome {
        Outcome::Inside => Tone::Clear,
        Outcome::Outside => Tone::Refuse,
        Outcome::Marginal | Outcome::NotCapable | Outcome::NotUsable | Outcome::Missing => Tone::Hold,
    }
}

/// Returns what a method can do, as a verb.
pub fn power_text(power: Power) -> &'static str {
    match power {
        Power::Settles => "settles it",
        Power::Narrows => "narrows it",
        Power::Cannot => "cannot tell",
    }
}

/// Returns whom a doubt concerns.
pub fn scope_text(scope: Scope) -> &'static str {
    match scope {
        Scope::Piece => "piece",
        Scope::Lot => "lot",
    }
}

/// Returns how well a value of the reference is founded, in words.
pub fn mark_text(mark: Mark) -> &'static str {
    match mark {
        Mark::Read => "read in the source",
        Mark::Derived => "derived from figures that were read",
        Mark::Calculated => "calculated",
        Mark::Memory => "from memory",
        Mark::Assumed => "assumed",
    }
}

/// Returns a count with its noun, `1 piece` or `3 pieces`.
pub fn count(number: usize, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}

/// Returns an amount of money with at least two decimals, `1840.00 EUR`.
pub fn money_text(money: Money) -> String {
    let decimals = money.amount.scale().max(2) as usize;
    format!("{:.decimals$} {}", money.amount, money.currency)
}

/// Returns the letter of the piece that was held as the `index`-th, from 0: `a` … `z`, `aa` …
pub fn letter(index: usize) -> String {
    let mut rest = index + 1;
    let mut letters = Vec::new();
    while rest > 0 {
        rest -= 1;
        letters.push(char::from(b'a' + (rest % 26) as u8));
        rest /= 26;
    }
    letters.iter().rev().collect()
}

/// Returns for each piece of a lot its letter: those not clear are lettered in the order of logging, the others have none.
pub fn letters(standings: impl IntoIterator<Item = Standing>) -> Vec<String> {
    let mut next = 0;
    let mut name = |standing| {
        if standing == Standing::Clear {
            return String::new();
        }
        next += 1;
        letter(next - 1)
    };
    standings.into_iter().map(&mut name).collect()
}

/// Returns the day at the desk, `2026-03-14`.
pub fn day(moment: DateTime<Utc>, desk: FixedOffset) -> String {
    moment.with_timezone(&desk).format("%Y-%m-%d").to_string()
}

/// Returns the minute at the desk, `2026-03-14 17:05`.
pub fn minute(moment: DateTime<Utc>, desk: FixedOffset) -> String {
    moment.with_timezone(&desk).format("%Y-%m-%d %H:%M").to_string()
}

/// Returns the part of a piece number that differs within a lot, `-07` of `S-0012/3-07`.
pub fn short_number(number: &str) -> &str {
    number.rfind('-').filter(|at| number[..*at].contains('/')).map_or(number, |at| &number[at..])
}

/// Returns ranges of skin thickness in words, `0.33 to 1.00 mm of skin`.
pub fn skins_text(skins: &[(Length, Length)]) -> String {
    format!("{} mm of skin", skin_ranges(skins))
}

/// Returns ranges of skin thickness in millimetres without the unit, `0.33 to 0.41 or 0.90 to 1.00`.
pub fn skin_ranges(skins: &[(Length, Length)]) -> String {
    let intervals: Vec<String> = skins
        .iter()
        .map(|(thin, thick)| {
            let (thin, thick) = (thin.as_millimetres(), thick.as_millimetres());
            // The scan starts at a micrometre: below half a hundredth no skin is too thin.
            if thin < 0.005 {
                return format!("up to {thick:.2}");
            }
            let (thin, thick) = (format!("{thin:.2}"), format!("{thick:.2}"));
            if thin == thick { thin } else { format!("{thin} to {thick}") }
        })
        .collect();
    intervals.join(" or ")
}

/// Returns the name of a material as people say it: no formula, nothing in brackets.
pub fn plain_name(name: &str) -> String {
    let before = name.split([',', '(']).next().unwrap_or(name);
    let is_word = |word: &&str| {
        let formula = |letter: char| letter.is_uppercase() || letter.is_ascii_digit();
        let is_name = word.chars().any(char::is_alphabetic) && !word.chars().skip(1).any(formula);
        word.parse::<f64>().is_ok() || is_name
    };
    let words: Vec<&str> = before.split_whitespace().filter(is_word).collect();
    let plain = words.join(" ");
    let mut letters = plain.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// Returns how a candidate is built and how much of it could hide, `core under 0.33 to 1.00 mm of skin, up to 62 %`.
pub fn construction_text(candidate: &Candidate) -> String {
    let mut parts = Vec::new();
    match candidate.construction {
        Construction::Solid => parts.push("throughout".to_owned()),
        Construction::Core if candidate.skins.is_empty() => parts.push("core".to_owned()),
        Construction::Core => parts.push(format!("core under {}", skins_text(&candidate.skins))),
        Construction::Insert => parts.push("let in beside the measuring points".to_owned()),
    }
    if let (Some(share), Construction::Core | Construction::Insert) =
        (candidate.hidden_share, candidate.construction)
    {
        parts.push(format!("up to {:.0} % of the volume", (share * 100.0).clamp(0.0, 100.0)));
    }
    if let Some(money) = candidate.displaced {
        parts.push(format!("{} at risk", money_text(money)));
    }
    parts.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_material_is_called_as_people_call_it() {
        let plain = [
            ("Tungsten heavy alloy W-Ni-Fe / W-Ni-Cu (90-97 W)", "tungsten heavy alloy"),
            ("Tungsten carbide, cobalt-bonded (3-15 % Co)", "tungsten carbide"),
            ("Brass CuZn37 (C27200)", "brass"),
            ("18 ct 750 yellow (Ag:Cu 16:9 to 9:16)", "18 ct 750 yellow"),
            ("Platinum 950 (Ru, Ir, Co, Cu, Pd, W, Au)", "platinum 950"),
        ];
        for (name, said) in plain {
            assert_eq!(plain_name(name), said);
        }
        for material in crate::reference::Catalogue::embedded().materials() {
            assert!(!plain_name(&material.name).is_empty(), "{}", material.name);
        }
    }

    #[test]
    fn letters_go_on_after_z() {
        let letters: Vec<String> = [0, 1, 25, 26, 27, 51, 52, 701, 702].map(letter).into();
        assert_eq!(letters, ["a", "b", "z", "aa", "ab", "az", "ba", "zz", "aaa"]);
    }

    #[test]
    fn amounts_line_up_at_the_decimal_mark() {
        let euro = crate::quantity::Currency::parse("EUR").unwrap();
        let shown = ["2400", "23997.6", "1.005"].map(|text| money_text(Money::parse(text, euro).unwrap()));
        assert_eq!(shown, ["2400.00 EUR", "23997.60 EUR", "1.005 EUR"]);
    }

    #[test]
    fn only_a_piece_number_has_a_short_form() {
        assert_eq!(short_number("S-0012/3-07"), "-07");
        assert_eq!(short_number("S-0012/3"), "S-0012/3");
        assert_eq!(short_number("S-0012"), "S-0012");
    }

    #[test]
    fn a_moment_is_shown_in_the_time_of_the_desk() {
        let moment = DateTime::from_timestamp(1_773_529_500, 0).expect("a moment of 2026");
        let desk = FixedOffset::east_opt(2 * 3600).expect("two hours east");
        assert_eq!(minute(moment, desk), "2026-03-15 01:05");
        assert_eq!(day(moment, desk), "2026-03-15");
    }
}
