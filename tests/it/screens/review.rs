//! The end of the day at the invented desk: open doubts, second tests, samples, decisions, stock, the day sheet.

use super::{Desk, GOLD, SILVER, at, lot, money, offers, open_doubt, piece, uuid};
use chrono::NaiveDate;
use scruple::desk::reach::Prospect;
use scruple::desk::review_views::{
    DayLot, DayView, DecisionView, Ending, NewestStock, OpenGroup, SampleView, SecondTestOutcome,
    SecondTestView, StockView, Worth,
};
use scruple::desk::views::{HoldView, PieceView};
use scruple::desk::{InstrumentsView, PolicyOrigin, PolicyView};
use scruple::evidence::SecondTest;
use scruple::intake::{SampleId, SecondTestId};
use scruple::physics::recording::{Partial, Rejected, Rejection, RingRecording, SpectrumPoint};
use scruple::quantity::{Frequency, Mass};
use scruple::reference::{MaterialId, Metal, ProductId};
use scruple::scoring::{
    Because, Cause, Construction, Doubt, DoubtKind, Excluded, Figure, FigureLine, Method, NotToldApart,
    Offer, Outcome, Power, ReadingBudget, Scope, SecondTestReport, Standing,
};
use scruple::tui::effect::{Effect, Pin};
use scruple::tui::message::{Message, Trouble};

/// What the book of the invented desk knows of the end of the day.
#[derive(Default)]
pub struct Review {
    pub tests: Vec<SecondTestView>,
    pub samples: Vec<SampleView>,
    pub stock: Vec<StockView>,
    /// Where the instruments stand, once the desk knows.
    pub instruments: Option<InstrumentsView>,
    /// The budgets of whatever piece is asked for.
    pub budgets: Vec<ReadingBudget>,
    /// What the instruments would do to whatever product is asked for.
    pub prospect: Option<Prospect>,
    /// The PIN that decisions need.
    pub pin: Option<String>,
}

fn offer(method: Method, power: Power, why: &str) -> Offer {
    Offer {
        cost: Some(super::cost(method)),
        ..Offer::new(method, power, Because::Said { text: why.to_owned() })
    }
}

/// The methods against a coin that is a hair too light.
fn weigh_again() -> Vec<Offer> {
    vec![
        offer(Method::Reweigh, Power::Settles, "a scale of 0.001 g tells 27.20 g from 27.19 g"),
        offer(Method::Assay, Power::Cannot, "it says nothing about the weight of the rest"),
    ]
}

impl Desk {
    /// A desk on the holds: a lot of gold with a doubt of its own and three pieces, a lot of silver with eleven.
    pub fn on_holds() -> Self {
        let mut desk = Desk::with_shipments();
        let name = "fifty dollar gold coin, 31 U.S.C. 5112(a)(7)";
        let mut gold = lot(1, GOLD, name, 5, &[]);
        let mut silver = lot(2, SILVER, "trade dollar, Act of 12 February 1873", 20, &[]);
        let shared = Doubt::new(
            DoubtKind::WrongAlloy,
            Scope::Lot,
            Cause::Said { text: "the probe sees 0.71 mm deep; a heavy alloy below it would not show, over the whole lot up to 9200.00 EUR".to_owned() },
            offers(),
        );
        desk.holds.push(open_doubt(&gold, None, &shared, Standing::Hold));
        for (number, mass) in [(1, 33.93), (2, 31.20), (3, 34.05)] {
            let made = piece(&gold, number, mass, 32.69, Some(&format!("MB-004{number}")));
            desk.holds.extend(made.doubts.iter().cloned());
            desk.pieces.push(made);
        }
        let uneven = Doubt::new(
            DoubtKind::Uneven,
            Scope::Piece,
            Cause::Said {
                text:
                    "spot 1 reads 10.2 MS/m, spot 2 reads 11.0 MS/m: more than twice what the meter repeats"
                        .to_owned(),
            },
            offers(),
        );
        desk.holds.push(open_doubt(&gold, Some("S-0012/1-03".to_owned()), &uneven, Standing::Hold));
        let light = Doubt::new(
            DoubtKind::WeightOrSize,
            Scope::Piece,
            Cause::Said {
                text: "27.19 g is nearer to the least weight of 27.19 g than the scale can tell".to_owned(),
            },
            weigh_again(),
        );
        for number in 1..=11 {
            let made = piece(&silver, number, 33.93, 32.69, None);
            let kind = if number == 11 { &uneven } else { &light };
            let mut hold = open_doubt(&silver, Some(made.number.clone()), kind, Standing::Hold);
            hold.source = "Three Geese Estates (invented)".to_owned();
            hold.at_risk = Some(money("27.50"));
            desk.holds.push(hold);
            desk.pieces.push(made);
        }
        (gold.logged, gold.hold, gold.refuse, gold.clear, gold.lot_doubts) = (3, 1, 1, 1, 1);
        gold.standing = Some(Standing::Refuse);
        (silver.logged, silver.hold) = (11, 11);
        silver.standing = Some(Standing::Hold);
        desk.shipments[0].lots = vec![gold, silver];
        let shipments = desk.shipments.clone();
        desk.send(Message::Shipments(shipments));
        desk.keys("3");
        desk
    }

