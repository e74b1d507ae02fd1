//! The end of the day as scripts see it: second tests, decisions, release, reports; exact output and exit codes.

use super::cli::{Call, write};
use super::recording::three_partials;
use serde_json::Value;
use tempfile::TempDir;

const HEADER: &str = "line,mass,diameter,thickness,conductivity,temperature,probe";
/// What fifty dollars of fine gold weigh and measure.
const OUNCE: &str = "31.10,32.70,2.95,45.1,21.3,flat";
/// A silver dollar in order (31 U.S.C. 5112(e)), and one that is too light.
const SILVER: &str = "31.10,40.60,2.98,61.9,21.3,flat";
const LIGHT: &str = "29.00,40.60,2.98,61.9,21.3,flat";
/// Another gold coin of one troy ounce whose reading is too near its limit, and one in order.
const EDGE: &str = "31.12,29.98,2.87,44.5,21.3,flat";
const GOLD: &str = "31.12,29.98,2.87,45.2,21.3,flat";
/// A gauge set to 3240 m/s, at which fine gold carries sound, shows the calliper's thickness.
const ULTRASOUND: [&str; 10] = [
    "--method",
    "ultrasound",
    "--thickness",
    "2.87mm",
    "--gauge",
    "2.87mm",
    "--gauge-velocity",
    "3240m/s",
    "--echo",
    "none",
];

/// Three ounces of gold that wait with their lot, two silver dollars in order and a light one, three gold coins that came alone.
fn book() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    Call::new(&folder, &["price", "silver", "30"]).done();
    Call::new(&folder, &["price", "gold", "2400"]).done();
    let list = "line,product,quantity\n1,us-5112-a11,3\n2,us-5112-e,4\n3,ca-gold-50,1\n4,ca-gold-50,1\n5,ca-gold-50,1\n";
    Call::new(&folder, &["receive", "-", "--source", "Moonpond Bullion (invented)"]).input(list).done();
    let rows = format!(
        "{HEADER}\n1,{OUNCE}\n1,{OUNCE}\n1,{OUNCE}\n2,{SILVER}\n2,{SILVER}\n2,{LIGHT}\n3,{EDGE}\n4,{GOLD}\n5,{GOLD}\n"
    );
    Call::new(&folder, &["log", "-", "--shipment", "S-0001"]).input(&rows).done();
    folder
}

fn with<'a>(first: &[&'a str], rest: &[&'a str]) -> Vec<&'a str> {
    first.iter().chain(rest).copied().collect()
}

#[track_caller]
fn stderr(folder: &TempDir, code: i32, args: &[&str]) -> String {
    let output = Call::new(folder, args).run();
    let text = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(code), "{text}");
    assert_eq!(String::from_utf8(output.stdout).unwrap(), "");
    text
}

/// Returns the id of the one open hold of a piece whose words contain a text.
#[track_caller]
fn hold(folder: &TempDir, piece: &str, words: &str) -> String {
    let holds = Call::new(folder, &["holds", "--json"]).json(0);
    let mut found = holds["holds"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|hold| hold["piece"] == piece && hold["text"].as_str().unwrap().contains(words));
    let id = found.next().unwrap()["id"].as_str().unwrap().to_owned();
    assert!(found.next().is_none(), "more than one hold of {piece} has `{words}`");
    id
}

#[test]
fn holds_are_told_by_lot_and_what_pieces_share_is_told_once() {
    let folder = book();
    let text = Call::new(&folder, &["holds"]).done();
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    for words in [
        "S-0001/2-03  x refuse  29.97 EUR at risk",
        "the whole lot",
        "hidden core: a core of tungsten",
        "short count: S-0001/2",
    ] {
        assert!(text.contains(words), "`{words}` is not in {text}");
    }
    // Of the pieces of lot 1 none is named: what they share is told once.
    assert!(!text.contains("S-0001/1-0"), "{text}");
}

