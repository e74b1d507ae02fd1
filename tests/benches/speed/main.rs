//! Prints the table of speeds for the README: `cargo bench --bench speed`, a release build, everything in one run.
//!
//! `SCRUPLE_SPEED=full` adds the book of ten million pieces. What a row is compared with is measured in the same run, on the
//! same files. Rows that need `sqlite3` or Python with numpy say so when they are missing.

mod book;
#[path = "../good_pieces.rs"]
mod good_pieces;
mod python;
mod screen;
mod table;

use book::{Scratch, lot_of_coins, note};
use screen::Session;
use scruple::desk::audit::{AuditRequest, audit};
use scruple::desk::{Desk, Settings};
use scruple::metrology::seeded::SplitMix64;
use scruple::scoring::assess;
use std::hint::black_box;
use std::process::Command;
use std::time::{Duration, Instant};
use table::{Table, milliseconds, per_second, percentiles};

/// Pieces that are logged one by one.
const LOGGED: usize = 5_000;
/// Pieces that are typed at a terminal.
const TYPED: usize = 200;
/// Rows of the packing list.
const LISTED: usize = 1_000_000;
/// Pieces of the large book.
const LARGE: u64 = 1_000_000;
/// Pieces of the largest book.
const LARGEST: u64 = 10_000_000;

/// Something to do, with its name.
type Named<'a, T> = (&'a str, &'a dyn Fn(&mut T));

fn main() {
    let full = std::env::var("SCRUPLE_SPEED").is_ok_and(|word| word == "full");
    // Words after `--` choose sections: `cargo bench --bench speed -- logging`.
    let words: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with('-')).collect();
    let wanted = |name: &str| words.is_empty() || words.iter().any(|word| word == name);
    let mut table = Table::default();
    let sections: [Named<Table>; 5] = [
        ("scoring", &scoring),
        ("logging", &logging),
        ("verdict", &verdict),
        ("importing", &importing),
        ("large", &|table| {
            large(table, LARGE);
            if full {
                large(table, LARGEST);
            }
        }),
    ];
    for (_, measure) in sections.iter().filter(|(name, _)| wanted(name)) {
        measure(&mut table);
    }
    size(&mut table);
    println!("{}", table.markdown());
}

/// How many assessments a second one core makes, with everything that is said of them.
fn scoring(table: &mut Table) {
    let desk = good_pieces::Desk::new();
    let rules = desk.rules();
    let cases = [("silver ounce", "us-5112-e", "flat", "30"), ("gold ounce", "ca-gold-50", "pencil", "2400")];
    for (name, id, probe, price) in cases {
        let declared = good_pieces::Desk::declared(id, price);
        let pieces = desk.read(&declared, probe, 256);
        for piece in &pieces {
            black_box(assess(&rules, &declared, piece));
        }
        let (began, mut made) = (Instant::now(), 0u32);
        while began.elapsed() < Duration::from_secs(3) {
            for piece in &pieces {
                black_box(assess(&rules, &declared, black_box(piece)));
            }
            made += 256;
        }
        let rate = f64::from(made) / began.elapsed().as_secs_f64();
        table.row(&format!("full assessment, {name}, words and offers included"), &per_second(rate), "");
        note(&format!("scored {name}"));
    }
    match python::candidates_per_second() {
        Ok((numpy, plain)) => {
            let candidates = "checks and candidates alone of a silver ounce, the same formulas in Python";
            table.row(
                candidates,
                &format!("numpy {}", per_second(numpy)),
                &format!("plain with `uncertainties` {}", per_second(plain)),
            );
        }
        Err(why) => table.row("the same formulas in Python", "not measured", &why),
    }
}

