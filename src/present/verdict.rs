//! What scoring says about a piece, as rows of text for a glance.
//!
//! The eye is to find the standing first, then the checks, then what the piece could still be, then what to do about
//! it. The full page is in [`super::evidence`].

use super::bar::{tolerance_bar, tolerance_percent};
use super::causes::{cause_text, hold_text, remark_text};
use super::in_short;
use super::text;
use super::tone::{Row, Tone};
use super::units::{shown, with_expanded};
use super::words::{construction_text, count, outcome_tone, standing_text, standing_tone};
use crate::desk::screen::Units;
use crate::desk::views::PieceView;
use crate::scoring::{Assessment, Candidate, Check, Offer, Outcome, Scope, Standing, Thing};

/// Columns of the labels on the left of the sections.
pub const LABEL: usize = 16;
/// Columns of the label of a check.
const CHECK_LABEL: usize = 14;
/// Columns of a value with its uncertainty in a flat check.
const CHECK_VALUE: usize = 21;
/// Columns of the percentage and the word of a flat check.
const CHECK_WORDS: usize = 20;

/// Returns sign, word and score, `? hold   score 71.3 on 4 checks`; a piece that waits with its lot says so.
pub fn verdict_row(piece: &PieceView) -> Row {
    let assessment = &piece.assessment;
    let checks = count(assessment.score_rests_on, "check", "checks");
    let waits = piece.standing == Standing::Clear && assessment.waits_with_its_lot();
    let words = if waits {
        format!(
            "{} {}",
            super::words::standing_sign(Standing::Hold),
            in_short::standing_words(assessment, piece.standing)
        )
    } else {
        standing_text(piece.standing)
    };
    let tone = if waits { standing_tone(Standing::Hold) } else { standing_tone(piece.standing) };
    let column = CHECK_LABEL.max(words.chars().count() + 2);
    Row::of(tone, words)
        .to_column(column)
        .with(Tone::Plain, format!("score {} on {checks}", assessment.score_shown()))
}

/// Returns the value of a check with its expanded uncertainty (k = 2), `27.210 ± 0.016 g`.
///
/// The uncertainty has two significant digits and the value as many decimals.
pub fn check_value(check: &Check, units: &Units) -> String {
    let Some(value) = check.value else { return String::new() };
    match check.u {
        Some(u) if u.base > 0 => with_expanded(value, u, units),
        _ => shown(value, 3, units),
    }
}

/// Tells whether a check has a margin to draw.
fn margin(check: &Check) -> Option<f64> {
    check.tolerance_used.filter(|_| !matches!(check.outcome, Outcome::NotUsable | Outcome::Missing))
}

/// Returns a check as two rows: name and value; then the tolerance used with its word, or the reason where there is
/// none.
pub fn tall_check(check: &Check, columns: usize, units: &Units) -> [Row; 2] {
    let head = Row::of(Tone::Quiet, text::fit(check.measurand.name(), CHECK_LABEL - 1))
        .to_column(CHECK_LABEL)
        .with(Tone::Plain, text::fit(&check_value(check, units), columns.saturating_sub(CHECK_LABEL)));
    let expanded = check.value.is_some() && check.u.is_some() && head.width() + 4 <= columns;
    let head = if expanded { head.right(columns, Tone::Quiet, "k=2") } else { head };
    [head, margin_line(check, Row::blank(), columns)]
}

/// Returns a check as one row: name, value where there is room for it, tolerance used in a bar and a number, word.
pub fn flat_check(check: &Check, columns: usize, units: &Units) -> Row {
    let with_value = columns >= CHECK_LABEL + CHECK_VALUE + CHECK_WORDS + 8;
    let mut row =
        Row::of(Tone::Quiet, text::fit(check.measurand.name(), CHECK_LABEL - 1)).to_column(CHECK_LABEL);
    if with_value {
        row = row.with(Tone::Plain, text::pad_end(&check_value(check, units), CHECK_VALUE));
    }
    margin_line(check, row, columns)
}

