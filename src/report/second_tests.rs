//! Second tests as parts of a report: each with its number, its uncertainty line by line, what it excluded and what not.

use super::day_sheet::capital;
use super::document::{Block, Cell, Column, Document, Table};
use crate::desk::review_views::SecondTestView;
use crate::present::second_test_text::{declared_text, excluded_in_part, excluded_wholly, not_told_apart};
use crate::present::words::{count, minute};
use crate::scoring::Power;
use chrono::FixedOffset;

/// Adds the second tests of a piece, oldest first.
pub(super) fn push(document: &mut Document, tests: &[SecondTestView], desk: FixedOffset) {
    for (index, test) in tests.iter().enumerate() {
        let report = &test.report;
        document.push(Block::heading(format!("Second test {}: {}", index + 1, report.method.label())));
        let mut pairs = vec![
            ("recorded".to_owned(), format!("{} by {}", minute(test.at, desk), test.operator)),
            ("how".to_owned(), report.how.clone()),
        ];
        if let Some(result) = report.result() {
            pairs.push(("result, expanded uncertainty".to_owned(), result));
        }
        if let Some(declared) = declared_text(report) {
            pairs.push(("what the declared alloy can show".to_owned(), declared));
        }
        pairs.push(("outcome".to_owned(), report.outcome.label().to_owned()));
        if !report.reason.is_empty() {
            pairs.push(("because".to_owned(), report.reason.clone()));
        }
        document.push(Block::KeyValues(pairs));
        if !report.budget.is_empty() {
            document.push(Block::Table(budget(test)));
        }
        if report.excluded.is_empty() && report.not_told_apart.is_empty() {
            document.push(Block::paragraph("It excluded nothing that was possible before it."));
        } else {
            document.push(Block::paragraph(
                "What the piece could have been instead before this test, and what the test says about it; in brackets \
                 the skin of the declared alloy over a core.",
            ));
            for finding in findings(test) {
                document.push(Block::paragraph(finding));
            }
        }
        if !report.cautions.is_empty() {
            document.push(Block::paragraph(format!("To mind: {}.", report.cautions.join("; "))));
        }
    }
}

/// Returns the uncertainty of a second test, line by line.
fn budget(test: &SecondTestView) -> Table {
    let mut table = Table::new(
        "Uncertainty of the result (standard uncertainties, k = 1)",
        [Column::words("contribution"), Column::numbers("u"), Column::words("from")],
    );
    for line in &test.report.budget {
        table.push([Cell::from(line.name.as_str()), line.u.show(4).into(), line.source.as_str().into()]);
    }
    table
}

/// Returns what a second test excluded and what it could not tell apart, with the numbers why; all that it says the same
/// about stands together, with the range of the numbers.
fn findings(test: &SecondTestView) -> Vec<String> {
    let sections = [
        ("Excluded", excluded_wholly(&test.report)),
        ("Excluded under the skins named, not under others", excluded_in_part(&test.report)),
        ("Not told apart", not_told_apart(&test.report)),
    ];
    let told = sections.into_iter().flat_map(|(after, groups)| {
        groups.into_iter().map(move |group| {
            let number = count(group.builds.len(), "build", "builds");
            format!("{after}, {number}. {}: {}.", capital(&group.why), group.builds.join("; "))
        })
    });
    told.collect()
}

/// Returns the methods that settle a doubt, in words.
pub(super) fn settled_by(offers: &[crate::scoring::Offer]) -> String {
    let methods: Vec<&str> = offers
        .iter()
        .filter(|offer| offer.power == Power::Settles)
        .map(|offer| offer.method.label())
        .collect();
    if methods.is_empty() { "nothing alone".to_owned() } else { methods.join(", ") }
}
