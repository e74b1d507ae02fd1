//! The type book: what released pieces teach, what it doubts, what takes a piece out of it, how often it cries wolf.
//!
//! Source of the populations: as in `false_alarms`. The 1 % is the policy's own statement.

use super::bench::{Bench, SILVER};
use super::cli::Call;
use super::screens::data::Desk as Screens;
use rusqlite::Connection;
use scruple::desk::{ErrorKind, PieceView, TypeBookView};
use scruple::evidence::{Instruments, Observation, PieceEvidence};
use scruple::metrology::seeded::SplitMix64;
use scruple::quantity::{Conductivity, Currency, Length, Mass, Money, Quantity, Temperature, entry::parse};
use scruple::reference::{Catalogue, ProductId};
use scruple::scoring::{
    Assessment, Declared, DoubtKind, LotQuantity, Policy, Power, Rules, Standards, Standing, Taught,
    TypeBook, assess, type_book_entries,
};
use scruple::store::MIGRATIONS;
use scruple::tui::effect::Effect;
use scruple::tui::message::Message;
use std::fmt::Write;

const HEADER: &str = "line,mass,diameter,thickness,conductivity,temperature,probe\n";
/// A piece inside every published limit that is thicker than the others: another fill of its envelope.
const THICK: &str = "31.12,40.60,3.12,62.4,21.3,flat";

/// Returns one row of readings of a good piece.
fn good(line: u32, noise: &mut SplitMix64) -> String {
    format!(
        "{line},{:.2},{:.2},{:.2},{:.1},21.3,flat\n",
        31.13 + 0.01 * noise.standard_normal(),
        40.60 + 0.02 * noise.standard_normal(),
        2.98 + 0.015 * noise.standard_normal(),
        62.4 + 0.1 * noise.standard_normal(),
    )
}

/// Takes in lots of good pieces from a source, logs them, releases what is clear and returns how many that were. A good piece
/// that is odd in its lot by chance is settled by the reviewer.
fn teach(bench: &mut Bench, source: &str, lots: u32, each: u32, seed: u64) -> usize {
    let mut noise = SplitMix64::new(seed);
    let mut list = "line,product,quantity\n".to_owned();
    let mut rows = HEADER.to_owned();
    for line in 1..=lots {
        let _ = writeln!(list, "{line},{SILVER},{each}");
        (0..each).for_each(|_| rows.push_str(&good(line, &mut noise)));
    }
    let desk = bench.desk();
    let shipment = desk.receive(source, "list.csv", &list, false).unwrap().number;
    desk.log_readings(&shipment, "r.csv", &rows, false, false).unwrap();
    for hold in desk.holds().unwrap() {
        if hold.shipment == shipment && hold.kind == DoubtKind::OddOneOut {
            desk.settle(hold.id, "measured again, it repeats", None, None).unwrap();
        }
    }
    (1..=lots).map(|line| desk.release(&[format!("{shipment}/{line}")], None).unwrap().len()).sum()
}

/// Logs one piece in a lot of its own.
fn log_one(bench: &mut Bench, row: &str) -> PieceView {
    let desk = bench.desk();
    let list = format!("line,product,quantity\n1,{SILVER},1\n");
    let shipment = desk.receive("Tin Kettle Traders (invented)", "list.csv", &list, false).unwrap().number;
    let report = desk.log_readings(&shipment, "r.csv", &format!("{HEADER}1,{row}\n"), false, false).unwrap();
    report.pieces.into_iter().next().unwrap()
}

fn book(bench: &mut Bench) -> TypeBookView {
    bench.desk().type_book(Some(SILVER)).unwrap().remove(0)
}

fn pieces(view: &TypeBookView, quantity: LotQuantity) -> (u32, u32) {
    let row = view.rows.iter().find(|row| row.quantity == quantity).unwrap();
    (row.pieces, row.missing)
}

const MOONPOND: &str = "Moonpond Bullion (invented)";