/// One piece after the other through the desk, against bare commits of as many rows and bytes.
fn logging(table: &mut Table) {
    let scratch = Scratch::new();
    let mut desk = Desk::open(&scratch.path("logged.book"), Settings::built_in("MIRA")).expect("a book");
    let lots = LOGGED.div_ceil(500);
    let lots: Vec<_> = (0..lots).map(|_| lot_of_coins(&mut desk, 500)).collect();
    let mut noise = SplitMix64::new(2);
    let (mut times, mut drafts) = (Vec::with_capacity(LOGGED), Vec::with_capacity(LOGGED));
    for at in 0..LOGGED {
        let mut draft = desk.new_draft(lots[at / 500]).expect("a lot");
        book::fill(&mut draft, &mut noise);
        let began = Instant::now();
        desk.save_draft(&draft).expect("a book that can be written");
        drafts.push(began.elapsed());
        let began = Instant::now();
        black_box(desk.log_piece(&draft).expect("a lot with room"));
        times.push(began.elapsed());
    }
    drop(desk);
    let path = scratch.path("logged.book");
    let bare = scratch.bare_commits(&path, LOGGED.min(2_000));
    let (p50, p99) = percentiles(&mut times);
    let (bare50, bare99) = percentiles(&mut bare.clone());
    let ratio = p50.as_secs_f64() / bare50.as_secs_f64();
    table.row(
        "log a piece: score, write, seal, commit; p50 / p99",
        &format!("{} / {}", milliseconds(p50), milliseconds(p99)),
        &format!(
            "bare commit of the same rows and bytes {} / {}, {ratio:.1} times",
            milliseconds(bare50),
            milliseconds(bare99)
        ),
    );
    let (p50, p99) = percentiles(&mut drafts);
    table.row(
        "keep a half-filled piece, p50 / p99",
        &format!("{} / {}", milliseconds(p50), milliseconds(p99)),
        "",
    );
    note("logged");
    let settings = Settings::built_in("MIRA");
    let began = Instant::now();
    let view = audit(&path, &settings, &AuditRequest::default()).expect("a book");
    assert!(view.report.faults.is_empty(), "{:?}", view.report.faults.first());
    let length = std::fs::metadata(&path).map_or(0, |meta| meta.len());
    let about = format!("{} MB; every assessment computed again", length / 1_000_000);
    table.row(&format!("audit, {LOGGED} pieces"), &format!("{:.1} s", began.elapsed().as_secs_f64()), &about);
    let mut desk = Desk::open(&path, settings).expect("a book");
    let began = Instant::now();
    desk.backup(Some(&scratch.path("copy.book")), None).expect("room for a copy");
    table.row(&format!("backup with its check, {LOGGED} pieces"), &milliseconds(began.elapsed()), "");
    note("audited");
}

/// From the last key of a piece to its verdict on the screen, typed at a terminal.
fn verdict(table: &mut Table) {
    let scratch = Scratch::new();
    let path = scratch.path("typed.book");
    let mut desk = Desk::open(&path, Settings::built_in("MIRA")).expect("a book");
    lot_of_coins(&mut desk, 1000);
    drop(desk);
    let mut session = Session::start(&scratch.path(""), &path);
    session.until("", |screen| screen.contains("Moonpond"));
    session.until("\r", |screen| screen.contains("line  product"));
    session.until("\r", |screen| screen.contains("> mass"));
    let (mut verdicts, mut keys) = (Vec::new(), Vec::new());
    for piece in 1..=TYPED {
        for text in ["31.12", "40.60", "2.98", "61.8", "21.0"] {
            let (most, last) = text.split_at(text.len() - 1);
            session.until(most, |screen| screen.contains(most));
            keys.push(session.until(last, |screen| screen.contains(text)));
            if text != "21.0" {
                session.until("\r", |_| true);
            }
        }
        let number = format!("S-0001/1-{piece:02}");
        verdicts.push(session.until("\r", |screen| screen.contains(&number)));
    }
    let (p50, p99) = percentiles(&mut keys);
    let shown = format!("{} / {}", milliseconds(p50), milliseconds(p99));
    table.row("a digit typed, kept on disk and shown, p50 / p99", &shown, "at a terminal of 120 × 40");
    let (p50, p99) = percentiles(&mut verdicts);
    let shown = format!("{} / {}", milliseconds(p50), milliseconds(p99));
    table.row(
        "last key of a piece to its verdict on the screen, p50 / p99",
        &shown,
        "at a terminal of 120 × 40",
    );
    note("typed");
}

