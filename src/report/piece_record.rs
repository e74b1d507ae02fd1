//! The piece record: the evidence that a piece was sold on.
//!
//! What it is for: every reading with its uncertainty, every limit with its source, what the second tests excluded, and,
//! in the same breath, what nothing excluded. What it must never do: leave out what was not excluded, or say that a piece
//! is what it is declared to be. Read next: [`document`].

use super::day_sheet::{sentences, whole_moments};
use super::document::{Block, Cell, Column, Document, Table};
use super::plot::{Axis, Figure, Plot, Reach, ReachRow, ReachSpan, SpanKind};
use super::second_tests;
use crate::desk::SURRENDER_CAUTIONS;
use crate::desk::review_views::{DecisionView, Ending, PieceRecord};
use crate::desk::screen::Units;
use crate::desk::views::{Field, ReadingView};
use crate::evidence::Measurand;
use crate::present::bar::tolerance_percent;
use crate::present::causes::{cause_text, remark_text};
use crate::present::second_test_text::{build_text, short_build_text};
use crate::present::verdict::{check_value, proved_text, survivors};
use crate::present::words::{count, mark_text, minute, money_text, scope_text, standing_text};
use crate::quantity::Quantity;
use crate::scoring::{Assessment, Candidate, Check, Construction, Outcome, Scope, Standing};
use chrono::FixedOffset;

/// Most cores that the plot of depths shows; all are named in words.
const MOST_DRAWN: usize = 10;

/// What every record says, since no measurement answers it.
const STRIKE: &str = "A strike in the right alloy by somebody else passes every physical test in this record: a correct \
    metal does not prove a correct strike. What this record does not name as excluded is not excluded.";

/// Returns the record of a piece.
///
/// `desk`: the time zone in which moments are shown.
pub fn document(record: &PieceRecord, desk: FixedOffset) -> Document {
    let piece = &record.piece;
    let mut document = Document::new(
        format!("Piece record {}", piece.number),
        format!("declared as {} · from {}", piece.product_name, record.source),
    );
    document.footer = format!(
        "Piece record {}. Uncertainties are standard uncertainties (k = 1) unless k = 2 is written. Journal row {}",
        piece.number, record.journal_hash
    );
    document.push(Block::KeyValues(summary(record, desk)));
    if let Some(words) = not_for_sale(record) {
        document.push(Block::caution(words));
    }
    document.push(Block::heading("What was measured"));
    if piece.readings.is_empty() {
        document.push(Block::paragraph("Nothing."));
    } else {
        document.push(Block::Table(readings(record)));
    }
    document.push(Block::heading("Checks against the specification"));
    checks(&mut document, &piece.assessment);
    second_tests::push(&mut document, &record.tests, desk);
    not_excluded(&mut document, &piece.assessment);
    open_doubts(&mut document, record);
    document.push(Block::heading("Decisions"));
    if record.decisions.is_empty() {
        document.push(Block::paragraph("None about this piece or its lot."));
    } else {
        document.push(Block::Table(decisions(record, desk)));
    }
    samples(&mut document, record);
    excluded(&mut document, &piece.assessment);
    budgets(&mut document, &piece.assessment);
    if !piece.assessment.remarks.is_empty() {
        document.push(Block::heading("Remarks"));
        for remark in &piece.assessment.remarks {
            document.push(Block::paragraph(sentences(&[&remark_text(remark)])));
        }
    }
    document.push(Block::heading("Cautions"));
    document.push(Block::caution(STRIKE));
    document.push(Block::heading("Record"));
    let assessment = &piece.assessment;
    document.push(Block::key_values([
        ("rules of scoring", assessment.engine.to_string()),
        ("reference", assessment.reference.clone()),
        ("policy", assessment.policy.clone()),
        ("hash of the journal row of its last act", record.journal_hash.clone()),
    ]));
    document
}

