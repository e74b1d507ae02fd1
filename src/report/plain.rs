//! Reports as plain text, 80 columns wide.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use crate::present::text::clean;
use crate::report::binding::bound;
use crate::report::chart::{axis_name as name, plain_number as number, span_meaning};
use crate::report::document::{Align, Block, Column, Document, Table};
use crate::report::metrics::breakable;
use crate::report::plot::{Axis, Figure, Limit, Plot, Side};

/// Columns of a line.
pub const COLUMNS: usize = 80;
/// Columns between two columns of a table.
const GAP: usize = 2;

/// Returns a report as plain text, no line wider than 80 columns.
pub fn text(document: &Document) -> String {
    let mut lines = Lines(Vec::new());
    lines.wrapped(&document.title.to_uppercase(), "");
    lines.wrapped(&document.subtitle, "");
    lines.0.push("=".repeat(COLUMNS));
    for block in &document.blocks {
        lines.block(block);
    }
    if !document.footer.is_empty() {
        lines.0.push(String::new());
        lines.0.push("-".repeat(COLUMNS));
        lines.wrapped(&document.footer, "");
    }
    // Names come from anywhere: what would steer a terminal has no place in a line.
    let mut text: String = lines.0.iter().map(|line| clean(line.trim_end()) + "\n").collect();
    while text.contains("\n\n\n") {
        text = text.replace("\n\n\n", "\n\n");
    }
    text
}

struct Lines(Vec<String>);

impl Lines {
    /// Writes a text in lines that begin with an indent.
    fn wrapped(&mut self, text: &str, indent: &str) {
        if !text.is_empty() {
            self.0.extend(
                wrap(text, COLUMNS - indent.width()).into_iter().map(|line| format!("{indent}{line}")),
            );
        }
    }

    fn empty(&mut self) {
        self.0.push(String::new());
    }

    fn block(&mut self, block: &Block) {
        match block {
            Block::Heading(text) => {
                self.empty();
                self.wrapped(text, "");
                self.0.push("-".repeat(text.width().clamp(1, COLUMNS)));
            }
            Block::Paragraph(text) => {
                self.empty();
                self.wrapped(text, "");
            }
            Block::KeyValues(pairs) => {
                self.empty();
                let widest = pairs.iter().map(|(key, _)| key.width()).max().unwrap_or(0).min(30);
                for (key, value) in pairs {
                    let keys = wrap(key, widest.max(1));
                    let values = wrap(value, COLUMNS - widest - GAP);
                    for index in 0..keys.len().max(values.len()) {
                        let part = |lines: &[String]| lines.get(index).cloned().unwrap_or_default();
                        self.0.push(format!(
                            "{}  {}",
                            padded(&part(&keys), widest, Align::Left),
                            part(&values)
                        ));
                    }
                }
            }
            Block::Table(table) => self.table(table),
            Block::Plot(plot) => self.plot(plot),
            Block::Caution(text) => {
                self.empty();
                self.wrapped(&format!("CAUTION: {text}"), "! ");
            }
            Block::PageBreak => self.0.push("\u{c}".to_owned()),
        }
    }

    fn table(&mut self, table: &Table) {
        self.empty();
        self.wrapped(&table.caption, "");
        let widths = widths(table);
        let head: Vec<Vec<String>> = table
            .columns
            .iter()
            .zip(&widths)
            .map(|(column, &width)| wrap(&column.bound_title(), width))
            .collect();
        self.row(&head, &widths, &table.columns);
        let total = widths.iter().sum::<usize>() + GAP * widths.len().saturating_sub(1);
        self.0.push("-".repeat(total));
        for row in 0..table.rows.len() {
            let cell = |(column, &width): (usize, &usize)| wrap(&table.shown(row, column), width);
            let cells: Vec<Vec<String>> = widths.iter().enumerate().map(cell).collect();
            self.row(&cells, &widths, &table.columns);
        }
    }

    fn row(&mut self, cells: &[Vec<String>], widths: &[usize], columns: &[Column]) {
        for index in 0..cells.iter().map(Vec::len).max().unwrap_or(0) {
            let part = |((lines, &width), column): ((&Vec<String>, &usize), &Column)| {
                padded(lines.get(index).map_or("", String::as_str), width, column.align)
            };
            let parts: Vec<String> = cells.iter().zip(widths).zip(columns).map(part).collect();
            self.0.push(parts.join(&" ".repeat(GAP)));
        }
    }