/// Adds bar, number and word of a check to a row; without a margin the reason takes the place of the bar.
fn margin_line(check: &Check, row: Row, columns: usize) -> Row {
    let tone = outcome_tone(check.outcome);
    let end = columns.saturating_sub(CHECK_WORDS);
    let row = match margin(check) {
        Some(share) => {
            let bar = end.saturating_sub(row.width());
            row.joined(margin_row(share, bar, tone)).right(end + 7, tone, tolerance_percent(share))
        }
        None => {
            let room = (end + 7).saturating_sub(row.width());
            row.with(Tone::Quiet, text::fit(&check.reason, room))
        }
    };
    let words = check.outcome.label();
    row.to_column(end + 8).with(tone, text::fit(words, columns.saturating_sub(end + 8)))
}

/// Returns the bar of a margin.
fn margin_row(share: f64, columns: usize, tone: Tone) -> Row {
    let bar = tolerance_bar(share, columns);
    Row::of(tone, bar.used).with(Tone::Quiet, bar.left)
}

/// Returns every check in the tallest form that fits into `lines`.
///
/// With too few lines for one row a check, the ones that are not inside come first.
pub fn checks(assessment: &Assessment, columns: usize, lines: usize, units: &Units) -> Vec<Row> {
    let all = &assessment.checks;
    if all.len() * 2 <= lines {
        return all.iter().flat_map(|check| tall_check(check, columns, units)).collect();
    }
    let mut order: Vec<&Check> = all.iter().collect();
    if all.len() > lines {
        order.sort_by_key(|check| check.outcome == Outcome::Inside);
    }
    order.into_iter().take(lines).map(|check| flat_check(check, columns, units)).collect()
}

/// One reason why a piece is not clear, with the methods that were considered against it.
#[derive(Debug, Clone, PartialEq)]
pub struct Because {
    /// What explains it.
    pub thing: Thing,
    /// The reason in words, its kind in front.
    pub text: String,
    /// Methods considered, best first.
    pub offers: Vec<Offer>,
}

/// Returns the reasons why a piece is not clear: its open doubts, those of its lot, then checks that speak for
/// themselves.
pub fn reasons(piece: &PieceView) -> Vec<Because> {
    let mut found: Vec<Because> = Vec::new();
    let mut add = |thing: Thing, text: String, offers: &[Offer]| {
        if !found.iter().any(|known| known.text == text) {
            found.push(Because { thing, text, offers: offers.to_vec() });
        }
    };
    for (place, doubt) in piece.doubts.iter().enumerate() {
        add(Thing::Hold(place), hold_text(doubt), &doubt.offers);
    }
    // Of a clear piece the doubts that its assessment names were settled; with an open one they are told above.
    let open = piece.doubts.is_empty() && piece.standing != Standing::Clear;
    let raised = piece.assessment.doubts.iter().enumerate();
    for (place, doubt) in raised.filter(|(_, doubt)| open || doubt.scope == Scope::Lot) {
        let whose = if doubt.scope == Scope::Lot { ", whole lot" } else { "" };
        add(
            Thing::Doubt(place),
            format!("{}{whose}: {}", doubt.kind.label(), cause_text(&doubt.cause)),
            &doubt.offers,
        );
    }
    if found.is_empty() {
        for check in piece.assessment.checks.iter().filter(|check| check.outcome != Outcome::Inside) {
            found.push(Because {
                thing: Thing::Conformance(check.measurand),
                text: format!("{} {}: {}", check.measurand, check.outcome.label(), check.reason),
                offers: Vec::new(),
            });
        }
    }
    found
}

/// Returns the candidates that survive, those that are a doubt first, otherwise in the order of the assessment.
pub fn survivors(assessment: &Assessment) -> Vec<&Candidate> {
    let mut order: Vec<&Candidate> = assessment.survivors().collect();
    order.sort_by_key(|candidate| candidate.material_doubt.is_none());
    order
}

