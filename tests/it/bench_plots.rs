//! The plots of the lot on the bench: where they stand, what they show, and that nothing of it moves.

use super::screens::data::Desk;
use scruple::present::lot_plot::LotPlots;
use scruple::reference::Catalogue;
use scruple::scoring::{Policy, Surroundings};
use scruple::tui::dialog::{Content, Dialog, Page};
use scruple::tui::keymap::Key;

const GOOD: &str = "MB-0041<Enter>33.93<Enter>32.70<Enter>2.87<Enter>10.2<Enter><Enter><Enter>";
const LIGHT: &str = "MB-0042<Enter>31.20<Enter>32.70<Enter>2.87<Enter>10.2<Enter><Enter><Enter>";

/// Returns line and column of each place where a text stands on the screen.
fn places(screen: &str, text: &str) -> Vec<(usize, usize)> {
    screen
        .lines()
        .enumerate()
        .flat_map(|(line, row)| {
            row.match_indices(text).map(move |(at, _)| (line, row[..at].chars().count())).collect::<Vec<_>>()
        })
        .collect()
}

#[test]
fn the_plots_have_the_room_that_is_left() {
    let desk = Desk::with_pieces();
    let plots = |width, height| {
        let screen = desk.screen(width, height);
        ["density against conductivity", "mass against thickness", "33.931 to"]
            .map(|title| places(&screen, title).len())
    };
    // The limits of the mass stand at the strip of the mass only.
    assert_eq!(plots(200, 50)[..2], [1, 1]);
    assert_eq!(plots(120, 40)[..2], [1, 0]);
    assert_eq!(plots(80, 24)[..2], [0, 0]);
    assert_eq!(plots(40, 10)[..2], [0, 0]);
}

#[test]
fn nothing_moves_when_a_verdict_comes() {
    for (width, height) in [(110, 40), (120, 40), (160, 45), (200, 50), (120, 34), (120, 30)] {
        let mut desk = Desk::on_bench();
        let mut before = None;
        for keys in [GOOD, LIGHT] {
            desk.keys(keys);
            let screen = desk.screen(width, height);
            let typing = {
                let mut typing = Desk::on_bench();
                typing.keys(keys);
                typing.keys("M");
                typing.screen(width, height)
            };
            // Titles, units and both ends of the axes, and the names at the strips.
            let marks = ["density against", "mass against", "g/cm3", "MS/m", "diameter  "];
            for screen in [screen, typing] {
                let stand = marks.map(|mark| {
                    let found = places(&screen, mark);
                    found.into_iter().filter(|(line, _)| *line > usize::from(height) / 2).collect::<Vec<_>>()
                });
                assert_eq!(*before.get_or_insert(stand.clone()), stand, "{width}x{height} {keys}\n{screen}");
            }
        }
    }
}

#[test]
fn the_axes_stay_while_pieces_arrive_inside_of_them() {
    let catalogue = Catalogue::embedded();
    let desk = Desk::with_pieces();
    let product = catalogue.product("us-5112-a7").unwrap();
    let around = Surroundings::of(product, catalogue, &Policy::built_in());
    let axes = |pieces: usize| {
        let plots = LotPlots::of(&around, &desk.pieces[..pieces], None);
        [plots.density.x.range, plots.density.y.range, plots.mass.x.range, plots.mass.y.range]
    };
    // The first piece lies inside of every axis; the second, of 31.20 g, below that of the mass.
    assert_eq!(axes(0), axes(1));
    assert_eq!(axes(0)[..3], axes(2)[..3]);
    assert!(axes(2)[3].0 < axes(1)[3].0);
    assert_eq!(axes(2), axes(3));
}

#[test]
fn the_letters_are_those_of_the_list_of_logged_pieces() {
    let mut desk = Desk::with_pieces();
    let screen = desk.screen(120, 40);
    let row = |number: &str| screen.lines().find(|line| line.contains(number)).unwrap_or_default().to_owned();
    assert!(row("-02   x refuse").contains("  a  "), "{screen}");
    assert!(row("-03   ? hold").contains("  b  "), "{screen}");
    let plots = || {
        let around = desk.state.facts.products[0].around.clone().unwrap();
        LotPlots::of(&around, &desk.pieces, Some(2))
    };
    let letters: Vec<_> = plots().mass.dots.iter().map(|dot| (dot.letter.clone(), dot.here)).collect();
    assert_eq!(letters, [(String::new(), false), ("a".to_owned(), false), ("b".to_owned(), true)]);
    // The light piece lies below the limits of its mass, so its letter is at the foot of the strip.
    let points: Vec<_> = plots().strips[0].points.iter().map(|point| point.letter.clone()).collect();
    assert_eq!(points, ["", "a", "b"]);
    assert!(screen.contains(">b"), "{screen}");
    // The mark goes with the piece that is shown.
    desk.press(Key::PageUp, 200);
    assert!(desk.screen(120, 40).contains(">a"), "{}", desk.screen(120, 40));
}

#[test]
fn the_plots_open_as_a_page_at_every_size_and_end_with_what_the_marks_mean() {
    let mut desk = Desk::with_pieces();
    desk.keys("<C-a>");
    let Some(Dialog::Page(Page { content: Content::Plots, .. })) = desk.state.dialogs.last() else {
        panic!("no page of plots: {:?}", desk.state.dialogs.last());
    };
    for (width, height) in [(40, 10), (80, 24), (120, 40), (200, 50)] {
        let mut page = Desk::with_pieces();
        (page.state.width, page.state.height) = (width, height);
        page.keys("<C-a>");
        assert!(page.screen(width, height).contains("density against conductivity"), "{width}x{height}");
        let mut seen = page.screen(width, height);
        for _ in 0..40 {
            page.keys("<PgDn>");
            seen.push_str(&page.screen(width, height));
        }
        assert!(seen.contains("mass against thickness"), "{width}x{height}");
        assert!(seen.contains("Density is mass over") || width < 80, "{width}x{height}");
        page.keys("<Enter>");
        assert!(page.state.dialogs.is_empty());
    }
    insta::assert_snapshot!("plot", super::screens::everywhere::at_every_size(&desk));
}

#[test]
fn without_a_lot_or_a_product_of_the_reference_there_is_nothing_to_draw() {
    let mut bare = Desk::empty();
    bare.keys("2<C-a>");
    assert!(bare.state.dialogs.is_empty());
    assert!(bare.screen(80, 24).contains("no lot is open"));
    let mut unknown = Desk::with_pieces();
    unknown.state.facts.products.clear();
    unknown.keys("<C-a>");
    assert!(unknown.screen(80, 24).contains("is not in the reference"));
    assert!(!unknown.screen(200, 50).contains("against conductivity"));
}