#[test]
fn nineteen_pieces_teach_nothing_and_twenty_do() {
    let mut bench = Bench::new();
    assert_eq!(bench.desk().type_book(None).unwrap(), []);
    assert_eq!(pieces(&book(&mut bench), LotQuantity::Mass), (0, 20));
    assert_eq!(teach(&mut bench, MOONPOND, 1, 19, 1), 19);
    assert_eq!(pieces(&book(&mut bench), LotQuantity::Mass), (19, 1));
    let before = log_one(&mut bench, THICK);
    assert_eq!((before.standing, before.assessment.type_book), (Standing::Clear, None));

    assert_eq!(teach(&mut bench, "Three Geese Estates (invented)", 3, 5, 2), 15);
    let view = book(&mut bench);
    for quantity in [
        LotQuantity::Mass,
        LotQuantity::Diameter,
        LotQuantity::Thickness,
        LotQuantity::Conductivity,
        LotQuantity::Fill,
    ] {
        assert_eq!(pieces(&view, quantity), (34, 0), "{quantity:?}");
    }
    let thickness = view.rows.iter().find(|row| row.quantity == LotQuantity::Thickness).unwrap();
    let learned = thickness.learned.as_ref().unwrap();
    assert_eq!(learned.lots, 4);
    assert_eq!(
        learned.sources,
        [(MOONPOND.to_owned(), 19), ("Three Geese Estates (invented)".to_owned(), 15)]
    );
    let figures = learned.figures.unwrap();
    assert!((figures.centre.value() - 2.98).abs() < 0.012, "{figures:?}");
    assert!((0.010..0.025).contains(&figures.scatter.value()), "{figures:?}");
    let ((low, high), (published_low, published_high)) = (thickness.expected.unwrap(), thickness.published);
    assert!(low.value() > published_low.unwrap().value() && high.value() < published_high.unwrap().value());
    let after = log_one(&mut bench, THICK);
    assert_eq!(after.standing, Standing::Hold);
}

#[test]
fn a_piece_inside_every_published_limit_is_doubted_with_the_numbers_and_offers() {
    let mut bench = Bench::new();
    teach(&mut bench, MOONPOND, 4, 10, 3);
    let piece = log_one(&mut bench, THICK);
    let checks = &piece.assessment.checks;
    assert!(checks.iter().all(|check| check.outcome.word() == "inside"), "{checks:?}");
    let doubt = piece.assessment.doubts.iter().find(|doubt| doubt.kind == DoubtKind::OddOneOut).unwrap();
    assert!(
        crate::cause(&doubt.cause).starts_with("differs from the type book: thickness 3.12 mm, where 40 released pieces read with calliper lie at 2.98 mm"),
        "{}",
        crate::cause(&doubt.cause)
    );
    assert!(crate::cause(&doubt.cause).contains("fill 0."), "{}", crate::cause(&doubt.cause));
    assert!(
        crate::cause(&doubt.cause).ends_with("a good piece does so in 1 % of cases over 5 quantities"),
        "{}",
        crate::cause(&doubt.cause)
    );
    assert!(doubt.offers.iter().any(|offer| offer.power == Power::Settles));
    assert_eq!(piece.doubts.len(), 1);
    let remark = &piece.assessment.remarks[0];
    assert!(crate::remark(remark).starts_with("type book: thickness 3.12 mm, 2.9"), "{remark:?}");
    assert!(crate::remark(remark).contains("expected from 40 pieces"), "{remark:?}");
    // What it said can be computed again to the last digit, although the book learned more since.
    let said = bench.desk().find_piece(&piece.number).unwrap().assessment;
    teach(&mut bench, MOONPOND, 2, 10, 4);
    let again = bench.desk().find_piece(&piece.number).unwrap().assessment;
    assert!(again == said, "an assessment changed by what was learned after it");
    assert!(again.candidates.iter().any(|candidate| !candidate.survives), "computed anew, not read back");
    assert_ne!(again.type_book.unwrap().version, book(&mut bench).version);
}