fn summary(record: &PieceRecord, desk: FixedOffset) -> Vec<(String, String)> {
    let piece = &record.piece;
    let assessment = &piece.assessment;
    let mut pairs = vec![
        ("piece", piece.number.clone()),
        ("serial", piece.serial.clone().unwrap_or_else(|| "none".to_owned())),
        ("declared as", format!("{} ({})", piece.product_name, piece.product)),
        ("source", record.source.clone()),
        ("logged", format!("{} by {}", minute(piece.logged_at, desk), piece.operator)),
        ("standing", standing_text(piece.standing)),
        (
            "score",
            format!(
                "{} of 100, on {}: 100 minus the chances, in percent, that each does not conform",
                assessment.score_shown(),
                count(assessment.score_rests_on, "check", "checks")
            ),
        ),
    ];
    if let Some(stock) = &record.stock {
        let at = minute(stock.released_at, desk);
        pairs.push(("released", format!("{at} by {}", stock.released_by)));
        let weighed = piece.readings.iter().find(|reading| reading.measurand == Measurand::Mass);
        if let Some(weighed) = weighed {
            pairs.push(("gross mass", format!("{}, as weighed", weighed.stored)));
        }
        let fine = exact(stock.fine);
        pairs.push((
            "fine mass",
            format!("{fine}, of the specification where it names one, else gross mass × fineness"),
        ));
        if let Some(value) = stock.value {
            let price = stock.price.map_or_else(String::new, |price| {
                format!(" = fine mass × {} ÷ 31.1034768 g, rounded once to 0.01", money_text(price))
            });
            pairs.push(("value at release", format!("{}{price}", money_text(value))));
        }
    }
    if let Some((ending, reason, at)) = &record.ending {
        let what = match ending {
            Ending::Released => "released",
            Ending::SentBack => "sent back",
            Ending::Surrendered => "surrendered",
        };
        pairs.push((what, format!("{}: {reason}", minute(*at, desk))));
    }
    pairs.into_iter().map(|(name, words)| (name.to_owned(), words)).collect()
}

/// Prints a mass in grams with all the digits it has.
fn exact(mass: crate::quantity::Mass) -> String {
    let digits = mass.digits_in(&crate::quantity::Mass::UNITS[0], 9);
    let digits = digits.trim_end_matches('0').trim_end_matches('.');
    format!("{digits} g")
}

/// Says why a piece is not for sale; `None` when it is in stock.
fn not_for_sale(record: &PieceRecord) -> Option<String> {
    if record.stock.is_some() {
        return None;
    }
    let surrendered = matches!(record.ending, Some((Ending::Surrendered, ..)));
    if surrendered || record.piece.standing == Standing::Refuse {
        return Some(format!("This piece is not for sale. {}", sentences(&SURRENDER_CAUTIONS)));
    }
    let why = match &record.ending {
        Some((Ending::SentBack, ..)) => "it was sent back",
        _ => "it was not released to stock",
    };
    Some(format!("This piece is not for sale: {why}. The record tells what is known so far."))
}

fn readings(record: &PieceRecord) -> Table {
    let mut table = Table::new(
        "Readings in force; u: standard uncertainty, k = 1, of the value compared; -: compared with no limit by itself",
        [
            Column::words("quantity"),
            Column::words("typed"),
            Column::numbers("stored"),
            Column::numbers("u (k = 1)"),
            Column::words("probe"),
            Column::words("note"),
        ],
    );
    for reading in &record.piece.readings {
        table.push([
            Cell::from(Field::Reading(reading.measurand, reading.spot).label()),
            reading.text.as_str().into(),
            reading.stored.as_str().into(),
            reading.uncertainty.as_deref().unwrap_or("-").into(),
            reading.probe.as_deref().unwrap_or_default().into(),
            note(reading).into(),
        ]);
    }
    table
}

/// Returns the reason of a reading and the line in which a device sent it.
fn note(reading: &ReadingView) -> String {
    let sent = reading.device_line.as_ref().map(|line| format!("sent as `{line}`"));
    reading.reason.clone().into_iter().chain(sent).collect::<Vec<_>>().join("; ")
}

