//! Labels for pieces, with a QR code and a Code 128.
//!
//! What it is for: sheets of labels as SVG and PDF whose sizes are in millimetres and whose modules are vectors.
//! What it must never do: cut a text or a quiet zone; what does not fit is refused with what would be needed.

use crate::report::codes::{BAR_QUIET, CodeError, QR_QUIET, code128, qr};
use crate::report::drawing::{Anchor, Dash, Drawing, Ink, POINTS_PER_MM, Place, Shape};
use crate::report::metrics::{Face, width, wrap};
use crate::report::pdf::{self, Paper};
use crate::report::svg;

/// Least and greatest width of a module of the bar code, in mm. Common practice, no source.
pub const BAR_MODULE_MM: (f64, f64) = (0.25, 0.40);
/// Least and greatest width of a module of the QR code, in mm. Common practice, no source.
pub const QR_MODULE_MM: (f64, f64) = (0.33, 0.60);
/// Least height of the bars, in mm. Common practice, no source.
pub const BAR_HEIGHT_MM: f64 = 6.5;

/// Height of the line that repeats the piece number below the bars, in mm.
const BAR_TEXT_MM: f64 = 2.8;
/// Sizes of the words that are tried, in points, largest first.
const SIZES: [f64; 6] = [8.5, 8.0, 7.5, 7.0, 6.5, 6.0];

/// What stands on a label; every part but the piece number and the code may be empty.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Label {
    /// Number of the piece: large, and in the bar code.
    pub piece: String,
    /// Name of the product.
    pub product: String,
    /// Mass with its unit.
    pub mass: String,
    /// Fineness with its unit.
    pub fineness: String,
    /// What was found about it.
    pub standing: String,
    /// When it was released.
    pub released: String,
    /// What the QR code says.
    pub code: String,
}

/// A sheet of labels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LabelSheet {
    /// The paper.
    pub paper: Paper,
    /// Width of a label, in mm.
    pub width_mm: f64,
    /// Height of a label, in mm.
    pub height_mm: f64,
    /// Labels side by side.
    pub columns: usize,
    /// Labels one below the other.
    pub rows: usize,
    /// From the left side of the paper to the first label, in mm.
    pub left_mm: f64,
    /// From the upper side of the paper to the first label, in mm.
    pub top_mm: f64,
    /// Between two labels side by side, in mm.
    pub across_mm: f64,
    /// Between two labels one below the other, in mm.
    pub down_mm: f64,
    /// From the border of a label to what is printed on it, in mm; where a label reaches the edge of the paper, as
    /// much as the printer leaves blank.
    pub padding_mm: f64,
    /// Whether the borders are drawn, for paper that has to be cut.
    pub borders: bool,
}

impl LabelSheet {
    /// Twenty-four labels of 70 mm by 37 mm on A4, without gaps.
    pub const A4_24: LabelSheet = LabelSheet {
        paper: Paper::A4,
        width_mm: 70.0,
        height_mm: 37.0,
        columns: 3,
        rows: 8,
        left_mm: 0.0,
        top_mm: 0.5,
        across_mm: 0.0,
        down_mm: 0.0,
        padding_mm: 5.0,
        borders: false,
    };
}

/// Why labels cannot be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LabelError {
    /// The bar code or the QR code cannot be made.
    #[error("label of piece `{piece}`: {source}")]
    Code {
        /// The piece.
        piece: String,
        /// Why.
        source: CodeError,
    },
    /// A part of a label needs more room.
    #[error(
        "label of piece `{piece}` is too small: the {part} has {found_mm:.1} mm, allowed is at least {least_mm:.1} mm"
    )]
    TooSmall {
        /// The piece.
        piece: String,
        /// What does not fit.
        part: &'static str,
        /// Room that there is, in mm.
        found_mm: f64,
        /// Room that is needed, in mm.
        least_mm: f64,
    },
    /// The labels do not fit on the paper.
    #[error("labels take {found_mm:.1} mm {direction}, allowed are the {greatest_mm:.1} mm of the paper")]
    BeyondPaper {
        /// `across` or `down`.
        direction: &'static str,
        /// What they take, in mm.
        found_mm: f64,
        /// What the paper has, in mm.
        greatest_mm: f64,
    },
    /// A size or a number of labels that is none.
    #[error("{name} of the label sheet is {found}, allowed is {allowed}")]
    Size {
        /// Which one.
        name: &'static str,
        /// What it is.
        found: f64,
        /// What it may be.
        allowed: &'static str,
    },
}

/// Returns sheets of labels as SVG files, one for each sheet.
///
/// `skip`: places that are left empty on the first sheet, since they are already used up.
///
/// # Errors
/// One variant of [`LabelError`] for each reason.
pub fn sheets_as_svg(labels: &[Label], sheet: &LabelSheet, skip: usize) -> Result<Vec<String>, LabelError> {
    Ok(sheets(labels, sheet, skip)?.iter().map(svg::file).collect())
}

