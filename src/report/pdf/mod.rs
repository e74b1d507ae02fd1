//! Reports and drawings as PDF.
//!
//! What it is for: pages that print the same everywhere and from which words can be copied. The typefaces are the
//! standard ones in the WinAnsi encoding; nothing is embedded, nothing is compressed. What it must never do: read a
//! clock, write beyond the margins, or drop a character without a sign. Read next: [`report`].

mod pages;
mod table;

use crate::report::chart;
use crate::report::document::{Block, Document};
use crate::report::drawing::{Drawing, Ink};
use crate::report::metrics::{Face, shortened, width, wrap};
use pages::Pages;

/// A size of paper, in points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Paper {
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

impl Paper {
    /// 210 mm by 297 mm.
    ///
    /// # Source
    /// ISO 216:2007.
    pub const A4: Paper = Paper { width: 595.276, height: 841.89 };
    /// 8.5 inch by 11 inch.
    ///
    /// # Source
    /// ANSI/ASME Y14.1, size A.
    pub const LETTER: Paper = Paper { width: 612.0, height: 792.0 };

    /// Returns the paper turned by a quarter.
    pub fn turned(self) -> Paper {
        Paper { width: self.height, height: self.width }
    }
}

/// Distance of words from the sides of the paper, in points.
pub const MARGIN: f64 = 51.0;
/// Distance of the text from the upper edge, in points; the running title stands above it.
const TOP: f64 = 60.0;
/// Distance of the text from the lower edge, in points; the footer stands below it.
const BOTTOM: f64 = 62.0;
/// Size and line distance of paragraphs, in points.
const BODY: (f64, f64) = (9.5, 13.0);
/// Most of the width that the names of a block of key and value take.
const KEY_SHARE: f64 = 0.36;

/// Returns a report as a PDF file.
///
/// `paper`: at least 200 by 250 points.
pub fn report(document: &Document, paper: Paper) -> Vec<u8> {
    let mut layout = Layout { pages: Pages::new(paper), y: TOP };
    layout.title(document);
    let mut blocks = document.blocks.iter().peekable();
    while let Some(block) = blocks.next() {
        layout.block(block, blocks.peek().copied());
    }
    layout.footers(document);
    layout.pages.finish(&document.title)
}

/// Returns drawings as a PDF file, each on a page of its own size.
pub fn drawings(title: &str, drawings: &[Drawing]) -> Vec<u8> {
    let paper = |drawing: &Drawing| Paper { width: drawing.width, height: drawing.height };
    let first = drawings.first().map_or(Paper::A4, paper);
    let mut pages = Pages::new(first);
    for (index, drawing) in drawings.iter().enumerate() {
        if index > 0 {
            pages.add(paper(drawing));
        }
        pages.draw(drawing, (0.0, 0.0), 1.0);
    }
    pages.finish(title)
}

/// A report on its way down the pages.
struct Layout {
    pages: Pages,
    /// Everything above this is taken on the current page.
    y: f64,
}

impl Layout {
    fn right(&self) -> f64 {
        self.pages.paper().width - MARGIN
    }

    fn room(&self) -> f64 {
        self.right() - MARGIN
    }

    fn bottom(&self) -> f64 {
        self.pages.paper().height - BOTTOM
    }

    /// Returns the height of the text of a whole page.
    fn whole(&self) -> f64 {
        self.bottom() - TOP
    }

    fn new_page(&mut self) {
        self.pages.add(self.pages.paper());
        self.y = TOP;
    }

    /// Begins a new page unless this much is left on the current one.
    fn need(&mut self, height: f64) {
        if self.y + height > self.bottom() + 1e-6 && self.y > TOP {
            self.new_page();
        }
    }

    /// Adds room between blocks, but not at the head of a page.
    fn space(&mut self, height: f64) {
        if self.y > TOP {
            self.y += height;
        }
    }

    /// Writes lines one below the other, on new pages as needed.
    fn lines(&mut self, lines: &[String], x: f64, (size, leading): (f64, f64), face: Face, ink: Ink) {
        for line in lines {
            self.need(leading);
            self.pages.words(line, (x, self.y + 0.76 * leading), size, face, ink);
            self.y += leading;
        }
    }

    fn title(&mut self, document: &Document) {
        self.y -= 14.0;
        self.pages.fill((MARGIN, self.y, 42.0, 3.5), Ink::Black);
        self.y += 10.0;
        let title = wrap(&document.title, Face::Bold, 19.0, self.room());
        self.lines(&title, MARGIN, (19.0, 23.0), Face::Bold, Ink::Black);
        if !document.subtitle.is_empty() {
            let subtitle = wrap(&document.subtitle, Face::Regular, 10.5, self.room());
            self.lines(&subtitle, MARGIN, (10.5, 14.0), Face::Regular, Ink::Grey);
        }
        self.y += 8.0;
    }