#[test]
fn a_learned_window_never_clears() {
    let mut bench = Bench::new();
    teach(&mut bench, MOONPOND, 4, 10, 5);
    // 29.00 g is refused by the published limits, and no reading at all is held, whatever the type book says.
    assert_eq!(log_one(&mut bench, "29.00,40.60,2.98,62.4,21.3,flat").standing, Standing::Refuse);
    let unread = log_one(&mut bench, "31.13,40.60,2.98,-,21.3,flat");
    assert_eq!(unread.standing, Standing::Hold);
    assert!(unread.assessment.type_book.unwrap().compared.iter().all(|compared| !compared.odd));
}

#[test]
fn a_settled_difference_stays_settled_when_the_book_learns_more() {
    let mut bench = Bench::new();
    teach(&mut bench, MOONPOND, 4, 10, 6);
    let piece = log_one(&mut bench, THICK);
    bench.desk().settle(piece.doubts[0].id, "older dies, compared with the plate", None, None).unwrap();
    teach(&mut bench, MOONPOND, 2, 10, 7);
    let rescored = bench.desk().rescore(piece.lot).unwrap().remove(0);
    assert_eq!((rescored.doubts.len(), rescored.standing), (0, Standing::Clear));
    assert!(rescored.assessment.doubts.iter().any(|doubt| doubt.kind == DoubtKind::OddOneOut));
    assert_ne!(rescored.assessment.type_book, piece.assessment.type_book);
}

#[test]
fn what_is_taken_back_or_refused_by_a_second_test_drops_out() {
    let mut bench = Bench::new();
    teach(&mut bench, MOONPOND, 3, 8, 8);
    let full = book(&mut bench);
    assert_eq!(pieces(&full, LotQuantity::Mass), (24, 0));
    // The last lot of eight was released last.
    bench.desk().undo().unwrap();
    let fewer = book(&mut bench);
    assert_eq!(pieces(&fewer, LotQuantity::Mass), (16, 4));
    assert_eq!(log_one(&mut bench, THICK).assessment.type_book, None);
    bench.desk().release(&["S-0001/3".to_owned()], None).unwrap();
    let back = book(&mut bench);
    assert_eq!(pieces(&back, LotQuantity::Mass), (24, 0));
    assert_eq!(back.rows, full.rows);

    let client = Connection::open(bench.book()).unwrap();
    for (sql, expected) in [
        ("UPDATE type_book_value SET value = 1", "never changed"),
        ("DELETE FROM type_book_value", "never deleted"),
        ("UPDATE type_book_withdrawn SET reason = 'x'", "stays withdrawn"),
        ("DELETE FROM type_book_withdrawn", "stays withdrawn"),
        ("UPDATE type_book_version SET text = ''", "never changed"),
        ("DELETE FROM type_book_version", "never deleted"),
        (
            "INSERT OR REPLACE INTO type_book_value SELECT * FROM type_book_value LIMIT 1",
            "this release taught this quantity already",
        ),
        (
            "INSERT INTO type_book_value (product, quantity, instrument, piece, decision, lot, value, repeatability, step,
                 shared, released_ms)
             SELECT lot.product, 'width', 'x', piece.id, (SELECT id FROM decision LIMIT 1), lot.id, 1, 0, 0, 0, 0
             FROM piece JOIN lot ON lot.id = piece.lot WHERE piece.standing = 'hold' OR lot.expected = 1 LIMIT 1",
            "only a released piece teaches",
        ),
    ] {
        let error = client.execute(sql, []).unwrap_err().to_string();
        assert!(error.contains(expected), "{sql}: {error}");
    }
    // The running totals are those of the rows that count.
    let counted: Vec<(String, i64)> = rows(
        &client,
        "SELECT quantity, count(*) FROM type_book_value AS value WHERE NOT EXISTS (
             SELECT 1 FROM type_book_withdrawn WHERE type_book_withdrawn.decision = value.decision)
         GROUP BY quantity ORDER BY quantity",
    );
    assert_eq!(counted, rows(&client, "SELECT quantity, pieces FROM type_book_total ORDER BY quantity"));
    assert_eq!(bench.desk().verify_journal().unwrap().faults.len(), 0);
}

