//! What the reference lacks, in words: how each field is known, and what its lack costs in verdicts.

use super::table::{Align, Table};
use super::words::count;
use crate::reference::gaps::{Field, FieldGaps};
use crate::reference::{Catalogue, Mark};
use serde_json::{Value, json};

/// Ids that are named in the text; the others are counted.
const NAMED: usize = 3;

/// Returns what a verdict has to do without where a field is missing or only assumed.
pub fn cost_text(field: Field) -> &'static str {
    match field {
        Field::Mass => "no limit of the mass",
        Field::MassTolerance => "the limit of the mass is the share that the policy assumes",
        Field::LeastWeight => "the limit of a worn piece is what wear is assumed to take",
        Field::Diameter => "no limit of the diameter and no density from size",
        Field::CoinThickness => {
            "no limit of the thickness and no density from size: cores of another density stay open until \
             immersion or ultrasound"
        }
        Field::BarSize => "no limit of the size; a bar is compared with its own measures only",
        Field::Alloy => "the window of the conductivity is that of an alloy nobody states",
        Field::Density => "immersion and size exclude less",
        Field::Conductivity => "a meter excludes less",
        Field::TemperatureCoefficient => "readings away from 20 °C cannot be corrected well",
        Field::SoundVelocity => "ultrasound excludes less",
        Field::YoungsModulus | Field::PoissonRatio => "the ring of a piece excludes less",
    }
}

/// Returns the gaps as a table, with what each costs below it.
pub fn text(catalogue: &Catalogue, gaps: &[FieldGaps]) -> String {
    let mut heads = vec![("field", Align::Left)];
    heads.extend(Mark::WORDS.iter().map(|word| (*word, Align::Right)));
    heads.push(("missing", Align::Right));
    let mut table = Table::new(&heads);
    for gap in gaps {
        let mut cells = vec![gap.field.as_str().to_owned()];
        cells.extend(gap.known.iter().map(usize::to_string));
        cells.push(gap.missing.len().to_string());
        table.row(cells);
    }
    let mut text = table.text();
    text.push_str("\nWhat the lack costs:\n");
    for gap in gaps.iter().filter(|gap| gap.without() > 0) {
        let of = count(gap.records(), "record", "records");
        text.push_str(&format!("  {}, {} of {of}: {}", gap.field, gap.without(), cost_text(gap.field)));
        text.push_str(&match gap.missing.as_slice() {
            [] => "\n".to_owned(),
            missing if missing.len() <= NAMED => format!("; missing in {}\n", missing.join(", ")),
            missing => {
                format!("; missing in {} and {} more\n", missing[..NAMED].join(", "), missing.len() - NAMED)
            }
        });
    }
    text.push_str(&format!("\nreference {}\n", catalogue.version()));
    text
}

/// Returns the gaps for a program, with every id.
pub fn fields(catalogue: &Catalogue, gaps: &[FieldGaps]) -> Value {
    let gaps: Vec<Value> = gaps
        .iter()
        .map(|gap| {
            let mut known = serde_json::Map::new();
            for (word, number) in Mark::WORDS.iter().zip(gap.known) {
                known.insert((*word).to_owned(), json!(number));
            }
            json!({
                "field": gap.field.as_str(),
                "records": gap.records(),
                "known": known,
                "missing": gap.missing.len(),
                "cost": cost_text(gap.field),
                "missing_in": gap.missing,
                "assumed_in": gap.assumed,
            })
        })
        .collect();
    json!({ "reference": catalogue.version(), "gaps": gaps })
}
