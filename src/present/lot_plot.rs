//! What the plots of a lot show: its pieces over two quantities, and each reading in the order of logging.

use super::scatter::{self, Axis, Dot, Region, Scatter};
use super::spectrum::Marks;
use super::text;
use super::tone::{Row, Tone};
use super::trend::{self, Point, Strip};
use super::words::letters;
use crate::desk::views::PieceView;
use crate::evidence::Measurand;
use crate::scoring::{PlotLimits, Surroundings};

/// Unit of a density.
const DENSITY_UNIT: &str = "g/cm3";

/// The plots of a lot.
#[derive(Debug, Clone, PartialEq)]
pub struct LotPlots {
    /// Density against conductivity.
    pub density: Scatter,
    /// Mass against thickness.
    pub mass: Scatter,
    /// Each reading in the order of logging.
    pub strips: Vec<Strip>,
    /// Whether the limits of the thickness are only what mass, outline and alloy let expect.
    thickness_expected: bool,
}

impl LotPlots {
    /// Makes the plots of a lot; `here` is the place of the piece that is shown.
    pub fn of(around: &Surroundings, pieces: &[PieceView], here: Option<usize>) -> Self {
        let letters = letters(pieces.iter().map(|piece| piece.standing));
        let dots = |values: &[(Option<f64>, Option<f64>)]| {
            let mut dots = Vec::new();
            for (index, (piece, (x, y))) in pieces.iter().zip(values).enumerate() {
                if let (Some(x), Some(y)) = (*x, *y) {
                    let (letter, standing) = (letters[index].clone(), piece.standing);
                    dots.push(Dot { x, y, letter, standing, here: here == Some(index) });
                }
            }
            dots
        };
        let scatter =
            |values: Vec<(Option<f64>, Option<f64>)>, axes: (Named, Named), regions: Vec<Region>| {
                let dots = dots(&values);
                let spans = |of: fn(&Region) -> (f64, f64)| regions.iter().map(of).collect::<Vec<_>>();
                let numbers = |of: fn(&Dot) -> f64| dots.iter().map(of).collect::<Vec<_>>();
                let x = Axis::around(axes.0.0, axes.0.1, &spans(|region| region.x), &numbers(|dot| dot.x));
                let y = Axis::around(axes.1.0, axes.1.1, &spans(|region| region.y), &numbers(|dot| dot.y));
                Scatter { x, y, without: pieces.len() - dots.len(), regions, dots }
            };
        let regions = |place: &dyn Fn(&crate::scoring::Neighbour) -> Option<Place>| {
            let mut found = Vec::new();
            for (letter, neighbour) in ('A'..='Z').zip(&around.neighbours) {
                if let Some((x, y)) = place(neighbour) {
                    // What stands in brackets, such as a composition, has no room at a plot.
                    let name = neighbour.name.split(" (").next().unwrap_or_default().to_owned();
                    found.push(Region { letter, name, x, y });
                }
            }
            found
        };
        let both = |span: (f64, f64)| (Some(span.0), Some(span.1));
        let limits = |measurand| around.limits_of(measurand).map_or((None, None), |at| (at.lower, at.upper));

        let density = scatter(
            pieces
                .iter()
                .map(|piece| {
                    let density = around.envelope_density(|measurand| value_of(piece, measurand));
                    (value_of(piece, Measurand::Conductivity), density)
                })
                .collect(),
            (
                (named(Measurand::Conductivity), both(around.conductivity)),
                (("density", DENSITY_UNIT), both(around.density)),
            ),
            regions(&|neighbour| Some((neighbour.conductivity, neighbour.density))),
        );
        let mass_limits = limits(Measurand::Mass);
        let thickness = match around.thickness_to_expect {
            Some(span) => both(span),
            None => limits(Measurand::Thickness),
        };
        let mass = scatter(
            pieces
                .iter()
                .map(|piece| (value_of(piece, Measurand::Thickness), value_of(piece, Measurand::Mass)))
                .collect(),
            ((named(Measurand::Thickness), thickness), (named(Measurand::Mass), mass_limits)),
            // All of them have the mass of the product: their letters stand at its upper limit alone.
            regions(&|neighbour| neighbour.thickness.zip(mass_limits.1.map(|upper| (upper, upper)))),
        );
        let strip = |limits: &PlotLimits| {
            let (quantity, unit) = named(limits.measurand);
            let points = pieces
                .iter()
                .zip(&letters)
                .map(|(piece, letter)| Point {
                    value: value_of(piece, limits.measurand),
                    letter: letter.clone(),
                })
                .collect();
            Strip { quantity, unit, lower: limits.lower, upper: limits.upper, points }
        };
        let strips = around.limits.iter().map(strip).collect();
        LotPlots { density, mass, strips, thickness_expected: around.thickness_to_expect.is_some() }
    }

    /// Returns the strips, `high` rows each under their header.
    pub fn strip_rows(&self, marks: Marks, columns: usize, high: usize) -> Vec<Row> {
        self.strips.iter().flat_map(|strip| strip.rows(marks, columns, high)).collect()
    }

    /// Returns everything on a page: both scatters, `lines` high each, the strips, and what the marks mean.
    pub fn page_rows(&self, marks: Marks, columns: usize, lines: usize) -> Vec<Row> {
        let mut rows = Vec::new();
        for scatter in [&self.density, &self.mass] {
            rows.extend(scatter.rows(marks, columns, lines));
            rows.push(Row::blank());
        }
        rows.extend(self.strip_rows(marks, columns, if lines > 14 { 2 } else { 1 }));
        rows.push(Row::blank());
        let mut words = vec![scatter::KEY, trend::KEY];
        if self.thickness_expected {
            words.push(
                "No thickness is specified for this product: its limits here are what mass, outline and alloy let expect.",
            );
        }
        for paragraph in words {
            rows.extend(text::wrap(paragraph, columns).into_iter().map(|line| Row::of(Tone::Quiet, line)));
        }
        rows
    }
}

/// Where a region lies on both axes.
type Place = ((f64, f64), (f64, f64));
/// Name and unit of an axis, and its limits.
type Named = ((&'static str, &'static str), (Option<f64>, Option<f64>));

/// Returns name and first unit of a reading.
fn named(measurand: Measurand) -> (&'static str, &'static str) {
    (measurand.name(), measurand.units()[0].symbol)
}

/// Returns the value of a piece that was compared, or as it was read where nothing is specified, in the first unit.
///
/// A conductivity counts only as it was compared: at 20 °C, and where the reading could be used.
fn value_of(piece: &PieceView, measurand: Measurand) -> Option<f64> {
    let check = piece.assessment.checks.iter().find(|check| check.measurand == measurand);
    let compared = check.and_then(|check| check.value).map(|value| value.value());
    if compared.is_some() || measurand == Measurand::Conductivity {
        return compared;
    }
    let reading = piece.readings.iter().find(|reading| reading.measurand == measurand)?;
    reading.amount.map(|amount| amount.value())
}
