//! What a second test came to, in words and rows: its number, what it excluded, what it could not tell apart and why.

use super::ranges::{differ_in_numbers_only, ranged};
use super::text;
use super::tone::{Row, Tone};
use super::words::{count, outcome_tone, skin_ranges, skins_text};
use crate::metrology::rounding::decimals_of;
use crate::quantity::Length;
use crate::scoring::{Construction, Excluded, NotToldApart, SecondTestReport};

/// Columns of the labels.
const LABEL: usize = 16;

/// Returns what something is built of, `tungsten alloy, core under 0.33 to 1.00 mm of skin`.
pub fn build_text(name: &str, construction: Construction, skins: &[(Length, Length)]) -> String {
    match construction {
        Construction::Solid => format!("{name}, throughout"),
        Construction::Core if skins.is_empty() => format!("{name}, core"),
        Construction::Core => format!("{name}, core under {}", skins_text(skins)),
        Construction::Insert => format!("{name}, let in beside the measuring points"),
    }
}

/// Returns what something is built of in short, `tungsten (0.33 to 1.00 mm)`: in brackets the skin over a core.
pub fn short_build_text(name: &str, construction: Construction, skins: &[(Length, Length)]) -> String {
    match construction {
        Construction::Solid => format!("{name} (throughout)"),
        Construction::Core if skins.is_empty() => format!("{name} (core)"),
        Construction::Core => format!("{name} ({} mm)", skin_ranges(skins)),
        Construction::Insert => format!("{name} (let in)"),
    }
}

/// Builds about which a test says the same, but for the numbers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Likewise {
    /// The first of them in words.
    pub first: String,
    /// All of them in short, in the order of the report.
    pub builds: Vec<String>,
    /// What the test says about the first of them.
    pub first_why: String,
    /// What it says about all of them, numbers as ranges.
    pub why: String,
}

/// One build with what a test says about it.
struct Finding<'a> {
    name: &'a str,
    construction: Construction,
    skins: &'a [(Length, Length)],
    why: &'a str,
}

impl<'a> From<&'a Excluded> for Finding<'a> {
    fn from(excluded: &'a Excluded) -> Self {
        let Excluded { name, construction, skins, why, .. } = excluded;
        Finding { name, construction: *construction, skins, why }
    }
}

impl<'a> From<&'a NotToldApart> for Finding<'a> {
    fn from(left: &'a NotToldApart) -> Self {
        let NotToldApart { name, construction, skins, why, .. } = left;
        Finding { name, construction: *construction, skins, why }
    }
}

/// Returns findings with the same reason but for its numbers together.
fn grouped<'a>(findings: impl Iterator<Item = Finding<'a>>) -> Vec<Likewise> {
    let mut groups: Vec<Vec<Finding<'a>>> = Vec::new();
    for finding in findings {
        match groups.iter_mut().find(|known| differ_in_numbers_only(known[0].why, finding.why)) {
            Some(group) => group.push(finding),
            None => groups.push(vec![finding]),
        }
    }
    let told = |group: Vec<Finding<'a>>| {
        let first = &group[0];
        let whys: Vec<&str> = group.iter().map(|finding| finding.why).collect();
        let short =
            |finding: &Finding<'_>| short_build_text(finding.name, finding.construction, finding.skins);
        Likewise {
            first: build_text(first.name, first.construction, first.skins),
            builds: group.iter().map(short).collect(),
            first_why: first.why.to_owned(),
            why: ranged(&whys),
        }
    };
    groups.into_iter().map(told).collect()
}

/// Returns what a test excluded wholly, with the reasons.
pub fn excluded_wholly(report: &SecondTestReport) -> Vec<Likewise> {
    grouped(report.excluded.iter().filter(|excluded| excluded.whole).map(Finding::from))
}

/// Returns what a test excluded under some skins and left under others, with the reasons.
pub fn excluded_in_part(report: &SecondTestReport) -> Vec<Likewise> {
    grouped(report.excluded.iter().filter(|excluded| !excluded.whole).map(Finding::from))
}

/// Returns what a test could not tell apart, with the reasons and their numbers.
pub fn not_told_apart(report: &SecondTestReport) -> Vec<Likewise> {
    grouped(report.not_told_apart.iter().map(Finding::from))
}

/// Most builds of a group that are named after the first.
const NAMED: usize = 5;

/// Returns a group as paragraphs: the first build in full, then the others with the range of their numbers.
fn group_texts(group: &Likewise) -> Vec<String> {
    let mut texts = vec![format!("{}: {}", group.first, group.first_why)];
    if let Some(others) = group.builds.get(1..).filter(|others| !others.is_empty()) {
        let why = if group.why == group.first_why { String::new() } else { format!(", {}", group.why) };
        let named = others.iter().take(NAMED).cloned().collect::<Vec<_>>().join("; ");
        let more = match others.len().saturating_sub(NAMED) {
            0 => String::new(),
            more => format!("; and {more} more"),
        };
        texts.push(format!("likewise {}{why}: {named}{more}", count(others.len(), "other", "others")));
    }
    texts
}