#[test]
fn holds_are_narrowed_by_source_product_doubt_and_who_logged() {
    let folder = book();
    let count = |args: &[&str]| {
        let holds = Call::new(&folder, &with(&["holds", "--json"], args)).json(0);
        holds["holds"].as_array().unwrap().len()
    };
    let all = count(&[]);
    assert!(all >= 5, "{all}");
    assert_eq!(count(&["--source", "MOONPOND"]), all);
    assert_eq!(count(&["--source", "kettle"]), 0);
    assert_eq!(count(&["--product", "us-5112-a11", "--doubt", "hidden_core"]), 1);
    assert_eq!(count(&["--doubt", "identity"]), 0);
    assert_eq!(count(&["--logged-by", "nobody"]), 0);
    let error = stderr(&folder, 2, &["holds", "--doubt", "bad_feeling"]);
    assert!(error.contains("hidden_core"), "{error}");
}

#[test]
fn a_new_price_counts_after_the_lot_is_scored_again() {
    let folder = book();
    let at_risk = || {
        let holds =
            Call::new(&folder, &["holds", "--product", "ca-gold-50", "--doubt", "hidden_core", "--json"])
                .json(0);
        holds["holds"][0]["text"].as_str().unwrap().to_owned()
    };
    let before = at_risk();
    Call::new(&folder, &["price", "gold", "4800"]).done();
    assert_eq!(at_risk(), before);
    let scored = Call::new(&folder, &["rescore", "S-0001/3", "--json"]).json(0);
    assert_eq!((scored["pieces"].as_u64(), scored["lots"][0]["hold"].as_u64()), (Some(1), Some(1)));
    Call::new(&folder, &["rescore", "S-0001/4"]).done();
    Call::new(&folder, &["rescore", "S-0001/5"]).done();
    assert_ne!(at_risk(), before);
    let error = stderr(&folder, 1, &["rescore", "S-0001/9"]);
    assert!(error.contains("lot `S-0001/9` is not in the book"), "{error}");
}

#[test]
fn prices_of_a_list_are_taken_whole_or_not_at_all() {
    let folder = book();
    let prices = |code| {
        let list = "metal;price\ngold;2401,50\nplatinum;905\n";
        let bad = "metal;price\ngold;2402\ntin;5\n";
        let text = if code == 0 { list } else { bad };
        Call::new(&folder, &["price", "--import", "-", "--json"]).input(text).run()
    };
    assert_eq!(prices(4).status.code(), Some(4));
    let listed = Call::new(&folder, &["price", "--json"]).json(0);
    assert_eq!(listed["prices"].as_array().unwrap().len(), 2);
    assert_eq!(prices(0).status.code(), Some(0));
    let listed = Call::new(&folder, &["price", "--json"]).json(0);
    assert_eq!(listed["prices"].as_array().unwrap().len(), 3);
    assert_eq!(listed["prices"][0]["per_troy_ounce"]["amount"], "2401.50");
}

#[test]
fn a_kind_of_source_starts_its_holding_period() {
    let folder = book();
    assert_eq!(Call::new(&folder, &["holding", "S-0001"]).done(), "shipment S-0001 has no holding period\n");
    let error = stderr(&folder, 2, &["holding", "S-0001", "--kind", "private"]);
    assert!(error.contains("the policy names none") && error.contains("[review.holding_days]"), "{error}");
    let shipped = include_str!("../../assets/desk/policy.toml");
    let policy = shipped.replace("# private = \"14\"", "private = \"3650\"");
    let file = write(&folder, "held.toml", &policy);
    Call::new(&folder, &["policy", "set", file.to_str().unwrap()]).done();
    let held = Call::new(&folder, &["holding", "S-0001", "--kind", "private"]).done();
    assert!(held.starts_with("shipment S-0001: source `private`, nothing is released until 20"), "{held}");
    let refused = stderr(&folder, 8, &["release", "S-0001/2-01"]);
    assert!(refused.contains("holding period"), "{refused}");
}