fn checks(document: &mut Document, assessment: &Assessment) {
    let mut table = Table::new(
        "P is the probability that the true value lies inside the limits; conductivity is the mean of the spots at 20 °C",
        [
            Column::words("check"),
            Column::numbers("value ± U (k = 2)"),
            Column::words("allowed"),
            Column::words("limits"),
            Column::numbers("tolerance used"),
            Column::numbers("P"),
            Column::words("outcome"),
        ],
    );
    for check in &assessment.checks {
        table.push([
            Cell::from(check.measurand.name()),
            Some(check_value(check, &Units::default()))
                .filter(|value| !value.is_empty())
                .unwrap_or_else(|| "-".to_owned())
                .into(),
            allowed(check).into(),
            format!("{}: {}", mark_text(check.mark), check.limits_from).into(),
            check.tolerance_used.map_or_else(|| "-".to_owned(), tolerance_percent).into(),
            check.probability.map_or_else(|| "-".to_owned(), probability).into(),
            check.outcome.label().into(),
        ]);
    }
    document.push(Block::Table(table));
    let told = assessment
        .checks
        .iter()
        .filter(|check| check.reason != check.outcome.label() && !check.reason.is_empty())
        .map(|check| (check.measurand.name().to_owned(), check.reason.clone()));
    let told: Vec<_> = told.collect();
    if !told.is_empty() {
        document.push(Block::KeyValues(told));
    }
}

fn allowed(check: &Check) -> String {
    let decimals = if check.measurand == Measurand::Conductivity { 2 } else { 3 };
    match (check.lower, check.upper) {
        (Some(lower), Some(upper)) => format!("{} to {}", lower.digits(decimals), upper.show(decimals)),
        (Some(lower), None) => format!("at least {}", lower.show(decimals)),
        (None, Some(upper)) => format!("at most {}", upper.show(decimals)),
        (None, None) => "-".to_owned(),
    }
}

/// Prints a probability so that it never looks like certainty.
fn probability(probability: f64) -> String {
    if probability > 0.9999 {
        "> 0.9999".to_owned()
    } else if probability < 0.0001 {
        "< 0.0001".to_owned()
    } else {
        format!("{probability:.4}")
    }
}

fn not_excluded(document: &mut Document, assessment: &Assessment) {
    document.push(Block::heading("What was not excluded"));
    let still = survivors(assessment);
    if still.is_empty() {
        let words = if assessment.candidates.is_empty() {
            "What else it could be was not computed for this piece."
        } else {
            "Nothing else in the reference fits these readings. What the reference does not hold was not considered."
        };
        document.push(Block::paragraph(words));
    } else {
        document.push(Block::paragraph(
            "All of the following fit every reading and every second test. A doubt that a person settled stays in this list.",
        ));
        let (doubts, remarks): (Vec<&Candidate>, Vec<&Candidate>) =
            still.iter().copied().partition(|candidate| candidate.material_doubt.is_some());
        if !doubts.is_empty() {
            document.push(Block::Table(could_be(&doubts)));
        }
        if !remarks.is_empty() {
            document.push(Block::paragraph(remarks_text(&remarks)));
        }
    }
    if let Some(plot) = reach(assessment, &still) {
        document.push(Block::plot(plot));
    }
}

fn could_be(doubts: &[&Candidate]) -> Table {
    let mut table = Table::new(
        "It could still be; each displaces more than the policy lets pass",
        [
            Column::words("what"),
            Column::numbers("share of the volume"),
            Column::numbers("value at risk"),
            Column::words("doubt of"),
        ],
    );
    for candidate in doubts {
        let share = candidate.hidden_share.filter(|_| candidate.construction == Construction::Core);
        let share = match share {
            None => "all".to_owned(),
            Some(share) if share < 0.01 => "below 1 %".to_owned(),
            Some(share) => format!("up to {:.0} %", (100.0 * share).min(100.0)),
        };
        let whose = if candidate.material_doubt == Some(Scope::Lot) { "lot" } else { "piece" };
        table.push([
            Cell::from(candidate_words(candidate)),
            share.into(),
            candidate.displaced.map_or_else(|| "not known".to_owned(), money_text).into(),
            whose.into(),
        ]);
    }
    table
}

