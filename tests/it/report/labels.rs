//! Labels, whose codes are read back from the files.

use proptest::prelude::*;
use scruple::report::codes::{BAR_QUIET, CodeError, MOST_CHARACTERS, QR_QUIET, code128, qr};
use scruple::report::drawing::POINTS_PER_MM;
use scruple::report::labels::{
    BAR_HEIGHT_MM, BAR_MODULE_MM, Label, LabelError, LabelSheet, QR_MODULE_MM, label, sheets, sheets_as_pdf,
    sheets_as_svg,
};
use scruple::report::pdf::Paper;
use scruple::report::svg;

use super::samples::label_of;
use super::text_of_markup;

/// Widths of bars and gaps of the symbols 0 to 105 of Code 128. ISO/IEC 15417:2007, table 1; from memory.
const SYMBOLS: [&str; 106] = [
    "212222", "222122", "222221", "121223", "121322", "131222", "122213", "122312", "132212", "221213",
    "221312", "231212", "112232", "122132", "122231", "113222", "123122", "123221", "223211", "221132",
    "221231", "213212", "223112", "312131", "311222", "321122", "321221", "312212", "322112", "322211",
    "212123", "212321", "232121", "111323", "131123", "131321", "112313", "132113", "132311", "211313",
    "231113", "231311", "112133", "112331", "132131", "113123", "113321", "133121", "313121", "211331",
    "231131", "213113", "213311", "213131", "311123", "311321", "331121", "312113", "312311", "332111",
    "314111", "221411", "431111", "111224", "111422", "121124", "121421", "141122", "141221", "112214",
    "112412", "122114", "122411", "142112", "142211", "241211", "221114", "413111", "241112", "134111",
    "111242", "121142", "121241", "114212", "124112", "124211", "411212", "421112", "421211", "212141",
    "214121", "412121", "111143", "111341", "131141", "114113", "114311", "411113", "411311", "113141",
    "114131", "311141", "411131", "211412", "211214", "211232",
];
const STOP: &str = "2331112";

/// Reads a Code 128 and checks start, check symbol and stop.
#[track_caller]
fn decoded(modules: &[bool]) -> String {
    let widths: String =
        modules.chunk_by(|a, b| a == b).map(|run| char::from_digit(run.len() as u32, 10).unwrap()).collect();
    assert!(modules[0] && widths.ends_with(STOP), "{widths}");
    let body = &widths[..widths.len() - STOP.len()];
    assert_eq!(body.len() % 6, 0);
    let symbol = |at: usize| SYMBOLS.iter().position(|known| *known == &body[at..at + 6]).unwrap();
    let symbols: Vec<usize> = (0..body.len()).step_by(6).map(symbol).collect();
    let (check, data) = symbols.split_last().unwrap();
    // The check symbol is the start symbol plus each symbol times its place, modulo 103.
    let sum = data.iter().enumerate().map(|(place, symbol)| symbol * place.max(1)).sum::<usize>();
    assert_eq!(*check, sum % 103);
    let mut in_pairs = match data[0] {
        104 => false,
        105 => true,
        other => panic!("starts with {other}"),
    };
    let mut text = String::new();
    for &symbol in &data[1..] {
        match (in_pairs, symbol) {
            (true, 100) => in_pairs = false,
            (false, 99) => in_pairs = true,
            (true, pair @ 0..=99) => text.push_str(&format!("{pair:02}")),
            (false, character @ 0..=94) => text.push(char::from(32 + character as u8)),
            other => panic!("symbol {other:?}"),
        }
    }
    text
}

/// Left, top, width and height of every dark cell of an SVG, in points, by path.
fn cells_of_svg(file: &str) -> Vec<Vec<[f64; 4]>> {
    let paths = file.split("<path d=\"").skip(1).map(|rest| rest.split('"').next().unwrap());
    let number = |text: &str| text.parse::<f64>().unwrap();
    paths
        .map(|path| {
            path.split('M')
                .skip(1)
                .map(|cell| {
                    let parts: Vec<&str> = cell.split([' ', 'h', 'v', 'z']).collect();
                    assert_eq!(format!("-{}", parts[2]), parts[4]);
                    [number(parts[0]), number(parts[1]), number(parts[2]), number(parts[3])]
                })
                .collect()
        })
        .collect()
}

/// Left, top, width and height of every dark cell of a PDF, in points, by path.
fn cells_of_pdf(file: &[u8], paper: Paper) -> Vec<Vec<[f64; 4]>> {
    let text = String::from_utf8_lossy(file);
    let (mut paths, mut path) = (Vec::new(), Vec::new());
    for line in text.lines() {
        let parts: Vec<&str> = line.split(' ').collect();
        match parts.as_slice() {
            [x, y, width, height, "re"] => {
                let [x, y, width, height] = [x, y, width, height].map(|text| text.parse::<f64>().unwrap());
                path.push([x, paper.height - y - height, width, height]);
            }
            ["f"] => paths.push(std::mem::take(&mut path)),
            _ => {}
        }
    }
    paths
}

