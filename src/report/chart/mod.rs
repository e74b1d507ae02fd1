//! Plots as drawings: axes, marks, words that do not lie on each other.
//!
//! What it is for: one picture for every vector back end. What it must never do: leave something out without a
//! word about it below the plot, or say anything by colour alone. Read next: [`draw`], then one of the figures.

mod heap;
mod reach;
mod scale;
mod scatter;
mod spectrum;

use crate::present::scale::{Scale, Ticks};
use crate::report::drawing::{Anchor, Dash, Drawing, Ink, Place, Shape, Words};
use crate::report::metrics::{Face, width, wrap};
use crate::report::plot::{Axis, Figure, Limit, Plot, Side};
pub(in crate::report) use reach::meaning as span_meaning;
pub(in crate::report) use scale::{axis_name, plain_number};

/// Size of the words in a plot, in points.
const WORDS: f64 = 7.5;
/// Size of the letters at the marks, in points.
const LETTERS: f64 = 7.0;
/// Distance of lines of words, in points.
const LINE: f64 = 9.5;
/// Width of the hatched shore of a limit, in points.
const SHORE: f64 = 5.0;

/// Returns the drawing of a plot, of the given width in points; its height follows from what it shows.
///
/// `width`: from 200 points on everything has room.
pub fn draw(plot: &Plot, width: f64) -> Drawing {
    let mut sheet = Sheet::new(&plot.title, width.max(120.0));
    match &plot.figure {
        Figure::Scatter(scatter) => scatter::draw(scatter, &mut sheet),
        Figure::Spectrum(spectrum) => spectrum::draw(spectrum, &mut sheet),
        Figure::Heap(heap) => heap::draw(heap, &mut sheet),
        Figure::Reach(reach) => reach::draw(reach, &mut sheet),
    }
    sheet.finish(&plot.note)
}

/// A drawing in the making.
struct Sheet {
    drawing: Drawing,
    /// Everything above this is taken.
    y: f64,
    /// Places that no word may cover.
    taken: Vec<Place>,
    /// What is said below the plot.
    notes: Vec<String>,
}

/// The place of the data and the two axes.
struct Frame {
    area: Place,
    x: Scale,
    y: Scale,
}

impl Sheet {
    /// Makes a sheet with a title.
    fn new(title: &str, width: f64) -> Sheet {
        let drawing = Drawing::new(title, width, 0.0);
        let mut sheet = Sheet { drawing, y: 2.0, taken: Vec::new(), notes: Vec::new() };
        if !title.is_empty() {
            for line in wrap(title, Face::Bold, 9.0, width) {
                sheet.drawing.bold(line, (0.0, sheet.y + 7.5), 9.0, Anchor::Start, Ink::Black);
                sheet.y += 11.5;
            }
            sheet.y += 2.0;
        }
        sheet
    }

    /// Writes the notes and closes the drawing.
    fn finish(mut self, note: &str) -> Drawing {
        let own = std::mem::take(&mut self.notes);
        for text in std::iter::once(note.to_owned()).chain(own).filter(|text| !text.is_empty()) {
            for line in wrap(&text, Face::Regular, WORDS, self.drawing.width) {
                self.drawing.words(line, (0.0, self.y + 7.0), WORDS, Anchor::Start, Ink::Grey);
                self.y += LINE;
            }
        }
        self.drawing.height = self.y + 3.0;
        self.drawing
    }

