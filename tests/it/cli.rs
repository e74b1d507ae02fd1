//! The command line as scripts see it: exact output, messages, exit codes.

use super::bench::{GOLD_BAR, SILVER};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use tempfile::TempDir;

/// One call of the program in a folder of its own, with nothing of the machine's settings.
pub(super) struct Call<'a> {
    folder: &'a Path,
    args: Vec<String>,
    input: Option<String>,
    operator: Option<&'a str>,
}

impl<'a> Call<'a> {
    pub(super) fn new(folder: &'a TempDir, args: &[&str]) -> Self {
        let args = args.iter().map(|arg| (*arg).to_owned()).collect();
        Call { folder: folder.path(), args, input: None, operator: Some("MIRA") }
    }

    pub(super) fn input(self, input: &str) -> Self {
        Call { input: Some(input.to_owned()), ..self }
    }

    fn command(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_scruple"));
        command
            .current_dir(self.folder)
            .env_clear()
            .env("HOME", self.folder)
            .env("SCRUPLE_BOOK", self.folder.join("a.book"))
            .env("SCRUPLE_CONFIG", self.folder.join("config"))
            .args(&self.args)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        if let Some(operator) = self.operator {
            command.env("USER", operator);
        }
        command
    }

    pub(super) fn run(&self) -> Output {
        let mut child = self.command().spawn().unwrap();
        let mut stdin = child.stdin.take().unwrap();
        if let Some(input) = &self.input {
            stdin.write_all(input.as_bytes()).unwrap();
        }
        drop(stdin);
        child.wait_with_output().unwrap()
    }

    #[track_caller]
    pub(super) fn check(&self, code: i32, stdout: &str, stderr: &str) {
        let output = self.run();
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
        assert_eq!(
            (output.status.code(), text(&output.stdout).as_str(), text(&output.stderr).as_str()),
            (Some(code), stdout, stderr)
        );
    }

    #[track_caller]
    pub(super) fn done(&self) -> String {
        let output = self.run();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    }

    #[track_caller]
    pub(super) fn json(&self, code: i32) -> serde_json::Value {
        let output = self.run();
        assert_eq!(output.status.code(), Some(code), "{}", String::from_utf8_lossy(&output.stderr));
        serde_json::from_slice(&output.stdout).unwrap()
    }
}

pub(super) fn write(folder: &TempDir, name: &str, text: &str) -> PathBuf {
    let path = folder.path().join(name);
    std::fs::write(&path, text).unwrap();
    path
}

/// Makes a folder with a book in which one shipment was received.
fn received(list: &str) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    Call::new(&folder, &["price", "silver", "30"]).done();
    Call::new(&folder, &["price", "gold", "2400"]).done();
    Call::new(&folder, &["receive", "-", "--source", "Moonpond Bullion (invented)"]).input(list).done();
    folder
}

const GOOD: &str = "31.10,40.60,2.98,61.9,21.3,flat";
const HEADER: &str = "line,mass,diameter,thickness,conductivity,temperature,probe";

#[test]
fn a_shipment_is_received_and_listed() {
    let folder = tempfile::tempdir().unwrap();
    write(&folder, "list.csv", &format!("line,product,quantity\n1,{SILVER},20\n2,{GOLD_BAR},2\n"));
    let said = Call::new(&folder, &["receive", "list.csv", "--source", "Moonpond Bullion (invented)"]).done();
    assert!(
        said.starts_with(
            "received S-0001: 2 lots, 22 pieces announced\n\nS-0001  Moonpond Bullion (invented)  "
        ),
        "{said}"
    );
    let lots: Vec<&str> = said.lines().skip(3).collect();
    assert_eq!(
        lots,
        [
            "lot       logged  of  clear  hold  refuse  standing  product",
            "S-0001/1       0  20      0     0       0  -         us-5112-e (one dollar silver coin, fine silver)",
            "S-0001/2       0   2      0     0       0  -         bar-gold-9999-1ozt (gold bar of 1 troy oz, 999.9)",
        ]
    );
    let listed = Call::new(&folder, &["shipments"]).done();
    assert!(said.ends_with(&listed));
}

