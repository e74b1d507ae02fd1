//! A scatter of the pieces of a lot in rows of text: limits as a box, other materials as capitals, pieces as dots.
//!
//! ```text
//! g/cm3   density against conductivity
//! 18.0 |     A            A
//! 16.4 |        +--------------+        limits of the product
//!      |   B    |   o  >o    B |        pieces, the one shown behind >
//!      |        |      b       |        a piece that is not clear, by its letter
//! 10.6 |        +--------------+
//!  8.0 |     A            A
//!       8.0     9.8          11.2      14.0 MS/m
//! A tungsten  B fine gold               where other materials would lie
//! ```
//!
//! The axes follow from the limits and the materials, and give way only for a piece that lies outside of them.

use super::scale::{decimals, range_around, round_step};
use super::spectrum::{DOT, Marks};
use super::text;
use super::tone::{Row, Tone};
use super::words::standing_tone;
use crate::scoring::Standing;
use std::collections::BTreeMap;

/// Fewest columns and rows of a scatter.
const LEAST_COLUMNS: usize = 30;
const LEAST_LINES: usize = 8;
/// Room around the limits, in parts of their width.
const AROUND: f64 = 0.5;
/// How many times as wide as that a material may make an axis.
const MOST_TIMES: f64 = 1.5;
/// How far a piece may widen an axis at either end, in parts of the axis without it.
const WIDENED: f64 = 1.0;
/// Steps of an axis, to whose multiples its ends are rounded.
const STEPS: f64 = 10.0;

/// An axis of a scatter.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// The quantity.
    pub quantity: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// Lower limit of the product.
    pub lower: Option<f64>,
    /// Upper limit of the product.
    pub upper: Option<f64>,
    /// From and to.
    pub range: (f64, f64),
}

impl Axis {
    /// Makes an axis around the limits of a product and the spans of other materials that do not dwarf them; values outside
    /// widen it by whole steps, at most to twice its length at either end.
    pub fn around(
        (quantity, unit): (&'static str, &'static str),
        (lower, upper): (Option<f64>, Option<f64>),
        spans: &[(f64, f64)],
        values: &[f64],
    ) -> Axis {
        let own = match (lower, upper) {
            (Some(lower), Some(upper)) if lower < upper => range_around([lower, upper], AROUND),
            (Some(limit), _) | (None, Some(limit)) => range_around([0.9 * limit, 1.1 * limit], AROUND),
            (None, None) => range_around(values.iter().copied(), AROUND),
        };
        let (mut from, mut to) = own;
        for span in spans.iter().filter(|span| span.0.is_finite() && span.1.is_finite()) {
            let (low, high) = (span.0.min(own.0), span.1.max(own.1));
            if high - low <= MOST_TIMES * (own.1 - own.0) {
                (from, to) = (from.min(low), to.max(high));
            }
        }
        // No quantity of a piece is below zero.
        from = from.max(0.0);
        let step = round_step((to - from) / STEPS);
        let down = |value: f64| ((value / step + 1e-9).floor() * step).max(0.0);
        let up = |value: f64| (value / step - 1e-9).ceil() * step;
        let (from, to) = (down(from), up(to));
        let most = WIDENED * (to - from);
        let mut range = (from, to);
        for value in values.iter().copied().filter(|value| value.is_finite()) {
            range.0 = range.0.min(down(value.max(from - most)));
            range.1 = range.1.max(up(value.min(to + most)));
        }
        Axis { quantity, unit, lower, upper, range }
    }

    /// Returns where a value lies, 0 at the start and 1 at the end.
    fn share(&self, value: f64) -> f64 {
        (value - self.range.0) / (self.range.1 - self.range.0)
    }

    /// Returns the cell of a value among `cells`, at the nearer end for values beyond.
    fn cell(&self, value: f64, cells: usize) -> usize {
        let share = self.share(value).clamp(0.0, 1.0);
        ((share * cells as f64) as usize).min(cells.saturating_sub(1))
    }

    fn holds(&self, value: f64) -> bool {
        (self.range.0..=self.range.1).contains(&value)
    }