/// Returns which modules of a row are dark, and its width of a module, from the dark runs of the row.
fn modules(mut runs: Vec<(f64, f64)>, module: f64) -> Vec<bool> {
    runs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let start = runs[0].0;
    let mut row = Vec::new();
    for (left, width) in runs {
        row.resize(((left - start) / module).round() as usize, false);
        row.resize(row.len() + (width / module).round() as usize, true);
    }
    row
}

/// Checks the bars and the square of a label, given in points from the upper left corner of the label.
#[track_caller]
fn check_codes(bars: &[[f64; 4]], square: &[[f64; 4]], label: &Label, (width_mm, height_mm): (f64, f64)) {
    let module = bars.iter().map(|cell| cell[2]).fold(f64::INFINITY, f64::min);
    let found = modules(bars.iter().map(|cell| (cell[0], cell[2])).collect(), module);
    assert_eq!(found, code128(&label.piece).unwrap());
    assert_eq!(decoded(&found), label.piece);
    let mm = module / POINTS_PER_MM;
    assert!((BAR_MODULE_MM.0 - 1e-3..BAR_MODULE_MM.1 + 1e-3).contains(&mm), "{mm}");
    assert!(bars.iter().all(|cell| (cell[3] / POINTS_PER_MM - BAR_HEIGHT_MM).abs() < 1e-3));
    let (width, height) = (width_mm * POINTS_PER_MM, height_mm * POINTS_PER_MM);
    let right = bars.iter().map(|cell| cell[0] + cell[2]).fold(0.0, f64::max);
    let quiet = BAR_QUIET as f64 * module - 0.01;
    assert!(bars[0][0] >= quiet && width - right >= quiet, "quiet zone of the bars");

    let side = square.iter().map(|cell| cell[3]).fold(f64::INFINITY, f64::min);
    assert!((QR_MODULE_MM.0 - 1e-3..QR_MODULE_MM.1 + 1e-3).contains(&(side / POINTS_PER_MM)));
    let expected = qr(&label.code).unwrap();
    let (left, top) = (square[0][0], square[0][1]);
    let mut dark = vec![false; expected.size * expected.size];
    for &[x, y, width, height] in square {
        assert!((height - side).abs() < 0.01);
        let (column, row) = (((x - left) / side).round() as usize, ((y - top) / side).round() as usize);
        for offset in 0..(width / side).round() as usize {
            dark[row * expected.size + column + offset] = true;
        }
    }
    assert_eq!(dark, expected.dark);
    let quiet = QR_QUIET as f64 * side - 0.01;
    let bottom = top + expected.size as f64 * side;
    assert!(top >= quiet && left + expected.size as f64 * side + quiet <= width, "quiet zone of the square");
    assert!(bars.iter().all(|cell| cell[1] >= bottom + quiet && cell[1] + cell[3] <= height));
}

#[test]
fn the_codes_of_an_svg_label_are_those_of_the_encoders() {
    let size = (70.0, 37.0);
    let text = svg::file(&label(&label_of(6), size.0, size.1, 2.5).unwrap());
    assert!(text.contains("width=\"70mm\" height=\"37mm\""));
    let words = text_of_markup(&text);
    for part in
        ["S-0012/3-07", "20 mark, 1873 to 1915, German", "7.965 g · 900.0 ‰", "released 14 March 2031"]
    {
        assert!(words.contains(part), "{part} in {words}");
    }
    let cells = cells_of_svg(&text);
    check_codes(&cells[0], &cells[1], &label_of(6), size);
}

#[test]
fn the_codes_of_every_label_of_a_pdf_are_those_of_the_encoders() {
    let sheet = LabelSheet::A4_24;
    let labels: Vec<Label> = (0..24).map(label_of).collect();
    let cells = cells_of_pdf(&sheets_as_pdf(&labels, &sheet, 0).unwrap(), sheet.paper);
    assert_eq!(cells.len(), 48);
    for (index, (pair, label)) in cells.chunks(2).zip(&labels).enumerate() {
        let left = (index % 3) as f64 * 70.0 * POINTS_PER_MM;
        let top = (0.5 + (index / 3) as f64 * 37.0) * POINTS_PER_MM;
        let moved = |cells: &[[f64; 4]]| {
            cells.iter().map(|&[x, y, w, h]| [x - left, y - top, w, h]).collect::<Vec<_>>()
        };
        check_codes(&moved(&pair[0]), &moved(&pair[1]), label, (70.0, 37.0));
    }
}