#[test]
fn a_packing_list_with_five_kinds_of_mistakes_names_each_and_writes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let list = "line,product,quantity,declared_mass,serials\n\
                1,us-5112-a77,4,33.931 g,\n\
                2,us-5112-e,0,31.1 g,\n\
                3,us-5112-e,5,1 oz,\n\
                4,us-5112-e,1,,A1 A2\n\
                4,lmu-gold-20,3,,B1\n";
    write(&folder, "list.csv", list);
    let first = Call::new(&folder, &["receive", "list.csv", "--source", "Moonpond"]).run();
    let hint = String::from_utf8(first.stderr).unwrap().lines().nth(1).unwrap().to_owned();
    assert!(hint.starts_with("hint: closest: `us-5112-a7`"), "{hint}");
    Call::new(&folder, &["receive", "list.csv", "--source", "Moonpond"]).check(
        4,
        "",
        &format!(
            "error: row 2, column `product`: found `us-5112-a77`, allowed is a product id of the reference\n\
             {hint}\n\
             error: row 3, column `quantity`: found `0`, allowed is a whole number from 1 to 100000\n\
             error: row 4, column `declared_mass`: found `1 oz`, allowed is a mass in `ozt` or `g`\n\
             hint: `oz` has two meanings; a troy ounce is `ozt`, 31.1034768 g\n\
             error: row 5, column `serials`: found `2 serials`, allowed is at most 1, the quantity of the line\n\
             error: row 6, column `line`: found `4`, allowed is each line number once; row 5 has it too\n\
             error: `list.csv` has 5 cells that cannot be taken; nothing was written\n"
        ),
    );
    Call::new(&folder, &["shipments"]).check(0, "", "");
    assert_eq!(Call::new(&folder, &["journal", "verify", "--json"]).json(0)["rows"], 0);
}

#[test]
fn readings_are_logged_scored_and_the_holds_listed() {
    let folder = received(&format!("line,product,quantity\n1,{SILVER},3\n"));
    let readings = format!("{HEADER}\n1,{GOOD}\n1,29.00,40.60,2.98,49.2,21.3,flat\n");
    let said = Call::new(&folder, &["log", "-", "--shipment", "S-0001"]).input(&readings).done();
    let lines: Vec<&str> = said.lines().collect();
    assert_eq!(lines[0], "piece        serial  standing  score  why");
    assert!(lines[1].starts_with("S-0001/1-01  -       clear      "), "{}", lines[1]);
    assert!(lines[2].starts_with("S-0001/1-02  -       refuse      0.0  "), "{}", lines[2]);
    assert_eq!(lines[4], "2 pieces logged: 1 clear, 0 on hold, 1 to refuse");
    let holds = Call::new(&folder, &["holds", "--json", "--check"]).json(3);
    assert_eq!(holds["schema"], 1);
    assert_eq!(holds["holds"][0]["piece"], "S-0001/1-02");
    assert_eq!(holds["holds"][0]["at_risk"]["currency"], "EUR");
    assert_eq!(holds["short_counts"][0]["logged"], 2);
    assert_eq!(Call::new(&folder, &["holds"]).run().status.code(), Some(0));
    let piece = Call::new(&folder, &["piece", "S-0001/1-01", "--json"]).json(0);
    assert_eq!((&piece["schema"], &piece["piece"]["standing"]), (&1.into(), &"clear".into()));
    assert_eq!(piece["piece"]["operator"], "MIRA");
    assert_eq!(piece["piece"]["readings"][0]["stored"], "31.10 g");
    let page = Call::new(&folder, &["piece", "S-0001/1-02"]).done();
    assert!(page.contains("S-0001/1-02") && page.contains("29.00 g"), "{page}");
}