    /// Returns the number at an end of the axis.
    fn end_text(&self, value: f64) -> String {
        let places = decimals(round_step((self.range.1 - self.range.0) / STEPS));
        format!("{value:.places$}")
    }

    /// Returns the number at a limit.
    fn limit_text(&self, value: f64) -> String {
        let places = limit_decimals(self.lower, self.upper);
        format!("{value:.places$}")
    }
}

/// Returns the decimals that limits are written with, so that a fiftieth of their distance shows.
pub(super) fn limit_decimals(lower: Option<f64>, upper: Option<f64>) -> usize {
    let width = match (lower, upper) {
        (Some(lower), Some(upper)) => upper - lower,
        (Some(limit), None) | (None, Some(limit)) => 0.02 * limit,
        (None, None) => 0.5,
    };
    decimals(round_step(width / 50.0)).min(3)
}

/// Where a piece of another material would lie.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    /// Its letter, a capital.
    pub letter: char,
    /// Its name.
    pub name: String,
    /// From and to on the axis to the right.
    pub x: (f64, f64),
    /// From and to on the axis upwards.
    pub y: (f64, f64),
}

/// A piece.
#[derive(Debug, Clone, PartialEq)]
pub struct Dot {
    /// Value on the axis to the right.
    pub x: f64,
    /// Value on the axis upwards.
    pub y: f64,
    /// Its letter among the logged pieces; empty for a clear one.
    pub letter: String,
    /// Where it stands.
    pub standing: Standing,
    /// Whether it is the piece that is shown.
    pub here: bool,
}

/// The pieces of a lot over two quantities.
#[derive(Debug, Clone, PartialEq)]
pub struct Scatter {
    /// The axis to the right.
    pub x: Axis,
    /// The axis upwards.
    pub y: Axis,
    /// Where other materials would lie.
    pub regions: Vec<Region>,
    /// The pieces, in the order in which they were logged.
    pub dots: Vec<Dot>,
    /// Pieces without both values.
    pub without: usize,
}

/// What is drawn in a cell.
type Cell = (char, Tone);

/// The cells of a scatter, row by row from above.
struct Grid<'s> {
    scatter: &'s Scatter,
    columns: usize,
    lines: usize,
    cells: Vec<Vec<Cell>>,
    /// Letters of each cell that has any, in the order of logging.
    letters: BTreeMap<(usize, usize), Vec<(&'s str, Standing)>>,
    /// Pieces beyond an end of an axis; `+` for a clear one.
    beyond: Vec<String>,
}

impl<'s> Grid<'s> {
    fn new(scatter: &'s Scatter, columns: usize, lines: usize) -> Self {
        let cells = vec![vec![(' ', Tone::Plain); columns]; lines];
        Grid { scatter, columns, lines, cells, letters: BTreeMap::new(), beyond: Vec::new() }
    }

    /// Returns row and column of a place.
    fn at(&self, x: f64, y: f64) -> (usize, usize) {
        (self.lines - 1 - self.scatter.y.cell(y, self.lines), self.scatter.x.cell(x, self.columns))
    }

    /// Draws the limits as a box; where a limit is missing, the box has no side.
    fn limits(&mut self) {
        let Scatter { x, y, .. } = self.scatter;
        let inside = |axis: &Axis, limit: Option<f64>| limit.filter(|limit| axis.holds(*limit));
        let (left, right) = (inside(x, x.lower), inside(x, x.upper));
        let (bottom, top) = (inside(y, y.lower), inside(y, y.upper));
        let columns = [left, right].map(|limit| limit.map(|limit| x.cell(limit, self.columns)));
        let rows = [top, bottom].map(|limit| limit.map(|limit| self.lines - 1 - y.cell(limit, self.lines)));
        let (first, last) = (columns[0].unwrap_or(0), columns[1].unwrap_or(self.columns - 1));
        let (above, below) = (rows[0].unwrap_or(0), rows[1].unwrap_or(self.lines - 1));
        for row in rows.into_iter().flatten() {
            for column in first..=last {
                self.cells[row][column] = ('-', Tone::Plain);
            }
        }
        for column in columns.into_iter().flatten() {
            for row in above..=below {
                let corner = rows.contains(&Some(row));
                self.cells[row][column] = (if corner { '+' } else { '|' }, Tone::Plain);
            }
        }
    }