fn rows(client: &Connection, sql: &str) -> Vec<(String, i64)> {
    let mut statement = client.prepare(sql).unwrap();
    statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap().collect::<Result<_, _>>().unwrap()
}

#[test]
fn one_source_that_sent_most_pieces_is_remarked_on() {
    let mut bench = Bench::new();
    teach(&mut bench, MOONPOND, 2, 12, 9);
    let remarks = |view: &TypeBookView| view.rows[0].learned.as_ref().unwrap().remarks.clone();
    let first = remarks(&book(&mut bench));
    assert!(
        first[0].starts_with("24 of 24 pieces (100 %) came from Moonpond Bullion (invented)"),
        "{first:?}"
    );
    assert!(first[1].starts_with("from 2 lots: how lots differ is taken from the instrument"), "{first:?}");
    teach(&mut bench, "Three Geese Estates (invented)", 2, 3, 10);
    // 24 of 30 are 80 %: not more.
    assert_eq!(remarks(&book(&mut bench)), Vec::<String>::new());
}

#[test]
fn an_older_book_brings_what_its_pieces_in_stock_measured() {
    let mut bench = Bench::new();
    teach(&mut bench, MOONPOND, 2, 5, 11);
    let client = Connection::open(bench.book()).unwrap();
    let migration = MIGRATIONS.iter().find(|migration| migration.name.contains("type_book")).unwrap();
    let (_, fill) = migration.text.split_once("-- What the book held before").unwrap();
    let select = &fill[fill.find("SELECT lot.product, kept.quantity").unwrap()..];
    let select = select.trim_end().trim_end_matches(';');
    let with = format!(
        "WITH brought (product, quantity, instrument, piece, decision, lot, value, repeatability, step, shared, released_ms)
         AS ({select})"
    );
    let count = |rows: &str| {
        let sql = format!("{with} SELECT count(*) FROM {rows}");
        client.query_row(&sql, [], |row| row.get::<_, i64>(0)).unwrap()
    };
    assert_eq!(count("brought"), 40);
    // The budget takes the share of a conductivity at the temperature of the piece, the type book at 20 °C.
    let alike = "brought JOIN type_book_value AS taught
        USING (product, quantity, instrument, piece, decision, lot, released_ms)
        WHERE abs(brought.value - taught.value) < 1e-9 AND abs(brought.step - taught.step) < 1e-9
        AND abs(brought.shared - taught.shared) < 1e-9
        AND abs(brought.repeatability - taught.repeatability) < 0.005 * taught.repeatability";
    assert_eq!(count(alike), 40);
}

#[test]
fn the_subcommand_shows_learned_beside_published_figures() {
    let mut bench = Bench::new();
    teach(&mut bench, MOONPOND, 4, 10, 12);
    let folder = bench.die();
    let book = folder.path().join("a.book");
    let book = book.to_str().unwrap();
    let text = Call::new(&folder, &["--book", book, "type-book"]).done();
    let line = |word: &str| text.lines().find(|line| line.starts_with(word)).unwrap().to_owned();
    assert!(line("mass").contains("scale") && line("mass").contains("40     4  31.1"), "{text}");
    assert!(line("conductivity").contains("flat"), "{text}");
    assert!(line("pieces by source").contains("Moonpond Bullion (invented) 40"), "{text}");
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("40 of 40 pieces (100 %) came from Moonpond Bullion"), "{text}");
    assert!(text.contains("Inside proves nothing."), "{text}");
    let json = Call::new(&folder, &["--book", book, "type-book", SILVER, "--json"]).json(0);
    let mass = &json["products"][0]["quantities"][0];
    assert_eq!((mass["quantity"].as_str(), mass["pieces"].as_u64()), (Some("mass"), Some(40)));
    assert!(mass["expected_lower"].as_f64() > mass["published_lower"].as_f64());
    let other = Call::new(&folder, &["--book", book, "type-book", "ca-gold-50"]).done();
    assert!(other.contains("20 pieces missing"), "{other}");
    let output = Call::new(&folder, &["--book", book, "type-book", "us-5112-x"]).run();
    assert_eq!(output.status.code(), Some(i32::from(ErrorKind::Usage.exit_code())));
    let error = String::from_utf8(output.stderr).unwrap();
    assert!(error.contains("product `us-5112-x` is not in the reference"), "{error}");
}