#[test]
fn a_second_test_closes_the_doubt_that_its_numbers_settle() {
    let folder = book();
    let args = with(&["settle", "S-0001/4-01", "--check"], &ULTRASOUND);
    let text = Call::new(&folder, &args).done();
    assert!(text.starts_with("S-0001/4-01  recorded\n\nultrasound      inside\n"), "{text}");
    assert!(text.contains("result          (3240 ± "), "{text}");
    assert!(text.contains("\nclosed          hidden core: a core of"), "{text}");
    assert!(text.ends_with("\nS-0001/4-01  + clear, 0 doubts open\n"), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let json = Call::new(&folder, &with(&["settle", "S-0001/5-01", "--json"], &ULTRASOUND)).json(0);
    assert_eq!((&json["schema"], &json["piece"]["standing"]), (&1.into(), &"clear".into()));
    assert_eq!(json["closed"].as_array().unwrap().len(), 1);
    assert_eq!((&json["settled"], &json["refused"]), (&Value::Null, &Value::Null));
    assert_eq!(json["second_test"]["report"]["unit"], "m/s");
    assert_eq!(json["second_test"]["operator"], "MIRA");
}

#[test]
fn immersion_is_no_evidence_between_gold_and_tungsten_and_says_the_two_numbers() {
    let folder = book();
    let tungsten = hold(&folder, "S-0001/4-01", "tungsten");
    let weighing = [
        "settle",
        tungsten.as_str(),
        "--method",
        "immersion",
        "--in-air",
        "31.12g",
        "--in-water",
        "1.61g",
        "--beaker",
        "--water-temperature",
        "21.5C",
    ];
    let output = Call::new(&folder, &with(&weighing, &["--reason", "the density fits"])).run();
    assert_eq!(output.status.code(), Some(8));
    let said = String::from_utf8(output.stderr).unwrap();
    let first = said.lines().next().unwrap();
    assert!(
        first.starts_with("refused: immersion cannot settle `hidden core` of piece `S-0001/4-01`: "),
        "{said}"
    );
    assert!(first.contains("U 0.11 g/cm³ (k = 2), gap 0.0"), "{said}");
    // The weighing stands in the book, and its account says the same two numbers.
    let account = String::from_utf8(output.stdout).unwrap();
    let account = account.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(account.contains("not told apart Tungsten, core under"), "{account}");
    assert!(account.contains("U 0.11 g/cm³ (k = 2), gap 0.0"), "{account}");
    let again = stderr(&folder, 8, &["settle", &tungsten, "--method", "immersion", "--reason", "it fits"]);
    assert!(again.starts_with("error: immersion cannot settle `hidden core`"), "{again}");
    // What settles nothing ends with 3 where a script asks for it.
    let again = [
        "settle",
        "S-0001/4-01",
        "--method",
        "immersion",
        "--in-air",
        "31.12g",
        "--in-water",
        "29.51g",
        "--water-temperature",
        "21.5C",
        "--check",
    ];
    assert_eq!(Call::new(&folder, &again).run().status.code(), Some(3));
}

#[test]
fn a_persons_decision_needs_a_reason_and_names_one_doubt() {
    let folder = book();
    let missing = stderr(&folder, 2, &["settle", "S-0001/1-01"]);
    assert_eq!(
        missing,
        "error: nothing to settle with: give the readings of a second test, or `--decide` with a `--reason`\n"
    );
    let several = stderr(&folder, 2, &["settle", "S-0001/3-01", "--decide", "--reason", "x"]);
    assert!(
        several.starts_with("error: 2 doubts of `S-0001/3-01` are open; name one by its id\n"),
        "{several}"
    );
    assert_eq!(several.matches("\nhint: ").count(), 2, "{several}");
    let none =
        stderr(&folder, 1, &["settle", "S-0001/1-01", "--doubt", "identity", "--decide", "--reason", "x"]);
    assert_eq!(none, "error: no doubt `identity` of `S-0001/1-01` is open\n");
    let word = stderr(&folder, 2, &["settle", "S-0001/1-01", "--doubt", "odd", "--decide", "--reason", "x"]);
    assert!(word.starts_with("error: doubt `odd` is not one of `wrong-alloy`, `hidden-core`, "), "{word}");
    let args = [
        "settle",
        "S-0001/3-01",
        "--doubt",
        "wrong-alloy",
        "--decide",
        "--reason",
        "the mint's letter is here",
    ];
    Call::new(&folder, &args).check(0, "settled wrong alloy of S-0001/3-01: the mint's letter is here\n", "");
    let id = hold(&folder, "S-0001/3-01", "could hide");
    let json = Call::new(&folder, &["settle", &id, "--decide", "--reason", "y", "--json"]).json(0);
    assert_eq!((&json["settled"]["id"], &json["evidence"]), (&id.as_str().into(), &Value::Null));
    let closed = stderr(&folder, 1, &["settle", &id, "--decide", "--reason", "y"]);
    assert!(closed.starts_with(&format!("error: hold `{id}` is not open\n")), "{closed}");
}

#[test]
fn options_of_another_method_and_bad_quantities_are_named() {
    let folder = book();
    let check = |args: &[&str], expected: &str| {
        let said = stderr(&folder, 2, &with(&["second", "S-0001/1-01"], args));
        assert!(said.starts_with(expected), "{said}");
    };
    check(
        &["--method", "ring", "--thickness", "3mm"],
        "error: `--thickness` says nothing about `ring`; allowed are `--u`, `--frequency`, `--recording`,",
    );
    check(&["--thickness", "3mm"], "error: `--thickness` needs a `--method`");
    check(&["--method", "immersion", "--in-air", "31.1g"], "error: `--in-water` is missing");
    check(
        &["--method", "immersion", "--in-air", "1 oz", "--in-water", "1g", "--water-temperature", "21C"],
        "error: `--in-air`: mass `1 oz`: `oz` has two meanings",
    );
    check(
        &["--method", "ultrasound", "--thickness", "3mm", "--time-of-flight", "1.77ms"],
        "error: `--time-of-flight`: travel time `1.77ms`: unit `ms` is not one of `us`, `ns`",
    );
    check(
        &["--method", "ultrasound", "--thickness", "3mm"],
        "error: `--time-of-flight` or `--gauge` is missing",
    );
    check(
        &["--method", "ultrasound", "--thickness", "3mm", "--time-of-flight", "1.77us", "--echo", "0.4mm"],
        "error: `--echo`: `0.4mm` is not one of `none`, `seen`, `at 0.4mm`",
    );
    check(
        &["--method", "xray", "--element", "Gold=99"],
        "error: `--element`: element `Gold` is not a symbol",
    );
    check(&["--method", "xray", "--element", "Au99"], "error: `--element`: `Au99` is not a share such as");
    check(
        &["--method", "xray", "--element", "Au=9", "--element", "Au=9"],
        "error: `--element`: `Au` is given twice",
    );
    check(
        &["--method", "xray", "--element", "Au=99", "--take-off", "0"],
        "error: `--take-off`: take-off angle `0°` is not from 1° to 90°",
    );
    check(&["--method", "magnet"], "error: the readings of the second test are missing");
    check(
        &["--method", "magnet", "slow"],
        "error: answer `slow` of the magnet is not one of `none`, `attracted`,",
    );
    check(
        &["--method", "conductivity", "--probe", "best", "--conductivity", "44.9MS/m"],
        "error: `--probe`: `best` is not one of `",
    );
    check(&["--method", "expert", "--who", "Old Quill"], "error: `--finding` is missing");
    check(
        &[
            "--method",
            "assay",
            "--fineness",
            "900",
            "--laboratory",
            "L",
            "--document",
            "D",
            "--drilled",
            "deep",
        ],
        "error: `--drilled`: `deep` is not one of `surface`, `through`, `melt`",
    );
    // Nothing of all this was written.
    Call::new(&folder, &["second", "S-0001/1-01"]).check(
        0,
        "no second test of S-0001/1-01 is in force\n",
        "",
    );
}

#[test]
fn every_method_is_recorded_and_listed() {
    let folder = book();
    let tests: [&[&str]; 8] = [
        &["immersion", "--in-air", "31.12g", "--in-water", "29.51g", "--water-temperature", "21.5C"],
        &["ultrasound", "--thickness", "2.87mm", "--time-of-flight", "1.77us", "--echo", "none"],
        &["ring", "--frequency", "5000Hz", "--exemplar", "5010Hz"],
        &["xray", "--element", "Au=99.9", "--take-off", "60", "--u", "0.2"],
        &["magnet", "none"],
        &[
            "assay",
            "--fineness",
            "999.8",
            "--laboratory",
            "Tin Kettle (invented)",
            "--document",
            "T-7",
            "--drilled",
            "through",
            "--u",
            "0.2",
        ],
        &["expert", "--who", "Old Quill (invented)", "--document", "Q-1", "--finding", "cannot-tell"],
        &["conductivity", "--probe", "pencil", "--conductivity", "45.0MS/m", "--conductivity", "44.8MS/m"],
    ];
    for test in tests {
        let args = with(&["second", "S-0001/3-01", "--json", "--method"], test);
        let json = Call::new(&folder, &args).json(0);
        let method = json["second_test"]["report"]["method"].as_str().unwrap();
        assert_eq!(method.replace('_', ""), test[0]);
    }
    let listed = Call::new(&folder, &["second", "S-0001/3-01", "--json"]).json(0);
    let listed = listed["second_tests"].as_array().unwrap();
    assert_eq!(listed.len(), 8);
    // A fineness is stated in parts per thousand: U is twice 0.2.
    assert_eq!(listed[5]["report"]["result"], "(999.80 ± 0.40) ‰, k = 2");
    assert_eq!(listed[3]["test"]["take_off"], 60);
    let text = Call::new(&folder, &["second", "S-0001/3-01"]).done();
    assert_eq!(text.matches("S-0001/3-01  ").count(), 8, "{text}");
    let id = listed[4]["id"].as_str().unwrap();
    let args = ["second", "S-0001/3-01", "--withdraw", id, "--reason", "the wrong piece"];
    let said = Call::new(&folder, &args).done();
    assert!(said.starts_with("withdrew the magnet of S-0001/3-01\nS-0001/3-01  "), "{said}");
    let gone = stderr(&folder, 1, &args);
    assert!(
        gone.starts_with("error: piece `S-0001/3-01` has no second test with that id in force\n"),
        "{gone}"
    );
}

#[test]
fn a_dry_run_says_what_a_test_would_come_to_and_writes_nothing() {
    let folder = book();
    let before = Call::new(&folder, &["journal", "verify"]).done();
    let text = Call::new(&folder, &with(&["second", "S-0001/1-01", "--dry-run"], &ULTRASOUND)).done();
    assert!(text.starts_with("S-0001/1-01  would come to, nothing was written\n\nultrasound      inside\n"));
    assert_eq!(Call::new(&folder, &["journal", "verify"]).done(), before);
}

#[test]
fn a_recording_gives_its_partials_and_the_lowest_is_taken() {
    let folder = book();
    std::fs::write(folder.path().join("ring.wav"), three_partials()).unwrap();
    let args = ["second", "S-0001/3-01", "--method", "ring", "--recording", "ring.wav"];
    let json = Call::new(&folder, &with(&args, &["--json"])).json(0);
    let recording = &json["recording"];
    assert_eq!(recording["taken"], "A");
    // The recording holds damped partials at just these frequencies.
    for (partial, expected) in recording["partials"].as_array().unwrap().iter().zip([3120.6, 5480.25, 8911.7])
    {
        assert!((partial["frequency_hz"].as_f64().unwrap() - expected).abs() < 1.0, "{partial}");
    }
    let frequency = json["second_test"]["test"]["frequency"]["value"].as_f64().unwrap() / 1000.0;
    assert!((frequency - 3120.6).abs() < 1.0, "{frequency}");
    let text =
        Call::new(&folder, &with(&args, &["--dry-run", "--partial", "b", "--spectrum", "r.svg"])).done();
    let lines: Vec<&str> = text.lines().skip(2).take(4).collect();
    assert!(lines[0].starts_with("recording of 1.60 s at 44100 Hz, "), "{text}");
    assert!(lines[1].starts_with("  A  3120."), "{text}");
    assert!(lines[2].starts_with("  B  5480.") && lines[2].ends_with("=  <- taken"), "{text}");
    assert!(lines[3].starts_with("  C  891"), "{text}");
    let drawn = std::fs::read_to_string(folder.path().join("r.svg")).unwrap();
    assert!(drawn.contains("A 3120.") && drawn.contains("partial B was taken"), "{drawn}");
    let none = stderr(&folder, 2, &with(&args, &["--partial", "Q"]));
    assert_eq!(none, "error: `--partial`: `Q` is not one of `A`, `B`, `C`\n");
    write(&folder, "text.wav", "no sound at all");
    let bad = stderr(&folder, 1, &["second", "S-0001/3-01", "--method", "ring", "--recording", "text.wav"]);
    assert!(bad.starts_with("error: `text.wav`: recording is not a readable WAV file"), "{bad}");
}

#[test]
fn a_lot_is_settled_on_its_sample_only_when_all_of_it_is_tested() {
    let folder = book();
    Call::new(&folder, &["sample", "S-0001/1", "--seed", "7"]).check(
        0,
        "S-0001/1  3 of 3 pieces, seed 7\n\
         test these  S-0001/1-01 S-0001/1-02 S-0001/1-03\n\
         so far      0 agreed, 0 disagreed, 3 to be tested\n\
         bound       when all of them agree: nothing is left untested\n",
        "",
    );
    let again = stderr(&folder, 1, &["sample", "S-0001/1", "--seed", "8"]);
    assert!(again.contains("has a sample of 3 pieces already, drawn with seed 7"), "{again}");
    let shown = Call::new(&folder, &["sample", "S-0001/1", "--json"]).json(0);
    assert_eq!((&shown["drawn_now"], &shown["samples"][0]["seed"]), (&false.into(), &"7".into()));
    let settle = ["sample", "S-0001/1", "--settle", "hidden-core", "--reason", "the sample agrees"];
    stderr(&folder, 1, &settle);
    for piece in ["S-0001/1-01", "S-0001/1-02", "S-0001/1-03"] {
        Call::new(&folder, &with(&["second", piece], &ULTRASOUND)).done();
    }
    let shown = Call::new(&folder, &["sample", "S-0001/1"]).done();
    assert!(shown.contains("so far      3 agreed, 0 disagreed, 0 to be tested\n"), "{shown}");
    let number = stderr(&folder, 2, &["sample", "S-0001"]);
    assert_eq!(number, "error: lot `S-0001` is not a number such as `S-0012/3`\n");
    let unknown = stderr(&folder, 1, &["sample", "S-0001/9"]);
    assert_eq!(unknown, "error: lot `S-0001/9` is not in the book\n");
}

#[test]
fn pieces_go_back_to_the_authorities_and_to_stock() {
    let folder = book();
    Call::new(&folder, &["send-back", "S-0001/2-03", "--reason", "too light"]).check(
        0,
        "sent back 1 piece: S-0001/2-03\n",
        "",
    );
    Call::new(&folder, &["surrender", "S-0001/1-03", "--reason", "suspected"]).check(
        0,
        "surrendered 1 piece: S-0001/1-03\n\
         caution: suspected counterfeit of legal tender: do not return it to circulation\n         \
                  and do not send it back; local law decides\n\
         caution: keep the piece apart, with this record; hand it over against a receipt\n\
         caution: say that it is suspected, not that it is counterfeit: the authorities\n         \
                  or their expert find that out\n",
        "",
    );
    let held = stderr(&folder, 8, &["release", "S-0001/1-01", "S-0001/1-02", "S-0001/2-01"]);
    assert!(held.starts_with("error: nothing was released: lot `S-0001/1`: hidden core"), "{held}");
    Call::new(&folder, &["stock"]).check(0, "nothing is in stock\n", "");
    let list = "piece        serial  fine g      value  product\n\
                S-0001/2-01  -       31.072  29.97 EUR  us-5112-e\n\
                S-0001/2-02  -       31.072  29.97 EUR  us-5112-e\n\
                \n\
                silver: 2 pieces, 62.144 g fine, 59.94 EUR\n";
    Call::new(&folder, &["release", "S-0001/2"]).check(0, &format!("released 2 pieces\n\n{list}"), "");
    Call::new(&folder, &["stock", "--metal", "silver", "--text", "MOONPOND"]).check(0, list, "");
    Call::new(&folder, &["stock", "--metal", "gold"]).check(0, "nothing is in stock\n", "");
    let json = Call::new(&folder, &["stock", "--json"]).json(0);
    // 31 U.S.C. 5112(e): 31.103 g of .999 fine silver is 31.071897 g fine.
    assert_eq!(json["stock"][0]["fine_g"], "31.071897");
    assert_eq!(json["stock"][0]["value"]["amount"], "29.97");
    let csv = Call::new(&folder, &["stock", "--csv", "-"]).done();
    assert_eq!(csv.lines().count(), 3);
    assert!(csv.starts_with("piece,metal,product,"), "{csv}");
}

#[test]
fn the_day_sheet_goes_to_the_terminal_and_into_files_that_are_never_written_over() {
    let folder = book();
    Call::new(&folder, &["release", "S-0001/2-01"]).done();
    let text = Call::new(&folder, &["day"]).done();
    assert!(text.starts_with("DAY SHEET\n"), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let one_line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(one_line.contains("9 of 10 pieces of the packing lists; 1 lot is short by 1 piece"), "{text}");
    let args =
        ["day", "--pdf", "d.pdf", "--html", "d.html", "--csv", "d.csv", "--xlsx", "d.xlsx", "--letter"];
    Call::new(&folder, &args).check(0, "wrote d.html\nwrote d.pdf\nwrote d.csv\nwrote d.xlsx\n", "");
    let file = |name: &str| std::fs::read(folder.path().join(name)).unwrap();
    assert!(file("d.pdf").starts_with(b"%PDF-") && file("d.xlsx").starts_with(b"PK"));
    assert!(file("d.html").starts_with(b"<!DOCTYPE html>"));
    let again = stderr(&folder, 1, &["day", "--html", "e.html", "--pdf", "d.pdf"]);
    assert!(again.starts_with("error: `d.pdf` exists already\n"), "{again}");
    assert!(!folder.path().join("e.html").exists());
    let json = Call::new(&folder, &["day", "--json"]).json(0);
    assert_eq!(json["lots"][1]["short"], 1);
    assert_eq!(json["sellable"][0]["fine_g"], "31.071897");
    assert_eq!(json["journal_head"].as_str().unwrap().len(), 64);
    let csv = Call::new(&folder, &["day", "--csv", "-"]).done();
    assert_eq!(csv.as_bytes(), file("d.csv"));
    let date = stderr(&folder, 2, &["day", "--date", "14.3.2031"]);
    assert_eq!(date, "error: date `14.3.2031` is not a day such as `2031-03-14`\n");
    let two = stderr(&folder, 2, &["day", "--csv", "-", "--html", "-"]);
    assert_eq!(two, "error: only one file can go to standard output\n");
    let empty = Call::new(&folder, &["day", "--date", "2001-01-01"]).done();
    assert!(empty.contains("Nothing was received, logged, tested or decided on this day."), "{empty}");
}

#[test]
fn the_record_and_the_label_of_a_piece_are_printed() {
    let folder = book();
    Call::new(&folder, &with(&["second", "S-0001/4-01"], &ULTRASOUND)).done();
    Call::new(&folder, &["release", "S-0001/4-01"]).done();
    let text = Call::new(&folder, &["record", "S-0001/4-01"]).done();
    assert!(text.starts_with("PIECE RECORD S-0001/4-01\n"), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    for words in [
        "Second test 1: ultrasound",
        "What was not excluded",
        "What was excluded: ",
        "Decisions about the piece and its lot",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
    let json = Call::new(&folder, &["record", "S-0001/4-01", "--json"]).json(0);
    assert_eq!(json["record"]["second_tests"].as_array().unwrap().len(), 1);
    let hash = json["record"]["journal_hash"].as_str().unwrap();
    Call::new(&folder, &["record", "S-0001/4-01", "--pdf", "r.pdf"]).check(0, "wrote r.pdf\n", "");
    let label = Call::new(&folder, &["label", "S-0001/4-01", "S-0001/5-01", "--json"]).json(0);
    let label = |index: usize, part: &str| label["labels"][index][part].as_str().unwrap().to_owned();
    assert_eq!(label(0, "standing"), "in stock");
    assert_eq!(label(1, "standing"), "not released: ? hold");
    assert_eq!((label(0, "mass"), label(0, "fineness")), ("31.12 g".to_owned(), "999.9 ‰".to_owned()));
    assert_eq!(label(0, "code"), format!("scruple:S-0001/4-01:{}", &hash[..16]));
    Call::new(&folder, &["label", "S-0001/4-01", "--pdf", "l.pdf", "--svg", "l.svg"]).check(
        0,
        "wrote l.pdf\nwrote l.svg\n",
        "",
    );
    let nothing = stderr(&folder, 2, &["label", "S-0001/4-01"]);
    assert_eq!(nothing, "error: name a file with `--pdf` or `--svg`\n");
}

#[test]
fn operators_sign_with_a_pin_that_is_never_an_argument() {
    let folder = book();
    Call::new(&folder, &["operator", "list"]).check(
        0,
        "the book names no operator: whoever works is the owner\n",
        "",
    );
    Call::new(&folder, &["operator", "add", "MIRA", "--role", "owner", "--pin-stdin"]).input("4711\n").check(
        0,
        "MIRA is owner, with a PIN\n",
        "",
    );
    let unsigned = stderr(&folder, 8, &["operator", "add", "OSKAR", "--role", "receiver"]);
    assert!(unsigned.starts_with("error: `MIRA` signs this with a PIN, and none was given\n"), "{unsigned}");
    let add = ["operator", "add", "OSKAR", "--role", "reviewer", "--sign-stdin", "--pin-stdin"];
    Call::new(&folder, &add).input("4711\n0815\n").check(0, "OSKAR is reviewer, with a PIN\n", "");
    Call::new(&folder, &add).input("4711\n").check(
        2,
        "",
        "error: standard input ends before PIN 2 of 2\nhint: type one PIN a line\n",
    );
    Call::new(&folder, &["operator", "list"]).check(
        0,
        "name   role      PIN\nMIRA   owner     set\nOSKAR  reviewer  set\n",
        "",
    );
    let release = ["release", "S-0001/2-01", "--pin-stdin"];
    Call::new(&folder, &release).input("1234\n").check(8, "", "error: this is not the PIN of `MIRA`\n");
    let said = Call::new(&folder, &release).input("4711\n").done();
    assert!(said.starts_with("released 1 piece\n"), "{said}");
    let listed = Call::new(&folder, &["operator", "list", "--json"]).json(0);
    assert_eq!(
        listed["operators"][1],
        serde_json::json!({ "name": "OSKAR", "role": "reviewer", "has_pin": true })
    );
}

#[test]
fn a_policy_is_shown_checked_and_set() {
    let folder = tempfile::tempdir().unwrap();
    let shown = Call::new(&folder, &["policy", "show"]).done();
    assert!(shown.starts_with("# policy ") && shown.contains(", of this machine\n\n"), "{shown}");
    // What is shown can be read again.
    write(&folder, "mine.toml", &shown.replace("piece = \"100\"", "piece = \"150\""));
    let checked = Call::new(&folder, &["policy", "check", "mine.toml"]).done();
    let version = checked.trim_end().rsplit(' ').next().unwrap().to_owned();
    assert_eq!(checked, format!("the policy is well formed, version {version}\n"));
    assert!(!folder.path().join("b.book").exists());
    Call::new(&folder, &["policy", "set", "mine.toml"]).check(
        0,
        &format!("policy {version}, set in the book\n"),
        "",
    );
    let json = Call::new(&folder, &["policy", "show", "--json"]).json(0);
    assert_eq!((&json["version"], &json["origin"]), (&version.as_str().into(), &"book".into()));
    assert!(Call::new(&folder, &["policy", "unset"]).done().ends_with(", of this machine\n"));
    write(&folder, "bad.toml", &shown.replace("inside = \"0.95\"", "inside = \"9\""));
    let bad = stderr(&folder, 1, &["policy", "check", "bad.toml"]);
    assert_eq!(bad, "error: bad.toml: `gate.inside`: `9` is not a number from 0.5 to 0.999999\n");
}