/// Returns sheets of labels as one PDF file.
///
/// `skip`: places that are left empty on the first sheet, since they are already used up.
///
/// # Errors
/// One variant of [`LabelError`] for each reason.
pub fn sheets_as_pdf(labels: &[Label], sheet: &LabelSheet, skip: usize) -> Result<Vec<u8>, LabelError> {
    Ok(pdf::drawings("Labels", &sheets(labels, sheet, skip)?))
}

/// Returns sheets of labels as drawings.
///
/// # Errors
/// One variant of [`LabelError`] for each reason.
pub fn sheets(labels: &[Label], sheet: &LabelSheet, skip: usize) -> Result<Vec<Drawing>, LabelError> {
    check(sheet)?;
    let each = sheet.columns * sheet.rows;
    let skip = skip % each;
    let mut sheets = Vec::new();
    for (index, label) in labels.iter().enumerate() {
        let place = (index + skip) % each;
        if sheets.is_empty() || place == 0 {
            sheets.push(Drawing::new("Labels", sheet.paper.width, sheet.paper.height));
        }
        let left = sheet.left_mm + (place % sheet.columns) as f64 * (sheet.width_mm + sheet.across_mm);
        let top = sheet.top_mm + (place / sheet.columns) as f64 * (sheet.height_mm + sheet.down_mm);
        let drawing = sheets.last_mut().expect("a sheet was added for the first label");
        let (width, height, padding) = (sheet.width_mm, sheet.height_mm, sheet.padding_mm);
        draw_label(drawing, label, Room { left, top, width, height, padding })?;
        if sheet.borders {
            let [left, top, right, bottom] =
                [left, top, left + sheet.width_mm, top + sheet.height_mm].map(|mm| mm * POINTS_PER_MM);
            let corners = vec![(left, top), (right, top), (right, bottom), (left, bottom), (left, top)];
            drawing.line(corners, 0.3, Dash::Solid, Ink::Pale);
        }
    }
    Ok(sheets)
}

/// Returns one label as a drawing of its own size.
///
/// # Errors
/// One variant of [`LabelError`] for each reason.
pub fn label(label: &Label, width_mm: f64, height_mm: f64, padding_mm: f64) -> Result<Drawing, LabelError> {
    let mut drawing = Drawing::new(&label.piece, width_mm * POINTS_PER_MM, height_mm * POINTS_PER_MM);
    let room = Room { left: 0.0, top: 0.0, width: width_mm, height: height_mm, padding: padding_mm };
    draw_label(&mut drawing, label, room)?;
    Ok(drawing)
}

fn check(sheet: &LabelSheet) -> Result<(), LabelError> {
    for (name, found) in [("width of a label", sheet.width_mm), ("height of a label", sheet.height_mm)] {
        if !(found.is_finite() && found > 0.0) {
            return Err(LabelError::Size { name, found, allowed: "a length above 0 mm" });
        }
    }
    for (name, found) in
        [("left edge", sheet.left_mm), ("upper edge", sheet.top_mm), ("padding", sheet.padding_mm)]
    {
        if !(found.is_finite() && found >= 0.0) {
            return Err(LabelError::Size { name, found, allowed: "a length of at least 0 mm" });
        }
    }
    for (name, found) in [("gap across", sheet.across_mm), ("gap down", sheet.down_mm)] {
        if !(found.is_finite() && found >= 0.0) {
            return Err(LabelError::Size { name, found, allowed: "a length of at least 0 mm" });
        }
    }
    for (name, count) in [("number of columns", sheet.columns), ("number of rows", sheet.rows)] {
        if !(1..=100).contains(&count) {
            return Err(LabelError::Size { name, found: count as f64, allowed: "1 to 100" });
        }
    }
    let taken = |count: usize, each: f64, gap: f64, first: f64| first + count as f64 * (each + gap) - gap;
    let across = taken(sheet.columns, sheet.width_mm, sheet.across_mm, sheet.left_mm);
    let down = taken(sheet.rows, sheet.height_mm, sheet.down_mm, sheet.top_mm);
    for (direction, found_mm, points) in
        [("across", across, sheet.paper.width), ("down", down, sheet.paper.height)]
    {
        let greatest_mm = points / POINTS_PER_MM;
        // Paper sizes in points are rounded.
        if found_mm > greatest_mm + 0.05 {
            return Err(LabelError::BeyondPaper { direction, found_mm, greatest_mm });
        }
    }
    Ok(())
}

/// A rectangle in mm.
#[derive(Clone, Copy)]
struct Room {
    left: f64,
    top: f64,
    width: f64,
    height: f64,
    padding: f64,
}

