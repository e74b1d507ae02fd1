//! Drawings as SVG.

use std::fmt::Write;

use crate::report::drawing::{Anchor, Drawing, Ink, POINTS_PER_MM, Shape, Words};
use crate::report::metrics::Face;

/// The typeface of every SVG text.
const FAMILY: &str = "Helvetica, Arial, 'Liberation Sans', 'Nimbus Sans', sans-serif";

/// Returns a drawing as an SVG file of its size in millimetres.
pub fn file(drawing: &Drawing) -> String {
    let (width, height) = (number(drawing.width / POINTS_PER_MM), number(drawing.height / POINTS_PER_MM));
    let size = format!(" width=\"{width}mm\" height=\"{height}mm\"");
    format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}", element(drawing, &size))
}

/// Returns a drawing as an SVG element that takes the width it is given.
pub fn inline(drawing: &Drawing) -> String {
    element(drawing, &format!(" style=\"max-width:{}pt\"", number(drawing.width)))
}

fn element(drawing: &Drawing, size: &str) -> String {
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\"{size} viewBox=\"0 0 {} {}\" font-family=\"{FAMILY}\">\n",
        number(drawing.width),
        number(drawing.height)
    );
    if !drawing.title.is_empty() {
        put(&mut svg, format_args!("<title>{}</title>\n", escaped(&drawing.title)));
    }
    for shape in &drawing.shapes {
        write_shape(&mut svg, shape);
    }
    svg.push_str("</svg>\n");
    svg
}

fn write_shape(svg: &mut String, shape: &Shape) {
    match shape {
        Shape::Line { points, thickness, dash, ink } => {
            let pattern: Vec<String> = dash.pattern().iter().map(|&length| number(length)).collect();
            let dash = match pattern.as_slice() {
                [] => String::new(),
                pattern => format!(" stroke-dasharray=\"{}\"", pattern.join(" ")),
            };
            let (points, ink, thickness) = (corners(points), colour(*ink), number(*thickness));
            put(
                svg,
                format_args!(
                    "<polyline points=\"{points}\" fill=\"none\" stroke=\"{ink}\" stroke-width=\"{thickness}\"{dash}/>\n"
                ),
            );
        }
        Shape::Area { points, fill, outline } => {
            put(svg, format_args!("<polygon points=\"{}\"{}/>\n", corners(points), paint(*fill, *outline)));
        }
        Shape::Disc { middle, radius, fill, outline } => {
            let (x, y, r) = (number(middle.0), number(middle.1), number(*radius));
            put(svg, format_args!("<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\"{}/>\n", paint(*fill, *outline)));
        }
        Shape::Cells { cells, ink } => {
            svg.push_str("<path d=\"");
            for cell in cells {
                let [x, y, width, height] = cell.map(number);
                put(svg, format_args!("M{x} {y}h{width}v{height}h-{width}z"));
            }
            put(svg, format_args!("\" fill=\"{}\" shape-rendering=\"crispEdges\"/>\n", colour(*ink)));
        }
        Shape::Words(words) => write_words(svg, words),
    }
}

fn write_words(svg: &mut String, words: &Words) {
    let anchor = match words.anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    };
    let weight = if words.face == Face::Bold { " font-weight=\"bold\"" } else { "" };
    let (x, y) = (number(words.at.0), number(words.at.1));
    let turn = if words.upwards { format!(" transform=\"rotate(-90 {x} {y})\"") } else { String::new() };
    let (size, ink, text) = (number(words.size), colour(words.ink), escaped(&words.text));
    put(
        svg,
        format_args!(
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" text-anchor=\"{anchor}\" fill=\"{ink}\"{weight}{turn}>{text}</text>\n"
        ),
    );
}

/// Appends to a text.
fn put(text: &mut String, part: std::fmt::Arguments) {
    text.write_fmt(part).expect("writing to a string never ends in an error");
}

fn paint(fill: Option<Ink>, outline: Option<Ink>) -> String {
    let fill = fill.map_or("none".to_owned(), colour);
    let outline =
        outline.map_or(String::new(), |ink| format!(" stroke=\"{}\" stroke-width=\"0.7\"", colour(ink)));
    format!(" fill=\"{fill}\"{outline}")
}

fn corners(points: &[(f64, f64)]) -> String {
    points.iter().map(|&(x, y)| format!("{},{}", number(x), number(y))).collect::<Vec<_>>().join(" ")
}

fn colour(ink: Ink) -> String {
    let [red, green, blue] = ink.rgb();
    format!("#{red:02x}{green:02x}{blue:02x}")
}

/// Returns a number with at most four decimals; 0 where it is not finite.
fn number(value: f64) -> String {
    if !value.is_finite() {
        return "0".to_owned();
    }
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Returns a text in which nothing is read as markup; characters that XML forbids become `\u{FFFD}`.
pub(crate) fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\'' => escaped.push_str("&#39;"),
            '\t' | '\n' => escaped.push(character),
            '\u{0}'..='\u{1F}' | '\u{7F}'..='\u{9F}' | '\u{FFFE}' | '\u{FFFF}' => escaped.push('\u{FFFD}'),
            // Marks that turn the reading direction make one text look like another (Unicode UAX 9, table 4).
            '\u{61C}' | '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}' => {
                escaped.push('\u{FFFD}');
            }
            _ => escaped.push(character),
        }
    }
    escaped
}