#[test]
fn a_qr_code_has_its_three_finders_and_its_timing_lines() {
    // ISO/IEC 18004:2015, 6.3.3 and 6.3.5: 7 by 7 modules at three corners; alternating modules between them.
    let code = qr("scruple:S-0012/3-07").unwrap();
    assert_eq!((code.size - 17) % 4, 0);
    let dark = |x: usize, y: usize| code.dark[y * code.size + x];
    for (left, top) in [(0, 0), (code.size - 7, 0), (0, code.size - 7)] {
        for (x, y) in (0..7).flat_map(|x| (0..7).map(move |y| (x, y))) {
            let ring = (x as i32 - 3).abs().max((y as i32 - 3).abs());
            assert_eq!(dark(left + x, top + y), ring != 2, "{x} {y}");
        }
    }
    assert!((8..code.size - 8).all(|at| dark(at, 6) == (at % 2 == 0) && dark(6, at) == (at % 2 == 0)));
}

#[test]
fn runs_of_digits_are_coded_in_pairs() {
    // 11 modules for each symbol, 13 for the stop: start, 4 pairs, check.
    assert_eq!(code128("20310314").unwrap().len(), 6 * 11 + 13);
    assert_eq!(decoded(&code128("20310314").unwrap()), "20310314");
    // Start, A, change, 3 pairs, check.
    assert_eq!(code128("A203103").unwrap().len(), 7 * 11 + 13);
}

#[test]
fn labels_fill_the_sheets_from_the_first_free_place() {
    let sheet = LabelSheet { borders: true, ..LabelSheet::A4_24 };
    let labels: Vec<Label> = (0..30).map(label_of).collect();
    let drawings = sheets(&labels, &sheet, 20).unwrap();
    assert_eq!(drawings.len(), 3);
    let files = sheets_as_svg(&labels, &sheet, 20).unwrap();
    let pieces = |file: &str| cells_of_svg(file).len() / 2;
    assert_eq!(files.iter().map(|file| pieces(file)).collect::<Vec<_>>(), [4, 24, 2]);
    assert!(sheets(&[], &sheet, 0).unwrap().is_empty());
}

#[test]
fn what_does_not_fit_is_refused_with_what_is_needed() {
    let check = |error: LabelError, expected: &str| assert_eq!(error.to_string(), expected);
    check(
        label(&label_of(0), 40.0, 37.0, 2.5).unwrap_err(),
        "label of piece `S-0012/3-01` is too small: the width for the bar code has 40.0 mm, allowed is at least 44.0 mm",
    );
    let small = label(&label_of(0), 70.0, 22.0, 2.5).unwrap_err();
    assert!(
        matches!(small, LabelError::TooSmall { part: "room for the QR code", found_mm, least_mm, .. } if found_mm < least_mm)
    );
    let wordy = Label { product: "a name ".repeat(60), ..label_of(0) };
    let wordy = label(&wordy, 70.0, 37.0, 2.5).unwrap_err();
    assert!(
        matches!(wordy, LabelError::TooSmall { part: "height for the words", found_mm, least_mm, .. } if found_mm < least_mm)
    );
    let wide = LabelSheet { columns: 4, ..LabelSheet::A4_24 };
    check(
        sheets(&[label_of(0)], &wide, 0).unwrap_err(),
        "labels take 280.0 mm across, allowed are the 210.0 mm of the paper",
    );
    let none = LabelSheet { rows: 0, ..LabelSheet::A4_24 };
    check(sheets(&[], &none, 0).unwrap_err(), "number of rows of the label sheet is 0, allowed is 1 to 100");
}

#[test]
fn what_cannot_be_coded_is_refused() {
    let text = code128("Łódź").unwrap_err().to_string();
    assert_eq!(
        text,
        "`Łódź` has the character `Ł`, allowed in a bar code are letters, digits and signs of ASCII"
    );
    assert!(matches!(
        code128(&"7".repeat(49)),
        Err(CodeError::TooLong { found: 49, most: MOST_CHARACTERS, .. })
    ));
    assert!(matches!(qr(&"x".repeat(2_332)), Err(CodeError::TooLong { found: 2_332, .. })));
    assert!(qr(&"x".repeat(2_331)).is_ok());
    assert!(matches!((code128(""), qr("")), (Err(CodeError::Empty { .. }), Err(CodeError::Empty { .. }))));
    let error = label(&Label { piece: "S\n1".to_owned(), ..label_of(0) }, 70.0, 37.0, 2.5).unwrap_err();
    assert!(error.to_string().starts_with("label of piece `S\n1`: "), "{error}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_printable_text_comes_back_from_its_bars(text in "[ -~]{1,20}|[A-Z]{0,3}[0-9]{0,9}[/-]?[0-9]{1,9}[A-Z]?") {
        prop_assert_eq!(decoded(&code128(&text).unwrap()), text);
    }
}
