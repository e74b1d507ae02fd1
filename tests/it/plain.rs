//! The bench line by line: the same fields, questions and verdicts as the screens, over pipes.

use super::bench::SILVER;
use super::cli::Call;
use scruple::desk::{Desk, Settings};
use tempfile::TempDir;

/// A good piece as the specification has it, field by field.
const GOOD: &str = "31.10\n40.60\n2.98\n61.9\n21.3\n";

/// Makes a folder with a book in which a lot of so many silver pieces was received.
fn received(pieces: u32) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    Call::new(&folder, &["price", "silver", "30"]).done();
    let list = format!("line,product,quantity\n1,{SILVER},{pieces}\n");
    Call::new(&folder, &["receive", "-", "--source", "Moonpond Bullion (invented)"]).input(&list).done();
    folder
}

fn plain(folder: &TempDir, typed: &str) -> String {
    Call::new(folder, &["plain"]).input(typed).done()
}

#[track_caller]
fn says(said: &str, words: &str) {
    assert!(said.lines().any(|line| line.starts_with(words)), "`{words}` is not said:\n{said}");
}

#[test]
fn pieces_are_logged_by_answers_and_the_verdict_is_said_in_words() {
    let folder = received(2);
    let said = plain(&folder, &format!("open s-0001/1\n{GOOD}29.00\n40.60\n2.98\n49.2\n21.3\n"));
    says(&said, "piece 1 of 2, mass?");
    says(&said, "mass 31.10 g");
    says(&said, "piece S-0001/1-01: clear, score ");
    says(&said, "piece 2 of 2, mass?");
    says(&said, "piece S-0001/1-02: refuse, score 0.0 on ");
    says(&said, "why: ");
    says(&said, "rests on: ");
    says(&said, "lot S-0001/1 is complete");
    // The same pieces as those of a list of readings, to the last word.
    let same = received(2);
    let list = "line,mass,diameter,thickness,conductivity,temperature,probe\n\
                1,31.10,40.60,2.98,61.9,21.3,flat\n1,29.00,40.60,2.98,49.2,21.3,flat\n";
    Call::new(&same, &["log", "-", "--shipment", "S-0001"]).input(list).done();
    let score = |folder: &TempDir, number: &str| {
        let piece = Call::new(folder, &["piece", number, "--json"]).json(0)["piece"].clone();
        (piece["standing"].clone(), piece["score"].clone(), piece["assessment"]["checks"].clone())
    };
    for number in ["S-0001/1-01", "S-0001/1-02"] {
        assert_eq!(score(&folder, number), score(&same, number));
    }
}

#[test]
fn nothing_is_drawn_coloured_or_moved() {
    let folder = received(2);
    let said = plain(
        &folder,
        &format!("help\nlots\nopen S-0001/1\n{GOOD}holds\npiece S-0001/1-01\nfields\nprobe\nquit\n"),
    );
    assert!(said.bytes().all(|byte| byte == b'\n' || (0x20..0x7f).contains(&byte)), "{said}");
    // Two blanks side by side would line something up.
    assert!(!said.contains("  "), "{said}");
    assert!(said.contains("+/-"), "{said}");
    let call = Call::new(&folder, &["plain", "--color", "always"]).input("lots\n").done();
    assert!(!call.contains('\u{1b}'));
}

#[test]
fn a_value_far_off_is_a_question_and_is_kept_only_with_a_reason() {
    let folder = received(2);
    let said = plain(&folder, "open S-0001/1\n311.0\nkeep\nkeep the capsule weighs\nquit\n");
    says(&said, "311.0 g, 10.0 times the expected");
    says(&said, "not taken: the word wants something else after it");
    says(&said, "311.0 is kept, with the reason");
    says(&said, "piece 1 of 2, diameter?");
    let said = plain(&folder, "40.60\n2.98\n61.9\n\n");
    says(&said, "piece S-0001/1-01: ");
    let piece = Call::new(&folder, &["piece", "S-0001/1-01", "--json"]).json(0);
    assert_eq!(piece["piece"]["readings"][0]["reason"], "the capsule weighs");
}