/// A packing list of a million serials, against bare inserts of the same rows and the import of `sqlite3`.
fn importing(table: &mut Table) {
    let scratch = Scratch::new();
    let text = book::packing_list(LISTED);
    let mut desk = Desk::open(&scratch.path("listed.book"), Settings::built_in("MIRA")).expect("a book");
    let began = Instant::now();
    desk.receive("Moonpond Bullion (invented)", "list.csv", &text, false).expect("a good list");
    let own = began.elapsed();
    note("received");
    let bare = scratch.bare_inserts(&text);
    let command = scratch.sqlite_import(&text);
    let command = command.map_or_else(
        || "`sqlite3` not there".to_owned(),
        |took| format!("`sqlite3 .import` {:.1} s", took.as_secs_f64()),
    );
    let rate = LISTED as f64 / own.as_secs_f64();
    let ratio = own.as_secs_f64() / bare.as_secs_f64();
    table.row(
        &format!("take in a packing list of {LISTED} serials: read, check, write, seal"),
        &format!("{:.1} s, {}", own.as_secs_f64(), per_second(rate)),
        &format!("bare insert {:.1} s, {ratio:.1} times; {command}", bare.as_secs_f64()),
    );
    note("imported");
}

/// What a book of so many pieces costs to open and to look at.
fn large(table: &mut Table, pieces: u64) {
    let scratch = Scratch::new();
    let path = scratch.path("large.book");
    book::large(&path, pieces, pieces <= LARGE);
    note(&format!("made a book of {pieces} pieces"));
    let time = |desk: &mut Desk, work: &dyn Fn(&mut Desk)| {
        let mut times: Vec<Duration> = (0..5)
            .map(|_| {
                let began = Instant::now();
                work(desk);
                began.elapsed()
            })
            .collect();
        percentiles(&mut times).0
    };
    let mut opened: Vec<Duration> = (0..5)
        .map(|_| {
            let began = Instant::now();
            drop(black_box(Desk::open(&path, Settings::built_in("MIRA")).expect("a book")));
            began.elapsed()
        })
        .collect();
    table.row(&format!("open a book of {pieces} pieces"), &milliseconds(percentiles(&mut opened).0), "");
    let mut desk = Desk::open(&path, Settings::built_in("MIRA")).expect("a book");
    let looks: [Named<Desk>; 6] = [
        ("Receive: all shipments", &|desk| drop(black_box(desk.shipments()))),
        ("Holds: everything on hold", &|desk| drop(black_box(desk.open_groups()))),
        ("Stock: the newest pieces and the count of all", &|desk| drop(black_box(desk.newest_stock()))),
        ("Instruments", &|desk| drop(black_box(desk.instruments_view()))),
        ("Day", &|desk| drop(black_box(desk.day(None)))),
        ("find a piece by its number", &|desk| drop(black_box(desk.find_piece("S-0002/1-00017")))),
    ];
    for (name, look) in looks {
        let took = time(&mut desk, look);
        table.row(&format!("{name}, {pieces} pieces"), &milliseconds(took), "");
        note(name);
    }
    let (middle, worst) = percentiles(&mut typed(&desk, pieces));
    table.row(
        &format!("find as you type, {pieces} pieces, p50 / p99"),
        &format!("{} / {}", milliseconds(middle), milliseconds(worst)),
        "after each character of serials, ends of serials, numbers, sources and products",
    );
    note("find as you type");
}

/// Types what people look for, character by character, and returns how long each answer took.
fn typed(desk: &Desk, pieces: u64) -> Vec<Duration> {
    let mut texts = vec!["S-0042/3-017".to_owned(), "moonpond".to_owned(), "silver dollar".to_owned()];
    for part in 1..40 {
        let serial = format!("MP{:09}", pieces * part / 41);
        texts.push(serial[5..].to_owned());
        texts.push(serial);
    }
    let starts = texts.iter().flat_map(|text| (1..=text.len()).map(|end| &text[..end]));
    starts
        .map(|start| {
            let began = Instant::now();
            black_box(desk.search(start, 40).expect("a book"));
            began.elapsed()
        })
        .collect()
}

/// Memory of this run, and the size of the program.
fn size(table: &mut Table) {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let peak = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).map_or("not known", str::trim);
    table.row("most memory of this whole run", peak, "");
    let program = std::fs::metadata(env!("CARGO_BIN_EXE_scruple")).map_or(0, |meta| meta.len());
    table.row("the program", &format!("{:.1} MB", program as f64 / 1e6), "");
    let machine = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let cpu = machine.lines().find_map(|line| line.strip_prefix("model name")).unwrap_or_default();
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let date = Command::new("date").arg("+%Y-%m-%d").output();
    let date =
        date.map_or_else(|_| String::new(), |out| String::from_utf8_lossy(&out.stdout).trim().to_owned());
    table.made_on(&format!("{}, {cores} cores, {date}", cpu.trim_start_matches([' ', '\t', ':'])));
}
