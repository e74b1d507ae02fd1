//! The description of a plot, from which the vector back ends draw the same picture and the text back end writes
//! the same numbers.
//!
//! Coordinates are plain numbers in the unit that their axis names. Meaning is carried by shape and letter, never
//! by colour alone.

/// A plot.
#[derive(Clone, Debug, PartialEq)]
pub struct Plot {
    /// What it shows.
    pub title: String,
    /// What has to be known to read it; may be empty.
    pub note: String,
    /// What is drawn.
    pub figure: Figure,
}

/// What is drawn.
#[derive(Clone, Debug, PartialEq)]
pub enum Figure {
    /// Points over two quantities.
    Scatter(Scatter),
    /// A curve with marked peaks.
    Spectrum(Spectrum),
    /// Pieces heaped over one quantity.
    Heap(Heap),
    /// How deep each method sees into a piece.
    Reach(Reach),
}

/// An axis.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Axis {
    /// The quantity.
    pub quantity: String,
    /// Its unit; empty for a plain number.
    pub unit: String,
    /// From and to; `None` takes in all that is drawn.
    pub range: Option<(f64, f64)>,
}

/// Points over two quantities, with limits and regions.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scatter {
    /// The axis to the right.
    pub x: Axis,
    /// The axis upwards.
    pub y: Axis,
    /// The points.
    pub points: Vec<Point>,
    /// Limits across the x axis.
    pub x_limits: Vec<Limit>,
    /// Limits across the y axis.
    pub y_limits: Vec<Limit>,
    /// Where something else would lie.
    pub regions: Vec<Region>,
    /// What the marks mean, in the order of the legend.
    pub legend: Vec<(Mark, String)>,
}

/// A point.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Value on the x axis.
    pub x: f64,
    /// Value on the y axis.
    pub y: f64,
    /// Its shape.
    pub mark: Mark,
    /// Its letter or number; may be empty.
    pub letter: String,
}

/// The shape of a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// An open circle.
    Circle,
    /// A filled triangle.
    Triangle,
    /// A filled square.
    Square,
    /// An open diamond.
    Diamond,
    /// A cross.
    Cross,
}

/// A limit, drawn across the whole plot.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// Where.
    pub at: f64,
    /// What it is, such as `least 31.10`.
    pub label: String,
    /// Which side is outside the limit.
    pub outside: Side,
}

/// A side of a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// What is smaller.
    Below,
    /// What is greater.
    Above,
}

/// A rectangle in which something would lie.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// What would lie there.
    pub label: String,
    /// From and to on the x axis.
    pub x: (f64, f64),
    /// From and to on the y axis.
    pub y: (f64, f64),
}

/// A curve with marked peaks.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spectrum {
    /// The axis to the right.
    pub x: Axis,
    /// The axis upwards.
    pub y: Axis,
    /// The curve, by rising x.
    pub curve: Vec<(f64, f64)>,
    /// The peaks, each with what is written at it.
    pub peaks: Vec<Peak>,
}

/// A marked peak.
#[derive(Clone, Debug, PartialEq)]
pub struct Peak {
    /// Value on the x axis.
    pub x: f64,
    /// Value on the y axis.
    pub y: f64,
    /// What is written at it, such as `A 5480.2 Hz`.
    pub label: String,
}

/// Pieces heaped over one quantity: each piece is a cell with its letter.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Heap {
    /// The axis.
    pub x: Axis,
    /// Value and letter of each piece.
    pub pieces: Vec<(f64, String)>,
    /// Limits.
    pub limits: Vec<Limit>,
    /// Width of a heap; `None` chooses a round one.
    pub step: Option<f64>,
}

/// How deep each method sees, from the surface down.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reach {
    /// The axis of depth; it starts at the surface.
    pub depth: Axis,
    /// How deep it goes: the thickness of the piece or half of it, with a word for it.
    pub bottom: Option<(f64, String)>,
    /// One row for each method.
    pub rows: Vec<ReachRow>,
}

/// A method or candidate and the depths that it tells about.
#[derive(Clone, Debug, PartialEq)]
pub struct ReachRow {
    /// What it is.
    pub label: String,
    /// The depths, from and to, with what is said about them.
    pub spans: Vec<ReachSpan>,
}

/// A stretch of depth.
#[derive(Clone, Debug, PartialEq)]
pub struct ReachSpan {
    /// From.
    pub from: f64,
    /// To.
    pub to: f64,
    /// What is known there.
    pub kind: SpanKind,
    /// A word or number in or beside it; may be empty.
    pub label: String,
}

/// What is known about a stretch of depth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpanKind {
    /// The method has seen it: filled.
    Seen,
    /// Something could still hide there: hatched.
    Open,
    /// The method cannot tell: outlined.
    Blind,
}