    /// Writes the numbers that a plot shows.
    fn plot(&mut self, plot: &Plot) {
        self.empty();
        self.wrapped(&plot.title, "");
        match &plot.figure {
            Figure::Scatter(scatter) => {
                let mut table = Table::new("", [Column::words("point")]);
                table.columns.extend([&scatter.x, &scatter.y].map(|axis| Column::numbers(name(axis))));
                let meaning =
                    |mark| scatter.legend.iter().find(|known| known.0 == mark).map(|known| &known.1);
                table.columns.push(Column::words("mark"));
                for point in &scatter.points {
                    let mark = meaning(point.mark).cloned().unwrap_or_default();
                    let row = [point.letter.clone(), number(point.x), number(point.y), mark];
                    table.push(row.map(Into::into));
                }
                self.table(&table);
                self.limits(&scatter.x, &scatter.x_limits);
                self.limits(&scatter.y, &scatter.y_limits);
                for region in &scatter.regions {
                    let range = |(from, to): (f64, f64), axis| {
                        format!("{} {} to {}", name(axis), number(from), number(to))
                    };
                    let (x, y) = (range(region.x, &scatter.x), range(region.y, &scatter.y));
                    self.wrapped(&format!("{}: {x}; {y}", region.label), "  ");
                }
            }
            Figure::Spectrum(spectrum) => {
                for peak in &spectrum.peaks {
                    let (x, y) = (number(peak.x), number(peak.y));
                    let place = format!("{} {x}; {} {y}", name(&spectrum.x), name(&spectrum.y));
                    self.wrapped(&format!("{}: {place}", peak.label), "  ");
                }
            }
            Figure::Heap(heap) => {
                let mut pieces = heap.pieces.clone();
                pieces.sort_by(|a, b| a.0.total_cmp(&b.0));
                let parts: Vec<String> = pieces
                    .iter()
                    .map(|(value, letter)| format!("{letter} {}", number(*value)).trim().to_owned())
                    .collect();
                self.wrapped(&format!("{}, by size: {}", name(&heap.x), parts.join(", ")), "  ");
                self.limits(&heap.x, &heap.limits);
            }
            Figure::Reach(reach) => {
                for row in &reach.rows {
                    self.wrapped(&row.label, "  ");
                    for span in &row.spans {
                        let (from, to) = (number(span.from), number(span.to));
                        let words =
                            if span.label.is_empty() { String::new() } else { format!(", {}", span.label) };
                        let text = format!(
                            "{} {from} to {to}: {}{words}",
                            name(&reach.depth),
                            span_meaning(span.kind)
                        );
                        self.wrapped(&text, "    ");
                    }
                }
                if let Some((at, label)) = &reach.bottom {
                    self.wrapped(&format!("{label}: {} {}", name(&reach.depth), number(*at)), "  ");
                }
            }
        }
        self.wrapped(&plot.note, "");
    }

    fn limits(&mut self, axis: &Axis, limits: &[Limit]) {
        for limit in limits {
            let side = if limit.outside == Side::Below { "smaller" } else { "greater" };
            let text =
                format!("{}: {} {}, outside what is {side}", limit.label, name(axis), number(limit.at));
            self.wrapped(&text, "  ");
        }
    }
}

/// Returns a text filled up with spaces to a width.
fn padded(text: &str, width: usize, align: Align) -> String {
    let fill = " ".repeat(width.saturating_sub(text.width()));
    if align == Align::Left { format!("{text}{fill}") } else { format!("{fill}{text}") }
}

/// Returns a text in lines of at most `greatest` columns; control characters become spaces.
fn wrap(text: &str, greatest: usize) -> Vec<String> {
    let greatest = greatest.max(2);
    let mut lines = Vec::new();
    for paragraph in bound(text).lines() {
        let mut line = String::new();
        for word in paragraph.split(|c: char| breakable(c) || c.is_control()).filter(|word| !word.is_empty())
        {
            let gap = usize::from(!line.is_empty());
            if line.width() + gap + word.width() <= greatest {
                line.extend((gap == 1).then_some(' '));
                line.push_str(word);
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for character in word.chars() {
                if line.width() + character.width().unwrap_or(0) > greatest {
                    lines.push(std::mem::take(&mut line));
                }
                line.push(character);
            }
        }
        lines.push(line);
    }
    if lines.is_empty() {
        lines.push(String::new());
    }
    lines.into_iter().map(|line| line.replace(['\u{A0}', '\u{202F}'], " ")).collect()
}

/// Returns the widths of the columns of a table: as wide as their cells, else narrowed from the widest down.
fn widths(table: &Table) -> Vec<usize> {
    let natural = |column: usize| {
        let cells = (0..table.rows.len()).map(|row| table.shown(row, column));
        let texts = cells.chain([table.columns[column].title.clone()]);
        texts
            .map(|text| text.lines().map(UnicodeWidthStr::width).max().unwrap_or(0))
            .max()
            .unwrap_or(0)
            .max(2)
    };
    let longest_word = |column: usize| {
        let cells = (0..table.rows.len()).map(|row| table.shown(row, column));
        let texts = cells.chain([table.columns[column].bound_title()]);
        let words = texts.flat_map(|text| {
            bound(&text).split(|c: char| breakable(c) || c.is_control()).map(UnicodeWidthStr::width).max()
        });
        words.max().unwrap_or(0)
    };
    let least: Vec<usize> = (0..table.columns.len()).map(longest_word).collect();
    let mut widths: Vec<usize> = (0..table.columns.len()).map(natural).collect();
    let room = COLUMNS.saturating_sub(GAP * widths.len().saturating_sub(1));
    while widths.iter().sum::<usize>() > room {
        // Words are broken only where nothing else gives way; words give way before numbers.
        let order = |&index: &usize| {
            let words = table.columns[index].align == Align::Left && widths[index] > 8;
            (widths[index] > least[index], words, widths[index])
        };
        let Some(widest) = (0..widths.len()).max_by_key(order).filter(|&index| widths[index] > 2) else {
            break;
        };
        widths[widest] -= 1;
    }
    widths
}