#[test]
fn nothing_on_hold_says_so_and_ends_with_zero() {
    let folder = received(&format!("line,product,quantity\n1,{SILVER},1\n"));
    Call::new(&folder, &["log", "-", "--shipment", "S-0001"]).input(&format!("{HEADER}\n1,{GOOD}\n")).done();
    Call::new(&folder, &["holds", "--check"]).check(0, "nothing is on hold\n", "");
}

#[test]
fn a_bad_row_refuses_the_list_and_partial_writes_the_rest() {
    let folder = received(&format!("line,product,quantity\n1,{SILVER},3\n"));
    write(&folder, "r.csv", &format!("{HEADER}\n1,{GOOD}\n9,{GOOD}\n"));
    let rejected = "row 3, column `line`: found `9`, allowed is line 1 of the packing list\n";
    Call::new(&folder, &["log", "r.csv", "--shipment", "S-0001"]).check(
        4,
        "",
        &format!("error: {rejected}error: `r.csv` has 1 cell that cannot be taken; nothing was written\n"),
    );
    let partial = Call::new(&folder, &["log", "r.csv", "--shipment", "S-0001", "--partial"]).run();
    assert_eq!(String::from_utf8(partial.stderr).unwrap(), format!("rejected: {rejected}"));
    assert!(
        String::from_utf8(partial.stdout).unwrap().ends_with(
            "1 piece logged: 1 clear, 0 on hold, 0 to refuse\nrejected rows are in r.rejected.csv\n"
        )
    );
    let kept = std::fs::read_to_string(folder.path().join("r.rejected.csv")).unwrap();
    assert_eq!(kept, format!("{HEADER}\n9,{GOOD}\n"));
    Call::new(&folder, &["log", "r.csv", "--shipment", "S-0001", "--partial"]).check(
        1,
        "",
        "error: `r.rejected.csv` exists already\nhint: move it away; rejected rows are never written over\n",
    );
}

#[test]
fn a_dry_run_of_both_imports_writes_nothing() {
    let folder = received(&format!("line,product,quantity\n1,{SILVER},3\n"));
    let before = Call::new(&folder, &["journal", "verify"]).done();
    let list = format!("line,product,quantity\n1,{SILVER},3\n");
    let said = Call::new(&folder, &["receive", "-", "--source", "X", "--dry-run"]).input(&list).done();
    assert!(said.starts_with("would receive S-0002: 1 lot, 3 pieces announced\n"), "{said}");
    let readings = format!("{HEADER}\n1,{GOOD}\n");
    let said = Call::new(&folder, &["log", "-", "--shipment", "S-0001", "--dry-run", "--json"])
        .input(&readings)
        .json(0);
    assert_eq!((&said["dry_run"], &said["pieces"][0]["number"]), (&true.into(), &"S-0001/1-01".into()));
    assert_eq!(Call::new(&folder, &["journal", "verify"]).done(), before);
}

#[test]
fn errors_name_what_was_found_and_what_is_allowed() {
    let folder = received(&format!("line,product,quantity\n1,{SILVER},3\n"));
    Call::new(&folder, &["piece", "S-0001/1-77"]).check(
        1,
        "",
        "error: no piece has the number or serial `S-0001/1-77`\nhint: a piece has a number such as `S-0012/3-07`\n",
    );
    Call::new(&folder, &["shipments", "12"]).check(
        2,
        "",
        "error: `12` is not a shipment number such as `S-0012`\n",
    );
    Call::new(&folder, &["price", "tin", "3"]).check(
        2,
        "",
        "error: metal `tin` is not one of `gold`, `silver`, `platinum`, `palladium`\n",
    );
    Call::new(&folder, &["price", "gold", "1,000.00"]).check(
        2,
        "",
        "error: amount `1,000.00` is not a number such as `29.50`: one decimal mark, no thousands marks, no exponents\n",
    );
    Call::new(&folder, &["log", "nowhere.csv", "--shipment", "S-0001"]).check(
        7,
        "",
        "error: `nowhere.csv` cannot be read: No such file or directory (os error 2)\n",
    );
    assert_eq!(Call::new(&folder, &["receive"]).run().status.code(), Some(2));
    assert_eq!(Call::new(&folder, &["no-such-act"]).run().status.code(), Some(2));
}

