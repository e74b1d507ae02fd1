//! How deep a probe sees into a product, core by core, as a plot.

use super::plot::{Axis, Figure, Plot, Reach as Rows, ReachRow, ReachSpan, SpanKind};
use crate::present::reach_text::frequency;
use crate::quantity::Length;
use crate::scoring::Reach;

/// Cores that are drawn; the rest is counted below.
const DRAWN: usize = 12;

/// Returns the plot of one probe: what an accepted reading shows from the surface down, and where a core can hide.
pub fn plot(reach: &Reach, name: &str) -> Plot {
    let half = reach.half.as_millimetres();
    let span = |from: f64, to: f64, kind, label: String| ReachSpan { from, to, kind, label };
    let open: Vec<_> = reach.cores.iter().filter(|core| core.is_open()).collect();
    let mut rows = Vec::new();
    let vouched = match reach.proved_depth.map(Length::as_millimetres) {
        Some(proved) => {
            let end = proved.min(half);
            vec![
                span(0.0, end, SpanKind::Seen, format!("{proved:.2} mm vouched for")),
                span(end, half, SpanKind::Blind, String::new()),
            ]
        }
        None => vec![span(0.0, half, SpanKind::Blind, "no reading can be used".to_owned())],
    };
    let at = reach.probe.frequency.map_or(String::new(), |at| format!(", {}", frequency(at)));
    rows.push(ReachRow { label: format!("probe {}{at}", reach.probe.name), spans: vouched });
    for core in open.iter().take(DRAWN) {
        let mut spans = Vec::new();
        let mut shown = 0.0;
        for (thin, thick) in &core.hides {
            let (thin, thick) = (thin.as_millimetres(), thick.as_millimetres().min(half));
            if thin > shown {
                spans.push(span(shown, thin, SpanKind::Seen, String::new()));
            }
            let from = if thin < 0.005 { "any skin".to_owned() } else { format!("from {thin:.2} mm") };
            let worth = core.displaced.map_or(String::new(), |money| format!(", {money}"));
            let label = if shown == 0.0 { format!("{from}{worth}") } else { String::new() };
            spans.push(span(thin, thick, SpanKind::Open, label));
            shown = thick;
        }
        rows.push(ReachRow { label: core.name.clone(), spans });
    }
    let more = match open.len().saturating_sub(DRAWN) {
        0 => String::new(),
        more => format!(" Not drawn: {more} more."),
    };
    Plot {
        title: format!("What probe {} proves on {} ({name})", reach.probe.name, reach.product),
        note: format!(
            "Seen: a core under a skin this thin would move the reading out of what is accepted. Could hide: it would not. The most \
             displaced first.{more}"
        ),
        figure: Figure::Reach(Rows {
            depth: Axis { quantity: "skin over the core".to_owned(), unit: "mm".to_owned(), range: None },
            bottom: Some((half, format!("half of the thickness, {half:.2} mm"))),
            rows,
        }),
    }
}
