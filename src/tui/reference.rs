//! The catalogue and the instruments in the words of the screens.

use super::state::{Facts, ProbeLine, ProductLine};
use crate::desk::Desk;
use crate::evidence::Probe;
use crate::present::spectrum::Marks;
use crate::present::words::mark_text;
use crate::quantity::Quantity;
use crate::reference::{Basis, Catalogue, Mark, Product, SourceId, Specified};
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
    let known = |mark: Mark, sources: &[SourceId]| known(catalogue, product, mark, sources);
    let alloy = &product.alloy;
    let name = &catalogue.alloy_of(product).name;
    add("alloy", Some(format!("{name} ({}) ({})", alloy.value, known(alloy.mark, &alloy.sources))));
    let of_mass = |mass| specified(mass, 3, &known);
    let of_length = |length| specified(length, 2, &known);
    add("mass", product.mass.as_ref().map(of_mass));
    let range = product.mass_range.as_ref().map(|range| {
        let words = known(range.mark, &range.sources);
        format!("{} to {} ({words})", range.low.show(0), range.high.show(0))
    });
    add("mass", range);
    let least = product.least_current_mass.as_ref();
    add(
        "least current",
        least.map(|mass| format!("{} ({})", mass.value.show(3), known(mass.mark, &mass.sources))),
    );
    let stated = product.fine_content.as_ref().map(of_mass);
    let by_fineness =
        || Some(format!("{} (calculated: mass × fineness)", product.nominal_fine_mass()?.show(3)));
    add("fine content", stated.or_else(by_fineness));
    add("diameter", product.diameter.as_ref().map(of_length));
    add("length", product.length.as_ref().map(of_length));
    add("width", product.width.as_ref().map(of_length));
    add("thickness", product.thickness.as_ref().map(of_length));
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

/// Says how a value is known; its sources only where they are not those of the whole specification.
fn known(catalogue: &Catalogue, product: &Product, mark: Mark, sources: &[SourceId]) -> String {
    if sources == product.sources.as_slice() {
        return mark_text(mark).to_owned();
    }
    let named = sources.iter().filter_map(|id| catalogue.source(id.as_str()));
    let texts: Vec<&str> = named.map(|source| source.text.as_str()).collect();
    format!("{}: {}", mark_text(mark), texts.join("; "))
}

/// Returns a specified quantity with its deviations and how it is known.
fn specified<Q: Quantity>(
    value: &Specified<Q>,
    decimals: u32,
    known: &impl Fn(Mark, &[SourceId]) -> String,
) -> String {
    let nominal = value.nominal.value.show(decimals);
    let basis = match value.basis {
        Basis::Nominal => "",
        Basis::Minimum => "at least ",
        Basis::Maximum => "at most ",
    };
    let minus = value.minus.as_ref().map(|by| format!(" -{}", by.value.digits_in(&Q::UNITS[0], decimals)));
    let plus = value.plus.as_ref().map(|by| format!(" +{}", by.value.digits_in(&Q::UNITS[0], decimals)));
    let deviations = format!("{}{}", minus.unwrap_or_default(), plus.unwrap_or_default());
    format!("{basis}{nominal}{deviations} ({})", known(value.nominal.mark, &value.nominal.sources))
}