#[test]
fn a_list_in_another_encoding_is_named_with_its_line() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("list.csv"), b"line,product,quantity\n1,us-5112-e,1\n2,M\xfcnze,1\n")
        .unwrap();
    Call::new(&folder, &["receive", "list.csv", "--source", "X"]).check(
        4,
        "",
        "error: `list.csv` is not UTF-8 text: line 3 has a byte of another encoding\n\
         hint: save the list as CSV in UTF-8\n",
    );
}

#[test]
fn nothing_in_a_list_can_steer_the_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let list = "line,product,quantity\n1,\u{1b}[2J\u{1b}]0;x\u{7},1\n";
    let output = Call::new(&folder, &["receive", "-", "--source", "X"]).input(list).run();
    assert_eq!(output.status.code(), Some(4));
    assert!(output.stderr.iter().all(|byte| *byte >= 0x20 || *byte == b'\n'), "{:?}", output.stderr);
    let list = format!("line,product,quantity\n1,{SILVER},1\n");
    let said = Call::new(&folder, &["receive", "-", "--source", "A\u{1b}[31mB"]).input(&list).done();
    assert!(said.contains("A[31mB") && !said.contains('\u{1b}'), "{said}");
}

#[test]
fn an_altered_journal_ends_with_the_code_of_damage() {
    let folder = received(&format!("line,product,quantity\n1,{SILVER},3\n"));
    let client = rusqlite::Connection::open(folder.path().join("a.book")).unwrap();
    client
        .execute_batch(
            "DROP TRIGGER journal_is_never_changed;
             UPDATE journal SET payload = replace(payload, 'Moonpond', 'Sunpond') WHERE sequence = 3;",
        )
        .unwrap();
    drop(client);
    let output = Call::new(&folder, &["journal", "verify"]).run();
    assert_eq!(output.status.code(), Some(6));
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(said.starts_with("row 3: the payload was changed\n3 rows, 1 fault, head "), "{said}");
}

#[test]
fn a_newer_book_is_refused_with_the_code_of_damage() {
    let folder = received(&format!("line,product,quantity\n1,{SILVER},3\n"));
    let book = folder.path().join("a.book");
    rusqlite::Connection::open(&book).unwrap().pragma_update(None, "user_version", 99).unwrap();
    let known = scruple::store::MIGRATIONS.len();
    Call::new(&folder, &["shipments"]).check(
        6,
        "",
        &format!(
            "error: the book `{}` is of version 99, this program knows versions up to {known}\n\
             hint: it was written by a newer release; nothing was changed\n",
            book.display()
        ),
    );
}

#[test]
fn prices_are_entered_and_listed() {
    let folder = tempfile::tempdir().unwrap();
    Call::new(&folder, &["price"]).check(0, "no price is known\n", "");
    Call::new(&folder, &["price", "silver", "29,50 EUR"]).done();
    let listed = Call::new(&folder, &["price", "--json"]).json(0);
    assert_eq!(
        listed["prices"][0]["per_troy_ounce"],
        serde_json::json!({ "amount": "29.50", "currency": "EUR" })
    );
}

#[test]
fn the_reference_lists_shows_and_checks() {
    let folder = tempfile::tempdir().unwrap();
    let listed =
        Call::new(&folder, &["reference", "list", "fifty dollar", "--metal", "gold", "--json"]).json(0);
    assert!(listed["products"].as_array().unwrap().iter().any(|product| product["id"] == "us-5112-a7"));
    let shown = Call::new(&folder, &["reference", "show", "us-5112-a7"]).done();
    // 31 U.S.C. 5112(a)(7): 33.931 g, 32.7 mm.
    assert!(
        shown.contains("33.9310 g") && shown.contains("32.70 mm") && shown.contains("us-code-5112"),
        "{shown}"
    );
    assert!(Call::new(&folder, &["reference", "show", "W"]).done().starts_with("material W  Tungsten\n"));
    let unknown = Call::new(&folder, &["reference", "show", "us-5112-a77"]).run();
    assert_eq!(unknown.status.code(), Some(2));
}

