//! `scruple reference`: products and materials with their sources, and the check of a dealer's own file.

use super::{Printed, input, json};
use crate::desk::{AppError, ErrorKind, Settings};
use crate::present::reference_gaps;
use crate::present::table::{Align, Table};
use crate::present::text::clean;
use crate::present::words::count;
use crate::quantity::{Length, Mass, Quantity};
use crate::reference::gaps::gaps;
use crate::reference::{Catalogue, Mark, Material, Metal, Origin, Product, Ranged, SourceId, Specified};
use clap::{Args, Subcommand};
use serde_json::{Value, json};
use std::path::PathBuf;

/// Arguments of `scruple reference`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple reference list --metal gold
  scruple reference show us-5112-a7")]
pub(super) struct ReferenceArgs {
    #[command(subcommand)]
    act: ReferenceAct,
}

#[derive(Debug, Subcommand)]
enum ReferenceAct {
    /// List the products
    #[command(after_help = "\
Examples:
  scruple reference list
  scruple reference list ounce --metal silver --json")]
    List {
        /// Only products whose id, name or authority has this in it
        text: Option<String>,
        /// Only products of this metal
        #[arg(long, value_name = "METAL")]
        metal: Option<String>,
    },
    /// Show a product or a material with the source of every number
    #[command(after_help = "\
Examples:
  scruple reference show us-5112-a7
  scruple reference show Au9999 --json")]
    Show {
        /// Id of a product or a material
        id: String,
    },
    /// Count how each field is known, and say what is missing and what that costs in verdicts
    #[command(after_help = "\
Examples:
  scruple reference gaps
  scruple reference gaps --json")]
    Gaps,
    /// Check a dealer's own file; every mistake is named with line and reason
    #[command(after_help = "\
Examples:
  scruple reference check products.toml
  scruple reference check - < products.toml")]
    Check {
        /// The file; `-` for standard input
        file: PathBuf,
    },
}

pub(super) fn run(
    args: &ReferenceArgs,
    settings: &dyn Fn() -> Result<Settings, AppError>,
    json: bool,
) -> Result<Printed, AppError> {
    match &args.act {
        ReferenceAct::List { text, metal } => {
            list(&settings()?.catalogue, text.as_deref(), metal.as_deref(), json)
        }
        ReferenceAct::Show { id } => show(&settings()?.catalogue, id, json),
        ReferenceAct::Gaps => {
            let catalogue = settings()?.catalogue;
            let gaps = gaps(&catalogue);
            Ok(Printed::done(if json {
                json::document(reference_gaps::fields(&catalogue, &gaps))
            } else {
                reference_gaps::text(&catalogue, &gaps)
            }))
        }
        ReferenceAct::Check { file } => check(file, json),
    }
}

fn list(
    catalogue: &Catalogue,
    text: Option<&str>,
    metal: Option<&str>,
    json: bool,
) -> Result<Printed, AppError> {
    let metal = metal
        .map(|word| {
            Metal::from_word(word).ok_or_else(|| {
                let allowed: Vec<String> = Metal::WORDS.iter().map(|word| format!("`{word}`")).collect();
                AppError::usage(format!("metal `{word}` is not one of {}", allowed.join(", ")), Vec::new())
            })
        })
        .transpose()?;
    let wanted = text.map(str::to_lowercase);
    let products: Vec<&Product> = catalogue
        .products()
        .filter(|product| metal.is_none_or(|metal| product.metal == metal))
        .filter(|product| {
            wanted.as_ref().is_none_or(|wanted| {
                let texts = [product.id.as_str(), &product.name, &product.authority];
                texts.iter().any(|text| text.to_lowercase().contains(wanted))
            })
        })
        .collect();
    if json {
        let products: Vec<Value> = products
            .iter()
            .map(|product| {
                json!({
                    "id": product.id.as_str(),
                    "name": product.name,
                    "metal": product.metal.as_str(),
                    "fineness": product.fineness.nominal.value.as_per_mille(),
                    "mass_g": product.mass.as_ref().map(|mass| mass.nominal.value.as_grams()),
                    "mark": product.mark.as_str(),
                    "authority": product.authority,
                    "origin": product.origin.as_str(),
                })
            })
            .collect();
        let fields = json!({ "reference": catalogue.version(), "products": products });
        return Ok(Printed::done(json::document(fields)));
    }
    let mut table = Table::new(&[
        ("product", Align::Left),
        ("metal", Align::Left),
        ("fineness", Align::Right),
        ("mass", Align::Right),
        ("known", Align::Left),
        ("name", Align::Left),
    ]);
    for product in &products {
        let mass = product.mass.as_ref().map_or_else(|| "-".to_owned(), |mass| mass.nominal.value.show(3));
        let own = if product.origin == Origin::Dealer { ", own" } else { "" };
        table.row([
            product.id.as_str(),
            product.metal.as_str(),
            &product.fineness.nominal.value.as_per_mille().to_string(),
            &mass,
            &format!("{}{own}", product.mark),
            &format!("{}, {}", product.name, product.authority),
        ]);
    }
    let summary =
        format!("\n{}, reference {}\n", count(products.len(), "product", "products"), catalogue.version());
    Ok(Printed::done(table.text() + &summary))
}

