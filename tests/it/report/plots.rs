//! Plots as drawings.

use proptest::prelude::*;
use scruple::report::chart::draw;
use scruple::report::drawing::{Drawing, Ink, Shape, Words};
use scruple::report::plot::*;

use super::samples::{axis, heap, letter, limit, reach, scatter, spectrum};

fn words(drawing: &Drawing) -> Vec<&Words> {
    drawing
        .shapes
        .iter()
        .filter_map(|shape| if let Shape::Words(words) = shape { Some(words) } else { None })
        .collect()
}

#[track_caller]
fn check_nothing_is_cut(drawing: &Drawing) {
    for words in words(drawing) {
        let place = words.place();
        let inside = place.left >= -0.01 && place.right <= drawing.width + 0.01;
        assert!(
            inside && place.top >= -0.01 && place.bottom <= drawing.height + 0.01,
            "{words:?} in {drawing:?}"
        );
    }
}

/// Returns a plot with the given points and nothing else.
fn plain_scatter(points: Vec<Point>) -> Scatter {
    Scatter { x: axis("density", "g/cm³"), y: axis("conductivity", "MS/m"), points, ..Scatter::default() }
}

fn plot(figure: Figure) -> Plot {
    Plot { title: "A plot".to_owned(), note: String::new(), figure }
}

fn point(x: f64, y: f64, letter: &str) -> Point {
    Point { x, y, mark: Mark::Circle, letter: letter.to_owned() }
}

#[test]
fn no_words_are_cut_at_the_border_at_any_width() {
    for plot in [scatter(), spectrum(), heap(), reach()] {
        for width in [320.0, 420.0, 493.0, 540.0, 740.0] {
            check_nothing_is_cut(&draw(&plot, width));
        }
    }
}

#[test]
fn names_do_not_lie_on_each_other() {
    for plot in [scatter(), spectrum()] {
        let drawing = draw(&plot, 493.0);
        let places: Vec<_> =
            words(&drawing).iter().map(|words| (words.text.clone(), words.place())).collect();
        for (index, (text, place)) in places.iter().enumerate() {
            for (other_text, other) in &places[index + 1..] {
                assert!(!place.overlaps(other), "`{text}` and `{other_text}`");
            }
        }
    }
}

#[test]
fn every_point_is_drawn_or_counted_below_the_plot() {
    let mut points: Vec<Point> = (0..30).map(|i| point(19.0 + f64::from(i) / 100.0, 44.0, "")).collect();
    points.push(point(f64::NAN, 44.0, "N"));
    points.push(point(25.0, 44.0, "F"));
    let mut scatter = plain_scatter(points);
    scatter.x.range = Some((18.0, 20.0));
    let drawing = draw(&plot(Figure::Scatter(scatter)), 493.0);
    let discs = drawing.shapes.iter().filter(|shape| matches!(shape, Shape::Disc { .. })).count();
    assert_eq!(discs, 30);
    let text: Vec<&str> = words(&drawing).iter().map(|words| words.text.as_str()).collect();
    assert!(text.contains(&"1 of 32 points lie beyond the plot."), "{text:?}");
    assert!(text.contains(&"1 of 32 points have no value that can be drawn."), "{text:?}");
}

#[test]
fn letters_without_room_are_counted_below_the_plot() {
    let points = (0..200).map(|i| {
        point(19.0 + 1e-4 * f64::from(i % 14), 44.0 + 1e-4 * f64::from(i / 14), &letter(i as usize))
    });
    let mut scatter = plain_scatter(points.collect());
    (scatter.x.range, scatter.y.range) = (Some((18.0, 20.0)), Some((40.0, 48.0)));
    let drawing = draw(&plot(Figure::Scatter(scatter)), 493.0);
    let named = (0..200)
        .map(letter)
        .filter(|letter| words(&drawing).iter().any(|words| &words.text == letter))
        .count();
    let note = format!("{} of 200 points stand too close to carry their letters.", 200 - named);
    assert!(named < 200 && words(&drawing).iter().any(|words| words.text == note), "{note}");
}

#[test]
fn a_region_that_would_dwarf_the_points_is_named_below_with_its_numbers() {
    let points = vec![point(19.2, 44.0, "A"), point(19.3, 45.0, "B")];
    let far = Region { label: "silver".to_owned(), x: (10.4, 10.6), y: (60.0, 63.0) };
    let scatter = Scatter { regions: vec![far], ..plain_scatter(points) };
    let drawing = draw(&plot(Figure::Scatter(scatter)), 493.0);
    let expected = "Beyond the plot: silver, density in g/cm³ 10.4 to 10.6, conductivity in MS/m 60 to 63.";
    let found: Vec<String> = words(&drawing).iter().map(|words| words.text.replace('\u{A0}', " ")).collect();
    assert!(found.iter().any(|text| text == expected), "{found:?}");
}

