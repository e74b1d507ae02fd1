//! The list of last acts: what can be undone, in which order, and what comes back.

use super::bench::{Bench, SILVER, reading};
use super::cli::Call;
use super::screens::data::Desk;
use scruple::desk::{ActState, ErrorKind, Field};
use scruple::evidence::Measurand;
use scruple::tui::effect::Effect;

/// Returns what each of the last acts was, and what can be done about it.
fn acts(bench: &mut Bench) -> Vec<(String, ActState)> {
    let acts = bench.desk().own_acts(20).unwrap();
    acts.into_iter().map(|act| (format!("{} {}", act.what, act.about), act.state)).collect()
}

/// A piece logged, corrected and put on hold.
fn three_acts() -> Bench {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 3, "");
    let piece = bench.log(lot, &[]);
    bench.desk().correct(piece.id, reading(Measurand::Mass), "31.11", "read the wrong line").unwrap();
    bench.desk().hold_piece(piece.id, "a scratch").unwrap();
    bench
}

#[test]
fn acts_are_listed_newest_first_and_undone_in_order() {
    let mut bench = three_acts();
    let (hold, correction, logged) = (
        "put on hold S-0001/1-01".to_owned(),
        "corrected mass to `31.11` of S-0001/1-01".to_owned(),
        "logged S-0001/1-01".to_owned(),
    );
    assert_eq!(
        acts(&mut bench),
        [
            (hold.clone(), ActState::Next),
            (correction.clone(), ActState::Waits),
            (logged.clone(), ActState::Waits)
        ]
    );
    let numbers: Vec<i64> = bench.desk().own_acts(20).unwrap().iter().map(|act| act.sequence).collect();
    let refused = bench.desk().undo_act(numbers[2]).unwrap_err();
    assert_eq!(refused.message, "`logged S-0001/1-01` is not the last act");
    assert_eq!(refused.hints, ["undo the later ones first; the last one is `put on hold S-0001/1-01`"]);
    bench.desk().undo_act(numbers[0]).unwrap();
    assert_eq!(
        acts(&mut bench),
        [(hold, ActState::Undone), (correction, ActState::Next), (logged, ActState::Waits)]
    );
    let again = bench.desk().undo_act(numbers[0]).unwrap_err();
    assert_eq!((again.kind, again.message.contains("cannot be undone: undone")), (ErrorKind::Failed, true));
    // Looking at the list writes nothing.
    let rows = bench.desk().verify_journal().unwrap().rows;
    acts(&mut bench);
    assert_eq!(bench.desk().verify_journal().unwrap().rows, rows);
}

#[test]
fn who_did_nothing_has_an_empty_list() {
    let mut bench = Bench::without_prices();
    assert!(bench.desk().own_acts(20).unwrap().is_empty());
    let lot = bench.lot(SILVER, 1, "");
    bench.log(lot, &[]);
    assert!(bench.other_desk("IVO").own_acts(20).unwrap().is_empty());
}

#[test]
fn an_undone_act_is_done_again_by_its_own_use_case_and_can_be_undone_once_more() {
    let mut bench = three_acts();
    bench.desk().undo().unwrap();
    bench.desk().undo().unwrap();
    // What was undone last comes back first.
    let redone = bench.desk().redo(None, None).unwrap();
    assert_eq!(redone.words, "Done again: corrected mass to `31.11` of S-0001/1-01.");
    let piece = bench.desk().find_piece("S-0001/1-01").unwrap();
    let mass = piece.readings.iter().find(|reading| reading.measurand == Measurand::Mass).unwrap();
    assert_eq!((mass.text.as_str(), mass.reason.as_deref()), ("31.11", Some("read the wrong line")));
    let redone = bench.desk().redo(None, None).unwrap();
    assert_eq!(redone.words, "Done again: put on hold S-0001/1-01.");
    let states: Vec<ActState> = acts(&mut bench).into_iter().map(|(_, state)| state).collect();
    let (next, waits, again) = (ActState::Next, ActState::Waits, ActState::Redone);
    assert_eq!(states, [next, waits, again, again, waits]);
    let old = bench.desk().own_acts(20).unwrap()[2].sequence;
    let twice = bench.desk().redo(Some(old), None).unwrap_err();
    assert!(twice.message.ends_with("was done again already"), "{}", twice.message);
    // The new act is undone like any other.
    assert_eq!(bench.desk().undo().unwrap(), "Took back the hold that was put on piece S-0001/1-01.");
    assert_eq!(acts(&mut bench)[0].1, ActState::Undone);
    assert!(bench.desk().verify_journal().unwrap().faults.is_empty());
}

#[test]
fn what_the_act_itself_refuses_is_refused_again() {
    let mut bench = three_acts();
    bench.desk().undo().unwrap();
    let piece = bench.desk().find_piece("S-0001/1-01").unwrap();
    bench.desk().send_back(std::slice::from_ref(&piece.number), "not ours", None).unwrap();
    let hold = bench.desk().own_acts(20).unwrap()[1].sequence;
    let refused = bench.desk().redo(Some(hold), None).unwrap_err();
    assert_eq!(refused.kind, ErrorKind::NotPermitted);
    assert!(refused.message.contains("S-0001/1-01"), "{}", refused.message);
    // A refusal leaves no link behind: the next hold is an act of its own.
    bench.desk().undo().unwrap();
    bench.desk().hold_piece(piece.id, "a dent").unwrap();
    let acts = acts(&mut bench);
    assert_eq!(acts[0].1, ActState::Next, "{acts:?}");
    assert!(acts.iter().all(|(_, state)| *state != ActState::Redone), "{acts:?}");
}

