//! Pieces heaped over one quantity: each piece is a cell with its letter.

use super::scale::range_of;
use super::{LETTERS, Sheet, WORDS};
use crate::present::scale::{decimals, round_step};
use crate::report::drawing::{Anchor, Ink, Place};
use crate::report::metrics::{Face, width};
use crate::report::plot::{Axis, Heap};

/// Most heaps.
const MOST_HEAPS: f64 = 200.0;

pub(super) fn draw(heap: &Heap, sheet: &mut Sheet) {
    let values = || heap.pieces.iter().map(|piece| piece.0);
    let (from, to) = range_of(&heap.x, values().chain(heap.limits.iter().map(|limit| limit.at)));
    let least = round_step((to - from) / 28.0);
    let step = heap.step.filter(|&step| step.is_finite() && step > (to - from) / MOST_HEAPS).unwrap_or(least);
    // A value on the border of two heaps belongs to the upper one, whatever its last binary digit.
    let index = |value: f64| (value / step + 1e-6).floor();
    let (first, last) = (index(from), index(to));
    let mut heaps: Vec<Vec<&str>> = vec![Vec::new(); (last - first) as usize + 1];
    let mut beyond = 0;
    for (value, letter) in &heap.pieces {
        if value.is_finite() && (first..=last).contains(&index(*value)) {
            heaps[(index(*value) - first) as usize].push(letter);
        } else {
            beyond += 1;
        }
    }
    let highest = heaps.iter().map(Vec::len).max().unwrap_or(0).max(1);
    let range = (first * step, (last + 1.0) * step);
    let each = sheet.drawing.width * 0.86 / heaps.len() as f64;
    let high = each.clamp(3.0, 11.0).min(220.0 / highest as f64);
    let height = (high * (highest as f64 + 0.6)).max(60.0);
    let count = Axis { quantity: "pieces".to_owned(), ..Axis::default() };
    let y_range = (0.0, height / high);
    let frame = sheet.frame((&heap.x, &count), (range, y_range), (&heap.limits, &[]), height);

    let mut room = true;
    for (number, letters) in heaps.iter().enumerate() {
        let left = frame.x.place((first + number as f64) * step);
        let right = frame.x.place((first + number as f64 + 1.0) * step);
        for (level, letter) in letters.iter().enumerate() {
            let bottom = frame.area.bottom - level as f64 * high;
            let place = Place {
                left: left + 0.5,
                right: right - 0.5,
                top: bottom - high + 0.5,
                bottom: bottom - 0.5,
            };
            sheet.drawing.rectangle(place, Some(Ink::Sand), Some(Ink::Slate));
            let size = LETTERS.min(high - 1.5);
            if size >= 4.5 && width(letter, Face::Bold, size) <= right - left - 1.5 {
                let at = ((left + right) / 2.0, bottom - high / 2.0 + size * 0.36);
                sheet.drawing.bold(*letter, at, size, Anchor::Middle, Ink::Black);
            } else {
                room &= letter.is_empty();
            }
        }
    }
    let unit = if heap.x.unit.is_empty() { String::new() } else { format!(" {}", heap.x.unit) };
    let decimals = decimals(step);
    let text = format!("Each cell is one piece; a heap is {step:.decimals$}{unit} wide.");
    sheet.drawing.words(text, (0.0, sheet.y + 7.0), WORDS, Anchor::Start, Ink::Grey);
    sheet.y += super::LINE;
    if !room {
        sheet.notes.push("The cells are too small for all letters.".to_owned());
    }
    if beyond > 0 {
        sheet.notes.push(format!("{beyond} of {} pieces lie beyond the plot.", heap.pieces.len()));
    }
}