#[test]
fn what_cannot_be_read_is_asked_for_again_with_found_and_allowed() {
    let folder = received(2);
    let said = plain(&folder, "open S-0001/1\n31.1x\n\n31.10\nquit\n");
    let refused: Vec<&str> = said.lines().filter(|line| line.starts_with("not taken: ")).collect();
    assert_eq!(refused.len(), 2, "{said}");
    assert!(refused[0].contains("31.1x"), "{said}");
    assert_eq!(refused[1], "not taken: mass is empty");
    says(&said, "mass 31.10 g");
}

#[test]
fn a_half_filled_piece_is_kept_for_the_next_session_and_for_the_screens() {
    let folder = received(2);
    let said = plain(&folder, "open S-0001/1\n31.10\n40.60\n");
    says(&said, "the half-filled piece of lot S-0001/1 is kept in the book");
    let desk = Desk::open(&folder.path().join("a.book"), Settings::built_in("MIRA")).unwrap();
    let draft = desk.draft().unwrap().unwrap();
    let texts: Vec<(&str, bool)> =
        draft.fields.iter().map(|field| (field.text.as_str(), field.accepted)).take(3).collect();
    assert_eq!((texts, draft.focus), (vec![("31.10", true), ("40.60", true), ("", false)], 2));
    drop(desk);
    let said = plain(&folder, "2.98\n61.9\n21.3\n");
    says(&said, "the half-filled piece is as you left it");
    says(&said, "piece 1 of 2, thickness?");
    says(&said, "piece S-0001/1-01: clear");
}

#[test]
fn the_acts_of_the_bench_are_words() {
    let folder = received(3);
    let said = plain(
        &folder,
        &format!(
            "open S-0001/1\n{GOOD}\
             correct S-0001/1-01 mass 31.09 because it was mistyped\n\
             hold S-0001/1-01 because the rim looks filed\n\
             holds\n\
             unhold S-0001/1-01 because it is a hair\n\
             31.10\nback\nscore\n31.11\nscore\n\
             void S-0001/1-02 because it was not weighed alone\n\
             {GOOD}undo\nundo later\nopen S-0009/1\nprobe nowhere\nclear all\nquit\n"
        ),
    );
    says(&said, "corrected; the value before stays in the book");
    says(&said, "mass 31.09");
    says(&said, "piece S-0001/1-01: hold, ");
    says(&said, "1 doubt open");
    says(&said, "not taken: mass `31.10` is not accepted yet");
    says(&said, "piece S-0001/1-02: hold, ");
    says(&said, "piece S-0001/1-02 is void");
    says(&said, "it is written `undo`");
    says(&said, "not taken: `S-0009/1` is not a lot of this book");
    says(&said, "not taken: probe `nowhere` is not one of ");
    says(&said, "the piece in hand is empty");
    let lots = Call::new(&folder, &["shipments", "--json"]).json(0);
    assert_eq!(lots["shipments"][0]["lots"][0]["logged"], 1);
    assert_eq!(Call::new(&folder, &["journal", "verify", "--json"]).json(0)["faults"], serde_json::json!([]));
}

#[test]
fn each_line_is_a_row_with_its_kind_when_json_is_asked_for() {
    let folder = received(1);
    let said = Call::new(&folder, &["plain", "--json"]).input(&format!("open S-0001/1\n{GOOD}")).done();
    let rows: Vec<serde_json::Value> = said.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert!(rows.iter().all(|row| row["schema"] == 1), "{said}");
    let kinds: Vec<&str> = rows.iter().map(|row| row["kind"].as_str().unwrap()).collect();
    assert!(kinds.contains(&"ask") && kinds.contains(&"verdict"), "{kinds:?}");
}

#[test]
fn the_option_opens_the_same_session_and_the_day_is_backed_up() {
    let folder = received(1);
    let said = Call::new(&folder, &["--plain"]).input("lots\nquit\n").done();
    says(&said, "lot S-0001/1: one dollar silver coin, fine silver, 0 of 1 logged");
    says(&said, "backed up to ");
    assert!(folder.path().join("backups").exists());
}

#[test]
fn a_line_that_is_too_long_or_of_another_encoding_harms_nothing() {
    let folder = received(1);
    let long = "1".repeat(100_000);
    let said = plain(&folder, &format!("{long}\nopen S-0001/1\n{long}\n31.10\nquit\n"));
    says(&said, "not taken: the line is longer than 4096 bytes");
    says(&said, "mass 31.10 g");
}