    /// Draws axes, marks and limits, and returns the place of the data.
    ///
    /// `height`: of the data, in points.
    fn frame(
        &mut self,
        axes: (&Axis, &Axis),
        ranges: ((f64, f64), (f64, f64)),
        limits: (&[Limit], &[Limit]),
        height: f64,
    ) -> Frame {
        let ((x_from, x_to), (y_from, y_to)) = ranges;
        let total = self.drawing.width;
        let y_ticks = Ticks::between(y_from, y_to, ((height / 28.0) as usize).max(2));
        let widest = |texts: &mut dyn Iterator<Item = String>| {
            texts.map(|text| width(&text, Face::Regular, WORDS)).fold(0.0, f64::max)
        };
        let left = widest(&mut y_ticks.values.iter().map(|&value| y_ticks.text(value))) + 7.0;
        let aside = if limits.1.is_empty() { 12.0 } else { (0.24 * total).min(110.0) };
        let right = total - aside;

        if !axes.1.quantity.is_empty() {
            self.drawing.words(axis_name(axes.1), (0.0, self.y + 7.0), WORDS, Anchor::Start, Ink::Black);
            self.y += LINE + 3.0;
        }
        let x = Scale { from: x_from, to: x_to, start: left, end: right };
        self.limit_names_above(limits.0, &x, total);
        let area = Place { left, top: self.y, right, bottom: self.y + height };
        let y = Scale { from: y_from, to: y_to, start: area.bottom, end: area.top };

        let wide = widest(&mut [x_from, x_to].iter().map(|&v| {
            let ticks = Ticks::between(x_from, x_to, 6);
            ticks.text(v)
        }));
        let x_ticks = Ticks::between(x_from, x_to, (((right - left) / (wide + 22.0)) as usize).clamp(2, 10));
        for &value in &x_ticks.values {
            let at = x.place(value);
            self.drawing.line(vec![(at, area.top), (at, area.bottom)], 0.5, Dash::Dotted, Ink::Pale);
            self.drawing.line(vec![(at, area.bottom), (at, area.bottom + 3.0)], 0.6, Dash::Solid, Ink::Black);
            let text = x_ticks.text(value);
            self.drawing.words(text, (at, area.bottom + 11.0), WORDS, Anchor::Middle, Ink::Black);
        }
        for &value in &y_ticks.values {
            let at = y.place(value);
            self.drawing.line(vec![(left, at), (right, at)], 0.5, Dash::Dotted, Ink::Pale);
            self.drawing.line(vec![(left - 3.0, at), (left, at)], 0.6, Dash::Solid, Ink::Black);
            let text = y_ticks.text(value);
            self.drawing.words(text, (left - 5.0, at + 2.6), WORDS, Anchor::End, Ink::Black);
        }
        let corner = vec![(left, area.top), (left, area.bottom), (right, area.bottom)];
        self.drawing.line(corner, 0.8, Dash::Solid, Ink::Black);
        self.y = area.bottom + 23.0;
        self.drawing.words(axis_name(axes.0), (right, self.y - 2.0), WORDS, Anchor::End, Ink::Black);
        self.y += 6.0;

        let frame = Frame { area, x, y };
        self.limits(&frame, limits, total - right - 8.0);
        frame
    }

    /// Writes the names of the limits of the x axis above the data, in as many rows as they need.
    fn limit_names_above(&mut self, limits: &[Limit], x: &Scale, total: f64) {
        let mut shown: Vec<&Limit> = limits.iter().filter(|limit| x.holds(limit.at)).collect();
        shown.sort_by(|a, b| a.at.total_cmp(&b.at));
        let mut rows: Vec<f64> = Vec::new();
        for limit in shown {
            let length = width(&limit.label, Face::Regular, WORDS);
            let start = (x.place(limit.at) - length / 2.0).clamp(0.0, (total - length).max(0.0));
            let row = rows.iter().position(|&end| end + 5.0 <= start).unwrap_or(rows.len());
            if row == rows.len() {
                rows.push(0.0);
            }
            rows[row] = start + length;
            let at = (start, self.y + 7.0 + LINE * row as f64);
            self.drawing.words(limit.label.as_str(), at, WORDS, Anchor::Start, Ink::Rust);
        }
        self.y += LINE * rows.len() as f64 + if rows.is_empty() { 0.0 } else { 2.0 };
    }