    /// A desk with two pieces in stock, on the list of stock.
    pub fn on_stock() -> Self {
        let mut desk = Desk::on_holds();
        desk.review.stock = vec![
            stock("S-0011/1-02", GOLD, "fifty dollar gold coin, 31 U.S.C. 5112(a)(7)", Metal::Gold, 31.1035),
            stock("S-0011/2-01", SILVER, "trade dollar, Act of 12 February 1873", Metal::Silver, 24.4944),
        ];
        desk.review.stock[1].value = None;
        desk.review.stock[1].price = None;
        desk.keys("4");
        desk
    }

    /// Returns a piece with the doubts that are open now.
    pub(super) fn reviewed(&self, piece: &PieceView) -> PieceView {
        let doubts: Vec<HoldView> =
            self.holds.iter().filter(|hold| hold.piece.as_deref() == Some(&piece.number)).cloned().collect();
        let standing = match (piece.standing, doubts.is_empty()) {
            (Standing::Refuse, _) => Standing::Refuse,
            (_, true) => Standing::Clear,
            (_, false) => Standing::Hold,
        };
        PieceView { doubts, standing, ..piece.clone() }
    }

    fn number(&self, number: &str) -> Option<PieceView> {
        self.pieces.iter().find(|piece| piece.number == number).map(|piece| self.reviewed(piece))
    }

    pub(super) fn settling(&self, number: &str) -> Vec<Message> {
        match self.number(number) {
            Some(piece) => {
                let own = self.review.tests.iter().filter(|test| test.piece == number);
                vec![Message::Settling { piece: Box::new(piece), tests: own.cloned().collect() }]
            }
            None => failed("no such piece", &[]),
        }
    }

    pub(super) fn groups(&self) -> Vec<OpenGroup> {
        let mut groups: Vec<OpenGroup> = Vec::new();
        for hold in &self.holds {
            let number = hold.piece.clone().unwrap_or_else(|| hold.lot.clone());
            match groups.iter_mut().find(|group| group.number == number) {
                Some(group) => group.doubts.push(hold.clone()),
                None => groups.push(OpenGroup {
                    scope: hold.scope,
                    number,
                    standing: hold.standing,
                    doubts: vec![hold.clone()],
                    at_risk: hold.at_risk,
                }),
            }
        }
        groups
    }

