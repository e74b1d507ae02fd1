//! A drawing: lines, areas and words at places in points, from which the vector back ends write their files.
//!
//! The origin is at the top left, y goes down, one unit is 1/72 inch. A drawing knows nothing of what it shows.

use crate::report::metrics::{Face, width};

/// Millimetres to points.
pub const POINTS_PER_MM: f64 = 72.0 / 25.4;

/// A drawing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// What it shows, for those who cannot see it; may be empty.
    pub title: String,
    /// Width, in points.
    pub width: f64,
    /// Height, in points.
    pub height: f64,
    /// The shapes, those below first.
    pub shapes: Vec<Shape>,
}

/// A shape.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A line through points.
    Line {
        /// The points, at least two.
        points: Vec<(f64, f64)>,
        /// Thickness.
        thickness: f64,
        /// How it is broken.
        dash: Dash,
        /// Colour.
        ink: Ink,
    },
    /// A filled and outlined area.
    Area {
        /// The corners, at least three.
        points: Vec<(f64, f64)>,
        /// Colour inside.
        fill: Option<Ink>,
        /// Colour of the outline.
        outline: Option<Ink>,
    },
    /// A disc.
    Disc {
        /// Middle.
        middle: (f64, f64),
        /// Radius.
        radius: f64,
        /// Colour inside.
        fill: Option<Ink>,
        /// Colour of the outline.
        outline: Option<Ink>,
    },
    /// Filled rectangles of one colour: left, top, width, height.
    Cells {
        /// The rectangles.
        cells: Vec<[f64; 4]>,
        /// Colour.
        ink: Ink,
    },
    /// A line of words.
    Words(Words),
}

/// A line of words.
#[derive(Clone, Debug, PartialEq)]
pub struct Words {
    /// What is written.
    pub text: String,
    /// Where its anchor is on the baseline.
    pub at: (f64, f64),
    /// Size, in points.
    pub size: f64,
    /// Typeface.
    pub face: Face,
    /// Which point of it is at the place.
    pub anchor: Anchor,
    /// Whether it is turned to read upwards.
    pub upwards: bool,
    /// Colour.
    pub ink: Ink,
}

/// Which point of a line of words is at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Its start.
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

/// How a line is broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dash {
    /// Not at all.
    Solid,
    /// Long strokes: limits.
    Dashed,
    /// Dots: help for the eye.
    Dotted,
}

impl Dash {
    /// Returns the strokes and gaps, in points; empty for a solid line.
    pub fn pattern(self) -> &'static [f64] {
        match self {
            Dash::Solid => &[],
            Dash::Dashed => &[5.0, 2.5],
            Dash::Dotted => &[0.8, 2.2],
        }
    }
}

/// A colour. All of them keep apart in grey.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Words and outlines.
    Black,
    /// Words of lesser weight.
    Grey,
    /// Help for the eye.
    Pale,
    /// The paper.
    White,
    /// What was measured.
    Slate,
    /// Limits and what lies outside them.
    Rust,
    /// A weak ground under words.
    Sand,
}

impl Ink {
    /// Returns red, green and blue, 0 to 255.
    pub fn rgb(self) -> [u8; 3] {
        match self {
            Ink::Black => [0, 0, 0],
            Ink::Grey => [85, 85, 85],
            Ink::Pale => [176, 176, 170],
            Ink::White => [255, 255, 255],
            Ink::Slate => [38, 76, 99],
            Ink::Rust => [156, 66, 33],
            Ink::Sand => [242, 237, 226],
        }
    }
}

impl Drawing {
    /// Makes an empty drawing.
    pub fn new(title: impl Into<String>, width: f64, height: f64) -> Drawing {
        Drawing { title: title.into(), width, height, shapes: Vec::new() }
    }

    /// Draws a line.
    pub fn line(&mut self, points: Vec<(f64, f64)>, thickness: f64, dash: Dash, ink: Ink) {
        self.shapes.push(Shape::Line { points, thickness, dash, ink });
    }

    /// Draws an area.
    pub fn area(&mut self, points: Vec<(f64, f64)>, fill: Option<Ink>, outline: Option<Ink>) {
        self.shapes.push(Shape::Area { points, fill, outline });
    }

    /// Draws a rectangle from its left, top, right and bottom.
    pub fn rectangle(&mut self, place: Place, fill: Option<Ink>, outline: Option<Ink>) {
        let Place { left, top, right, bottom } = place;
        self.area(vec![(left, top), (right, top), (right, bottom), (left, bottom)], fill, outline);
    }

    /// Writes words.
    pub fn words(&mut self, text: impl Into<String>, at: (f64, f64), size: f64, anchor: Anchor, ink: Ink) {
        let text = text.into();
        let words = Words { text, at, size, face: Face::Regular, anchor, upwards: false, ink };
        self.shapes.push(Shape::Words(words));
    }

    /// Writes bold words.
    pub fn bold(&mut self, text: impl Into<String>, at: (f64, f64), size: f64, anchor: Anchor, ink: Ink) {
        let text = text.into();
        let words = Words { text, at, size, face: Face::Bold, anchor, upwards: false, ink };
        self.shapes.push(Shape::Words(words));
    }

    /// Fills a rectangle with slanting lines, `apart` points from each other.
    pub fn hatch(&mut self, place: Place, apart: f64, ink: Ink) {
        let Place { left, top, right, bottom } = place;
        // A line x + y = sum runs up to the right; its ends lie on the sides.
        let mut sum = ((left + top) / apart).ceil() * apart;
        while sum < right + bottom {
            let from = (sum - bottom).max(left);
            let to = (sum - top).min(right);
            if to - from > 0.3 {
                self.line(vec![(from, sum - from), (to, sum - to)], 0.4, Dash::Solid, ink);
            }
            sum += apart;
        }
    }
}

/// A rectangle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Left side.
    pub left: f64,
    /// Upper side.
    pub top: f64,
    /// Right side.
    pub right: f64,
    /// Lower side.
    pub bottom: f64,
}

impl Place {
    /// Tells whether two rectangles overlap.
    pub fn overlaps(&self, other: &Place) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    /// Tells whether another rectangle lies within this one.
    pub fn holds(&self, other: &Place) -> bool {
        self.left <= other.left
            && other.right <= self.right
            && self.top <= other.top
            && other.bottom <= self.bottom
    }
}

impl Words {
    /// Returns the rectangle that the words take, from the top of the capitals to the foot of the long letters.
    pub fn place(&self) -> Place {
        let length = width(&self.text, self.face, self.size);
        let before = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => length / 2.0,
            Anchor::End => length,
        };
        let (x, y) = self.at;
        let (ascent, descent) = (0.74 * self.size, 0.21 * self.size);
        if self.upwards {
            Place { left: x - ascent, right: x + descent, top: y + before - length, bottom: y + before }
        } else {
            Place { left: x - before, right: x - before + length, top: y - ascent, bottom: y + descent }
        }
    }
}
