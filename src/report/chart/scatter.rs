//! Points over two quantities.

use super::scale::{axis_name, plain_number, range_of};
use super::{LINE, Sheet, WORDS};
use crate::present::scale::Scale;
use crate::report::drawing::{Anchor, Dash, Drawing, Ink, Place, Shape};
use crate::report::metrics::{Face, width};
use crate::report::plot::{Axis, Mark, Scatter};

/// Radius of a mark, in points.
const RADIUS: f64 = 2.6;

pub(super) fn draw(scatter: &Scatter, sheet: &mut Sheet) {
    let points = &scatter.points;
    let xs = points.iter().map(|point| point.x).chain(scatter.x_limits.iter().map(|limit| limit.at));
    let ys = points.iter().map(|point| point.y).chain(scatter.y_limits.iter().map(|limit| limit.at));
    let x_range = with_regions(&scatter.x, xs, scatter.regions.iter().map(|region| region.x));
    let y_range = with_regions(&scatter.y, ys, scatter.regions.iter().map(|region| region.y));
    let ranges = (x_range, y_range);
    let height = (0.52 * sheet.drawing.width).clamp(120.0, 300.0);
    let limits = (&scatter.x_limits[..], &scatter.y_limits[..]);
    let frame = sheet.frame((&scatter.x, &scatter.y), ranges, limits, height);

    let mut regions = Vec::new();
    for region in &scatter.regions {
        let inside = |scale: &Scale, (from, to): (f64, f64)| from <= scale.to && to >= scale.from;
        if !inside(&frame.x, region.x) || !inside(&frame.y, region.y) {
            let range = |axis: &Axis, (from, to): (f64, f64)| {
                format!("{} {} to {}", axis_name(axis), plain_number(from), plain_number(to))
            };
            let (x, y) = (range(&scatter.x, region.x), range(&scatter.y, region.y));
            sheet.notes.push(format!("Beyond the plot: {}, {x}, {y}.", region.label));
            continue;
        }
        let place = Place {
            left: frame.x.place_within(region.x.0),
            right: frame.x.place_within(region.x.1),
            top: frame.y.place_within(region.y.1),
            bottom: frame.y.place_within(region.y.0),
        };
        // Nothing is so narrow that it cannot be seen.
        let (wide, high) =
            ((2.0 - place.right + place.left).max(0.0), (2.0 - place.bottom + place.top).max(0.0));
        let place = Place {
            left: place.left - wide / 2.0,
            right: place.right + wide / 2.0,
            top: place.top - high / 2.0,
            bottom: place.bottom + high / 2.0,
        };
        sheet.drawing.hatch(place, 5.0, Ink::Pale);
        sheet.drawing.rectangle(place, None, Some(Ink::Grey));
        regions.push((place, region));
    }

    let (mut beyond, mut unreadable) = (0, 0);
    let mut shown = Vec::new();
    for point in points {
        if !point.x.is_finite() || !point.y.is_finite() {
            unreadable += 1;
        } else if !frame.x.holds(point.x) || !frame.y.holds(point.y) {
            beyond += 1;
        } else {
            let at = (frame.x.place(point.x), frame.y.place(point.y));
            mark(&mut sheet.drawing, point.mark, at);
            let r = RADIUS + 0.4;
            sheet.taken.push(Place { left: at.0 - r, right: at.0 + r, top: at.1 - r, bottom: at.1 + r });
            shown.push((at, point));
        }
    }
    for (place, region) in regions {
        name_region(sheet, &place, &region.label, &frame.area);
    }
    let mut unnamed = 0;
    for (at, point) in shown {
        if !point.letter.is_empty() && !sheet.name(&point.letter, at, RADIUS, Face::Bold, &frame.area) {
            unnamed += 1;
        }
    }
    legend(sheet, scatter);
    for (count, what) in [
        (beyond, "lie beyond the plot"),
        (unreadable, "have no value that can be drawn"),
        (unnamed, "stand too close to carry their letters"),
    ] {
        if count > 0 {
            sheet.notes.push(format!("{count} of {} points {what}.", points.len()));
        }
    }
}

