//! `scruple type-book`: what released pieces taught, beside the published figures.

use super::{Printed, json};
use crate::desk::type_book::{TypeBookRow, TypeBookView};
use crate::desk::{AppError, Desk};
use crate::present::assessment_text::wrapped;
use crate::present::table::{Align, Table};
use crate::present::text::clean;
use crate::present::type_book::{centre_text, expected_text, published_text, remark_lines, scatter_text};
use crate::scoring::LotValue;
use clap::Args;
use serde_json::{Value, json};

/// Arguments of `scruple type-book`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple type-book us-5112-e
  scruple type-book --json")]
pub(super) struct TypeBookArgs {
    /// Id of a product; without it every product that released pieces taught about
    product: Option<String>,
}

pub(super) fn run(args: &TypeBookArgs, desk: &Desk, json: bool) -> Result<Printed, AppError> {
    let views = desk.type_book(args.product.as_deref())?;
    if json {
        let products: Vec<Value> = views.iter().map(view_json).collect();
        return Ok(Printed::done(json::document(json!({ "products": products }))));
    }
    if views.is_empty() {
        return Ok(Printed::done("no released piece has taught anything yet\n".to_owned()));
    }
    Ok(Printed::done(views.iter().map(text).collect::<Vec<_>>().join("\n")))
}

fn text(view: &TypeBookView) -> String {
    let mut text = format!("{}  {}\n", view.product, clean(&view.product_name));
    let mut table = Table::new(&[
        ("quantity", Align::Left),
        ("read with", Align::Left),
        ("pieces", Align::Right),
        ("lots", Align::Right),
        ("centre (k = 1)", Align::Left),
        ("scatter", Align::Left),
        ("expected", Align::Left),
        ("published", Align::Left),
    ]);
    for row in &view.rows {
        let lots = row.learned.as_ref().map_or_else(String::new, |learned| learned.lots.to_string());
        table.row([
            row.quantity.word(),
            &clean(row.instrument.as_deref().unwrap_or("-")),
            &row.pieces.to_string(),
            &lots,
            &centre_text(row),
            &scatter_text(row),
            &expected_text(row),
            &published_text(row),
        ]);
    }
    text.push_str(&table.text());
    let sources =
        view.rows.iter().filter_map(|row| row.learned.as_ref()).max_by_key(|learned| learned.pieces);
    if let Some(learned) = sources {
        let sources: Vec<String> =
            learned.sources.iter().map(|(source, pieces)| format!("{} {pieces}", clean(source))).collect();
        wrapped(&mut text, "pieces by source: ", "  ", &sources.join(", "));
    }
    for remark in remark_lines(view) {
        wrapped(&mut text, "- ", "  ", &remark);
    }
    if view.rows.iter().any(|row| row.learned.is_some()) {
        let says = format!(
            "Outside what is expected a piece gets a doubt; a good one does in {} % of cases. Inside proves nothing.",
            100.0 * view.significance
        );
        wrapped(&mut text, "", "", &says);
    }
    text
}

fn view_json(view: &TypeBookView) -> Value {
    json!({
        "product": view.product.as_str(),
        "name": view.product_name,
        "version": view.version,
        "least": view.least,
        "significance": view.significance,
        "quantities": view.rows.iter().map(row_json).collect::<Vec<_>>(),
    })
}

fn row_json(row: &TypeBookRow) -> Value {
    let figures = row.learned.as_ref().and_then(|learned| learned.figures);
    let number = |value: Option<LotValue>| value.map(LotValue::value);
    json!({
        "quantity": row.quantity.word(),
        "unit": row.quantity.measurand().map(|measurand| measurand.units()[0].symbol),
        "instrument": row.instrument,
        "pieces": row.pieces,
        "missing": row.missing,
        "lots": row.learned.as_ref().map(|learned| learned.lots),
        "centre": number(figures.map(|figures| figures.centre)),
        "centre_u": number(figures.map(|figures| figures.centre_u)),
        "scatter": number(figures.map(|figures| figures.scatter)),
        "freedom": figures.map(|figures| figures.freedom),
        "expected_lower": number(row.expected.map(|(low, _)| low)),
        "expected_upper": number(row.expected.map(|(_, high)| high)),
        "published_lower": number(row.published.0),
        "published_upper": number(row.published.1),
        "sources": row.learned.as_ref().map(|learned| learned.sources.iter().map(|(source, pieces)| json!({
            "source": source, "pieces": pieces,
        })).collect::<Vec<_>>()),
        "remarks": row.learned.as_ref().map(|learned| &learned.remarks),
    })
}
