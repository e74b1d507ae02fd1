//! Invented reports, plots and labels that the tests write and read back.

use rust_decimal::Decimal;
use scruple::report::document::{Block, Cell, Column, Document, Table};
use scruple::report::labels::Label;
use scruple::report::plot::*;

pub fn decimal(text: &str) -> Decimal {
    text.parse().unwrap()
}

pub fn axis(quantity: &str, unit: &str) -> Axis {
    Axis { quantity: quantity.to_owned(), unit: unit.to_owned(), range: None }
}

pub fn limit(at: f64, label: &str, outside: Side) -> Limit {
    Limit { at, label: label.to_owned(), outside }
}

/// Returns letters as on a screen: A to Z, then AA and on.
pub fn letter(index: usize) -> String {
    let last = char::from(b'A' + (index % 26) as u8);
    if index < 26 { last.to_string() } else { format!("{}{last}", letter(index / 26 - 1)) }
}

pub fn scatter() -> Plot {
    let points = (0..20).map(|index| {
        let (i, odd) = (index as f64, index == 7);
        Point {
            x: if odd { 18.9 } else { 19.26 + 0.05 * (i * 2.4).sin() },
            y: if odd { 19.6 } else { 44.6 + 0.5 * (i * 1.7).cos() },
            mark: if odd {
                Mark::Square
            } else if index % 6 == 5 {
                Mark::Triangle
            } else {
                Mark::Circle
            },
            letter: letter(index),
        }
    });
    let regions = vec![
        Region { label: "tungsten".to_owned(), x: (19.15, 19.3), y: (17.0, 19.0) },
        Region { label: "gold 916.7 with copper".to_owned(), x: (17.45, 17.6), y: (10.5, 13.0) },
    ];
    Plot {
        title: "Density against conductivity, lot S-0012/3".to_owned(),
        note: "Density from mass and calliper, k = 1; conductivity at 60 kHz, corrected to 20 °C.".to_owned(),
        figure: Figure::Scatter(Scatter {
            x: axis("density", "g/cm³"),
            y: axis("conductivity", "MS/m"),
            points: points.collect(),
            x_limits: vec![
                limit(19.1, "least 19.10", Side::Below),
                limit(19.45, "greatest 19.45", Side::Above),
            ],
            y_limits: vec![
                limit(43.0, "least 43.0, fine gold, policy", Side::Below),
                limit(46.4, "greatest 46.4, pure metal + 3\u{A0}%", Side::Above),
            ],
            regions,
            legend: vec![
                (Mark::Circle, "clear".to_owned()),
                (Mark::Triangle, "on hold".to_owned()),
                (Mark::Square, "outside a limit".to_owned()),
            ],
        }),
    }
}

pub fn spectrum() -> Plot {
    let lines = [(3_120.6, -14.0), (5_480.25, 0.0), (5_702.0, -21.0), (8_911.7, -7.5), (12_640.0, -28.0)];
    let level = |f: f64| {
        let power: f64 = lines
            .iter()
            .map(|&(at, db): &(f64, f64)| 10f64.powf(db / 10.0) / (1.0 + ((f - at) / 9.0).powi(2)))
            .sum();
        (10.0 * (power + 1e-7 * (1.5 + (f * 0.37).sin())).log10()).max(-100.0)
    };
    let curve = (0..600).map(|i| f64::from(i) * 40.0).map(|f| (f, level(f)));
    let peaks = lines.iter().enumerate().map(|(index, &(x, y))| Peak {
        x,
        y,
        label: format!("{} {x:.1} Hz", letter(index)),
    });
    let mut curve: Vec<(f64, f64)> = curve.chain(lines).collect();
    curve.sort_by(|a, b| a.0.total_cmp(&b.0));
    Plot {
        title: "Ring of piece S-0012/3-07".to_owned(),
        note: "Level relative to the strongest partial. Partials A to E; u = 0.2 Hz, k = 1.".to_owned(),
        figure: Figure::Spectrum(Spectrum {
            x: axis("frequency", "Hz"),
            y: axis("level", "dB"),
            curve,
            peaks: peaks.collect(),
        }),
    }
}

pub fn heap() -> Plot {
    let pieces = (0..60).map(|index| {
        let i = index as f64;
        let value = 31.108 + 0.011 * ((i * 1.9).sin() + (i * 0.7).cos());
        (if index == 11 { 31.051 } else { value }, letter(index))
    });
    Plot {
        title: "Mass of the pieces of lot S-0012/3".to_owned(),
        note: String::new(),
        figure: Figure::Heap(Heap {
            x: axis("mass", "g"),
            pieces: pieces.collect(),
            limits: vec![
                limit(31.07, "least 31.070, statute", Side::Below),
                limit(31.15, "greatest 31.150", Side::Above),
            ],
            step: None,
        }),
    }
}

