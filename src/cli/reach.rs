//! `scruple reach`: what a probe proves in depth on a product.

use super::{Printed, json, output};
use crate::desk::reach::{ReachRequest, reach_of};
use crate::desk::{AppError, Settings};
use crate::present::{reach_json, reach_text};
use crate::report::{chart, reach_plot, svg};
use crate::scoring::Standards;
use clap::Args;
use serde_json::{Value, json};
use std::path::PathBuf;

/// Width of a plot, in points.
const PLOT_WIDTH: f64 = 540.0;

/// What is asked about.
#[derive(Debug, Args)]
pub(super) struct About {
    /// Product id; `scruple reference list` shows them
    pub(super) product: String,
    /// A probe of the desk by name [else all are compared and one is proposed]
    #[arg(long, value_name = "NAME")]
    probe: Option<String>,
    /// Diameter of the piece, where the reference has none
    #[arg(long, value_name = "Q")]
    diameter: Option<String>,
    /// Longer side of a bar [else assumed]
    #[arg(long, value_name = "Q")]
    length: Option<String>,
    /// Shorter side of a bar [else assumed]
    #[arg(long, value_name = "Q")]
    width: Option<String>,
    /// Thickness [else as specified, or from the mass]
    #[arg(long, value_name = "Q")]
    thickness: Option<String>,
    /// Price of a troy ounce of the fine metal, such as `2400` or `2400 EUR`
    #[arg(long, value_name = "Q")]
    price: Option<String>,
    /// Pieces of the lot it would come in
    #[arg(long, value_name = "N", default_value_t = 1)]
    lot: u32,
}

impl About {
    /// Returns the request; `depth` is where a core should show.
    pub(super) fn request(&self, depth: Option<&String>) -> ReachRequest {
        ReachRequest {
            product: self.product.clone(),
            probe: self.probe.clone(),
            diameter: self.diameter.clone(),
            length: self.length.clone(),
            width: self.width.clone(),
            thickness: self.thickness.clone(),
            depth: depth.cloned(),
            price: self.price.clone(),
            lot_size: self.lot,
        }
    }
}

/// Arguments of `scruple reach`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scruple reach bar-gold-9999-1kg --probe deep --price 2400
  scruple reach ca-gold-50 --price 2400 --json")]
pub(super) struct ReachArgs {
    #[command(flatten)]
    about: About,
    /// Depth at which a core should show [else the deepest skin under which it still matters]
    #[arg(long, value_name = "Q")]
    depth: Option<String>,
    /// Draw the plot into a new file, SVG; `-` for standard output
    #[arg(long, value_name = "FILE", requires = "probe")]
    plot: Option<PathBuf>,
}

/// Says what one probe proves, or compares all.
pub(super) fn run(args: &ReachArgs, settings: &Settings, json: bool) -> Result<Printed, AppError> {
    let request = args.about.request(args.depth.as_ref());
    let standards = Standards::default();
    let view = reach_of(&request, &settings.catalogue, &settings.instruments, &settings.policy, &standards)?;
    if let (Some(file), [reach]) = (&args.plot, view.reaches.as_slice()) {
        let drawing = chart::draw(&reach_plot::plot(reach, &view.product_name), PLOT_WIDTH);
        output::write_new(file, svg::file(&drawing).as_bytes())?;
        if file.as_os_str() == "-" {
            return Ok(Printed::done(String::new()));
        }
    }
    if json {
        let probes: Vec<Value> = view.reaches.iter().map(reach_json::reach).collect();
        let mut fields = json!({ "product_name": view.product_name, "probes": probes });
        if let Some(proposal) = &view.proposal {
            let best = proposal.best.map(|best| view.reaches[best].probe.name.clone());
            fields["proposed"] = json!({ "probe": best, "why": proposal.why });
        }
        return Ok(Printed::done(json::document(fields)));
    }
    let text = match (&view.proposal, view.reaches.as_slice()) {
        (None, [reach]) => reach_text::account(reach, &view.product_name),
        (Some(proposal), reaches) => reach_text::comparison(reaches, proposal, &view.product_name),
        (None, _) => String::new(),
    };
    Ok(Printed::done(text))
}
