//! Pages as PDF objects.

use pdf_writer::types::{LineCapStyle, LineJoinStyle};
use pdf_writer::{Content, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

use super::Paper;
use crate::report::drawing::{Anchor, Drawing, Ink, Shape, Words};
use crate::report::metrics::{Face, width_of_bytes, winansi};

/// The typefaces and their names in the file.
const FACES: [(Face, &[u8], &[u8]); 2] =
    [(Face::Regular, b"F1", b"Helvetica"), (Face::Bold, b"F2", b"Helvetica-Bold")];

/// Half the length of a quarter circle's handle over its radius.
const ROUND: f64 = 0.552_285;

/// The pages of a file; places are measured from the upper left corner.
pub(super) struct Pages {
    pages: Vec<(Paper, Content)>,
    current: usize,
}

impl Pages {
    /// Makes a file with one empty page.
    pub fn new(paper: Paper) -> Pages {
        Pages { pages: vec![(paper, Content::new())], current: 0 }
    }

    /// Adds an empty page and goes to it.
    pub fn add(&mut self, paper: Paper) {
        self.pages.push((paper, Content::new()));
        self.current = self.pages.len() - 1;
    }

    /// Goes to a page, counted from 0.
    pub fn select(&mut self, page: usize) {
        self.current = page.min(self.pages.len() - 1);
    }

    /// Returns how many pages there are.
    pub fn count(&self) -> usize {
        self.pages.len()
    }

    /// Returns the paper of the current page.
    pub fn paper(&self) -> Paper {
        self.pages[self.current].0
    }

    fn content(&mut self) -> &mut Content {
        &mut self.pages[self.current].1
    }

    /// Writes words that start at a place on their baseline.
    pub fn words(&mut self, text: &str, at: (f64, f64), size: f64, face: Face, ink: Ink) {
        let height = self.paper().height;
        write(self.content(), &winansi(text), [1.0, 0.0, 0.0, 1.0, at.0, height - at.1], size, face, ink);
    }

    /// Fills a rectangle: left, top, width, height.
    pub fn fill(&mut self, (left, top, width, height): (f64, f64, f64, f64), ink: Ink) {
        let bottom = self.paper().height - top - height;
        let content = self.content();
        fill_ink(content, ink);
        content.rect(left as f32, bottom as f32, width as f32, height as f32).fill_nonzero();
    }

    /// Draws a straight line.
    pub fn rule(&mut self, from: (f64, f64), to: (f64, f64), thickness: f64, ink: Ink) {
        let height = self.paper().height;
        let content = self.content();
        stroke_ink(content, ink);
        content.set_line_width(thickness as f32);
        content.move_to(from.0 as f32, (height - from.1) as f32);
        content.line_to(to.0 as f32, (height - to.1) as f32).stroke();
    }

    /// Puts a drawing with its upper left corner at a place.
    pub fn draw(&mut self, drawing: &Drawing, at: (f64, f64), scale: f64) {
        let height = self.paper().height;
        let content = self.content();
        content.save_state();
        content.set_line_cap(LineCapStyle::ButtCap).set_line_join(LineJoinStyle::RoundJoin);
        let place = |(x, y): (f64, f64)| (at.0 + scale * x, height - at.1 - scale * y);
        for shape in &drawing.shapes {
            draw_shape(content, shape, scale, &place);
        }
        content.restore_state();
    }

    /// Returns the file.
    pub fn finish(self, title: &str) -> Vec<u8> {
        let mut pdf = Pdf::new();
        let (catalog, tree, info) = (Ref::new(1), Ref::new(2), Ref::new(3));
        let fonts: Vec<Ref> = (0..FACES.len()).map(|index| Ref::new(4 + index as i32)).collect();
        let first = 4 + FACES.len() as i32;
        let page_of = |index: usize| Ref::new(first + 2 * index as i32);
        let content_of = |index: usize| Ref::new(first + 2 * index as i32 + 1);

        let mut root = pdf.catalog(catalog);
        root.pages(tree).lang(TextStr("en"));
        root.viewer_preferences().display_doc_title(true);
        root.finish();
        pdf.document_info(info)
            .title(TextStr(title))
            .creator(TextStr("scruple"))
            .producer(TextStr("scruple"));
        pdf.pages(tree).kids((0..self.pages.len()).map(page_of)).count(self.pages.len() as i32);
        for (font, (_, _, name)) in fonts.iter().zip(FACES) {
            pdf.type1_font(*font).base_font(Name(name)).encoding_predefined(Name(b"WinAnsiEncoding"));
        }
        for (index, (paper, content)) in self.pages.into_iter().enumerate() {
            let mut page = pdf.page(page_of(index));
            page.parent(tree).media_box(Rect::new(0.0, 0.0, paper.width as f32, paper.height as f32));
            page.contents(content_of(index));
            let mut resources = page.resources();
            let mut dictionary = resources.fonts();
            for (font, (_, name, _)) in fonts.iter().zip(FACES) {
                dictionary.pair(Name(name), *font);
            }
            dictionary.finish();
            resources.finish();
            page.finish();
            pdf.stream(content_of(index), &content.finish());
        }
        pdf.finish()
    }
}

/// Writes bytes with a text matrix.
fn write(content: &mut Content, bytes: &[u8], matrix: [f64; 6], size: f64, face: Face, ink: Ink) {
    if bytes.is_empty() {
        return;
    }
    let name = FACES.iter().find(|known| known.0 == face).map_or(FACES[0].1, |known| known.1);
    fill_ink(content, ink);
    content.begin_text().set_font(Name(name), size as f32).set_text_matrix(matrix.map(|value| value as f32));
    content.show(Str(bytes)).end_text();
}

fn draw_shape(content: &mut Content, shape: &Shape, scale: f64, place: &impl Fn((f64, f64)) -> (f64, f64)) {
    match shape {
        Shape::Line { points, thickness, dash, ink } => {
            stroke_ink(content, *ink);
            content.set_line_width((scale * thickness) as f32);
            content.set_dash_pattern(dash.pattern().iter().map(|length| (scale * length) as f32), 0.0);
            path(content, points, place);
            content.stroke();
        }
        Shape::Area { points, fill, outline } => {
            path(content, points, place);
            content.close_path();
            paint(content, *fill, *outline, scale);
        }
        Shape::Disc { middle, radius, fill, outline } => {
            circle(content, place(*middle), scale * radius);
            paint(content, *fill, *outline, scale);
        }
        Shape::Cells { cells, ink } => {
            fill_ink(content, *ink);
            for &[left, top, width, height] in cells {
                let (x, y) = place((left, top + height));
                content.rect(x as f32, y as f32, (scale * width) as f32, (scale * height) as f32);
            }
            content.fill_nonzero();
        }
        Shape::Words(words) => draw_words(content, words, scale, place(words.at)),
    }
}

fn draw_words(content: &mut Content, words: &Words, scale: f64, (x, y): (f64, f64)) {
    let bytes = winansi(&words.text);
    let size = scale * words.size;
    let length = width_of_bytes(&bytes, words.face, size);
    let back = match words.anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => length / 2.0,
        Anchor::End => length,
    };
    let matrix = match words.upwards {
        true => [0.0, 1.0, -1.0, 0.0, x, y - back],
        false => [1.0, 0.0, 0.0, 1.0, x - back, y],
    };
    write(content, &bytes, matrix, size, words.face, words.ink);
}