#[test]
fn marks_differ_in_shape_and_not_only_in_colour() {
    let shape = |mark: Mark| {
        let points = vec![Point { mark, ..point(19.2, 44.0, "") }];
        let drawing = draw(&plot(Figure::Scatter(plain_scatter(points))), 300.0);
        let kinds = drawing.shapes.iter().filter_map(|shape| match shape {
            Shape::Disc { .. } => Some("disc".to_owned()),
            Shape::Area { points, fill, .. } => {
                Some(format!("{} corners, {}", points.len(), fill == &Some(Ink::White)))
            }
            Shape::Line { thickness, .. } if *thickness == 1.1 => Some("stroke".to_owned()),
            _ => None,
        });
        kinds.collect::<Vec<_>>().join(" ")
    };
    let shapes = [Mark::Circle, Mark::Triangle, Mark::Square, Mark::Diamond, Mark::Cross].map(shape);
    for (index, first) in shapes.iter().enumerate() {
        assert!(!first.is_empty() && shapes[index + 1..].iter().all(|second| first != second), "{shapes:?}");
    }
}

#[test]
fn colours_keep_apart_in_grey() {
    // Luma of ITU-R BT.601, from memory: words on paper and on the sandy ground, limits and data on either.
    let grey = |ink: Ink| {
        let [red, green, blue] = ink.rgb().map(f64::from);
        0.299 * red + 0.587 * green + 0.114 * blue
    };
    for dark in [Ink::Black, Ink::Grey, Ink::Slate, Ink::Rust] {
        for light in [Ink::White, Ink::Sand] {
            assert!(grey(light) - grey(dark) > 120.0, "{dark:?} on {light:?}");
        }
    }
}

#[test]
fn every_piece_of_a_heap_is_one_cell_in_the_heap_of_its_value() {
    let Figure::Heap(mut figure) = heap().figure else { panic!() };
    figure.step = Some(0.01);
    figure.pieces = vec![(31.10, "A".into()), (31.109, "B".into()), (31.11, "C".into()), (31.05, "D".into())];
    let drawing = draw(&plot(Figure::Heap(figure)), 493.0);
    let column = |letter: &str| words(&drawing).iter().find(|words| words.text == letter).unwrap().at;
    assert_eq!(column("A").0, column("B").0);
    assert!(column("B").1 < column("A").1 && column("C").0 > column("A").0 && column("D").0 < column("A").0);
    let cells = drawing
        .shapes
        .iter()
        .filter(|shape| matches!(shape, Shape::Area { fill: Some(Ink::Sand), .. }))
        .count();
    assert_eq!(cells, 4);
}

#[test]
fn the_curve_of_a_spectrum_goes_through_its_marked_peaks() {
    let Figure::Spectrum(figure) = spectrum().figure else { panic!() };
    let drawing = draw(&spectrum(), 493.0);
    let curve = drawing.shapes.iter().find_map(|shape| match shape {
        Shape::Line { points, ink: Ink::Slate, .. } if points.len() > 100 => Some(points),
        _ => None,
    });
    let heads: Vec<(f64, f64)> = drawing
        .shapes
        .iter()
        .filter_map(|shape| match shape {
            Shape::Area { points, fill: Some(Ink::Rust), .. } => Some((points[0].0, points[0].1 + 1.0)),
            _ => None,
        })
        .collect();
    assert_eq!(heads.len(), figure.peaks.len());
    for head in heads {
        let near = |point: &&(f64, f64)| (point.0 - head.0).hypot(point.1 - head.1) < 1e-6;
        assert!(curve.unwrap().iter().any(|point| near(&point)), "{head:?}");
    }
}

fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => -100.0..100.0f64,
        1 => prop::num::f64::ANY,
        1 => Just(f64::NAN),
        1 => Just(0.0),
        1 => -1e12..1e12f64,
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_numbers_make_a_drawing_of_finite_size(
        values in prop::collection::vec((any_number(), any_number()), 0..30),
        at in any_number(),
        range in prop::option::of((any_number(), any_number())),
        step in prop::option::of(any_number()),
        which in 0usize..4,
    ) {
        let x = Axis { range, ..axis("mass", "g") };
        let limits = vec![limit(at, "a limit", Side::Above)];
        let figure = match which {
            0 => Figure::Scatter(Scatter {
                points: values.iter().map(|&(x, y)| point(x, y, "A")).collect(),
                y_limits: limits.clone(),
                x_limits: limits,
                regions: vec![Region { label: "r".into(), x: (at, at), y: (0.0, at) }],
                x,
                ..Scatter::default()
            }),
            1 => Figure::Spectrum(Spectrum {
                x,
                curve: values.clone(),
                peaks: values.iter().map(|&(x, y)| Peak { x, y, label: "A".into() }).collect(),
                ..Spectrum::default()
            }),
            2 => Figure::Heap(Heap { x, pieces: values.iter().map(|&(x, _)| (x, "A".into())).collect(), limits, step }),
            _ => Figure::Reach(Reach {
                depth: x,
                bottom: Some((at, "bottom".into())),
                rows: values.iter().map(|&(from, to)| ReachRow {
                    label: "method".into(),
                    spans: vec![ReachSpan { from, to, kind: SpanKind::Open, label: "words".into() }],
                }).collect(),
            }),
        };
        let drawing = draw(&plot(figure), 480.0);
        prop_assert!(drawing.height.is_finite() && drawing.height > 20.0);
        prop_assert!(drawing.height < 2_000.0 && drawing.shapes.len() < 40_000);
    }
}