    /// Answers the effects of the review.
    pub(super) fn review(&mut self, effect: Effect) -> Vec<Message> {
        self.asked.push(effect.clone());
        if let Some(wanted) = self.pin_wanted(&effect) {
            return wanted;
        }
        match effect {
            Effect::LoadStock => vec![Message::Stock(NewestStock {
                pieces: self.review.stock.clone(),
                in_all: self.review.stock.len() as u32,
            })],
            Effect::LoadInstruments => {
                let view = self.review.instruments.clone();
                view.map(|view| Message::Instruments(Box::new(view))).into_iter().collect()
            }
            Effect::LoadPolicy => {
                let text = "[gate]\n# a check is inside from this probability on\ninside = \"0.95\"\n";
                let (origin, version) = (PolicyOrigin::Book, "0123456789ab".to_owned());
                vec![Message::Policy(PolicyView { origin, version, text: text.to_owned() })]
            }
            Effect::LoadReach { .. } => self
                .review
                .prospect
                .clone()
                .map(|prospect| Message::Reach(Box::new(prospect)))
                .into_iter()
                .collect(),
            Effect::LoadBudget { number } => {
                vec![Message::Budgets { number, budgets: self.review.budgets.clone() }]
            }
            Effect::LoadDay(day) => vec![Message::Day(Box::new(self.day(day)))],
            Effect::RecordTest { piece, test } => self.record(&piece, *test),
            Effect::ReadRecording { row, path } if path.contains("noise") => {
                let message =
                    "no strike found: the loudest sound stands out by 3.0 dB, allowed is at least 12 dB";
                let _ = row;
                failed(&format!("`{path}`: {message}"), &[])
            }
            Effect::ReadRecording { row, path } => {
                vec![Message::RecordingRead { row, path, recording: Box::new(recording()) }]
            }
            Effect::Settle { hold, .. } => {
                self.holds.retain(|open| open.id != hold);
                vec![Message::Decided("The doubt is settled.".to_owned())]
            }
            Effect::LoadSamples { lot } => self.samples(lot),
            Effect::DrawSample { lot, seed } => {
                self.review.samples.push(SampleView {
                    id: SampleId::new(uuid(900)),
                    lot: lot.clone(),
                    seed: seed.unwrap_or(7),
                    of: 5,
                    pieces: vec![format!("{lot}-01"), format!("{lot}-03")],
                    tested: Vec::new(),
                    agreed: 0,
                    disagreed: 0,
                    bound: "with 95 % confidence at most 3 of the 3 untested pieces could be wrong"
                        .to_owned(),
                });
                self.samples(lot)
            }
            Effect::SettleOnSample { lot, kind, .. } => {
                let tested =
                    self.review.samples.iter().any(|sample| sample.agreed as usize == sample.pieces.len());
                if !tested {
                    return failed("2 pieces of the sample are not tested yet", &[]);
                }
                self.holds.retain(|open| open.lot != lot || open.kind != kind);
                vec![Message::Decided("The doubts are settled on the sample.".to_owned())]
            }
            Effect::PartWith { pieces, ending, .. } => {
                self.holds.retain(|open| !open.piece.as_ref().is_some_and(|piece| pieces.contains(piece)));
                self.pieces.retain(|piece| !pieces.contains(&piece.number));
                let how = if ending == Ending::Surrendered { "surrendered" } else { "sent back" };
                vec![Message::Decided(format!("{} recorded as {how}.", pieces.join(", ")))]
            }
            Effect::Release { pieces, .. } => self.release(&pieces),
            Effect::WriteDay { path, files, .. } => {
                let endings = [("html", files.html), ("pdf", files.pdf)];
                let written = endings.iter().filter(|(_, wanted)| *wanted);
                vec![Message::Written(written.map(|(ending, _)| format!("{path}.{ending}")).collect())]
            }
            _ => Vec::new(),
        }
    }

    fn pin_wanted(&self, effect: &Effect) -> Option<Vec<Message>> {
        let wanted = self.review.pin.as_ref()?;
        let (Effect::Settle { pin, .. }
        | Effect::SettleOnSample { pin, .. }
        | Effect::PartWith { pin, .. }
        | Effect::Release { pin, .. }) = effect
        else {
            return None;
        };
        let message = match pin {
            Some(Pin(typed)) if typed == wanted => return None,
            Some(_) => "this is not the PIN of `ana`",
            None => "`ana` signs this with a PIN, and none was given",
        };
        let trouble = Trouble { message: message.to_owned(), hints: Vec::new() };
        Some(vec![Message::PinWanted { effect: Box::new(effect.clone()), trouble }])
    }

    fn samples(&self, lot: String) -> Vec<Message> {
        let samples = self.review.samples.iter().filter(|sample| sample.lot == lot).cloned().collect();
        vec![Message::Samples { lot, samples }]
    }