fn draw_label(drawing: &mut Drawing, label: &Label, place: Room) -> Result<(), LabelError> {
    let code_error = |source| LabelError::Code { piece: label.piece.clone(), source };
    let too_small = |part, found_mm, least_mm| LabelError::TooSmall {
        piece: label.piece.clone(),
        part,
        found_mm,
        least_mm,
    };
    let bars = code128(&label.piece).map_err(code_error)?;
    let square = qr(&label.code).map_err(code_error)?;

    let bar_count = (bars.len() + 2 * BAR_QUIET) as f64;
    // The quiet zones may take the padding, and the padding may take the quiet zones.
    let padded = (place.width - 2.0 * place.padding) / bars.len() as f64;
    let bar_module = (place.width / bar_count).min(padded).min(BAR_MODULE_MM.1);
    if bar_module < BAR_MODULE_MM.0 {
        let least =
            (bar_count * BAR_MODULE_MM.0).max(bars.len() as f64 * BAR_MODULE_MM.0 + 2.0 * place.padding);
        return Err(too_small("width for the bar code", place.width, least));
    }
    let bar_top = place.height - place.padding - BAR_TEXT_MM - BAR_HEIGHT_MM;
    let bar_left = place.left + (place.width - bars.len() as f64 * bar_module) / 2.0;
    let dark_runs = |modules: &[bool], module: f64, left: f64, top: f64, height: f64| {
        let mut cells = Vec::new();
        let mut start = 0;
        for run in modules.chunk_by(|a, b| a == b) {
            if run[0] {
                let x = left + start as f64 * module;
                cells.push([x, top, run.len() as f64 * module, height].map(|mm| mm * POINTS_PER_MM));
            }
            start += run.len();
        }
        cells
    };
    let cells = dark_runs(&bars, bar_module, bar_left, place.top + bar_top, BAR_HEIGHT_MM);
    drawing.shapes.push(Shape::Cells { cells, ink: Ink::Black });
    let below = (place.top + bar_top + BAR_HEIGHT_MM + BAR_TEXT_MM - 0.3) * POINTS_PER_MM;
    let middle = (place.left + place.width / 2.0) * POINTS_PER_MM;
    drawing.words(label.piece.as_str(), (middle, below), 6.5, Anchor::Middle, Ink::Black);

    let qr_room = bar_top - 0.5;
    let qr_count = (square.size + 2 * QR_QUIET) as f64;
    // The padding above may be more than the quiet zone.
    let below_padding = (qr_room - place.padding) / (square.size + QR_QUIET) as f64;
    let qr_module =
        (qr_room / qr_count).min(below_padding).min(0.45 * place.width / qr_count).min(QR_MODULE_MM.1);
    if qr_module < QR_MODULE_MM.0 {
        let least =
            (qr_count * QR_MODULE_MM.0).max((square.size + QR_QUIET) as f64 * QR_MODULE_MM.0 + place.padding);
        return Err(too_small("room for the QR code", qr_room.min(0.45 * place.width), least));
    }
    let (dark_side, quiet) = (square.size as f64 * qr_module, QR_QUIET as f64 * qr_module);
    let edge = quiet.max(place.padding);
    let qr_left = place.left + place.width - edge - dark_side;
    let qr_top = place.top + edge;
    let rows = square.dark.chunks(square.size).enumerate();
    let cells = rows.flat_map(|(row, dark)| {
        dark_runs(dark, qr_module, qr_left, qr_top + row as f64 * qr_module, qr_module)
    });
    drawing.shapes.push(Shape::Cells { cells: cells.collect(), ink: Ink::Black });

    let text_room = qr_left - quiet - place.left - place.padding;
    let area = Place {
        left: (place.left + place.padding) * POINTS_PER_MM,
        top: (place.top + place.padding) * POINTS_PER_MM,
        right: (place.left + place.padding + text_room) * POINTS_PER_MM,
        bottom: (place.top + bar_top - 0.8) * POINTS_PER_MM,
    };
    draw_words(drawing, label, &area).map_err(|(found, least)| {
        too_small("height for the words", found / POINTS_PER_MM, least / POINTS_PER_MM)
    })
}

/// Writes the words in the largest size that fits, or returns the height there is and the height that is needed.
fn draw_words(drawing: &mut Drawing, label: &Label, area: &Place) -> Result<(), (f64, f64)> {
    let room = area.right - area.left;
    let high = area.bottom - area.top;
    let mut needed = 0.0;
    for size in SIZES {
        let large =
            [12.0, 11.0, 10.0, 9.0, 8.0].into_iter().find(|&s| width(&label.piece, Face::Bold, s) <= room);
        let large = large.unwrap_or(size);
        let mut lines: Vec<(String, Face, f64)> = Vec::new();
        lines.extend(
            wrap(&label.piece, Face::Bold, large, room).into_iter().map(|line| (line, Face::Bold, large)),
        );
        let fine: Vec<&str> = [&label.mass, &label.fineness]
            .into_iter()
            .map(String::as_str)
            .filter(|s| !s.is_empty())
            .collect();
        for text in [label.product.as_str(), &fine.join(" · "), &label.standing, &label.released] {
            if !text.is_empty() {
                lines.extend(
                    wrap(text, Face::Regular, size, room).into_iter().map(|line| (line, Face::Regular, size)),
                );
            }
        }
        needed = lines.iter().map(|line| 1.2 * line.2).sum();
        if needed <= high {
            let mut y = area.top;
            for (line, face, size) in lines {
                let at = (area.left, y + 0.85 * size);
                match face {
                    Face::Bold => drawing.bold(line, at, size, Anchor::Start, Ink::Black),
                    Face::Regular => drawing.words(line, at, size, Anchor::Start, Ink::Black),
                }
                y += 1.2 * size;
            }
            return Ok(());
        }
    }
    Err((high, needed))
}