    /// Draws the limits with a hatched shore on their outer side; `aside` is the room for names at the right.
    fn limits(&mut self, frame: &Frame, limits: (&[Limit], &[Limit]), aside: f64) {
        let area = frame.area;
        for limit in limits.0 {
            if !frame.x.holds(limit.at) {
                self.notes.push(format!("Beyond the plot: {}.", limit.label));
                continue;
            }
            let at = frame.x.place(limit.at);
            self.drawing.line(vec![(at, area.top - 2.0), (at, area.bottom)], 0.9, Dash::Dashed, Ink::Rust);
            let shore = match limit.outside {
                Side::Below => Place { left: (at - SHORE).max(area.left), right: at, ..area },
                Side::Above => Place { left: at, right: (at + SHORE).min(area.right), ..area },
            };
            self.drawing.hatch(shore, 4.0, Ink::Rust);
        }
        let mut names: Vec<(f64, Vec<String>)> = Vec::new();
        for limit in limits.1 {
            if !frame.y.holds(limit.at) {
                self.notes.push(format!("Beyond the plot: {}.", limit.label));
                continue;
            }
            let at = frame.y.place(limit.at);
            self.drawing.line(vec![(area.left, at), (area.right + 4.0, at)], 0.9, Dash::Dashed, Ink::Rust);
            let shore = match limit.outside {
                Side::Below => Place { top: at, bottom: (at + SHORE).min(area.bottom), ..area },
                Side::Above => Place { top: (at - SHORE).max(area.top), bottom: at, ..area },
            };
            self.drawing.hatch(shore, 4.0, Ink::Rust);
            names.push((at, wrap(&limit.label, Face::Regular, WORDS, aside)));
        }
        names.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut above = f64::NEG_INFINITY;
        for (at, lines) in names {
            let mut y = (at + 2.6 - LINE * (lines.len() - 1) as f64 / 2.0).max(above + LINE);
            for line in lines {
                self.drawing.words(line, (area.right + 7.0, y), WORDS, Anchor::Start, Ink::Rust);
                above = y;
                y += LINE;
            }
        }
        self.y = self.y.max(above + 6.0);
    }

    /// Writes words beside a mark where there is room, with a line to it from farther off; tells whether there
    /// was room.
    fn name(&mut self, text: &str, at: (f64, f64), radius: f64, face: Face, area: &Place) -> bool {
        let length = width(text, face, LETTERS);
        for (ring, distance) in
            [radius + 1.5, radius + 6.0, radius + 12.0, radius + 20.0].into_iter().enumerate()
        {
            for (right, up) in DIRECTIONS {
                let (x, y) = (at.0 + right * distance, at.1 - up * distance);
                let start = if right == 0.0 {
                    x - length / 2.0
                } else {
                    x - length * f64::from(u8::from(right < 0.0))
                };
                let base = y + LETTERS * (0.36 - 0.36 * up);
                let words = Words {
                    text: text.to_owned(),
                    at: (start, base),
                    size: LETTERS,
                    face,
                    anchor: Anchor::Start,
                    upwards: false,
                    ink: Ink::Black,
                };
                let place = words.place();
                if !area.holds(&place) || self.taken.iter().any(|taken| taken.overlaps(&place)) {
                    continue;
                }
                if ring > 0 {
                    let from = (at.0 + right * radius, at.1 - up * radius);
                    let to = (at.0 + right * (distance - 1.0), at.1 - up * (distance - 1.0));
                    self.drawing.line(vec![from, to], 0.4, Dash::Solid, Ink::Grey);
                }
                let air = Place { left: place.left - 0.8, right: place.right + 0.8, ..place };
                self.taken.push(air);
                self.drawing.shapes.push(Shape::Words(words));
                return true;
            }
        }
        false
    }
}

/// To the right and upwards: where a name is tried first.
const DIRECTIONS: [(f64, f64); 8] =
    [(0.7, 0.7), (1.0, 0.0), (0.7, -0.7), (-0.7, 0.7), (-1.0, 0.0), (-0.7, -0.7), (0.0, 1.0), (0.0, -1.0)];