#[test]
fn the_reference_screen_shows_them_beside_the_published_figures() {
    let mut bench = Bench::new();
    teach(&mut bench, MOONPOND, 4, 10, 13);
    let mut views = bench.desk().type_book(None).unwrap();
    let mut desk = Screens::with_pieces();
    desk.keys("<F9>6");
    assert_eq!(desk.asked.last(), Some(&Effect::LoadTypeBook));
    // The invented desk behind the screens knows other products.
    views[0].product = ProductId::new(&desk.state.facts.products[0].id);
    desk.send(Message::TypeBook(views));
    let wide = desk.screen(120, 40);
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words(&wide).contains("type book") && words(&wide).contains("mass (scale): 31.1"), "{wide}");
    desk.keys("<Enter>");
    let page = words(&desk.screen(80, 40));
    assert!(page.contains("published 30.95 to 31.26 g; 40 pieces"), "{page}");
    assert!(page.contains("came from Moonpond Bullion"), "{page}");
}

/// A piece as it truly is.
#[derive(Clone, Copy)]
struct True {
    mass: f64,
    diameter: f64,
    thickness: f64,
    conductivity: f64,
}

/// The desk of the simulation: the meter was compared with the alloy.
struct Simulated {
    instruments: Instruments,
    policy: Policy,
    standards: Standards,
    noise: SplitMix64,
}

impl Simulated {
    fn new(seed: u64) -> Self {
        let mut instruments = Instruments::built_in();
        instruments.meter.compared_with_same_alloy = true;
        Simulated {
            instruments,
            policy: Policy::built_in(),
            standards: Standards::default(),
            noise: SplitMix64::new(seed),
        }
    }

    fn good(&mut self) -> True {
        True {
            mass: 31.12 + 0.01 * self.noise.standard_normal(),
            diameter: 40.6 + 0.02 * self.noise.standard_normal(),
            thickness: 2.98 + 0.02 * self.noise.standard_normal(),
            conductivity: 63.0 * (0.97 + 0.02 * self.noise.uniform()),
        }
    }

    /// Takes the readings of a piece: repeatability and digit of the shipped instruments.
    fn read(&mut self, piece: True) -> PieceEvidence {
        let mut read = |value: f64, u: f64| value + u * self.noise.standard_normal();
        let mass = read(piece.mass, 0.004);
        let diameter = read(piece.diameter, 0.005);
        let thickness = read(piece.thickness, 0.005);
        let conductivity = read(piece.conductivity, 0.003 * piece.conductivity);
        PieceEvidence {
            mass: Some(typed::<Mass>(&format!("{mass:.2} g"))),
            diameter: Some(typed::<Length>(&format!("{diameter:.2} mm"))),
            thickness: Some(typed::<Length>(&format!("{thickness:.2} mm"))),
            conductivity: vec![typed::<Conductivity>(&format!("{conductivity:.1} MS/m"))],
            temperature: Some(typed::<Temperature>("20.0 C")),
            probe: self.instruments.probe("flat").cloned(),
            ..PieceEvidence::default()
        }
    }

    fn assess(&self, evidence: &PieceEvidence, type_book: Option<&TypeBook>) -> Assessment {
        let catalogue = Catalogue::embedded();
        let price = Some(Money::parse("30", Currency::parse("EUR").unwrap()).unwrap());
        let product = catalogue.product(SILVER).unwrap();
        assess(&self.rules(), &Declared { product, price, lot_size: 20, source: None, type_book }, evidence)
    }