fn path(content: &mut Content, points: &[(f64, f64)], place: &impl Fn((f64, f64)) -> (f64, f64)) {
    for (index, &point) in points.iter().enumerate() {
        let (x, y) = place(point);
        if index == 0 {
            content.move_to(x as f32, y as f32);
        } else {
            content.line_to(x as f32, y as f32);
        }
    }
}

fn circle(content: &mut Content, (x, y): (f64, f64), radius: f64) {
    let handle = ROUND * radius;
    content.move_to((x + radius) as f32, y as f32);
    let quarters = [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)];
    for (index, &(ux, uy)) in quarters.iter().enumerate() {
        let (vx, vy) = quarters[(index + 1) % 4];
        let point = |du: f64, dv: f64| ((x + du * ux + dv * vx) as f32, (y + du * uy + dv * vy) as f32);
        let (a, b, c) = (point(radius, handle), point(handle, radius), point(0.0, radius));
        content.cubic_to(a.0, a.1, b.0, b.1, c.0, c.1);
    }
    content.close_path();
}

fn paint(content: &mut Content, fill: Option<Ink>, outline: Option<Ink>, scale: f64) {
    if let Some(ink) = outline {
        stroke_ink(content, ink);
        content.set_line_width((scale * 0.7) as f32);
        content.set_dash_pattern([], 0.0);
    }
    if let Some(ink) = fill {
        fill_ink(content, ink);
    }
    match (fill, outline) {
        (Some(_), Some(_)) => content.fill_nonzero_and_stroke(),
        (Some(_), None) => content.fill_nonzero(),
        (None, Some(_)) => content.stroke(),
        (None, None) => content.end_path(),
    };
}

fn fill_ink(content: &mut Content, ink: Ink) {
    let [red, green, blue] = ink.rgb().map(|part| f32::from(part) / 255.0);
    content.set_fill_rgb(red, green, blue);
}

fn stroke_ink(content: &mut Content, ink: Ink) {
    let [red, green, blue] = ink.rgb().map(|part| f32::from(part) / 255.0);
    content.set_stroke_rgb(red, green, blue);
}