    fn block(&mut self, block: &Block, next: Option<&Block>) {
        match block {
            Block::Heading(text) => {
                self.space(12.0);
                let lines = wrap(text, Face::Bold, 12.0, self.room());
                // A heading stays with the beginning of what follows it.
                let following = match next {
                    Some(Block::Plot(plot)) => chart::draw(plot, self.room()).height + 10.0,
                    Some(_) => 52.0,
                    None => 0.0,
                };
                self.need((16.0 * lines.len() as f64 + following).min(self.whole()));
                self.lines(&lines, MARGIN, (12.0, 16.0), Face::Bold, Ink::Black);
                self.y += 3.0;
            }
            Block::Paragraph(text) => {
                let lines = wrap(text, Face::Regular, BODY.0, self.room());
                // No first line alone at the foot of a page.
                self.need(BODY.1 * lines.len().min(2) as f64);
                self.lines(&lines, MARGIN, BODY, Face::Regular, Ink::Black);
                self.y += 6.0;
            }
            Block::KeyValues(pairs) => self.key_values(pairs),
            Block::Table(table) => self.table(table),
            Block::Plot(plot) => {
                let drawing = chart::draw(plot, self.room());
                let scale = (self.whole() / drawing.height).min(1.0);
                self.space(4.0);
                self.need(drawing.height * scale);
                self.pages.draw(&drawing, (MARGIN, self.y), scale);
                self.y += drawing.height * scale + 10.0;
            }
            Block::Caution(text) => self.caution(text),
            Block::PageBreak if self.y > TOP => self.new_page(),
            Block::PageBreak => {}
        }
    }

    fn key_values(&mut self, pairs: &[(String, String)]) {
        let most = KEY_SHARE * self.room();
        let widest =
            pairs.iter().map(|(key, _)| width(key, Face::Regular, BODY.0)).fold(0.0, f64::max).min(most);
        let value_x = MARGIN + widest + 14.0;
        for (key, value) in pairs {
            let keys = wrap(key, Face::Regular, BODY.0, widest + 0.01);
            let values = wrap(value, Face::Regular, BODY.0, self.right() - value_x);
            let height = BODY.1 * keys.len().max(values.len()) as f64;
            self.need(height.min(self.whole()));
            let start = (self.pages.count(), self.y);
            self.lines(&keys, MARGIN, BODY, Face::Regular, Ink::Grey);
            let end = (self.pages.count(), self.y);
            if end.0 == start.0 {
                self.y = start.1;
            }
            self.lines(&values, value_x, BODY, Face::Regular, Ink::Black);
            if self.pages.count() == end.0 {
                self.y = self.y.max(end.1);
            }
        }
        self.y += 6.0;
    }

    fn caution(&mut self, text: &str) {
        const INSET: f64 = 12.0;
        let lines = wrap(text, Face::Regular, BODY.0, self.room() - 2.0 * INSET);
        let head = 14.0;
        self.space(3.0);
        self.need((head + BODY.1 * lines.len() as f64 + 12.0).min(self.whole()));
        let mut rest = &lines[..];
        let mut first = true;
        while !rest.is_empty() {
            let above = if first { head } else { 0.0 };
            let fitting = ((self.bottom() - self.y - above - 12.0) / BODY.1).floor().max(1.0) as usize;
            let (now, later) = rest.split_at(fitting.min(rest.len()));
            let height = above + BODY.1 * now.len() as f64 + 12.0;
            self.pages.fill((MARGIN, self.y, self.room(), height), Ink::Sand);
            self.pages.fill((MARGIN, self.y, 3.5, height), Ink::Rust);
            self.y += 6.0;
            if first {
                let at = (MARGIN + INSET, self.y + 9.0);
                self.pages.words("Caution", at, BODY.0, Face::Bold, Ink::Black);
                self.y += head;
            }
            for line in now {
                let at = (MARGIN + INSET, self.y + 0.76 * BODY.1);
                self.pages.words(line, at, BODY.0, Face::Regular, Ink::Black);
                self.y += BODY.1;
            }
            self.y += 6.0;
            (rest, first) = (later, false);
            if !rest.is_empty() {
                self.new_page();
            }
        }
        self.y += 8.0;
    }

    /// Writes running titles, footers and page numbers.
    fn footers(&mut self, document: &Document) {
        let (right, room) = (self.right(), self.room());
        let height = self.pages.paper().height;
        let count = self.pages.count();
        for page in 0..count {
            self.pages.select(page);
            if page > 0 {
                let title = shortened(&document.title, Face::Regular, 8.0, room);
                self.pages.words(&title, (MARGIN, 40.0), 8.0, Face::Regular, Ink::Grey);
                let subtitle = width(&document.subtitle, Face::Regular, 8.0);
                if width(&title, Face::Regular, 8.0) + subtitle + 20.0 <= room {
                    self.pages.words(
                        &document.subtitle,
                        (right - subtitle, 40.0),
                        8.0,
                        Face::Regular,
                        Ink::Grey,
                    );
                }
            }
            let y = height - 38.0;
            self.pages.rule((MARGIN, y - 11.0), (right, y - 11.0), 0.5, Ink::Pale);
            let number = format!("page {} of {count}", page + 1);
            let number_width = width(&number, Face::Regular, 8.0);
            self.pages.words(&number, (right - number_width, y), 8.0, Face::Regular, Ink::Grey);
            let footer_room = room - number_width - 16.0;
            let mut footer = wrap(&document.footer, Face::Regular, 8.0, footer_room);
            if let Some(rest) = footer.get(1..).filter(|rest| rest.len() > 1) {
                let rest = shortened(&rest.join(" "), Face::Regular, 8.0, footer_room);
                footer.splice(1.., [rest]);
            }
            for (index, line) in footer.iter().enumerate() {
                let at = (MARGIN, y + 10.0 * index as f64);
                self.pages.words(line, at, 8.0, Face::Regular, Ink::Grey);
            }
        }
    }
}