    /// Puts the letter of a material at the corners of its region, a little inwards where another has the cell.
    ///
    /// A corner beyond the plot has no letter; a region without a corner in sight has one in the middle.
    fn region(&mut self, region: &Region) {
        let Scatter { x, y, .. } = self.scatter;
        let (top, left) = self.at(region.x.0, region.y.1);
        let (bottom, right) = self.at(region.x.1, region.y.0);
        let half = (right - left) / 2;
        let middle = usize::midpoint(left, right);
        let left = x.holds(region.x.0).then(|| (left..=left + half).collect());
        let right = x.holds(region.x.1).then(|| (right - half..=right).rev().collect());
        let columns: Vec<Vec<usize>> = left.into_iter().chain(right.filter(|_| half > 0)).collect();
        let mut rows = vec![];
        rows.extend(y.holds(region.y.1).then_some(top));
        rows.extend((y.holds(region.y.0) && bottom != top).then_some(bottom));
        if rows.is_empty() {
            rows.push(usize::midpoint(top, bottom));
        }
        for row in rows {
            let of_row = if columns.is_empty() { vec![vec![middle]] } else { columns.clone() };
            for places in of_row {
                let free = places.into_iter().find(|column| !self.cells[row][*column].0.is_ascii_uppercase());
                if let Some(column) = free {
                    self.cells[row][column] = (region.letter, Tone::Quiet);
                }
            }
        }
    }

    /// Draws the pieces: dots for the clear ones, then letters, then the mark beside the one shown.
    fn pieces(&mut self, marks: Marks) {
        let mut dots: BTreeMap<(usize, usize), (u32, usize, Tone)> = BTreeMap::new();
        let mut here = None;
        for dot in &self.scatter.dots {
            let at = self.at(dot.x, dot.y);
            if !self.scatter.x.holds(dot.x) || !self.scatter.y.holds(dot.y) {
                let name = if dot.letter.is_empty() { "+" } else { &dot.letter };
                self.beyond.push(name.to_owned());
            }
            if dot.here {
                here = Some(at);
            }
            if dot.letter.is_empty() {
                let half = |axis: &Axis, value, cells: usize| axis.cell(value, 2 * cells) % 2;
                let right = half(&self.scatter.x, dot.x, self.columns);
                let upper = half(&self.scatter.y, dot.y, self.lines);
                let found = dots.entry(at).or_insert((0, 0, standing_tone(dot.standing)));
                found.0 |= half_dots(right == 1, upper == 1);
                found.1 += 1;
            } else {
                self.letters.entry(at).or_default().push((&dot.letter, dot.standing));
            }
        }
        for ((row, column), (bits, count, tone)) in dots {
            let mark = match (marks, count) {
                (Marks::Braille, _) => char::from_u32(0x2800 + bits).unwrap_or('o'),
                (Marks::Dot, 1) => DOT,
                (Marks::Ascii, 1) => 'o',
                (_, 2..=9) => char::from_digit(count as u32, 10).unwrap_or('#'),
                (Marks::Dot | Marks::Ascii, _) => '#',
            };
            self.cells[row][column] = (mark, tone);
        }
        for ((row, column), letters) in &self.letters {
            let worst = letters.iter().map(|(_, standing)| *standing).max();
            let tone = standing_tone(worst.unwrap_or(Standing::Hold));
            // A name of two letters does not fit into a cell either.
            let mark = match letters.as_slice() {
                [(one, _)] if one.len() == 1 => one.chars().next().unwrap_or('*'),
                _ => '*',
            };
            self.cells[*row][*column] = (mark, tone);
        }
        if let Some((row, column)) = here {
            let free =
                |column: usize| self.cells[row].get(column).is_some_and(|cell| " -|+".contains(cell.0));
            let before = column.checked_sub(1).filter(|before| free(*before));
            match before {
                Some(before) => self.cells[row][before] = ('>', Tone::Accent),
                None if free(column + 1) => self.cells[row][column + 1] = ('<', Tone::Accent),
                None if column > 0 => self.cells[row][column - 1] = ('>', Tone::Accent),
                None => self.cells[row][(column + 1).min(self.columns - 1)] = ('<', Tone::Accent),
            }
        }
    }