    fn rules(&self) -> Rules<'_> {
        Rules {
            catalogue: Catalogue::embedded(),
            instruments: &self.instruments,
            policy: &self.policy,
            standards: &self.standards,
        }
    }

    /// Learns a type book from good pieces in lots of ten, all released.
    fn learn(&mut self, count: usize) -> TypeBook {
        let mut taught: Vec<Vec<Taught>> = Vec::new();
        for index in 0..count {
            let piece = self.good();
            let evidence = self.read(piece);
            let assessment = self.assess(&evidence, None);
            let product = Catalogue::embedded().product(SILVER).unwrap();
            for entry in type_book_entries(&self.rules(), product, &evidence, &assessment) {
                let piece =
                    Taught { entry, lot: index / 10, source: MOONPOND.to_owned(), released_ms: index as i64 };
                match taught.iter_mut().find(|known| known[0].entry.quantity == piece.entry.quantity) {
                    Some(known) => known.push(piece),
                    None => taught.push(vec![piece]),
                }
            }
        }
        TypeBook::learn(ProductId::new(SILVER), &taught)
    }
}

fn typed<Q: Quantity>(text: &str) -> Observation<Q> {
    Observation::of(&parse::<Q>(text).unwrap())
}

#[test]
fn the_type_book_holds_few_good_pieces_more_and_many_wrong_ones() {
    const BOOKS: usize = 10;
    const GOOD: usize = 100;
    const WRONG: usize = 10;
    for count in [20, 60] {
        let mut desk = Simulated::new(count as u64);
        let books: Vec<TypeBook> = (0..BOOKS).map(|_| desk.learn(count)).collect();
        println!("{BOOKS} type books of {count} pieces: share not clear without and with them");
        let mut held = |name: &str, each: usize, change: &dyn Fn(True) -> True| -> (f64, f64) {
            let mut held = [0_usize; 2];
            for book in &books {
                for _ in 0..each {
                    let piece = change(desk.good());
                    let evidence = desk.read(piece);
                    held[0] += usize::from(desk.assess(&evidence, None).standing != Standing::Clear);
                    held[1] += usize::from(desk.assess(&evidence, Some(book)).standing != Standing::Clear);
                }
            }
            let [without, with] = held.map(|held| held as f64 / (BOOKS * each) as f64);
            println!("  {name:<16} {:>6.2} %  {:>6.2} %", 100.0 * without, 100.0 * with);
            (without, with)
        };
        // At most the 1 % of the policy, and four standard deviations of the count.
        let (without, with) = held("good", GOOD, &|piece| piece);
        let allowed = 0.01 + 4.0 * (0.01 / (BOOKS * GOOD) as f64).sqrt();
        assert!(with - without <= allowed, "good pieces: {without} and {with}");
        let wrong: [(&str, &dyn Fn(True) -> True); 4] = [
            ("0.10 g light", &|piece| True { mass: piece.mass - 0.10, ..piece }),
            ("0.13 mm thick", &|piece| True { thickness: piece.thickness + 0.13, ..piece }),
            ("0.13 mm thin", &|piece| True { thickness: piece.thickness - 0.13, ..piece }),
            ("0.20 mm wide", &|piece| True { diameter: piece.diameter + 0.20, ..piece }),
        ];
        for (name, change) in wrong {
            let (without, with) = held(name, WRONG, change);
            assert!(without < 0.2, "the published limits let {name} pass: {without}");
            assert!(with > without + 0.3, "{name}: {without} and {with}");
        }
    }
}

#[test]
fn a_type_book_reads_back_as_it_was_kept() {
    let book = Simulated::new(3).learn(30);
    let read = TypeBook::read(&book.text()).unwrap();
    assert_eq!(read, book);
    assert_eq!(read.version(), book.version());
    assert_eq!(TypeBook::read("{}"), None);
}
