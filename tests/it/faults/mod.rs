//! What can go wrong under the book: kills, power cuts, full and failing disks, other hands, damage.
//!
//! Every test here counts what was acknowledged before the fault and looks for it afterwards. Acknowledged is what the
//! program showed, or what a use case returned `Ok` for. The suite runs a few of each; all of them, with a table:
//! `SCRUPLE_FAULTS=full cargo test --test it faults -- --nocapture`.

mod clock;
mod damage;
mod disk;
mod full_disk;
mod kill;
mod other_hands;
mod power_cut;
mod signals;

use super::bench::{SILVER, filled_form, noon, reading};
use rusqlite::{Connection, OpenFlags};
use scruple::desk::{AppError, Desk, Draft, Settings};
use scruple::evidence::Measurand;
use scruple::intake::LotId;
use scruple::quantity::Money;
use scruple::reference::Metal;
use std::path::Path;
use std::sync::Mutex;

/// Tells whether everything is run, and not a sample of it.
pub fn in_full() -> bool {
    std::env::var("SCRUPLE_FAULTS").is_ok_and(|how| how == "full")
}

/// Returns how many faults to make.
pub fn how_many(few: usize, full: usize) -> usize {
    if in_full() { full } else { few }
}

/// What came of one kind of fault.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    pub kind: &'static str,
    pub faults: usize,
    /// Acts acknowledged before the faults, all faults together.
    pub acknowledged: usize,
    /// Acknowledged acts that were not there afterwards.
    pub lost: usize,
    /// Books that could not be used afterwards, or failed a check.
    pub damaged: usize,
}

impl Tally {
    pub fn new(kind: &'static str) -> Self {
        Tally { kind, ..Tally::default() }
    }

    fn row(&self) -> String {
        let Tally { kind, faults, acknowledged, lost, damaged } = self;
        format!("{kind:<44}{faults:>8}{acknowledged:>14}{lost:>8}{damaged:>9}")
    }

    /// Prints the row, and the whole table with the last of its rows.
    pub fn report(&self) {
        static ROWS: Mutex<Vec<String>> = Mutex::new(Vec::new());
        let mut rows = ROWS.lock().unwrap();
        rows.push(self.row());
        println!("{}", self.row());
        if rows.len() == KINDS.len() {
            rows.sort();
            let head = ["fault", "faults", "acknowledged", "lost", "damaged"];
            println!("\n{:<44}{:>8}{:>14}{:>8}{:>9}", head[0], head[1], head[2], head[3], head[4]);
            println!("{}\n", rows.join("\n"));
        }
    }

    /// Reports, and fails the test when anything was lost or damaged.
    #[track_caller]
    pub fn check(&self) {
        self.report();
        assert_eq!((self.lost, self.damaged), (0, 0), "{self:?}");
        assert!(self.faults > 0 && self.acknowledged > 0, "nothing was tried: {self:?}");
        assert!(KINDS.contains(&self.kind), "`{}` is a row of no table", self.kind);
    }
}

/// The rows of the table.
const KINDS: &[&str] = &[
    "kill -9 in a session",
    "power cut",
    "power cut, never synced (must lose)",
    "power cut while a book is created",
    "disk full",
    "disk failing",
    "file size limit of the system",
    "no permission to write",
    "two benches at once",
    "clock set back between acts",
    "signals and a closed terminal",
    "bytes flipped in the book",
    "book cut short",
];

/// Random numbers of a seed; xorshift64*, Vigna, ACM TOMS 42 (2016) 30, from memory: any fair generator does.
#[derive(Debug, Clone)]
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Dice(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1)
    }

    pub fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d)
    }

    /// Returns a number from 0 to just below a bound.
    pub fn below(&mut self, bound: usize) -> usize {
        (self.next() >> 16) as usize % bound.max(1)
    }

    pub fn coin(&mut self) -> bool {
        self.below(2) == 0
    }
}

/// Opens a book as the desk does, with the clock of the tests.
pub fn open(book: &Path) -> Result<Desk, AppError> {
    Desk::open(book, Settings::built_in("MIRA").with_clock(noon))
}

/// One act of the session that every fault meets.
pub struct Step {
    pub name: &'static str,
    pub act: fn(&mut Desk) -> Result<(), AppError>,
}

fn lot(desk: &Desk) -> Result<LotId, AppError> {
    Ok(desk.find_lot("S-0001/1")?.id)
}

/// Fills the form of the next piece; `fields` of it are typed, and on disk one after the other.
fn type_piece(desk: &mut Desk, mass: &str, fields: usize) -> Result<Draft, AppError> {
    let whole = filled_form(desk, lot(desk)?, &[(reading(Measurand::Mass), mass)])?;
    let mut draft = desk.new_draft(whole.lot)?;
    for at in 0..fields.min(whole.fields.len()) {
        draft.fields[at] = whole.fields[at].clone();
        draft.focus = at;
    }
    desk.save_draft(&draft)?;
    Ok(whole)
}

fn log(desk: &mut Desk, mass: &str) -> Result<(), AppError> {
    let draft = filled_form(desk, lot(desk)?, &[(reading(Measurand::Mass), mass)])?;
    desk.log_piece(&draft).map(|_| ())
}