/// One number of a record: what, the value, how it is known, and from where.
struct Fact {
    what: &'static str,
    value: String,
    mark: Mark,
    sources: Vec<SourceId>,
}

fn show(catalogue: &Catalogue, id: &str, json: bool) -> Result<Printed, AppError> {
    let (kind, name, notes, facts) = if let Some(product) = catalogue.product(id) {
        ("product", &*product.name, &product.notes, product_facts(product))
    } else if let Some(material) = catalogue.material(id) {
        ("material", &*material.name, &material.notes, material_facts(material))
    } else {
        let mut near = catalogue.closest_products(id);
        near.extend(catalogue.closest_materials(id));
        let near: Vec<String> = near.into_iter().map(|id| format!("`{id}`")).collect();
        let error = AppError::usage(
            format!("`{}` is neither a product nor a material of the reference", clean(id)),
            Vec::new(),
        );
        return Err(match near.as_slice() {
            [] => error.with_hint("`scruple reference list` shows every product"),
            near => error.with_hint(format!("closest: {}", near.join(", "))),
        });
    };
    let mut sources: Vec<&SourceId> = facts.iter().flat_map(|fact| &fact.sources).collect();
    sources.sort();
    sources.dedup();
    let cited = |id: &SourceId| {
        catalogue.source(id.as_str()).map_or("", |citation| citation.text.as_str()).to_owned()
    };
    if json {
        let fields = json!({
            "kind": kind,
            "id": id,
            "name": name,
            "notes": notes,
            "facts": facts.iter().map(|fact| json!({
                "what": fact.what,
                "value": fact.value,
                "mark": fact.mark.as_str(),
                "sources": fact.sources.iter().map(SourceId::as_str).collect::<Vec<_>>(),
            })).collect::<Vec<_>>(),
            "sources": sources.iter().map(|id| json!({ "id": id.as_str(), "citation": cited(id) })).collect::<Vec<_>>(),
        });
        return Ok(Printed::done(json::document(fields)));
    }
    let mut text = format!("{kind} {}  {}\n\n", clean(id), clean(name));
    let mut table = Table::new(&[
        ("what", Align::Left),
        ("value", Align::Left),
        ("known", Align::Left),
        ("sources", Align::Left),
    ]);
    for fact in &facts {
        let from: Vec<&str> = fact.sources.iter().map(SourceId::as_str).collect();
        table.row([fact.what, &fact.value, fact.mark.as_str(), &from.join(", ")]);
    }
    text.push_str(&table.text());
    text.push('\n');
    for id in sources {
        text.push_str(&format!("{id}: {}\n", clean(&cited(id))));
    }
    if !notes.is_empty() {
        text.push_str(&format!("\n{}\n", clean(notes)));
    }
    Ok(Printed::done(text))
}