#[test]
fn a_dealers_own_file_is_checked_and_every_mistake_has_its_line() {
    let folder = tempfile::tempdir().unwrap();
    let example = scruple::reference::catalogue::DEALER_EXAMPLE;
    write(&folder, "products.toml", example);
    Call::new(&folder, &["reference", "check", "products.toml"]).check(
        0,
        "products.toml: 2 products of its own, no mistakes\n",
        "",
    );
    let broken = example.replace("\"40 g\"", "\"40 oz\"").replace("shape = \"round\"", "shape = \"oval\"");
    let line = |wanted: &str| broken.lines().position(|line| line.contains(wanted)).unwrap() + 1;
    write(&folder, "broken.toml", &broken);
    let output = Call::new(&folder, &["reference", "check", "broken.toml"]).run();
    assert_eq!(output.status.code(), Some(4));
    let said = String::from_utf8(output.stderr).unwrap();
    let lines: Vec<&str> = said.lines().collect();
    assert!(lines[0].starts_with(&format!("error: broken.toml:{}:", line("oval"))), "{said}");
    assert!(lines[1].starts_with(&format!("error: broken.toml:{}:", line("40 oz"))), "{said}");
    assert_eq!(lines[2], "error: `broken.toml` has 2 mistakes");
}

#[test]
fn a_dealers_own_products_are_used_from_the_config_folder() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("config")).unwrap();
    write(&folder, "config/products.toml", scruple::reference::catalogue::DEALER_EXAMPLE);
    let list = "line,product,quantity\n1,own-pond-medal,2\n";
    let said =
        Call::new(&folder, &["receive", "-", "--source", "Pond Society (invented)"]).input(list).done();
    assert!(said.contains("own-pond-medal"), "{said}");
    write(&folder, "config/policy.toml", "currency = \"EURO\"\n");
    let output = Call::new(&folder, &["shipments"]).run();
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8(output.stderr).unwrap().contains("policy.toml"));
}

#[test]
fn the_version_names_the_database_too() {
    let folder = tempfile::tempdir().unwrap();
    let version = format!(
        "scruple {} (SQLite {})\n",
        env!("CARGO_PKG_VERSION"),
        scruple::store::Store::sqlite_version()
    );
    Call::new(&folder, &["--version"]).check(0, &version, "");
}

#[test]
fn every_subcommand_explains_itself_with_two_examples() {
    let folder = tempfile::tempdir().unwrap();
    let subcommands: &[&[&str]] = &[
        &[],
        &["plain"],
        &["receive"],
        &["log"],
        &["score"],
        &["holds"],
        &["shipments"],
        &["piece"],
        &["price"],
        &["reference", "list"],
        &["reference", "show"],
        &["reference", "check"],
        &["journal", "verify"],
        &["doctor"],
        &["audit"],
        &["backup"],
        &["restore"],
        &["export"],
        &["import"],
        &["demo"],
        &["completions"],
        &["install"],
        &["hold"],
        &["correct"],
        &["void"],
        &["undo"],
        &["redo"],
        &["holding"],
        &["rescore"],
        &["settle"],
        &["second"],
        &["sample"],
        &["send-back"],
        &["surrender"],
        &["release"],
        &["stock"],
        &["day"],
        &["record"],
        &["label"],
        &["operator"],
        &["operator", "add"],
        &["operator", "list"],
        &["policy"],
        &["policy", "show"],
        &["policy", "check"],
        &["policy", "set"],
        &["policy", "unset"],
        &["reference"],
        &["journal"],
        &["listen"],
        &["device"],
        &["device", "list"],
        &["device", "check"],
        &["instrument"],
        &["instrument", "list"],
        &["instrument", "show"],
        &["instrument", "check"],
        &["instrument", "set"],
        &["instrument", "unset"],
        &["instrument", "use"],
        &["budget"],
        &["explain"],
        &["find"],
        &["control"],
        &["controls"],
        &["recall"],
    ];
    for subcommand in subcommands {
        let args: Vec<&str> = subcommand.iter().copied().chain(["--help"]).collect();
        let help = Call::new(&folder, &args).done();
        let examples =
            help.split("Examples:").nth(1).unwrap_or_else(|| panic!("{subcommand:?} has no examples"));
        assert_eq!(examples.matches("  scruple ").count(), 2, "{subcommand:?}: {examples}");
    }
    assert!(Call::new(&folder, &["completions", "bash"]).done().contains("_scruple"));
}