    fn release(&mut self, pieces: &[String]) -> Vec<Message> {
        let against: Vec<String> = self
            .holds
            .iter()
            .filter(|hold| hold.piece.as_ref().is_some_and(|piece| pieces.contains(piece)))
            .map(|hold| {
                let piece = hold.piece.as_deref().unwrap_or_default();
                format!("piece `{piece}`: {}: {}", hold.kind.label(), crate::cause(&hold.cause))
            })
            .collect();
        if !against.is_empty() {
            let lines: Vec<&str> = against.iter().map(String::as_str).collect();
            let message = format!("nothing was released: {} pieces may not become stock", pieces.len());
            return failed(&message, &lines);
        }
        let name = "fifty dollar gold coin, 31 U.S.C. 5112(a)(7)";
        let released: Vec<StockView> =
            pieces.iter().map(|piece| stock(piece, GOLD, name, Metal::Gold, 31.1035)).collect();
        self.review.stock.extend(released.clone());
        vec![Message::Released(released)]
    }

    /// Records a second test; every method but the magnet closes the doubts about what is inside.
    fn record(&mut self, number: &str, test: SecondTest) -> Vec<Message> {
        let Some(before) = self.number(number) else { return failed("no such piece", &[]) };
        let closes =
            |hold: &HoldView| hold.kind == DoubtKind::HiddenCore && !matches!(test, SecondTest::Magnet(_));
        let closed: Vec<HoldView> = before.doubts.iter().filter(|hold| closes(hold)).cloned().collect();
        self.holds.retain(|open| !closed.iter().any(|gone| gone.id == open.id));
        for sample in
            self.review.samples.iter_mut().filter(|sample| sample.pieces.iter().any(|piece| piece == number))
        {
            sample.agreed += 1;
        }
        let view = SecondTestView {
            id: SecondTestId::new(uuid(700 + self.review.tests.len() as u128)),
            piece: number.to_owned(),
            test,
            report: report(),
            at: at(200),
            operator: "ben".to_owned(),
        };
        self.review.tests.push(view.clone());
        let piece = self.number(number).expect("it was there before");
        let outcome = SecondTestOutcome { test: view, piece, closed, opened: Vec::new() };
        vec![Message::TestRecorded(Box::new(outcome))]
    }

    fn day(&self, day: Option<NaiveDate>) -> DayView {
        let worth = |metal, pieces, grams, value: Option<&str>| Worth {
            metal,
            pieces,
            fine: Mass::from_grams(grams),
            value: value.map(money),
        };
        let lots = self.shipments.first().into_iter().flat_map(|shipment| &shipment.lots).map(|lot| DayLot {
            lot: lot.clone(),
            source: "Moonpond Bullion (invented)".to_owned(),
            released: 1,
            sent_back: 0,
            surrendered: 0,
        });
        DayView {
            day: day.unwrap_or_else(|| NaiveDate::from_ymd_opt(2026, 3, 14).expect("a day")),
            desk: None,
            made_at: at(240),
            lots: lots.collect(),
            received: vec![
                worth(Metal::Gold, 3, 93.3105, Some("7200.00")),
                worth(Metal::Silver, 11, 269.44, None),
            ],
            sellable: vec![worth(Metal::Gold, 1, 31.1035, Some("2400.00"))],
            recalled: Vec::new(),
            on_hold: vec![
                worth(Metal::Gold, 1, 31.1035, Some("2400.00")),
                worth(Metal::Silver, 11, 269.44, None),
            ],
            at_risk: vec![worth(Metal::Gold, 1, 31.1035, Some("2400.00"))],
            doubts: vec![
                (DoubtKind::HiddenCore, 2, 0),
                (DoubtKind::WrongAlloy, 0, 1),
                (DoubtKind::WeightOrSize, 10, 0),
            ],
            second_tests: vec![(Method::Ring, 2)],
            decisions: vec![DecisionView {
                about: "S-0012/1-03".to_owned(),
                what: "hidden core settled".to_owned(),
                reason: "rings at the frequency of the exemplar".to_owned(),
                evidence: Some(SecondTestId::new(uuid(700))),
                hold: None,
                operator: "ben".to_owned(),
                at: at(210),
            }],
            instruments: vec!["scale: repeats to 0.004 g, error up to 0.01 g (assumed)".to_owned()],
            journal_rows: 118,
            journal_head: "4f8a1c0d".repeat(8),
            versions: (2, "0123456789ab".to_owned(), "default".to_owned()),
        }
    }
}