/// Returns the range that the declared alloy can show, `19.25 g/cm³ to 19.36 g/cm³`; `None` for a test without one.
pub fn declared_text(report: &SecondTestReport) -> Option<String> {
    let (low, high) = report.declared?;
    let expanded = 2.0 * report.u?.value();
    let decimals = decimals_of(expanded, 2);
    Some(format!("{} to {}", low.show(decimals), high.show(decimals)))
}

/// Returns the account of a second test, `columns` wide.
///
/// Of builds about which it says the same, the first is told in full, some are named and the rest is counted.
pub fn report_rows(report: &SecondTestReport, columns: usize) -> Vec<Row> {
    let mut rows = Vec::new();
    let mut labelled = |label: &str, tone: Tone, words: &str| {
        let room = columns.saturating_sub(LABEL).max(1);
        for (index, line) in text::wrap(words, room).into_iter().enumerate() {
            let label = if index == 0 { label } else { "" };
            rows.push(Row::of(Tone::Quiet, text::pad_end(label, LABEL.min(columns))).with(tone, line));
        }
    };
    labelled(report.method.label(), outcome_tone(report.outcome), report.outcome.label());
    labelled("how", Tone::Plain, &report.how);
    if let Some(result) = report.result() {
        labelled("result", Tone::Strong, &result);
    }
    if let Some(declared) = declared_text(report) {
        labelled("declared alloy", Tone::Plain, &declared);
    }
    if !report.reason.is_empty() {
        labelled("because", Tone::Plain, &report.reason);
    }
    for (index, line) in report.budget.iter().enumerate() {
        let label = if index == 0 { "u (k = 1)" } else { "" };
        labelled(label, Tone::Quiet, &format!("{}  {} ({})", line.u.show(4), line.name, line.source));
    }
    if report.excluded.is_empty() {
        labelled("excluded", Tone::Quiet, "nothing that was possible before it");
    }
    let sections = [
        ("excluded", Tone::Clear, excluded_wholly(report)),
        ("partly excluded", Tone::Plain, excluded_in_part(report)),
        ("not told apart", Tone::Hold, not_told_apart(report)),
    ];
    for (label, tone, groups) in sections {
        for (index, text) in groups.iter().flat_map(group_texts).enumerate() {
            labelled(if index == 0 { label } else { "" }, tone, &text);
        }
    }
    for (index, caution) in report.cautions.iter().enumerate() {
        labelled(if index == 0 { "mind" } else { "" }, Tone::Quiet, caution);
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Density, Length};
    use crate::reference::MaterialId;
    use crate::scoring::{Figure, FigureLine, Method, Outcome};

    fn weighing() -> SecondTestReport {
        let density = |value: f64| Figure::Density(Density::from_g_per_cm3(value));
        SecondTestReport {
            method: Method::Immersion,
            how: "31.110 g in air, 1.612 g held into a beaker on the pan, water at 21.0 C".to_owned(),
            value: Some(density(19.253)),
            u: Some(density(0.051)),
            declared: Some((density(19.28), density(19.33))),
            budget: vec![FigureLine {
                name: "reading under water".to_owned(),
                u: density(0.0498),
                source: "digit step".to_owned(),
            }],
            outcome: Outcome::NotCapable,
            reason: "it cannot decide".to_owned(),
            excluded: Vec::new(),
            not_told_apart: vec![NotToldApart {
                material: MaterialId::new("tungsten"),
                name: "tungsten".to_owned(),
                construction: Construction::Core,
                skins: vec![(Length::from_millimetres(0.33), Length::from_millimetres(1.0))],
                why: "U 0.10 g/cm³ (k = 2), gap 0.05 g/cm³: cannot tell it from the declared alloy"
                    .to_owned(),
            }],
            cautions: vec!["dry at once".to_owned()],
        }
    }

    #[test]
    fn a_test_that_cannot_tell_says_both_numbers_and_keeps_to_the_width() {
        let rows = report_rows(&weighing(), 60);
        let lines: Vec<String> = rows.iter().map(|row| row.text().trim_end().to_owned()).collect();
        assert!(lines.iter().all(|line| text::width(line) <= 60), "{lines:?}");
        let all = lines.join("\n");
        for words in [
            "immersion       not capable",
            "result          (19.25 ± 0.10) g/cm³, k = 2",
            "declared alloy  19.28 g/cm³ to 19.33 g/cm³",
            "u (k = 1)       0.0498 g/cm³",
            "excluded        nothing that was possible before it",
            "not told apart  tungsten, core under 0.33 to 1.00 mm of",
        ] {
            assert!(all.contains(words), "{words}\n{all}");
        }
        assert!(
            all.replace("\n                ", " ").contains("U 0.10 g/cm³ (k = 2), gap 0.05 g/cm³"),
            "{all}"
        );
    }
}
