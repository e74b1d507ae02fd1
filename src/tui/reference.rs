//! The catalogue and the instruments in the words of the screens.

use super::state::{Facts, ProbeLine, ProductLine};
use crate::desk::Desk;
use crate::evidence::Probe;
use crate::present::spectrum::Marks;
use crate::present::words::mark_text;
use crate::quantity::Quantity;
use crate::reference::{Basis, Catalogue, Product, Specified};
use crate::scoring::{Policy, Surroundings};
use chrono::FixedOffset;

/// Returns what the screens show of the desk and does not change while they run.
pub fn facts(desk: &Desk, offset: FixedOffset, marks: Marks) -> Facts {
    let catalogue = desk.catalogue();
    Facts {
        products: catalogue
            .products()
            .map(|product| product_line(catalogue, desk.policy(), product))
            .collect(),
        probes: desk.instruments().probes.iter().map(probe_line).collect(),
        offset,
        marks,
    }
}

/// Returns a probe in words.
fn probe_line(probe: &Probe) -> ProbeLine {
    let frequency = match probe.frequency {
        Some(frequency) if frequency.as_hertz() >= 1000.0 => format!("{} kHz", frequency.as_hertz() / 1000.0),
        Some(frequency) => format!("{} Hz", frequency.as_hertz()),
        None => "frequency unknown".to_owned(),
    };
    ProbeLine { name: probe.name.clone(), text: frequency, probe: probe.clone() }
}

/// Returns a product in words.
fn product_line(catalogue: &Catalogue, policy: &Policy, product: &Product) -> ProductLine {
    let fineness = &product.fineness.nominal.value;
    let per_mille = fineness.as_per_mille();
    let metal = format!("{} {}", product.metal, (per_mille * 10.0).round() / 10.0);
    let mut details: Vec<(String, String)> = Vec::new();
    let mut add = |label: &str, text: Option<String>| {
        if let Some(text) = text.filter(|text| !text.is_empty()) {
            details.push((label.to_owned(), text));
        }
    };
    add("alloy", Some(format!("{} ({})", catalogue.alloy_of(product).name, product.alloy.value)));
    add("mass", product.mass.as_ref().map(|mass| specified(mass, 3)));
    add(
        "mass",
        product.mass_range.as_ref().map(|range| format!("{} to {}", range.low.show(0), range.high.show(0))),
    );
    add("least current", product.least_current_mass.as_ref().map(|mass| mass.value.show(3)));
    add("fine content", product.nominal_fine_mass().map(|mass| mass.show(3)));
    add("diameter", product.diameter.as_ref().map(|length| specified(length, 2)));
    add("length", product.length.as_ref().map(|length| specified(length, 2)));
    add("width", product.width.as_ref().map(|length| specified(length, 2)));
    add("thickness", product.thickness.as_ref().map(|length| specified(length, 2)));
    add("shape", Some(format!("{}, {}", product.kind, product.shape)));
    add("set by", Some(product.authority.clone()));
    add("year", product.year.map(|year| year.to_string()));
    add("known", Some(mark_text(product.mark).to_owned()));
    let sources: Vec<&str> = product
        .sources
        .iter()
        .filter_map(|id| catalogue.source(id.as_str()))
        .map(|source| source.text.as_str())
        .collect();
    add("source", Some(sources.join("; ")));
    add("notes", Some(product.notes.clone()));
    let around = Some(Surroundings::of(product, catalogue, policy));
    ProductLine { id: product.id.to_string(), name: product.name.clone(), metal, details, around }
}

/// Returns a specified quantity with its deviations and how it is known.
fn specified<Q: Quantity>(value: &Specified<Q>, decimals: u32) -> String {
    let nominal = value.nominal.value.show(decimals);
    let basis = match value.basis {
        Basis::Nominal => "",
        Basis::Minimum => "at least ",
        Basis::Maximum => "at most ",
    };
    let minus = value.minus.as_ref().map(|by| format!(" -{}", by.value.digits_in(&Q::UNITS[0], decimals)));
    let plus = value.plus.as_ref().map(|by| format!(" +{}", by.value.digits_in(&Q::UNITS[0], decimals)));
    let deviations = format!("{}{}", minus.unwrap_or_default(), plus.unwrap_or_default());
    format!("{basis}{nominal}{deviations} ({})", value.nominal.mark)
}