fn failed(message: &str, hints: &[&str]) -> Vec<Message> {
    let hints = hints.iter().map(|&hint| hint.to_owned()).collect();
    vec![Message::Failed(Trouble { message: message.to_owned(), hints })]
}

fn stock(number: &str, product: &str, name: &str, metal: Metal, fine: f64) -> StockView {
    StockView {
        id: super::PieceId::new(uuid(number.bytes().map(u128::from).sum())),
        piece: number.to_owned(),
        source: "Three Geese Estates (invented)".to_owned(),
        product: ProductId::new(product),
        product_name: name.to_owned(),
        metal,
        serial: Some("TG-7".to_owned()),
        gross: Some(Mass::from_grams(33.931)),
        fine: Mass::from_grams(fine),
        value: Some(money("2400.00")),
        price: Some(money("2400.00")),
        released_at: at(220),
        released_by: "ben".to_owned(),
        recalled: None,
    }
}

/// What a ring of a coin with a heavy core out of the question came to.
fn report() -> SecondTestReport {
    let frequency = |hz: f64| Figure::Frequency(Frequency::from_hertz(hz));
    SecondTestReport {
        method: Method::Ring,
        how: "lowest ring of the free coin against an exemplar".to_owned(),
        value: Some(frequency(5102.3)),
        u: Some(frequency(0.6)),
        declared: Some((frequency(5000.0), frequency(5204.0))),
        budget: vec![FigureLine {
            name: "frequency".to_owned(),
            u: frequency(0.6),
            source: "noise, decay and clock of the recording".to_owned(),
        }],
        outcome: Outcome::Inside,
        reason: "(5102.3 ± 1.2) Hz, k = 2, lies in the 5000 to 5204 Hz of the exemplar".to_owned(),
        excluded: vec![Excluded {
            material: MaterialId::new("tungsten-heavy"),
            name: "tungsten heavy alloy".to_owned(),
            construction: Construction::Core,
            skins: Vec::new(),
            whole: true,
            why: "ring: at least 31.0 u from all that it can show".to_owned(),
        }],
        not_told_apart: vec![NotToldApart {
            material: MaterialId::new("au-900"),
            name: "gold 900".to_owned(),
            construction: Construction::Solid,
            skins: Vec::new(),
            why: "U 1.2 Hz (k = 2), gap 40 Hz within ±2 % of the prediction".to_owned(),
        }],
        cautions: vec!["ring the free piece on a soft support".to_owned()],
    }
}

/// A recording with three partials and a hum.
pub fn recording() -> RingRecording {
    let lines = [(8020.0, 0.0), (5102.3, -6.0), (11_870.0, -22.0)];
    let level = |hz: f64| {
        let near = lines.iter().find(|(line, _)| (line - hz).abs() < 25.0);
        near.map_or(-75.0 + 8.0 * (hz / 700.0).sin(), |(_, level)| *level)
    };
    RingRecording {
        rate_hz: 48_000,
        channels: 1,
        bits: 16,
        duration_s: 1.8,
        strike_s: 0.42,
        decay_used_s: 0.9,
        partials: lines
            .iter()
            .map(|&(frequency_hz, level_db)| Partial {
                frequency_hz,
                uncertainty_hz: 0.6,
                level_db,
                decay_s: Some(0.21),
            })
            .collect(),
        rejected: vec![Rejected { frequency_hz: 350.0, level_db: -40.0, reason: Rejection::Mains(50) }],
        spectrum: (0..400)
            .map(|step| f64::from(step) * 50.0)
            .map(|frequency_hz| SpectrumPoint { frequency_hz, level_db: level(frequency_hz) })
            .collect(),
    }
}
