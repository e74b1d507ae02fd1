//! What screens show, in sentences: one thing a line, nothing drawn, in the order in which it is needed.
//!
//! What it is for: a voice that reads aloud, or a line of sixty columns on a serial console. What it must never do: line
//! things up, or say by place or sign alone what no word says.

use super::bar::tolerance_percent;
use super::causes::{hold_text, remark_text};
use super::in_short;
use super::verdict::{check_value, reasons};
use super::words::count;
use crate::desk::screen::Units;
use crate::desk::{HoldView, LotView, PieceView, ShipmentView};
use crate::scoring::{Check, Power, Standing};

/// Returns the verdict on a piece and what it rests on, a sentence a line.
pub fn verdict(piece: &PieceView, units: &Units) -> Vec<String> {
    let assessment = &piece.assessment;
    let checks = count(assessment.score_rests_on, "check", "checks");
    let standing = piece.standing.word();
    let mut lines =
        vec![format!("piece {}: {standing}, score {} on {checks}", piece.number, assessment.score_shown())];
    if let Some(serial) = &piece.serial {
        lines.push(format!("serial {serial}"));
    }
    lines.extend(assessment.checks.iter().map(|one| check(one, units)));
    let why = reasons(piece);
    lines.extend(why.iter().map(|reason| format!("why: {}", reason.text)));
    let short = in_short::lines(assessment, piece.standing).into_iter();
    let said = short.filter(|line| line.label != "why" || why.is_empty());
    lines.extend(said.map(|line| format!("{}: {}", line.label, line.text)));
    lines.extend(assessment.remarks.iter().map(|remark| format!("remark: {}", remark_text(remark))));
    lines
}

/// Returns a check as a sentence.
fn check(check: &Check, units: &Units) -> String {
    let name = check.measurand.name();
    let word = check.outcome.label();
    match (check.value.is_some(), check.tolerance_used) {
        (true, Some(used)) => {
            let value = check_value(check, units);
            format!("{name} {value}, k = 2: {word}, {} of the tolerance used", tolerance_percent(used).trim())
        }
        (true, None) => format!("{name} {}: {word}, {}", check_value(check, units), check.reason),
        (false, _) => format!("{name}: {word}, {}", check.reason),
    }
}

/// Returns a lot as a sentence.
pub fn lot(lot: &LotView) -> String {
    let standing = lot.standing.map_or("nothing is logged", Standing::word);
    format!(
        "lot {}: {}, {} of {} logged, {} clear, {} on hold, {} to refuse, {standing}",
        lot.number, lot.product_name, lot.logged, lot.expected, lot.clear, lot.hold, lot.refuse
    )
}

/// Returns the lots of all shipments, each shipment ahead of its own.
pub fn lots(shipments: &[ShipmentView]) -> Vec<String> {
    let mut lines = Vec::new();
    for shipment in shipments {
        lines.push(format!("shipment {} from {}", shipment.number, shipment.source));
        lines.extend(shipment.lots.iter().map(lot));
    }
    lines
}

/// Returns an open doubt as a sentence.
pub fn hold(hold: &HoldView) -> String {
    let what = match &hold.piece {
        Some(piece) => format!("piece {piece}"),
        None => format!("lot {}", hold.lot),
    };
    let settles: Vec<&str> = hold
        .offers
        .iter()
        .filter(|offer| offer.power == Power::Settles)
        .map(|offer| offer.method.label())
        .collect();
    let settled = if settles.is_empty() {
        "no method considered here settles it".to_owned()
    } else {
        format!("settled by {}", settles.join(", "))
    };
    let standing = hold.standing.word();
    format!("{what}: {standing}, {}; {settled}", hold_text(hold))
}

/// Returns the text in ASCII, for a line that carries nothing else; a sign that has no such form becomes `?`.
pub fn ascii(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            c if c.is_ascii() => plain.push(c),
            '±' => plain.push_str("+/-"),
            '×' => plain.push('x'),
            '·' => plain.push('.'),
            'µ' | 'μ' => plain.push('u'),
            'σ' => plain.push_str("sigma"),
            '²' => plain.push('2'),
            '³' => plain.push('3'),
            '°' => plain.push_str(" deg "),
            '−' | '–' | '—' => plain.push('-'),
            '≤' => plain.push_str("<="),
            '≥' => plain.push_str(">="),
            _ => plain.push('?'),
        }
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_that_carries_ascii_only_still_says_every_number() {
        assert_eq!(ascii("33.950 ± 0.016 g, 10 g/cm³, −1"), "33.950 +/- 0.016 g, 10 g/cm3, -1");
        assert_eq!(ascii("M\u{fc}nze"), "M?nze");
    }
}
