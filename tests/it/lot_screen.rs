//! Pieces of a lot compared with each other: what is odd is set aside by the book, not only shown.

use super::bench::{Bench, SILVER, reading};
use scruple::desk::{Desk, ErrorKind, Field, HoldView, Settings};
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

/// What a desk reads on every piece of a lot that lies wrong in two quantities: far outside any tolerance (made up).
struct Wrong {
    product: &'static str,
    probe: &'static str,
    /// Quantities with a good reading and a wrong one.
    readings: &'static [(&'static str, &'static str, &'static str)],
}

const WRONG: [Wrong; 2] = [
    Wrong {
        product: SILVER,
        probe: "flat",
        readings: &[
            ("mass", "31.10", "29.10"),
            ("diameter", "40.60", "42.60"),
            ("thickness", "2.98", "3.60"),
            ("conductivity", "61.9", "45.0"),
        ],
    },
    Wrong {
        product: RECTANGULAR,
        probe: "pencil",
        readings: &[
            ("mass", "15.00", "13.00"),
            ("length", "30.00", "33.00"),
            ("width", "21.00", "24.00"),
            ("thickness", "-", "-"),
            ("conductivity", "50.0", "20.0"),
        ],
    },
];

/// A rectangular coin of 30 mm by 21 mm and 15 g of silver 900 (ministerial order of 2008, France).
const RECTANGULAR: &str = "fr-rect-2008";

/// Every pair of quantities of a product that a reading can be wrong in.
fn pairs(wrong: &Wrong) -> Vec<[&'static str; 2]> {
    let names: Vec<&str> =
        wrong.readings.iter().filter(|(_, good, bad)| good != bad).map(|(name, ..)| *name).collect();
    let of_two = |(at, first): (usize, &&'static str)| {
        names[at + 1..].iter().map(|second| [*first, *second]).collect::<Vec<_>>()
    };
    names.iter().enumerate().flat_map(of_two).collect()
}

/// Returns what is read where two quantities are wrong.
fn read(wrong: &Wrong, pair: [&str; 2]) -> Vec<(&'static str, &'static str)> {
    let value = |(name, good, bad): &(&'static str, &'static str, &'static str)| {
        (*name, if pair.contains(name) { *bad } else { *good })
    };
    wrong.readings.iter().map(value).collect()
}

/// Checks that the lot is logged whole, that it has one hold a kind, and that each wrong quantity stands in one.
#[track_caller]
fn check_held(desk: &mut Desk, pair: [&str; 2], pieces: u32) {
    let lot = desk.shipments().unwrap()[0].lots[0].clone();
    assert_eq!(lot.logged, pieces, "{pair:?}");
    let holds: Vec<HoldView> =
        desk.holds().unwrap().into_iter().filter(|hold| hold.piece.is_none()).collect();
    let mut kinds: Vec<&str> = holds.iter().map(|hold| hold.kind.word()).collect();
    kinds.sort_unstable();
    let all = kinds.len();
    kinds.dedup();
    assert_eq!(kinds.len(), all, "{pair:?}: two holds of a kind");
    let texts: Vec<String> = holds.iter().map(|hold| crate::cause(&hold.cause)).collect();
    for quantity in pair {
        let named = format!("{quantity}: the median ");
        assert!(texts.iter().any(|text| text.contains(&named)), "{pair:?}: {texts:?}");
    }
    assert_eq!(desk.verify_journal().unwrap().faults, []);
}

#[test]
fn a_lot_that_lies_wrong_in_two_quantities_is_logged_from_a_list() {
    for wrong in &WRONG {
        for pair in pairs(wrong) {
            let mut bench = Bench::without_prices();
            let shipment = bench.receive(&format!("line,product,quantity\n1,{},3\n", wrong.product));
            let read = read(wrong, pair);
            let names: Vec<&str> = read.iter().map(|(name, _)| *name).collect();
            let values: Vec<&str> = read.iter().map(|(_, value)| *value).collect();
            let row = format!("1,{},{}\n", values.join(","), wrong.probe);
            let list = format!("line,{},probe\n{row}{row}{row}", names.join(","));
            bench.desk().log_readings(&shipment, "r.csv", &list, false, false).unwrap();
            check_held(bench.desk(), pair, 3);
            // What a person settled is not opened again, whole or in parts.
            let lot = bench.desk().shipments().unwrap()[0].lots[0].id;
            let of_lot = |desk: &mut Desk| {
                let mut holds = desk.holds().unwrap();
                holds.retain(|hold| hold.piece.is_none() && hold.kind == DoubtKind::WeightOrSize);
                holds
            };
            for hold in of_lot(bench.desk()) {
                bench.desk().settle(hold.id, "the list named the wrong product", None, None).unwrap();
            }
            bench.desk().rescore(lot).unwrap();
            assert_eq!(of_lot(bench.desk()), [], "{pair:?}");
        }
    }
}

#[test]
fn a_lot_that_lies_wrong_in_two_quantities_is_logged_at_the_bench() {
    for wrong in &WRONG {
        for pair in pairs(wrong) {
            let mut bench = Bench::without_prices();
            let lot = bench.lot(wrong.product, 2, "");
            for _ in 0..2 {
                let mut draft = bench.desk().new_draft(lot).unwrap();
                draft.probe = Some(wrong.probe.to_owned());
                for (name, value) in read(wrong, pair) {
                    let field = reading(Measurand::named(name).unwrap());
                    let slot = draft.fields.iter_mut().find(|slot| slot.field == field).unwrap();
                    value.clone_into(&mut slot.text);
                    bench.desk().echo(lot, field, value).unwrap();
                }
                bench.desk().save_draft(&draft).unwrap();
                bench.desk().log_piece(&draft).unwrap();
            }
            check_held(bench.desk(), pair, 2);
        }
    }
}

#[test]
fn a_lot_that_lies_wrong_in_two_quantities_is_logged_line_by_line() {
    for wrong in &WRONG {
        for pair in pairs(wrong) {
            let bench = {
                let mut bench = Bench::without_prices();
                bench.lot(wrong.product, 2, "");
                bench.close()
            };
            let read = read(wrong, pair);
            let desk = Desk::open(&bench, Settings::built_in("MIRA")).unwrap();
            let lot = desk.shipments().unwrap()[0].lots[0].id;
            let fields = desk.new_draft(lot).unwrap().fields;
            drop(desk);
            let answer = |slot: &scruple::desk::DraftField| {
                let name = slot.field.label().split(' ').next().unwrap_or_default().to_owned();
                read.iter().find(|(of, _)| *of == name).map_or("", |(_, value)| *value)
            };
            let piece: String = fields.iter().map(|slot| format!("{}\n", answer(slot))).collect();
            let mut typed = format!("open S-0001/1\nprobe {}\n", wrong.probe);
            typed.push_str(&piece.repeat(2));
            let home = tempfile::tempdir().unwrap();
            let said = super::cli::Call::new(&home, &["plain", "--book", &bench.to_string_lossy()])
                .input(&typed)
                .done();
            assert!(said.contains("lot S-0001/1 is complete"), "{pair:?}: {said}");
            let mut desk = Desk::open(&bench, Settings::built_in("MIRA")).unwrap();
            check_held(&mut desk, pair, 2);
        }
    }
}