#[test]
fn without_a_terminal_the_screens_say_so() {
    let folder = tempfile::tempdir().unwrap();
    let output = Call::new(&folder, &[]).run();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8(output.stderr).unwrap().starts_with("error: the screens need a terminal"));
}

#[test]
fn the_demo_fills_a_new_book_and_no_other() {
    let folder = tempfile::tempdir().unwrap();
    Call::new(&folder, &["demo", "--book", "day.book", "--no-screen"]).check(0, "filled day.book\n", "");
    let shipments = Call::new(&folder, &["shipments", "--book", "day.book", "--json"]).json(0);
    assert!(shipments["shipments"].as_array().unwrap().len() >= 3);
    Call::new(&folder, &["demo", "--book", "day.book", "--no-screen"]).check(
        1,
        "",
        "error: `day.book` exists already; the demo fills a new book only\n",
    );
    assert_eq!(Call::new(&folder, &["holds", "--book", "day.book", "--check"]).run().status.code(), Some(3));
}

#[test]
fn the_demo_without_a_book_leaves_nothing_behind() {
    let folder = tempfile::tempdir().unwrap();
    let temporary = folder.path().join("tmp");
    std::fs::create_dir(&temporary).unwrap();
    let call = Call::new(&folder, &["demo"]);
    let output = call.command().env("TMPDIR", &temporary).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(std::fs::read_dir(&temporary).unwrap().count(), 0);
}

#[test]
fn logs_go_to_the_state_folder_and_not_to_the_screen() {
    let folder = tempfile::tempdir().unwrap();
    Call::new(&folder, &["shipments", "12"]).run();
    let logs = folder.path().join(".local/state/scruple");
    let texts: String = std::fs::read_dir(logs)
        .unwrap()
        .map(|entry| std::fs::read_to_string(entry.unwrap().path()).unwrap())
        .collect();
    assert!(texts.contains("`12` is not a shipment number"), "{texts}");
}

/// Kills the program at moments further and further on, while it imports.
#[test]
fn an_import_that_is_killed_is_in_the_book_whole_or_not_at_all() {
    const ROWS: usize = 40;
    let folder = received(&format!("line,product,quantity\n1,{SILVER},{}\n", ROWS * 12));
    let readings = format!("{HEADER}\n{}", format!("1,{GOOD}\n").repeat(ROWS));
    write(&folder, "r.csv", &readings);
    let logged = || {
        let shipments = Call::new(&folder, &["shipments", "--json"]).json(0);
        usize::try_from(shipments["shipments"][0]["lots"][0]["logged"].as_u64().unwrap()).unwrap()
    };
    let mut before = 0;
    for round in 0..10 {
        let mut child =
            Call::new(&folder, &["log", "r.csv", "--shipment", "S-0001"]).command().spawn().unwrap();
        std::thread::sleep(std::time::Duration::from_millis(round * 15));
        // Rust's `kill` sends SIGKILL: the program has no chance to tidy up.
        child.kill().unwrap();
        let finished = child.wait().unwrap().success();
        let now = logged();
        assert!(now == before || now == before + ROWS, "round {round}: {before} became {now}");
        assert!(!finished || now == before + ROWS, "round {round}: what was acknowledged is not in the book");
        before = now;
    }
    assert_eq!(Call::new(&folder, &["journal", "verify", "--json"]).json(0)["faults"], serde_json::json!([]));
}