#[test]
fn a_voided_entry_comes_back_as_the_piece_in_hand_unless_another_is() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 3, "");
    bench.log(lot, &[(reading(Measurand::Mass), "31.12")]);
    bench.desk().undo().unwrap();
    let mut half = bench.desk().new_draft(lot).unwrap();
    half.fields[0].text = "31".to_owned();
    bench.desk().save_draft(&half).unwrap();
    let refused = bench.desk().redo(None, None).unwrap_err();
    assert!(refused.message.contains("half filled; one piece at a time"), "{}", refused.message);
    let empty = bench.desk().new_draft(lot).unwrap();
    bench.desk().save_draft(&empty).unwrap();
    let redone = bench.desk().redo(None, None).unwrap();
    assert_eq!(redone.in_hand, Some(lot));
    let draft = bench.desk().draft().unwrap().unwrap();
    let mass = draft.fields.iter().find(|field| field.field == reading(Measurand::Mass)).unwrap();
    assert_eq!(mass.text, "31.12");
    let piece = bench.desk().log_piece(&draft).unwrap();
    assert_eq!(piece.number, "S-0001/1-02");
    assert!(piece.readings.iter().any(|reading| reading.text == "31.12"));
}

#[test]
fn settlements_and_send_backs_come_back_as_they_were() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 2, "");
    let piece = bench.log(lot, &[(reading(Measurand::Mass), "-")]);
    let hold = piece.doubts[0].id;
    bench.desk().settle(hold, "weighed elsewhere", None, None).unwrap();
    let open = |bench: &mut Bench| bench.desk().find_piece("S-0001/1-01").unwrap().doubts.len();
    let settled = open(&mut bench);
    bench.desk().undo().unwrap();
    assert_eq!(open(&mut bench), settled + 1);
    let redone = bench.desk().redo(None, None).unwrap();
    assert!(redone.words.starts_with("Done again: settled "), "{}", redone.words);
    assert_eq!(open(&mut bench), settled);
    bench.desk().send_back(std::slice::from_ref(&piece.number), "not ours", None).unwrap();
    bench.desk().undo().unwrap();
    bench.desk().redo(None, None).unwrap();
    assert!(bench.desk().hold_piece(piece.id, "late").is_err(), "it is sent back again");
    assert!(bench.desk().redo(None, None).unwrap_err().message.contains("has undone nothing"));
}

#[test]
fn the_key_and_enter_undo_the_newest_and_enter_on_an_undone_one_does_it_again() {
    let mut desk = Desk::with_acts();
    desk.keys("<F8>");
    let screen = desk.screen(80, 24);
    for words in
        ["What can be undone", "can be undone", "undo the later ones first", "corrected mass to `33.90`"]
    {
        assert!(screen.contains(words), "{words}: {screen}");
    }
    desk.keys("<Enter>");
    assert_eq!(desk.asked.last(), Some(&Effect::Undo { act: 8 }));
    assert!(desk.state.dialogs.is_empty());
    desk.keys("<F8>");
    // The one that was undone last stands above the next.
    let above = desk.acts.iter().position(|act| act.sequence == 9).unwrap();
    let keys = "<Up>".repeat(desk.acts.len() - above);
    desk.keys(&format!("{keys}<Enter>"));
    assert_eq!(desk.asked.last(), Some(&Effect::Redo { act: 9, pin: None }));
    desk.keys("<F8><Down><Down><Enter>");
    assert!(matches!(desk.asked.last(), Some(Effect::LoadActs)), "{:?}", desk.asked.last());
    assert!(desk.screen(80, 24).contains("undo the later ones first"));
}

#[test]
fn the_subcommands_list_undo_and_redo() {
    let folder = tempfile::tempdir().unwrap();
    Call::new(&folder, &["price", "silver", "30"]).done();
    let list = "line,product,quantity\n1,us-5112-e,2\n";
    Call::new(&folder, &["receive", "-", "--source", "Moonpond Bullion"]).input(list).done();
    let readings =
        "line,mass,diameter,thickness,conductivity,probe,temperature\n1,31.10,40.60,2.98,61.9,flat,21.3\n";
    Call::new(&folder, &["log", "-", "--shipment", "S-0001"]).input(readings).done();
    Call::new(&folder, &["hold", "S-0001/1-01", "--reason", "a scratch"]).done();
    let shown = Call::new(&folder, &["undo", "--list"]).done();
    assert!(shown.lines().nth(1).unwrap().ends_with("put on hold S-0001/1-01  can be undone"), "{shown}");
    Call::new(&folder, &["undo"]).done();
    let json = Call::new(&folder, &["undo", "--list", "--json"]).json(0);
    assert_eq!((&json["schema"], &json["acts"][0]["state"]), (&1.into(), &"undone".into()));
    Call::new(&folder, &["redo"]).check(0, "Done again: put on hold S-0001/1-01.\n", "");
    let output = Call::new(&folder, &["redo"]).run();
    assert_eq!(output.status.code(), Some(1));
}

#[test]
fn a_serial_is_corrected_again_too() {
    let mut bench = Bench::new();
    let lot = bench.lot(SILVER, 2, "");
    let piece = bench.log(lot, &[]);
    bench.desk().correct(piece.id, Field::Serial, "Q-17", "read late").unwrap();
    bench.desk().undo().unwrap();
    assert_eq!(bench.desk().find_piece(&piece.number).unwrap().serial, None);
    bench.desk().redo(None, None).unwrap();
    assert_eq!(bench.desk().find_piece(&piece.number).unwrap().serial.as_deref(), Some("Q-17"));
}