fn product_facts(product: &Product) -> Vec<Fact> {
    let mut facts = vec![
        Fact {
            what: "specification",
            value: format!(
                "{}, {}, {}, by {}",
                product.kind, product.shape, product.metal, product.authority
            ),
            mark: product.mark,
            sources: product.sources.clone(),
        },
        Fact {
            what: "fineness",
            value: format!(
                "{} per mille, {}",
                product.fineness.nominal.value.as_per_mille(),
                product.fineness.basis
            ),
            mark: product.fineness.nominal.mark,
            sources: product.fineness.nominal.sources.clone(),
        },
        Fact {
            what: "alloy",
            value: product.alloy.value.to_string(),
            mark: product.alloy.mark,
            sources: product.alloy.sources.clone(),
        },
    ];
    let masses: [(&'static str, &Option<Specified<Mass>>); 2] =
        [("mass", &product.mass), ("fine content", &product.fine_content)];
    for (what, mass) in masses {
        facts.extend(mass.iter().flat_map(|mass| specified(what, mass, 4)));
    }
    if let Some(range) = &product.mass_range {
        facts.push(Fact {
            what: "mass",
            value: format!("{} to {}", range.low.show(1), range.high.show(1)),
            mark: range.mark,
            sources: range.sources.clone(),
        });
    }
    if let Some(least) = &product.least_current_mass {
        facts.push(Fact {
            what: "least current mass",
            value: least.value.show(4),
            mark: least.mark,
            sources: least.sources.clone(),
        });
    }
    let lengths: [(&'static str, &Option<Specified<Length>>); 4] = [
        ("diameter", &product.diameter),
        ("length", &product.length),
        ("width", &product.width),
        ("thickness", &product.thickness),
    ];
    for (what, length) in lengths {
        facts.extend(length.iter().flat_map(|length| specified(what, length, 2)));
    }
    facts
}

fn specified<Q: Quantity>(what: &'static str, quantity: &Specified<Q>, decimals: u32) -> Vec<Fact> {
    let nominal = &quantity.nominal;
    let mut facts = vec![Fact {
        what,
        value: format!("{}, {}", nominal.value.show(decimals), quantity.basis),
        mark: nominal.mark,
        sources: nominal.sources.clone(),
    }];
    for (side, deviation) in [("minus", &quantity.minus), ("plus", &quantity.plus)] {
        if let Some(deviation) = deviation {
            facts.push(Fact {
                what: "",
                value: format!("{side} {}", deviation.value.show(decimals)),
                mark: deviation.mark,
                sources: deviation.sources.clone(),
            });
        }
    }
    facts
}

fn material_facts(material: &Material) -> Vec<Fact> {
    let mut facts = vec![
        ranged("density", &material.density, |value| value.show(3)),
        ranged("conductivity at 20 C", &material.conductivity, |value| value.show(2)),
    ];
    if let Some(coefficient) = &material.temperature_coefficient {
        facts.push(ranged("temperature coefficient", coefficient, |value| value.show(5)));
    }
    facts.push(ranged("sound velocity", &material.sound_velocity, |value| value.show(0)));
    facts.push(ranged("Young's modulus", &material.youngs_modulus, |value| value.show(1)));
    facts.push(ranged("Poisson's ratio", &material.poisson_ratio, |value| format!("{value}")));
    facts.push(Fact {
        what: "magnet",
        value: material.magnetism.value.to_string(),
        mark: material.magnetism.mark,
        sources: material.magnetism.sources.clone(),
    });
    facts
}

fn ranged<T: Copy>(what: &'static str, ranged: &Ranged<T>, show: impl Fn(T) -> String) -> Fact {
    let range = format!(
        "{} ({} to {}, range {})",
        show(ranged.value),
        show(ranged.low),
        show(ranged.high),
        ranged.range_mark
    );
    Fact { what, value: range, mark: ranged.mark, sources: ranged.sources.clone() }
}

fn check(file: &std::path::Path, json: bool) -> Result<Printed, AppError> {
    let input = input::read(file)?;
    let embedded = Catalogue::embedded();
    let catalogue = match embedded.with_dealer(&input.name, &input.text) {
        Ok(catalogue) => catalogue,
        Err(mistakes) => {
            let mistakes = mistakes.0;
            if json {
                let mistakes: Vec<Value> = mistakes
                    .iter()
                    .map(|mistake| {
                        json!({
                            "line": mistake.place.line,
                            "column": mistake.place.column,
                            "reason": mistake.reason.to_string(),
                        })
                    })
                    .collect();
                let data = json::document(json!({ "file": input.name, "mistakes": mistakes }));
                return Ok(Printed { data, code: ErrorKind::BadRows.exit_code() });
            }
            let mut lines: Vec<String> = mistakes.iter().map(ToString::to_string).collect();
            lines.push(format!("`{}` has {}", input.name, count(mistakes.len(), "mistake", "mistakes")));
            return Err(AppError::new(ErrorKind::BadRows, lines.join("\n")));
        }
    };
    let own: Vec<&Product> =
        catalogue.products().filter(|product| product.origin == Origin::Dealer).collect();
    if json {
        let ids: Vec<&str> = own.iter().map(|product| product.id.as_str()).collect();
        let none: [Value; 0] = [];
        return Ok(Printed::done(json::document(
            json!({ "file": input.name, "mistakes": none, "products": ids }),
        )));
    }
    let products = count(own.len(), "product", "products");
    Ok(Printed::done(format!("{}: {products} of its own, no mistakes\n", clean(&input.name))))
}