    /// Returns what could not be drawn, in a row that is blank where everything could.
    fn notes(&self, columns: usize) -> Row {
        let mut parts: Vec<String> = self
            .letters
            .values()
            .filter(|letters| letters.len() > 1 || letters[0].0.len() > 1)
            .map(|letters| letters.iter().map(|(letter, _)| *letter).collect::<Vec<_>>())
            .map(|letters| format!("* {}", letters.join(" ")))
            .collect();
        if !self.beyond.is_empty() {
            parts.push(format!("beyond: {}", self.beyond.join(" ")));
        }
        if self.scatter.without > 0 {
            parts.push(format!("without both values: {}", self.scatter.without));
        }
        Row::of(Tone::Quiet, text::fit(&parts.join(", "), columns))
    }
}

/// Returns the dots of the half of a braille cell: two dots, one above the other, so that a tired eye finds them.
///
/// # Source
/// Unicode, block Braille Patterns U+2800: from above, the left column is bits 0, 1, 2, 6, the right one bits 3, 4, 5, 7.
fn half_dots(right: bool, upper: bool) -> u32 {
    match (right, upper) {
        (false, true) => 0x01 | 0x02,
        (false, false) => 0x04 | 0x40,
        (true, true) => 0x08 | 0x10,
        (true, false) => 0x20 | 0x80,
    }
}

/// Returns the letters and names of the regions, in at most `most` rows.
fn legend(regions: &[&Region], columns: usize, most: usize) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for (index, region) in regions.iter().enumerate() {
        let words = format!(" {}", text::fit(&region.name, columns.saturating_sub(2).max(1)));
        let length = 1 + text::width(&words);
        let more = if index + 1 < regions.len() { 10 } else { 0 };
        let last = rows.len() == most;
        match rows.last() {
            Some(row) if row.width() + 2 + length + if last { more } else { 0 } <= columns => {}
            _ if rows.len() < most => rows.push(Row::blank()),
            _ => {
                let left = regions.len() - index;
                if let Some(row) = rows.last_mut() {
                    *row = std::mem::take(row).with(Tone::Quiet, format!("  {left} more"));
                }
                break;
            }
        }
        if let Some(row) = rows.last_mut() {
            let gap = if row.runs.is_empty() { "" } else { "  " };
            let with = std::mem::take(row).with(Tone::Plain, gap);
            *row = with.with(Tone::Plain, region.letter.to_string()).with(Tone::Quiet, words);
        }
    }
    rows
}

