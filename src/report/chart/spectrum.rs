//! A curve with marked peaks.

use super::Sheet;
use super::scale::{range_of, range_with_margin};
use crate::report::drawing::{Dash, Ink, Place};
use crate::report::metrics::Face;
use crate::report::plot::Spectrum;

pub(super) fn draw(spectrum: &Spectrum, sheet: &mut Sheet) {
    let peaks = &spectrum.peaks;
    let all = || spectrum.curve.iter().copied().chain(peaks.iter().map(|peak| (peak.x, peak.y)));
    let x_range = range_with_margin(&spectrum.x, all().map(|point| point.0), 0.0);
    let mut y_range = range_of(&spectrum.y, all().map(|point| point.1));
    if spectrum.y.range.is_none() {
        // Room for the names above the highest peak.
        y_range.1 += 0.12 * (y_range.1 - y_range.0);
    }
    let height = (0.42 * sheet.drawing.width).clamp(110.0, 240.0);
    let frame = sheet.frame((&spectrum.x, &spectrum.y), (x_range, y_range), (&[], &[]), height);

    let inside = spectrum.curve.iter().filter(|(x, y)| frame.x.holds(*x) && y.is_finite());
    let curve: Vec<(f64, f64)> = inside.map(|&(x, y)| (frame.x.place(x), frame.y.place_within(y))).collect();
    if let (Some(first), Some(last), true) = (curve.first(), curve.last(), curve.len() > 1) {
        let mut ground = curve.clone();
        ground.extend([(last.0, frame.area.bottom), (first.0, frame.area.bottom)]);
        sheet.drawing.area(ground, Some(Ink::Sand), None);
        sheet.drawing.line(curve.clone(), 0.6, Dash::Solid, Ink::Slate);
    }
    // Names keep off the curve: each stretch of it is a taken place.
    for pair in curve.windows(2) {
        sheet.taken.push(Place {
            left: pair[0].0,
            right: pair[1].0 + 0.2,
            top: pair[0].1.min(pair[1].1) - 0.5,
            bottom: frame.area.bottom,
        });
    }
    let mut left_out = Vec::new();
    for peak in peaks {
        if !frame.x.holds(peak.x) || !frame.y.holds(peak.y) {
            left_out.push(peak.label.as_str());
            continue;
        }
        let at = (frame.x.place(peak.x), frame.y.place(peak.y));
        let head = vec![(at.0, at.1 - 1.0), (at.0 + 2.6, at.1 - 6.0), (at.0 - 2.6, at.1 - 6.0)];
        sheet.drawing.area(head, Some(Ink::Rust), None);
        let place = Place { left: at.0 - 2.6, right: at.0 + 2.6, top: at.1 - 6.0, bottom: at.1 };
        sheet.taken.push(place);
    }
    for peak in peaks.iter().filter(|peak| frame.x.holds(peak.x) && frame.y.holds(peak.y)) {
        let at = (frame.x.place(peak.x), frame.y.place(peak.y) - 4.0);
        if !sheet.name(&peak.label, at, 3.0, Face::Regular, &frame.area) {
            left_out.push(&peak.label);
        }
    }
    if !left_out.is_empty() {
        sheet.notes.push(format!("Peaks without room for their names: {}.", left_out.join("; ")));
    }
}