/// Names what could still be and displaces too little to be a doubt, with the most that one of them displaces.
fn remarks_text(remarks: &[&Candidate]) -> String {
    let builds: Vec<String> = remarks
        .iter()
        .map(|candidate| short_build_text(&candidate.name, candidate.construction, &candidate.skins))
        .collect();
    format!(
        "Remarks: {} that are no doubt by the policy, since they displace too little or bring no gain; in brackets the skin \
         of the declared alloy over a core: {}.",
        count(remarks.len(), "build", "builds"),
        builds.join("; ")
    )
}

fn candidate_words(candidate: &Candidate) -> String {
    let model = if candidate.outside_model { ", outside the conductivity model" } else { "" };
    format!("{}{model}", build_text(&candidate.name, candidate.construction, &candidate.skins))
}

/// Returns how deep the conductivity reading sees, above what could still hide; `None` where it was not usable.
fn reach(assessment: &Assessment, still: &[&Candidate]) -> Option<Plot> {
    let proved = assessment.proved_depth?.as_millimetres();
    let half = assessment
        .checks
        .iter()
        .find(|check| check.measurand == Measurand::Thickness)
        .and_then(|check| check.value)
        .map(|thickness| thickness.value() / 2.0);
    let cores: Vec<&&Candidate> = still.iter().filter(|candidate| !candidate.skins.is_empty()).collect();
    let more = cores.len().saturating_sub(MOST_DRAWN);
    let cores = &cores[..cores.len() - more];
    let deepest = cores
        .iter()
        .flat_map(|candidate| &candidate.skins)
        .map(|(_, thick)| thick.as_millimetres())
        .fold(proved.max(half.unwrap_or(0.0)), f64::max);
    let span = |from: f64, to: f64, kind, label: String| ReachSpan { from, to, kind, label };
    let mut seen = vec![span(0.0, proved.min(deepest), SpanKind::Seen, format!("{proved:.2} mm"))];
    if proved < deepest {
        seen.push(span(proved, deepest, SpanKind::Blind, "not seen".to_owned()));
    }
    let mut rows = vec![ReachRow { label: "conductivity reading".to_owned(), spans: seen }];
    for candidate in cores {
        // From its thinnest skin down to the middle such a core could lie.
        let spans = candidate.skins.iter().map(|(thin, thick)| {
            let (thin, thick) = (thin.as_millimetres(), thick.as_millimetres());
            span(thin, thick.max(thin), SpanKind::Open, String::new())
        });
        rows.push(ReachRow { label: format!("skin over {}", candidate.name), spans: spans.collect() });
    }
    let note = "Seen: the depth that the conductivity reading vouches for, 1.1 skin depths. Could hide: the skin thicknesses \
        under which a core of that material fits all readings.";
    let more = match more {
        0 => String::new(),
        more => format!(" Not drawn: {}, named above.", count(more, "more core", "more cores")),
    };
    Some(Plot {
        title: "Depth from the surface".to_owned(),
        note: format!(
            "{} {note}{more}",
            proved_text(assessment).map_or_else(String::new, |words| sentences(&[&words]))
        )
        .trim()
        .to_owned(),
        figure: Figure::Reach(Reach {
            depth: Axis { quantity: "depth".to_owned(), unit: "mm".to_owned(), range: None },
            bottom: half.map(|half| (half, format!("half of the measured thickness, {half:.2} mm"))),
            rows,
        }),
    })
}