impl Scatter {
    /// Returns the scatter, exactly `lines` rows of at most `columns`; none where there is no room for one.
    pub fn rows(&self, marks: Marks, columns: usize, lines: usize) -> Vec<Row> {
        if columns < LEAST_COLUMNS || lines < LEAST_LINES {
            return Vec::new();
        }
        let ends = [self.y.end_text(self.y.range.1), self.y.end_text(self.y.range.0)];
        let limits = [self.y.upper, self.y.lower].map(|limit| limit.filter(|limit| self.y.holds(*limit)));
        let limit_texts = limits.map(|limit| limit.map(|limit| self.y.limit_text(limit)));
        let widest = ends.iter().chain(limit_texts.iter().flatten()).map(|text| text.len());
        let scale = widest.max().unwrap_or(0).max(text::width(self.y.unit));
        let (wide, seen) = (columns.saturating_sub(scale + 2), self.visible());
        let most = [10, 12, 18].iter().filter(|least| lines >= **least).count();
        let legend = if most == 0 { Vec::new() } else { legend(&seen, columns, most) };
        // Title, numbers below and notes have a row each, whatever the pieces are.
        let high = lines - 3 - legend.len();
        let mut grid = Grid::new(self, wide, high);
        grid.limits();
        for region in &seen {
            grid.region(region);
        }
        grid.pieces(marks);

        let title = format!("{} against {}", self.y.quantity, self.x.quantity);
        let unit = text::pad_start(self.y.unit, scale);
        let mut rows = vec![
            Row::of(Tone::Quiet, unit).with(Tone::Plain, "  ").with(Tone::Plain, text::fit(&title, wide)),
        ];
        let mut numbers = vec![String::new(); high];
        for (limit, words) in limits.iter().zip(limit_texts) {
            if let (Some(limit), Some(words)) = (limit, words) {
                numbers[high - 1 - self.y.cell(*limit, high)] = words;
            }
        }
        numbers[0].clone_from(&ends[0]);
        numbers[high - 1].clone_from(&ends[1]);
        for (number, cells) in numbers.iter().zip(&grid.cells) {
            let mut row = Row::of(Tone::Quiet, format!("{} |", text::pad_start(number, scale)));
            for run in cells.chunk_by(|one, other| one.1 == other.1) {
                row = row.with(run[0].1, run.iter().map(|cell| cell.0).collect::<String>());
            }
            rows.push(row);
        }
        rows.push(self.numbers_below(scale + 2, wide));
        rows.push(grid.notes(columns));
        rows.extend(legend);
        rows
    }

    /// Returns the regions that reach into the plot.
    fn visible(&self) -> Vec<&Region> {
        let meets = |axis: &Axis, span: (f64, f64)| span.0 <= axis.range.1 && span.1 >= axis.range.0;
        self.regions.iter().filter(|region| meets(&self.x, region.x) && meets(&self.y, region.y)).collect()
    }

    /// Returns the numbers below the axis to the right: its ends, and the limits where they do not touch.
    fn numbers_below(&self, start: usize, wide: usize) -> Row {
        let first = self.x.end_text(self.x.range.0);
        let last = format!("{} {}", self.x.end_text(self.x.range.1), self.x.unit);
        let end = start + wide;
        let mut taken = start + first.len() + 1;
        let mut row = Row::of(Tone::Quiet, " ".repeat(start)).with(Tone::Quiet, first);
        for limit in [self.x.lower, self.x.upper].into_iter().flatten().filter(|limit| self.x.holds(*limit)) {
            let words = self.x.limit_text(limit);
            let at = (start + self.x.cell(limit, wide)).saturating_sub(words.len() / 2);
            if at > taken && at + words.len() + 1 < end - last.len().min(end) {
                taken = at + words.len() + 1;
                row = row.to_column(at).with(Tone::Quiet, words);
            }
        }
        row.right(end, Tone::Quiet, last)
    }
}

/// What the marks mean, for a page.
pub const KEY: &str = "The box is what the product allows, with its limits beside the axes. Capitals stand at the corners of where a \
                       solid piece of another material would lie. Dots are clear pieces; a small letter is a piece that is not \
                       clear, as in the list of logged pieces; > stands before the piece shown; * where letters share a place. A \
                       core under a skin can lie anywhere in the box. Density is mass over the smallest disc or box around the piece, \
                       so a struck piece lies below its metal.";

#[cfg(test)]
mod tests {
    use super::*;

    fn axis(lower: f64, upper: f64, values: &[f64]) -> Axis {
        Axis::around(("mass", "g"), (Some(lower), Some(upper)), &[], values)
    }

    /// A scatter with both axes from 0 to 20 and limits at 5 and 15.
    fn scatter(dots: &[(f64, f64, &str)]) -> Scatter {
        let dots = dots.iter().map(|&(x, y, letter)| Dot {
            x,
            y,
            letter: letter.to_owned(),
            standing: if letter.is_empty() { Standing::Clear } else { Standing::Hold },
            here: false,
        });
        let axis =
            Axis { quantity: "mass", unit: "g", lower: Some(5.0), upper: Some(15.0), range: (0.0, 20.0) };
        Scatter { x: axis.clone(), y: axis, regions: Vec::new(), dots: dots.collect(), without: 0 }
    }