pub fn reach() -> Plot {
    let span = |from: f64, to: f64, kind, label: &str| ReachSpan { from, to, kind, label: label.to_owned() };
    let row = |label: &str, spans: Vec<ReachSpan>| ReachRow { label: label.to_owned(), spans };
    Plot {
        title: "How deep each reading sees into piece S-0012/3-07".to_owned(),
        note:
            "Depth from the struck surface; half the flat-equivalent thickness is reached from either face."
                .to_owned(),
        figure: Figure::Reach(Reach {
            depth: axis("depth", "mm"),
            bottom: Some((1.11, "half the thickness 1.11 mm".to_owned())),
            rows: vec![
                row(
                    "X-ray fluorescence",
                    vec![
                        span(0.0, 0.008, SpanKind::Seen, "0.008 mm"),
                        span(0.008, 1.11, SpanKind::Blind, "surface only"),
                    ],
                ),
                row(
                    "conductivity, 60 kHz",
                    vec![
                        span(0.0, 0.34, SpanKind::Seen, "1.1 skin depths"),
                        span(0.34, 1.11, SpanKind::Blind, ""),
                    ],
                ),
                row(
                    "tungsten core under a gold skin, not excluded by any reading so far",
                    vec![span(0.33, 1.11, SpanKind::Open, "skin from 0.33 mm, up to 71 % of the piece")],
                ),
            ],
        }),
    }
}

pub fn table(rows: usize) -> Table {
    let columns = [
        Column::words("piece"),
        Column::words("product"),
        Column::numbers("mass in g"),
        Column::numbers("fine mass in g"),
        Column::words("standing"),
        Column::words("open doubts"),
    ];
    let mut table = Table::new("Pieces of the day", columns);
    for index in 0..rows {
        let doubts =
            ["none", "hidden core: 60 kHz does not reach half the thickness", "weight or size: marginal"];
        table.push([
            Cell::from(format!("S-0012/3-{:02}", index + 1)),
            "20 mark, 1873 to 1915, German states".into(),
            Cell::from(decimal("7.9650") + Decimal::new(index as i64 % 7, 4)),
            decimal("7.1685").into(),
            ["clear", "hold", "hold"][index % 3].into(),
            doubts[index % 3].into(),
        ]);
    }
    table
}

pub fn day_sheet(rows: usize) -> Document {
    let mut sheet =
        Document::new("Day sheet", "Desk 1 · 14 March 2031 · receiver R. Bramble, reviewer T. Oak");
    sheet.footer = "scruple 0.1.0 · reference 2031-02 · policy 4 · journal 3f9a 77c0 12de 9b41".to_owned();
    sheet
        .push(Block::heading("What came in"))
        .push(Block::key_values([
            ("shipments", "2 (S-0012 of Tin Kettle & Daughters, S-0013 of Three Geese)"),
            ("counted against the packing lists", "60 of 60 pieces; 1 serial number not on the list"),
            ("fine gold", "(1 866.20 ± 0.31) g, k = 2"),
            ("value at spot", "EUR 171,204.33 received; 152,880.10 sellable; 18,324.23 on hold"),
        ]))
        .push(Block::caution(
            "Two pieces are suspected counterfeits of legal tender. Do not return them to circulation, keep them apart \
             and follow local law. Never hold a piece in the beam of an X-ray instrument.",
        ))
        .push(Block::Table(table(rows)))
        .push(Block::heading("The lots"))
        .push(Block::paragraph(
            "The median mass of lot S-0012/3 lies (0.004 ± 0.002) g above the nominal mass, k = 2. One piece lies \
             outside the lower limit and is proposed for refusal.",
        ))
        .push(Block::plot(heap()))
        .push(Block::plot(scatter()));
    sheet
}

pub fn piece_record() -> Document {
    let mut record = Document::new(
        "Piece record S-0012/3-07",
        "½ pound in gold, Coinage Act 1971 · released 14 March 2031",
    );
    record.footer = "Values with their expanded uncertainty, k = 2, unless said otherwise.".to_owned();
    record
        .push(Block::heading("What was measured"))
        .push(Block::key_values([
            ("mass", "(3.9938 ± 0.0006) g, balance B2"),
            ("conductivity", "(10.21 ± 0.12) MS/m at 60 kHz, 2 faces"),
            ("ring", "(5480.3 ± 0.4) Hz"),
        ]))
        .push(Block::plot(spectrum()))
        .push(Block::heading("What it could still be"))
        .push(Block::plot(reach()))
        .push(Block::paragraph("Signs that the typefaces lack: σ ≥ 45 MS/m, U ≤ 0.016, Δ −0.3 K, 中, Łódź."));
    record
}

pub fn label_of(index: usize) -> Label {
    Label {
        piece: format!("S-0012/3-{:02}", index + 1),
        product: "20 mark, 1873 to 1915, German states".to_owned(),
        mass: "7.965 g".to_owned(),
        fineness: "900.0 ‰".to_owned(),
        standing: "clear, no open doubt".to_owned(),
        released: "released 14 March 2031".to_owned(),
        code: format!("scruple:S-0012/3-{:02}:3f9a77c012de9b41", index + 1),
    }
}