/// Returns a surviving candidate in words; one that holds nothing says so.
pub fn survivor_text(candidate: &Candidate) -> String {
    let remark = if candidate.material_doubt.is_none() { "remark: " } else { "" };
    let model = if candidate.outside_model { ", outside the conductivity model" } else { "" };
    format!("{remark}{}, {}{model}", candidate.name, construction_text(candidate))
}

/// Returns how deep the conductivity reading looks, where it was usable.
pub fn proved_text(assessment: &Assessment) -> Option<String> {
    let proved = assessment.proved_depth?.as_millimetres();
    let skin = assessment
        .skin_depth
        .map_or_else(String::new, |skin| format!(", skin depth {:.2} mm", skin.as_millimetres()));
    Some(format!("conductivity vouches for the outer {proved:.2} mm{skin}"))
}

/// One entry of a section.
struct Entry {
    tone: Tone,
    text: String,
}

/// Returns why, the plan, what the verdict rests on and the remarks, in at most `lines` rows.
///
/// Why and the plan get a row each, then a second one each, before the rest gets any. What does not fit is cut visibly.
pub fn sections(piece: &PieceView, columns: usize, lines: usize) -> Vec<Row> {
    let tone = standing_tone(piece.standing);
    let short = in_short::lines(&piece.assessment, piece.standing);
    let of = |label: &'static str| {
        short.iter().filter(move |line| line.label == label).map(|line| line.text.clone())
    };
    let entry = |tone: Tone, text: String| Entry { tone, text };
    // What is open in the book counts before what scoring says: people settle and put holds.
    let mut why: Vec<Entry> =
        reasons(piece).into_iter().take(MOST_REASONS).map(|reason| entry(tone, reason.text)).collect();
    if why.is_empty() {
        why.extend(of("why").map(|text| entry(Tone::Quiet, text)));
    }
    let settled = piece.standing == Standing::Clear && !piece.assessment.waits_with_its_lot();
    let plan = of("plan").filter(|_| !settled).map(|text| entry(Tone::Plain, text)).collect();
    let quiet = |label: &'static str| of(label).map(|text| entry(Tone::Quiet, text)).collect::<Vec<_>>();
    let remarks =
        piece.assessment.remarks.iter().map(|remark| entry(Tone::Quiet, remark_text(remark))).collect();
    let all = [
        ("why", why),
        ("plan", plan),
        ("rests on", quiet("rests on")),
        ("not watched", quiet("not watched")),
        ("remarks", remarks),
    ];
    laid_out(&all, columns, lines)
}

/// Reasons that are told at a glance; the page has them all.
const MOST_REASONS: usize = 3;

/// Shares `lines` among the sections and wraps their entries.
fn laid_out(sections: &[(&str, Vec<Entry>)], columns: usize, lines: usize) -> Vec<Row> {
    let room = columns.saturating_sub(LABEL).max(1);
    let wrapped: Vec<Vec<(Tone, String)>> = sections
        .iter()
        .map(|(_, entries)| {
            entries
                .iter()
                .flat_map(|entry| text::wrap(&entry.text, room).into_iter().map(|line| (entry.tone, line)))
                .collect()
        })
        .collect();
    let mut share = vec![0usize; sections.len()];
    let mut left = lines;
    let first = [0, 1, 1, 0, 2].into_iter();
    let rest = (0..sections.len()).cycle().take(sections.len() * lines);
    for section in first.chain(rest) {
        if left > 0 && wrapped.get(section).is_some_and(|wanted| share[section] < wanted.len()) {
            share[section] += 1;
            left -= 1;
        }
    }
    let mut rows = Vec::new();
    for (((label, _), lines), share) in sections.iter().zip(&wrapped).zip(share) {
        for (index, (tone, line)) in lines.iter().take(share).enumerate() {
            let label = if index == 0 { *label } else { "" };
            let cut = index + 1 == share && share < lines.len();
            let line = if cut { text::fit(&format!("{line} .."), room) } else { text::fit(line, room) };
            rows.push(Row::of(Tone::Quiet, text::pad_end(label, LABEL.min(columns))).with(*tone, line));
        }
    }
    rows
}