fn open_doubts(document: &mut Document, record: &PieceRecord) {
    document.push(Block::heading("Open doubts"));
    if record.piece.doubts.is_empty() {
        let of_lot = record.piece.assessment.doubts.iter().any(|doubt| doubt.scope == Scope::Lot);
        let words = if of_lot {
            "None of the piece. Doubts that it shares with its lot are decided for the lot; see the decisions."
        } else {
            "None."
        };
        document.push(Block::paragraph(words));
        return;
    }
    let columns = [Column::words("doubt"), Column::words("in words"), Column::words("settled by")];
    let mut table = Table::new("", columns);
    for doubt in &record.piece.doubts {
        table.push([
            Cell::from(format!("{} ({})", doubt.kind.label(), scope_text(doubt.scope))),
            cause_text(&doubt.cause).as_str().into(),
            second_tests::settled_by(&doubt.offers).into(),
        ]);
    }
    document.push(Block::Table(table));
}

fn decisions(record: &PieceRecord, desk: FixedOffset) -> Table {
    // One row each: a record names the second test that a decision rests on.
    let mut table = super::day_sheet::decisions(&[], desk);
    "Decisions about the piece and its lot, newest last".clone_into(&mut table.caption);
    for decision in &record.decisions {
        let mut row = super::day_sheet::decisions(std::slice::from_ref(decision), desk).rows.remove(0);
        if let Some(number) = evidence_number(record, decision) {
            row[4] = Cell::Text(format!("second test {number}"));
        }
        table.rows.push(row);
    }
    whole_moments(&mut table);
    table
}

/// Returns the number in this record of the second test that a decision rests on.
fn evidence_number(record: &PieceRecord, decision: &DecisionView) -> Option<usize> {
    let evidence = decision.evidence?;
    record.tests.iter().position(|test| test.id == evidence).map(|place| place + 1)
}

fn samples(document: &mut Document, record: &PieceRecord) {
    for sample in &record.samples {
        document.push(Block::paragraph(format!(
            "This piece was one of {} of {} drawn at random from lot {} with seed {}: {} agreed, {} disagreed. Bound: {}.",
            sample.pieces.len(),
            sample.of,
            sample.lot,
            sample.seed,
            sample.agreed,
            sample.disagreed,
            sample.bound
        )));
    }
}

fn excluded(document: &mut Document, assessment: &Assessment) {
    let gone: Vec<&Candidate> =
        assessment.candidates.iter().filter(|candidate| !candidate.survives).collect();
    if gone.is_empty() {
        return;
    }
    document.push(Block::heading(format!("What was excluded: {}", count(gone.len(), "build", "builds"))));
    // By what excluded them, in the order in which it comes first.
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    for candidate in gone {
        let by =
            candidate.excluded_by.as_ref().map_or_else(|| "the readings".to_owned(), ToString::to_string);
        let (by, why) = by.split_once(": ").unwrap_or((&by, ""));
        let build = short_build_text(&candidate.name, candidate.construction, &candidate.skins);
        let told = if why.is_empty() { build } else { format!("{build}, {why}") };
        match groups.iter_mut().find(|(known, _)| *known == by) {
            Some((_, builds)) => builds.push(told),
            None => groups.push((by.to_owned(), vec![told])),
        }
    }
    for (by, builds) in groups {
        let number = count(builds.len(), "build", "builds");
        document.push(Block::paragraph(format!("By {by}, {number}: {}.", builds.join("; "))));
    }
}

fn budgets(document: &mut Document, assessment: &Assessment) {
    let mut table = Table::new(
        "Standard uncertainties, k = 1, that each input contributes",
        [Column::words("check"), Column::words("contribution"), Column::numbers("u"), Column::words("from")],
    );
    for check in assessment.checks.iter().filter(|check| check.outcome != Outcome::Missing) {
        for line in &check.budget {
            table.push([
                Cell::from(check.measurand.name()),
                line.name.as_str().into(),
                line.u.show(4).into(),
                line.source.as_str().into(),
            ]);
        }
    }
    if !table.rows.is_empty() {
        document.push(Block::heading("Uncertainty of the readings"));
        document.push(Block::Table(table));
    }
}
