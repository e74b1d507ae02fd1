//! Pieces of a lot compared with each other: what is odd is set aside by the book, not only shown.

use super::bench::{Bench, SILVER};
use scruple::desk::{ErrorKind, Field, HoldView};
use scruple::evidence::Measurand;
use scruple::scoring::{DoubtKind, Standing};

/// Masses of nine silver dollars that repeat like any nine (grams; made up), and of one that is inside the limits of the
/// specification, but 0.10 g heavier than the others.
const MASSES: [&str; 10] =
    ["31.10", "31.11", "31.09", "31.10", "31.12", "31.10", "31.11", "31.10", "31.09", "31.20"];

/// Receives a lot of silver dollars of so many pieces and logs those given.
fn silver(bench: &mut Bench, expected: usize, masses: &[&str]) -> String {
    let shipment = bench.receive(&format!("line,product,quantity\n1,{SILVER},{expected}\n"));
    let mut rows = "line,mass,diameter,thickness,conductivity,temperature,probe\n".to_owned();
    for mass in masses {
        rows.push_str(&format!("1,{mass},40.60,2.98,61.9,21.3,flat\n"));
    }
    bench.desk().log_readings(&shipment, "r.csv", &rows, false, false).unwrap();
    format!("{shipment}/1")
}

fn odd(bench: &mut Bench) -> Vec<HoldView> {
    let mut holds = bench.desk().holds().unwrap();
    holds.retain(|hold| hold.kind == DoubtKind::OddOneOut);
    holds
}

#[test]
fn an_odd_piece_of_a_complete_lot_is_held_and_the_rest_is_not() {
    let mut bench = Bench::new();
    let lot = silver(&mut bench, 10, &MASSES);
    let odd = odd(&mut bench);
    assert_eq!(odd.len(), 1);
    assert_eq!(odd[0].piece.as_deref(), Some(format!("{lot}-10").as_str()));
    assert!(
        crate::cause(&odd[0].cause).starts_with("differs from its lot: mass 31.20"),
        "{}",
        crate::cause(&odd[0].cause)
    );
    let piece = bench.desk().find_piece(&format!("{lot}-10")).unwrap();
    assert_eq!(piece.standing, Standing::Hold);
    assert_eq!(bench.desk().find_piece(&format!("{lot}-09")).unwrap().standing, Standing::Clear);
    let refusal = bench.desk().release(&[format!("{lot}-10")], None).unwrap_err();
    assert_eq!(refusal.kind, ErrorKind::NotPermitted);
    assert!(refusal.message.contains("odd one out"), "{}", refusal.message);
    assert_eq!(bench.desk().release(std::slice::from_ref(&lot), None).unwrap().len(), 9);
}

#[test]
fn a_corrected_slip_closes_the_hold_and_the_undone_correction_opens_it_again() {
    let mut bench = Bench::new();
    let lot = silver(&mut bench, 10, &MASSES);
    let piece = bench.desk().find_piece(&format!("{lot}-10")).unwrap().id;
    let field = Field::Reading(Measurand::Mass, 1);
    let corrected = bench.desk().correct(piece, field, "31.10", "read the wrong line").unwrap();
    assert_eq!((corrected.standing, odd(&mut bench)), (Standing::Clear, Vec::new()));
    bench.desk().undo().unwrap();
    assert_eq!(odd(&mut bench).len(), 1);
}

#[test]
fn a_settled_odd_piece_stays_settled_when_the_lot_around_it_moves() {
    let mut bench = Bench::new();
    let lot = silver(&mut bench, 10, &MASSES);
    let hold = odd(&mut bench).remove(0).id;
    bench.desk().settle(hold, "weighed on the other scale, a thick strike", None, None).unwrap();
    let other = bench.desk().find_piece(&format!("{lot}-01")).unwrap().id;
    bench.desk().correct(other, Field::Reading(Measurand::Mass, 1), "31.08", "typing slip").unwrap();
    assert_eq!(odd(&mut bench), []);
    assert_eq!(bench.desk().find_piece(&format!("{lot}-10")).unwrap().standing, Standing::Clear);
    // Its own reading changed: the question is a new one.
    let own = bench.desk().find_piece(&format!("{lot}-10")).unwrap().id;
    bench.desk().correct(own, Field::Reading(Measurand::Mass, 1), "31.21", "typing slip").unwrap();
    assert_eq!(odd(&mut bench).len(), 1);
}

#[test]
fn a_lot_with_missing_pieces_is_compared_before_it_is_released() {
    let mut bench = Bench::new();
    let lot = silver(&mut bench, 12, &MASSES);
    assert_eq!(odd(&mut bench), []);
    let refusal = bench.desk().release(std::slice::from_ref(&lot), None).unwrap_err();
    assert!(refusal.message.contains("odd one out"), "{}", refusal.message);
    // The refusal leaves the hold, so that the reviewer finds it; the good ones go next time.
    assert_eq!(odd(&mut bench).len(), 1);
    assert_eq!(bench.desk().release(std::slice::from_ref(&lot), None).unwrap().len(), 9);
}

#[test]
fn two_populations_hold_the_lot_until_somebody_settles_it() {
    let mut bench = Bench::new();
    // Five from one press and five from another (made up): each piece is inside, the lot is two lots.
    let masses = ["31.02", "31.03", "31.02", "31.03", "31.02", "31.18", "31.19", "31.18", "31.19", "31.18"];
    let lot = silver(&mut bench, 10, &masses);
    let holds = odd(&mut bench);
    assert_eq!(holds.len(), 1, "{holds:?}");
    assert_eq!(holds[0].piece, None);
    assert!(crate::cause(&holds[0].cause).contains("two populations?"), "{}", crate::cause(&holds[0].cause));
    assert_eq!(bench.desk().release(&[format!("{lot}-01")], None).unwrap_err().kind, ErrorKind::NotPermitted);
    bench.desk().settle(holds[0].id, "two years of one product, sorted by year", None, None).unwrap();
    assert_eq!(bench.desk().release(&[lot], None).unwrap().len(), 10);
}