/// The session: prices, a shipment, pieces typed and logged, a hold, corrections, a release and what takes them back.
pub const SESSION: &[Step] = &[
    Step {
        name: "price",
        act: |desk| {
            let price = Money::parse("30", desk.policy().currency).expect("an amount");
            desk.set_price(Metal::Silver, price)
        },
    },
    Step {
        name: "receive",
        act: |desk| {
            let list = format!("line,product,quantity\n1,{SILVER},9\n");
            desk.receive("Moonpond Bullion (invented)", "list.csv", &list, false).map(|_| ())
        },
    },
    Step { name: "type", act: |desk| type_piece(desk, "31.10", 2).map(|_| ()) },
    Step { name: "log", act: |desk| log(desk, "31.10") },
    Step { name: "type a light one", act: |desk| type_piece(desk, "29.00", 3).map(|_| ()) },
    Step { name: "log a light one", act: |desk| log(desk, "29.00") },
    Step {
        name: "log two of a list",
        act: |desk| {
            let rows = "line,mass,diameter,thickness,conductivity,temperature,probe\n\
                        1,31.10,40.60,2.98,61.9,21.3,flat\n1,31.11,40.61,2.98,61.8,21.3,flat\n";
            desk.log_readings("S-0001", "r.csv", rows, false, false).map(|_| ())
        },
    },
    Step {
        name: "hold",
        act: |desk| {
            let piece = desk.find_piece("S-0001/1-01")?.id;
            desk.hold_piece(piece, "scratch at the rim").map(|_| ())
        },
    },
    Step {
        name: "take the hold back",
        act: |desk| {
            let piece = desk.find_piece("S-0001/1-01")?.id;
            desk.take_back_hold(piece, "it was dust").map(|_| ())
        },
    },
    Step {
        name: "correct",
        act: |desk| {
            let piece = desk.find_piece("S-0001/1-02")?.id;
            desk.correct(piece, reading(Measurand::Mass), "29.01", "read again").map(|_| ())
        },
    },
    Step { name: "undo the correction", act: |desk| desk.undo().map(|_| ()) },
    Step {
        name: "send back",
        act: |desk| desk.send_back(&["S-0001/1-02".to_owned()], "too light", None).map(|_| ()),
    },
    Step { name: "release", act: |desk| desk.release(&["S-0001/1-01".to_owned()], None).map(|_| ()) },
    Step { name: "take the release back", act: |desk| desk.undo().map(|_| ()) },
    Step {
        name: "void",
        act: |desk| {
            let piece = desk.find_piece("S-0001/1-03")?.id;
            desk.void_piece(piece, "weighed in its capsule")
        },
    },
    Step { name: "type and leave it", act: |desk| type_piece(desk, "31.12", 2).map(|_| ()) },
];

/// What a book says after an act: everything that must be there after a fault.
#[derive(Debug, Clone, PartialEq)]
pub struct Said {
    /// Rows of the journal.
    pub rows: u64,
    /// Hash of the last one; it covers all before.
    pub head: String,
    /// The half-filled piece.
    pub draft: Option<Draft>,
}

/// Asks an open desk.
pub fn said(desk: &Desk) -> Said {
    let report = desk.verify_journal().unwrap();
    Said { rows: report.rows, head: report.head, draft: desk.draft().unwrap() }
}

/// What a look at a book after a fault found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Finding {
    Intact,
    /// Something acknowledged is missing: what.
    Lost(String),
    /// The book cannot be used, or fails a check: what it says.
    Damaged(String),
}

/// Looks whether a book holds everything that was acknowledged, and nothing but what was being written besides.
pub fn look(book: &Path, acknowledged: &Said, in_hand: Option<&Said>) -> Finding {
    let desk = match open(book) {
        Ok(desk) => desk,
        Err(error) => return Finding::Damaged(error.to_string()),
    };
    let found = match (desk.verify_journal(), desk.draft()) {
        (Ok(report), _) if !report.faults.is_empty() => {
            return Finding::Damaged(format!("journal: {:?}", report.faults));
        }
        (Ok(report), Ok(draft)) => Said { rows: report.rows, head: report.head, draft },
        (Err(error), _) | (_, Err(error)) => return Finding::Damaged(error.to_string()),
    };
    drop(desk);
    match integrity(book) {
        Ok(verdict) if verdict == "ok" => {}
        Ok(verdict) => return Finding::Damaged(verdict),
        Err(error) => return Finding::Damaged(error.to_string()),
    }
    if found == *acknowledged || in_hand.is_some_and(|next| found == *next) {
        return Finding::Intact;
    }
    Finding::Lost(format!("found {found:?}, acknowledged {acknowledged:?}, in hand {in_hand:?}"))
}

/// Lets SQLite check a book.
pub fn integrity(book: &Path) -> rusqlite::Result<String> {
    let client = Connection::open_with_flags(book, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    let foreign: i64 =
        client.query_row("SELECT count(*) FROM pragma_foreign_key_check", [], |row| row.get(0))?;
    let verdict: String = client.query_row("PRAGMA integrity_check", [], |row| row.get(0))?;
    Ok(if foreign == 0 { verdict } else { format!("{foreign} rows name what is not there") })
}