    fn lines(scatter: &Scatter, columns: usize, lines: usize) -> Vec<String> {
        scatter.rows(Marks::Ascii, columns, lines).iter().map(Row::text).collect()
    }

    #[test]
    fn an_axis_takes_its_limits_into_the_middle_and_ends_on_round_numbers() {
        // 10 to 20 with half of that width on either side, 5 to 25, in steps of 2.
        assert_eq!(axis(10.0, 20.0, &[]).range, (4.0, 26.0));
        // 0.5 g apart: 33.5 to 34.5.
        let range = axis(33.75, 34.25, &[]).range;
        assert!((range.0 - 33.5).abs() < 1e-9 && (range.1 - 34.5).abs() < 1e-9, "{range:?}");
        // Nothing is below zero.
        assert_eq!(axis(1.0, 9.0, &[]).range.0, 0.0);
    }

    #[test]
    fn a_piece_inside_moves_no_axis_and_one_outside_widens_it_by_whole_steps_up_to_an_end() {
        let bare = axis(10.0, 20.0, &[]);
        assert_eq!(axis(10.0, 20.0, &[5.0, 12.0, 24.9]).range, bare.range);
        assert_eq!(axis(10.0, 20.0, &[26.1]).range, (4.0, 28.0));
        assert_eq!(axis(10.0, 20.0, &[1000.0, f64::NAN]).range, (4.0, 48.0));
    }

    #[test]
    fn materials_widen_an_axis_as_long_as_they_do_not_dwarf_the_limits() {
        let with =
            |spans: &[(f64, f64)]| Axis::around(("mass", "g"), (Some(10.0), Some(20.0)), spans, &[]).range;
        // 5 to 25 becomes 5 to 35, in steps of 5.
        assert_eq!(with(&[(28.0, 35.0)]), (5.0, 35.0));
        assert_eq!(with(&[(28.0, 35.1)]), with(&[]));
        assert_eq!(with(&[(400.0, 500.0)]), with(&[]));
    }

    #[test]
    fn limits_pieces_and_numbers_stand_where_they_belong() {
        // 46 columns: four for the numbers, blank, line, 40 cells of 0.5; 13 lines: title, ten rows of 2, two below.
        let mut scatter = scatter(&[(10.2, 9.0, ""), (10.3, 9.5, ""), (2.1, 17.0, "b"), (19.9, 1.0, "aa")]);
        scatter.dots[2].here = true;
        let rows = lines(&scatter, 46, 13);
        assert_eq!(rows.len(), 13);
        assert!(rows[0].starts_with("   g  mass against mass"), "{}", rows[0]);
        let cell = |row: usize, column: usize| rows[row].chars().nth(6 + column).unwrap();
        // Box: columns 10 and 30; upper limit 15 in the third row of 2 from above, lower limit 5 in the eighth.
        assert_eq!((cell(3, 10), cell(3, 30), cell(8, 10), cell(8, 30)), ('+', '+', '+', '+'));
        assert_eq!((cell(3, 11), cell(5, 10), cell(5, 11), cell(2, 10)), ('-', '|', ' ', ' '));
        // Two clear pieces in the cell of 10 to 10.5 over 8 to 10.
        assert_eq!(cell(6, 20), '2');
        // The piece on hold at 2 to 2.5 over 16 to 18, marked; a name of two letters is told below.
        assert_eq!((cell(2, 3), cell(2, 4)), ('>', 'b'));
        assert_eq!(cell(10, 39), '*');
        assert_eq!(rows[12], "* aa");
        assert_eq!([1, 3, 8, 10].map(|row| rows[row][..4].trim()), ["20", "15.0", "5.0", "0"]);
        assert!(
            rows[11].contains(" 5.0 ") && rows[11].contains(" 15.0 ") && rows[11].ends_with("20 g"),
            "{}",
            rows[11]
        );
    }

