//! Reports as one HTML file that needs nothing else.

use crate::report::binding::bound;
use crate::report::chart;
use crate::report::document::{Align, Block, Document, Table};
use crate::report::svg::{self, escaped};

/// The look, also on paper.
const STYLE: &str = include_str!("../../assets/report/report.css");
/// Width of a plot, in points.
const PLOT_WIDTH: f64 = 540.0;

/// Returns a report as an HTML file: style and plots are inside, nothing is fetched, nothing runs.
pub fn page(document: &Document) -> String {
    let mut html = String::from("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n");
    html.push_str("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n");
    html.push_str(&format!("<title>{}</title>\n", escaped(&document.title)));
    html.push_str(&format!("<style>\n{STYLE}</style>\n</head>\n<body>\n<header>\n"));
    html.push_str(&element("h1", &document.title));
    if !document.subtitle.is_empty() {
        html.push_str(&element("p", &document.subtitle));
    }
    html.push_str("</header>\n<main>\n");
    for block in &document.blocks {
        write_block(&mut html, block);
    }
    html.push_str("</main>\n");
    if !document.footer.is_empty() {
        html.push_str(&element("footer", &document.footer));
    }
    html.push_str("</body>\n</html>\n");
    html
}

fn element(name: &str, text: &str) -> String {
    format!("<{name}>{}</{name}>\n", lines(text))
}

/// Returns an escaped text with its line breaks.
fn lines(text: &str) -> String {
    bound(text).lines().map(escaped).collect::<Vec<_>>().join("<br>")
}

/// Returns the escaped text of a cell, in which no number of a piece breaks at its hyphens.
fn cell(text: &str) -> String {
    bound(text).lines().map(unbroken).collect::<Vec<_>>().join("<br>")
}

fn unbroken(text: &str) -> String {
    const LONGEST: usize = 40;
    let word = |word: &str| {
        let whole = word.contains(['-', '/']) && word.len() <= LONGEST;
        if whole { format!("<span>{}</span>", escaped(word)) } else { escaped(word) }
    };
    text.split(' ').map(word).collect::<Vec<_>>().join(" ")
}

fn write_block(html: &mut String, block: &Block) {
    match block {
        Block::Heading(text) => html.push_str(&element("h2", text)),
        Block::Paragraph(text) => html.push_str(&element("p", text)),
        Block::KeyValues(pairs) => {
            html.push_str("<dl>\n");
            for (key, value) in pairs {
                html.push_str(&element("dt", key));
                html.push_str(&element("dd", value));
            }
            html.push_str("</dl>\n");
        }
        Block::Table(table) => write_table(html, table),
        Block::Plot(plot) => {
            html.push_str("<figure>\n");
            html.push_str(&svg::inline(&chart::draw(plot, PLOT_WIDTH)));
            html.push_str("</figure>\n");
        }
        Block::Caution(text) => {
            html.push_str("<aside>\n<strong>Caution</strong>\n");
            html.push_str(&element("p", text));
            html.push_str("</aside>\n");
        }
        Block::PageBreak => html.push_str("<hr class=\"page\">\n"),
    }
}

fn write_table(html: &mut String, table: &Table) {
    let class = |align: Align| if align == Align::Right { " class=\"number\"" } else { "" };
    html.push_str("<div class=\"table\">\n<table>\n");
    if !table.caption.is_empty() {
        html.push_str(&element("caption", &table.caption));
    }
    html.push_str("<thead>\n<tr>");
    for column in &table.columns {
        html.push_str(&format!(
            "<th scope=\"col\"{}>{}</th>",
            class(column.align),
            lines(&column.bound_title())
        ));
    }
    html.push_str("</tr>\n</thead>\n<tbody>\n");
    for row in 0..table.rows.len() {
        html.push_str("<tr>");
        for (index, column) in table.columns.iter().enumerate() {
            html.push_str(&format!("<td{}>{}</td>", class(column.align), cell(&table.shown(row, index))));
        }
        html.push_str("</tr>\n");
    }
    html.push_str("</tbody>\n</table>\n</div>\n");
}