/// Returns the range of the points and limits, and of the regions that do not dwarf them.
fn with_regions(
    axis: &Axis,
    own: impl Iterator<Item = f64>,
    regions: impl Iterator<Item = (f64, f64)>,
) -> (f64, f64) {
    const MOST_TIMES: f64 = 2.5;
    let own: Vec<f64> = own.filter(|value| value.is_finite()).collect();
    let (from, to) = range_of(axis, own.iter().copied());
    let mut all = own.clone();
    for region in regions {
        let (low, high) = (region.0.min(from), region.1.max(to));
        if own.is_empty() || high - low <= MOST_TIMES * (to - from) {
            all.extend([region.0, region.1]);
        }
    }
    range_of(axis, all)
}

/// Writes the name of a region into it, or beside it where it is too small.
fn name_region(sheet: &mut Sheet, place: &Place, label: &str, area: &Place) {
    let length = width(label, Face::Regular, WORDS - 0.5);
    let corners = [
        (place.left + 2.0, place.top + 7.5),
        (place.left + 2.0, place.bottom - 2.5),
        (place.right - length - 2.0, place.top + 7.5),
        (place.right - length - 2.0, place.bottom - 2.5),
    ];
    for (x, base) in corners {
        let words = Place { left: x - 1.0, right: x + length + 1.0, top: base - 6.5, bottom: base + 2.0 };
        if place.holds(&words) && !sheet.taken.iter().any(|taken| taken.overlaps(&words)) {
            sheet.drawing.rectangle(words, Some(Ink::White), None);
            sheet.drawing.words(label, (x, base), WORDS - 0.5, Anchor::Start, Ink::Black);
            sheet.taken.push(words);
            return;
        }
    }
    let middle = ((place.left + place.right) / 2.0, (place.top + place.bottom) / 2.0);
    let around = [
        (middle.0 - length / 2.0, place.top - 4.0),
        (middle.0 - length / 2.0, place.bottom + 9.0),
        (place.right + 4.0, middle.1 + 2.5),
        (place.left - length - 4.0, middle.1 + 2.5),
        (place.right - length, place.top - 4.0),
        (place.left, place.top - 4.0),
    ];
    for (x, base) in around {
        let words = Place { left: x - 1.0, right: x + length + 1.0, top: base - 6.5, bottom: base + 2.0 };
        if area.holds(&words) && !sheet.taken.iter().any(|taken| taken.overlaps(&words)) {
            sheet.drawing.words(label, (x, base), WORDS - 0.5, Anchor::Start, Ink::Black);
            sheet.taken.push(words);
            return;
        }
    }
    if !sheet.name(label, middle, 4.0, Face::Regular, area) {
        sheet.notes.push(format!("A hatched region without a name is {label}."));
    }
}

/// Draws a mark.
fn mark(drawing: &mut Drawing, mark: Mark, (x, y): (f64, f64)) {
    let r = RADIUS;
    match mark {
        Mark::Circle => drawing.shapes.push(Shape::Disc {
            middle: (x, y),
            radius: r,
            fill: Some(Ink::White),
            outline: Some(Ink::Slate),
        }),
        Mark::Triangle => drawing.area(
            vec![(x, y - r * 1.2), (x + r * 1.15, y + r), (x - r * 1.15, y + r)],
            Some(Ink::Slate),
            None,
        ),
        Mark::Square => {
            let place = Place { left: x - r, right: x + r, top: y - r, bottom: y + r };
            drawing.rectangle(place, Some(Ink::Black), None);
        }
        Mark::Diamond => {
            let r = r * 1.25;
            drawing.area(
                vec![(x, y - r), (x + r, y), (x, y + r), (x - r, y)],
                Some(Ink::White),
                Some(Ink::Black),
            )
        }
        Mark::Cross => {
            drawing.line(vec![(x - r, y - r), (x + r, y + r)], 1.1, Dash::Solid, Ink::Black);
            drawing.line(vec![(x - r, y + r), (x + r, y - r)], 1.1, Dash::Solid, Ink::Black);
        }
    }
}

/// Draws the legend in as many lines as it needs.
fn legend(sheet: &mut Sheet, scatter: &Scatter) {
    let mut x = 0.0;
    for (shape, text) in &scatter.legend {
        let length = 12.0 + width(text, Face::Regular, WORDS) + 14.0;
        if x > 0.0 && x + length > sheet.drawing.width {
            x = 0.0;
            sheet.y += LINE;
        }
        mark(&mut sheet.drawing, *shape, (x + 4.0, sheet.y + 4.4));
        sheet.drawing.words(text.as_str(), (x + 11.0, sheet.y + 7.0), WORDS, Anchor::Start, Ink::Black);
        x += length;
    }
    if x > 0.0 {
        sheet.y += LINE + 1.0;
    }
}