    #[test]
    fn braille_halves_a_cell_both_ways() {
        let upper_left = scatter(&[(10.1, 9.5, "")]).rows(Marks::Braille, 44, 13);
        assert!(upper_left[6].text().contains('\u{2803}'), "{}", upper_left[6].text());
        let both = scatter(&[(10.1, 9.5, ""), (10.4, 8.5, "")]).rows(Marks::Braille, 44, 13);
        assert!(both[6].text().contains('\u{28a3}'), "{}", both[6].text());
    }

    #[test]
    fn what_lies_beyond_or_has_no_values_is_told_below() {
        let mut far = scatter(&[(99.0, 10.0, "c")]);
        far.without = 2;
        let rows = lines(&far, 60, 13);
        assert_eq!(rows[12], "beyond: c, without both values: 2");
        assert_eq!(rows[5].chars().last(), Some('c'));
    }

    #[test]
    fn a_material_stands_at_its_corners_and_below_by_name() {
        let mut with = scatter(&[]);
        let region = |letter, x, y| Region { letter, name: format!("metal {letter}"), x, y };
        with.regions = vec![
            region('A', (2.0, 8.0), (9.0, 18.0)),
            region('B', (2.0, 8.0), (9.0, 18.0)),
            region('C', (30.0, 40.0), (9.0, 18.0)),
            region('D', (17.0, 30.0), (12.0, 30.0)),
            region('E', (-5.0, 25.0), (-5.0, 25.0)),
        ];
        let rows = lines(&with, 46, 15);
        assert_eq!(rows.len(), 15);
        let cell = |row: usize, column: usize| rows[row].chars().nth(6 + column).unwrap();
        // 11 rows of 20/11: 18 lies in the second from above, 9 in the seventh.
        assert_eq!((cell(2, 4), cell(2, 5), cell(2, 15), cell(2, 16)), ('A', 'B', 'B', 'A'));
        assert_eq!((cell(7, 4), cell(7, 16)), ('A', 'A'));
        // Only one corner of D is in sight, at 17 and 12 in the fifth row; none of E, which stands in the middle.
        assert_eq!((cell(5, 34), cell(5, 39), cell(1, 34)), ('D', ' ', ' '));
        assert_eq!(cell(6, 19), 'E');
        assert_eq!(rows.concat().matches('D').count(), 3, "in the plot once, below it twice");
        assert_eq!(rows[14], "A metal A  B metal B  D metal D  E metal E");
    }

    #[test]
    fn a_legend_without_room_says_how_many_are_left() {
        let regions: Vec<Region> = "ABCDEF"
            .chars()
            .map(|letter| Region { letter, name: "a long name of it".into(), x: (0.0, 1.0), y: (0.0, 1.0) })
            .collect();
        let rows = legend(&regions.iter().collect::<Vec<_>>(), 50, 1);
        assert_eq!(rows.len(), 1);
        assert_eq!(rows[0].text(), "A a long name of it  B a long name of it  4 more");
    }

    #[test]
    fn every_size_draws_exactly_what_was_asked_for_or_nothing() {
        let mut full = scatter(&[(10.0, 9.0, "a"), (0.0, 0.0, ""), (20.0, 20.0, "b"), (10.0, 9.0, "c")]);
        full.dots[1].here = true;
        full.regions.push(Region { letter: 'A', name: "金 gold".into(), x: (3.0, 3.0), y: (0.0, 50.0) });
        let empty = scatter(&[]);
        for columns in 0..70 {
            for lines in 0..24 {
                for (scatter, marks) in
                    [(&full, Marks::Braille), (&full, Marks::Ascii), (&empty, Marks::Braille)]
                {
                    let rows = scatter.rows(marks, columns, lines);
                    let room = columns >= LEAST_COLUMNS && lines >= LEAST_LINES;
                    assert_eq!(rows.len(), if room { lines } else { 0 }, "{columns} {lines}");
                    assert!(rows.iter().all(|row| row.width() <= columns), "{columns} {lines}");
                }
            }
        }
    }
}
