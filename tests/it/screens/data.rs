//! An invented desk in memory: it answers the effects of the screens as the real one would, from hand-made views.

use chrono::{DateTime, FixedOffset, Utc};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use scruple::desk::views::{
    Draft, DraftField, Echo, Field, HoldView, LotView, PieceView, ReadingView, ShipmentView,
};
use scruple::desk::{ActState, ActView, Hit, HitKind, Redone};
use scruple::evidence::{Amount, Measurand, Probe, Standardised};
use scruple::intake::{HoldId, LotId, PieceId, ReadingId, ShipmentId};
use scruple::present::spectrum::Marks;
use scruple::quantity::entry::parse;
use scruple::quantity::{Currency, Frequency, Length, Money};
use scruple::reference::{Catalogue, Mark, MaterialId, ProductId};
use scruple::scoring::{
    Assessment, Because, Candidate, Cause, Check, Construction, Cost, Damage, Doubt, DoubtKind, Exclusion,
    Explanation, Known, Method, Offer, Outcome, Policy, Power, Remark, Scope, Source, Standing, Step,
    Surroundings,
};
use scruple::tui::effect::{Effect, Then};
use scruple::tui::keymap::Key;
use scruple::tui::message::{Logged, Message, Opened, Trouble};
use scruple::tui::state::{Facts, Moment, ProbeLine, ProductLine, State};
use scruple::tui::update::{press, update};
use scruple::tui::view::draw;
use scruple::tui::view::style::Theme;
use std::collections::VecDeque;
use uuid::Uuid;

#[path = "review.rs"]
mod review;

pub use review::Review;

pub const GOLD: &str = "us-5112-a7";
pub const SILVER: &str = "us-1873-trade-dollar";

fn uuid(number: u128) -> Uuid {
    Uuid::from_u128(0x0190_0000_0000_7000_8000_0000_0000_0000 + number)
}

fn at(minutes: i64) -> DateTime<Utc> {
    DateTime::from_timestamp(1_773_500_000 + minutes * 60, 0).expect("a moment of March 2026")
}

fn money(text: &str) -> Money {
    Money::parse(text, Currency::parse("EUR").expect("a code")).expect("an amount")
}

fn lot(number: u32, product: &str, name: &str, expected: u32, serials: &[&str]) -> LotView {
    LotView {
        id: LotId::new(uuid(200 + u128::from(number))),
        shipment: ShipmentId::new(uuid(100)),
        number: format!("S-0012/{number}"),
        line: number,
        product: ProductId::new(product),
        product_name: name.to_owned(),
        expected,
        logged: 0,
        clear: 0,
        hold: 0,
        refuse: 0,
        lot_doubts: 0,
        serials_open: serials.iter().map(|&serial| serial.to_owned()).collect(),
        unit_cost: Some(money("2410.00")),
        standing: None,
    }
}

fn check(measurand: Measurand, value: f64, u: f64, lower: f64, upper: f64) -> Check {
    let used = (value - (lower + upper) / 2.0).abs() / ((upper - lower) / 2.0);
    let (outcome, reason) = match used {
        used if used > 1.3 => (Outcome::Outside, "outside by more than its uncertainty explains"),
        used if used > 0.9 => (Outcome::Marginal, "nearer to the limit than the reading can tell"),
        _ => (Outcome::Inside, "inside"),
    };
    let amount = |value: f64| Some(Amount::of(measurand, value));
    Check {
        measurand,
        value: amount(value),
        u: amount(u),
        lower: amount(lower),
        upper: amount(upper),
        mark: Mark::Read,
        limits_from: "31 U.S.C. 5112(a)(7)".to_owned(),
        probability: Some(0.97),
        shortfall: Some(0.03),
        tolerance_used: Some(used),
        outcome,
        reason: reason.to_owned(),
        budget: Vec::new(),
        negligible: false,
    }
}

fn candidate(name: &str, construction: Construction, survives: bool, doubt: Option<Scope>) -> Candidate {
    Candidate {
        material: MaterialId::new(name),
        name: name.into(),
        construction,
        survives,
        skins: if construction == Construction::Core {
            vec![(Length::from_millimetres(0.33), Length::from_millimetres(1.0))]
        } else {
            Vec::new()
        },
        hidden_share: (construction == Construction::Core).then_some(0.62),
        displaced: doubt.map(|_| money("1840.00")),
        material_doubt: doubt,
        practice: None,
        excluded_by: (!survives).then(|| Exclusion::Said("mass and size give 17.4 g/cm3, it has 8.9".into())),
        outside_model: false,
    }
}

/// What a method takes at the invented desk.
fn cost(method: Method) -> Cost {
    let (minutes, fee, damage) = match method {
        Method::Ring => (4, "0", Damage::None),
        Method::Ultrasound => (6, "0", Damage::Surface),
        Method::Immersion => (10, "0", Damage::Surface),
        Method::Assay => (30, "60", Damage::Destroys),
        _ => (3, "0", Damage::None),
    };
    Cost { minutes, fee: money(fee), damage }
}

fn offers() -> Vec<Offer> {
    let offer = |method, power, why: &str| Offer {
        cost: Some(cost(method)),
        ..Offer::new(method, power, Because::Said { text: why.to_owned() })
    };
    vec![
        offer(
            Method::Ultrasound,
            Power::Settles,
            "the echo comes after 1.11 us from tungsten, 1.77 us from gold",
        ),
        offer(Method::Ring, Power::Settles, "the disc rings at 5.1 kHz, with a core at 7.9 kHz"),
        offer(Method::Conductivity, Power::Narrows, "6 kHz looks 0.9 mm deep"),
        offer(Method::Immersion, Power::Cannot, "the densities differ by 0.03 g/cm3, the scale tells 0.05"),
    ]
}

/// A piece as scored: light is refused, above 34 g is on hold, the rest is clear.
pub fn piece(lot: &LotView, number: u128, mass: f64, diameter: f64, serial: Option<&str>) -> PieceView {
    let mut checks = vec![
        check(Measurand::Mass, mass, 0.008, 33.75, 34.25),
        check(Measurand::Diameter, diameter, 0.013, 32.5, 32.9),
        check(Measurand::Thickness, 2.87, 0.013, 2.7, 3.05),
        check(Measurand::Conductivity, 10.2, 0.12, 9.8, 11.2),
    ];
    let hold = mass > 34.0;
    let standing = match checks.iter().map(|check| check.outcome).find(|outcome| *outcome == Outcome::Outside)
    {
        Some(_) => Standing::Refuse,
        None if hold => Standing::Hold,
        None => Standing::Clear,
    };
    if standing == Standing::Refuse {
        checks[3] = Check {
            outcome: Outcome::NotUsable,
            reason: "coil larger than the flat field".to_owned(),
            ..checks[3].clone()
        };
    }
    let text = "tungsten heavy alloy under a skin of the alloy reads like this piece";
    let cause = Cause::Said { text: text.to_owned() };
    let doubt = Doubt::new(DoubtKind::HiddenCore, Scope::Piece, cause, offers());
    let doubts = if standing == Standing::Clear { Vec::new() } else { vec![doubt] };
    let id = PieceId::new(uuid(1000 * u128::from(lot.line) + number));
    let number = format!("{}-{number:02}", lot.number);
    PieceView {
        id,
        lot: lot.id,
        number: number.clone(),
        product: lot.product.clone(),
        product_name: lot.product_name.clone(),
        serial: serial.map(str::to_owned),
        readings: vec![
            reading(1, Measurand::Mass, &format!("{mass:.2}"), &format!("{mass:.2} g"), "± 0.008 g"),
            reading(2, Measurand::Diameter, "1.287 in", "32.69 mm", "± 0.013 mm"),
        ],
        assessment: Assessment {
            product: lot.product.clone(),
            standing,
            score: if standing == Standing::Clear { 0.987 } else { 0.713 },
            score_rests_on: checks.len(),
            checks,
            candidates: vec![
                candidate("fine gold", Construction::Solid, true, None),
                candidate("tungsten heavy alloy", Construction::Core, hold, hold.then_some(Scope::Piece)),
                candidate("copper", Construction::Solid, false, None),
            ],
            doubts: doubts.clone(),
            plan: None,
            second_tests: Vec::new(),
            remarks: vec![Remark::StrikeNotProved],
            skin_depth: Some(Length::from_millimetres(0.64)),
            proved_depth: Some(Length::from_millimetres(0.71)),
            engine: 1,
            reference: "0123456789ab".to_owned(),
            policy: "default".to_owned(),
            type_book: None,
        },
        doubts: doubts.iter().map(|doubt| open_doubt(lot, Some(number.clone()), doubt, standing)).collect(),
        standing,
        recalled: None,
        logged_at: at(30),
        operator: "ana".to_owned(),
    }
}

fn reading(id: u128, measurand: Measurand, text: &str, stored: &str, u: &str) -> ReadingView {
    ReadingView {
        id: ReadingId::new(uuid(id)),
        measurand,
        spot: 1,
        text: text.to_owned(),
        stored: stored.to_owned(),
        amount: stored.split(' ').next().and_then(|text| text.parse().ok()).map(|n| Amount::of(measurand, n)),
        uncertainty: Some(u.to_owned()),
        probe: None,
        reason: None,
        device_line: None,
    }
}

/// A number that no other doubt has.
fn hold_number(of: &str, kind: DoubtKind) -> u128 {
    let hash = of
        .bytes()
        .chain(kind.word().bytes())
        .fold(7u64, |hash, byte| hash.wrapping_mul(0x0100_0000_01b3).wrapping_add(u64::from(byte)));
    u128::from(hash)
}

fn open_doubt(lot: &LotView, piece: Option<String>, doubt: &Doubt, standing: Standing) -> HoldView {
    HoldView {
        id: HoldId::new(uuid(hold_number(piece.as_deref().unwrap_or(&lot.number), doubt.kind))),
        scope: doubt.scope,
        shipment: "S-0012".to_owned(),
        source: "Moonpond Bullion (invented)".to_owned(),
        lot: lot.number.clone(),
        piece,
        product: lot.product.clone(),
        product_name: lot.product_name.clone(),
        kind: doubt.kind,
        cause: doubt.cause.clone(),
        offers: doubt.offers.clone(),
        at_risk: Some(money("1840.00")),
        standing,
        operator: "MIRA".to_owned(),
        opened_at: at(30),
    }
}

pub fn facts() -> Facts {
    let (catalogue, policy) = (Catalogue::embedded(), Policy::built_in());
    let product = |id: &str, name: &str, metal: &str, mass: &str, diameter: &str| ProductLine {
        id: id.to_owned(),
        name: name.to_owned(),
        metal: metal.to_owned(),
        details: vec![
            ("mass".to_owned(), format!("{mass} (read)")),
            ("diameter".to_owned(), format!("{diameter} (read)")),
            ("source".to_owned(), "the statute that sets the denomination".to_owned()),
        ],
        around: catalogue.product(id).map(|product| Surroundings::of(product, catalogue, &policy)),
    };
    let probe = |name: &str, text: &str| ProbeLine {
        name: name.to_owned(),
        text: text.to_owned(),
        probe: Probe {
            name: name.to_owned(),
            frequency: parse::<Frequency>(text).ok().map(|entry| entry.value),
            coil: None,
            lift_off_range: None,
            edge_distance: None,
            standardised: Standardised::Unknown,
        },
    };
    Facts {
        products: vec![
            product(
                GOLD,
                "fifty dollar gold coin, 31 U.S.C. 5112(a)(7)",
                "gold 916.7",
                "33.931 g",
                "32.70 mm",
            ),
            product(SILVER, "trade dollar, Act of 12 February 1873", "silver 900", "27.216 g", "38.10 mm"),
            product("bar-gold-9999-100g", "gold bar of 100 g", "gold 999.9", "100.000 g", "none"),
        ],
        probes: vec![probe("pencil", "60 kHz"), probe("deep", "2 kHz")],
        offset: FixedOffset::east_opt(3600).expect("one hour east"),
        marks: Marks::Braille,
    }
}

/// The state of the screens with the invented desk behind it.
pub struct Desk {
    pub state: State,
    pub shipments: Vec<ShipmentView>,
    pub pieces: Vec<PieceView>,
    pub holds: Vec<HoldView>,
    /// Samples, second tests, stock, and the PIN that decisions need.
    pub review: Review,
    /// The draft as it is on disk.
    pub disk: Option<Draft>,
    /// Whether the disk takes anything.
    pub disk_full: bool,
    /// Whether the finder's answers wait until a test sends them.
    pub slow: bool,
    /// The operator's last acts, newest first.
    pub acts: Vec<ActView>,
    /// Rings since the start.
    pub rings: Vec<u8>,
    /// Everything else that was asked for.
    pub asked: Vec<Effect>,
    pub quit: bool,
    clock: u64,
}

impl Desk {
    /// A desk without a shipment.
    pub fn empty() -> Self {
        Desk {
            state: State::new(facts()),
            shipments: Vec::new(),
            pieces: Vec::new(),
            holds: Vec::new(),
            review: Review::default(),
            disk: None,
            disk_full: false,
            slow: false,
            acts: Vec::new(),
            rings: Vec::new(),
            asked: Vec::new(),
            quit: false,
            clock: 1000,
        }
    }

    /// A desk with two shipments, on the list of shipments.
    pub fn with_shipments() -> Self {
        let mut desk = Desk::empty();
        let name = "fifty dollar gold coin, 31 U.S.C. 5112(a)(7)";
        let mut silver = lot(2, SILVER, "trade dollar, Act of 12 February 1873", 20, &[]);
        silver.unit_cost = None;
        let lots = vec![lot(1, GOLD, name, 5, &["MB-0041", "MB-0042", "MB-0043"]), silver];
        let shipment = |number: u32, source: &str, lots: Vec<LotView>| ShipmentView {
            id: ShipmentId::new(uuid(88 + u128::from(number))),
            number: format!("S-{number:04}"),
            source: source.to_owned(),
            received_at: at(0),
            lots,
        };
        let old = LotView {
            logged: 12,
            clear: 11,
            refuse: 1,
            standing: Some(Standing::Refuse),
            number: "S-0011/1".to_owned(),
            id: LotId::new(uuid(299)),
            ..lot(1, GOLD, name, 12, &[])
        };
        desk.shipments = vec![
            shipment(12, "Moonpond Bullion (invented)", lots),
            shipment(11, "Three Geese Estates (invented)", vec![old]),
        ];
        let shipments = desk.shipments.clone();
        desk.send(Message::Shipments(shipments));
        desk
    }

    /// A desk with three acts that can be undone one after the other.
    pub fn with_acts() -> Self {
        let mut desk = Desk::with_pieces();
        let act = |sequence: i64, what: &str, state: ActState| ActView {
            sequence,
            at: at(sequence),
            what: what.to_owned(),
            about: "S-0012/1-02".to_owned(),
            state,
        };
        desk.acts = vec![
            act(9, "put on hold", ActState::Undone),
            act(8, "corrected mass to `33.90` of", ActState::Next),
            act(7, "logged", ActState::Waits),
        ];
        desk
    }

    /// A desk with the first lot on the bench.
    pub fn on_bench() -> Self {
        let mut desk = Desk::with_shipments();
        desk.keys("<Enter><Enter>");
        desk
    }

    /// A desk with three logged pieces on the bench: clear, hold, refuse.
    pub fn with_pieces() -> Self {
        let mut desk = Desk::on_bench();
        desk.keys("MB-0041<Enter>33.93<Enter>32.70<Enter>2.87<Enter>10.2<Enter><Enter><Enter>");
        desk.keys("MB-0042<Enter>31.20<Enter>32.70<Enter>2.87<Enter>10.2<Enter><Enter><Enter>");
        desk.keys("MB-0043<Enter>34.05<Enter>1.287 in<Enter>2.87<Enter>10.2<Enter><Enter><Enter>");
        desk
    }

    /// Presses keys as a person does, 200 ms apart: characters as they are, others as `<Enter>`, `<F1>`, `<C-n>`.
    pub fn keys(&mut self, script: &str) {
        self.press_all(script, 200);
    }

    /// Sends keys as a device does, 1 ms apart, after a pause.
    pub fn device(&mut self, script: &str) {
        self.clock += 500;
        self.press_all(script, 1);
    }

    fn press_all(&mut self, script: &str, pause: u64) {
        let mut rest = script;
        while let Some(c) = rest.chars().next() {
            let named = if c == '<' { rest.find('>').map(|end| (&rest[1..end], end + 1)) } else { None };
            let (key, length) = match named {
                Some((name, length)) => (key_named(name), length),
                None => (Key::Char(c), c.len_utf8()),
            };
            rest = &rest[length..];
            self.press(key, pause);
        }
    }

    pub fn press(&mut self, key: Key, pause: u64) {
        self.clock += pause;
        let effects = press(&mut self.state, key, Moment(self.clock));
        self.carry_out(effects);
    }

    pub fn send(&mut self, message: Message) {
        let effects = update(&mut self.state, message);
        self.carry_out(effects);
    }

    fn carry_out(&mut self, effects: Vec<Effect>) {
        let mut queue: VecDeque<Effect> = effects.into();
        while let Some(effect) = queue.pop_front() {
            for answer in self.answer(effect) {
                queue.extend(update(&mut self.state, answer));
            }
        }
    }

    fn lot_mut(&mut self, id: LotId) -> Option<&mut LotView> {
        self.shipments.iter_mut().flat_map(|shipment| &mut shipment.lots).find(|lot| lot.id == id)
    }

    fn answer(&mut self, effect: Effect) -> Vec<Message> {
        let failed = |text: &str| {
            vec![Message::Failed(Trouble { message: text.to_owned(), hints: vec!["a hint".to_owned()] })]
        };
        match effect {
            Effect::KeepDraft(draft) | Effect::SaveDraft(draft) => {
                if self.disk_full {
                    let message = "the disk is full; nothing more can be saved".to_owned();
                    return vec![Message::DraftNotSaved(Trouble { message, hints: Vec::new() })];
                }
                self.disk = Some(draft);
                vec![Message::DraftSaved]
            }
            Effect::Echo { index, field, text, .. } => echo(index, field, &text),
            Effect::Log(draft) => self.log(&draft),
            Effect::LoadShipments => vec![Message::Shipments(self.shipments.clone())],
            Effect::LoadHolds => vec![Message::Holds(self.groups())],
            Effect::OpenLot(id) | Effect::RefreshLot(id) => {
                let refresh = matches!(effect, Effect::RefreshLot(_));
                let Some(lot) = self.lot_mut(id).map(|lot| lot.clone()) else {
                    return vec![Message::LotGone(id)];
                };
                let pieces: Vec<PieceView> =
                    self.pieces.iter().filter(|piece| piece.lot == id).cloned().collect();
                if refresh {
                    return vec![Message::LotRefreshed { lot: Box::new(lot), pieces }];
                }
                let saved = self.disk.clone().filter(|draft| draft.lot == id);
                let draft = saved.unwrap_or_else(|| new_draft(id));
                let stored = |field: &DraftField| match &echo(0, field.field, &field.text)[0] {
                    Message::Echoed { echo, .. } if field.accepted => Some(echo.stored.clone()),
                    _ => None,
                };
                let echoes = draft.fields.iter().map(stored).collect();
                vec![Message::LotOpened(Box::new(Opened { lot, pieces, draft, echoes }))]
            }
            Effect::OpenPiece { number, then: Then::Settle } => self.settling(&number),
            Effect::OpenPiece { number, then } => {
                self.find(&number, then).unwrap_or_else(|| failed("no such piece"))
            }
            Effect::Find { text } => match self.find(&text, Then::ShowEvidence) {
                Some(found) => found,
                None => match self.shipments.iter().find(|shipment| shipment.number == text) {
                    Some(shipment) => vec![Message::FoundShipment(Box::new(shipment.clone()))],
                    None => failed("nothing has the number or the serial"),
                },
            },
            Effect::Bell(times) => {
                self.rings.push(times);
                Vec::new()
            }
            Effect::Quit => {
                self.quit = true;
                Vec::new()
            }
            Effect::Receive { .. } => {
                let rows = "row 2, column `product`: found `us-9999`, allowed is a product of the reference\nrow 5, \
                            column `quantity`: found `many`, allowed is a whole number from 1";
                self.asked.push(effect);
                failed(rows)
            }
            Effect::NewShipment { ref source } => {
                let shipment = ShipmentView {
                    id: ShipmentId::new(uuid(101)),
                    number: "S-0013".to_owned(),
                    source: source.clone(),
                    received_at: at(60),
                    lots: Vec::new(),
                };
                self.shipments.insert(0, shipment.clone());
                self.asked.push(effect);
                vec![Message::Received(Box::new(shipment))]
            }
            Effect::AddLine { shipment, ref product, quantity } => {
                let mut added = lot(1, product, "as the reference names it", quantity, &[]);
                added.shipment = shipment;
                added.number = "S-0013/1".to_owned();
                added.id = LotId::new(uuid(298));
                if let Some(known) = self.shipments.iter_mut().find(|known| known.id == shipment) {
                    known.lots.push(added.clone());
                }
                self.asked.push(effect);
                vec![Message::LineAdded(Box::new(added))]
            }
            Effect::Hold { piece, .. } | Effect::TakeBack { piece, .. } | Effect::Correct { piece, .. } => {
                let known = self.pieces.iter().find(|known| known.id == piece).cloned();
                self.asked.push(effect);
                known.map_or_else(
                    || failed("no such piece"),
                    |piece| vec![Message::PieceChanged { piece: Box::new(piece), text: "Done.".to_owned() }],
                )
            }
            Effect::Void { piece, .. } => {
                self.pieces.retain(|known| known.id != piece);
                self.asked.push(effect);
                vec![Message::Voided(piece)]
            }
            Effect::LoadActs => {
                self.asked.push(effect);
                vec![Message::LastActs(self.acts.clone())]
            }
            Effect::Undo { act } => {
                self.asked.push(effect);
                for known in self.acts.iter_mut().filter(|known| known.sequence == act) {
                    known.state = ActState::Undone;
                }
                vec![Message::Undone("The last piece is taken back.".to_owned())]
            }
            Effect::Redo { .. } => {
                self.asked.push(effect);
                vec![Message::Redone(Redone { words: "Done again.".to_owned(), in_hand: None })]
            }
            Effect::Search { text } => {
                let hits = self.hits(&text);
                match self.slow {
                    true => Vec::new(),
                    false => vec![Message::Hits { text, hits }],
                }
            }
            Effect::Explain { number, thing } => {
                self.asked.push(Effect::Explain { number: number.clone(), thing: thing.clone() });
                let explanation = Explanation {
                    cause: None,
                    title: thing.word(),
                    thing,
                    steps: vec![Step::new("two and two", "a + b", "2 + 2 = 4")],
                    result: "4".to_owned(),
                    sources: vec![Source::new("counted", Known::Measured)],
                    changes: vec!["another number".to_owned()],
                };
                vec![Message::Explained { number, explanation: Box::new(explanation) }]
            }
            Effect::Redraw => Vec::new(),
            Effect::SetUp { .. } | Effect::Demo => {
                self.asked.push(effect);
                Vec::new()
            }
            other => self.review(other),
        }
    }

    /// Returns the pieces whose number or serial begins so.
    pub fn hits(&self, text: &str) -> Vec<Hit> {
        let fits = |piece: &&PieceView| {
            piece.number.starts_with(text)
                || piece.serial.as_deref().is_some_and(|serial| serial.starts_with(text))
        };
        let hit = |piece: &PieceView| Hit {
            kind: HitKind::Piece,
            number: piece.number.clone(),
            serial: piece.serial.clone(),
            what: piece.product_name.clone(),
            lot: None,
            standing: Some(piece.standing),
            place: "at the desk".to_owned(),
            exact: piece.number == text || piece.serial.as_deref() == Some(text),
            at: piece.logged_at,
        };
        if text.is_empty() { Vec::new() } else { self.pieces.iter().filter(fits).map(hit).collect() }
    }

    fn find(&self, text: &str, then: Then) -> Option<Vec<Message>> {
        let has = |piece: &&PieceView| piece.number == text || piece.serial.as_deref() == Some(text);
        let piece = self.reviewed(self.pieces.iter().find(has)?);
        Some(vec![Message::PieceOpened { piece: Box::new(piece), then }])
    }

    fn log(&mut self, draft: &Draft) -> Vec<Message> {
        let text = |measurand: Measurand| {
            let field = draft.fields.iter().find(|field| field.field == Field::Reading(measurand, 1));
            field.map_or("", |field| field.text.as_str())
        };
        let number = |text: &str| text.split(' ').next().and_then(|text| text.parse::<f64>().ok());
        let mass = number(text(Measurand::Mass)).unwrap_or(33.93);
        let serial = draft.fields[0].text.clone();
        let count = self.pieces.iter().filter(|piece| piece.lot == draft.lot).count();
        let Some(lot) = self.lot_mut(draft.lot) else {
            return vec![Message::Failed(Trouble { message: "no such lot".to_owned(), hints: Vec::new() })];
        };
        let serial = (!serial.is_empty()).then_some(serial.as_str());
        let piece = piece(lot, count as u128 + 1, mass, 32.69, serial);
        lot.logged += 1;
        match piece.standing {
            Standing::Clear => lot.clear += 1,
            Standing::Hold => lot.hold += 1,
            Standing::Refuse => lot.refuse += 1,
        }
        lot.standing = lot.standing.max(Some(piece.standing));
        lot.serials_open.retain(|open| Some(open.as_str()) != serial);
        let lot = lot.clone();
        self.holds.extend(piece.doubts.iter().cloned());
        self.pieces.push(piece.clone());
        self.disk = None;
        vec![Message::Logged(Box::new(Logged { piece, lot, draft: new_draft(draft.lot) }))]
    }

    /// Returns the screen as text, and where the cursor is.
    pub fn screen(&self, width: u16, height: u16) -> String {
        let mut state = self.state.clone();
        (state.width, state.height) = (width, height);
        let mut terminal = Terminal::new(TestBackend::new(width, height)).expect("a terminal in memory");
        terminal.draw(|frame| draw(&state, Theme { colored: true }, frame)).expect("drawing in memory");
        let buffer = terminal.backend().buffer().clone();
        let mut text = String::new();
        for y in 0..height {
            let line: String = (0..width).map(|x| buffer[(x, y)].symbol()).collect();
            text.push_str(line.trim_end());
            text.push('\n');
        }
        let cursor = terminal.get_cursor_position().expect("a position");
        text.push_str(&format!("cursor {},{}\n", cursor.x, cursor.y));
        text
    }

    /// Returns the field with the focus and its text.
    pub fn focus(&self) -> (String, String) {
        let work = self.state.bench.work.as_ref().expect("a lot is open");
        let field = &work.draft.fields[work.draft.focus];
        (field.field.label(), work.input.value().to_owned())
    }

    /// Returns the text of a field by its label, and whether it is accepted.
    pub fn field(&self, label: &str) -> (String, bool) {
        let work = self.state.bench.work.as_ref().expect("a lot is open");
        let field = work.draft.fields.iter().find(|field| field.field.label() == label).expect("a field");
        (field.text.clone(), field.accepted)
    }
}

/// An empty draft of a round product with two spots.
pub fn new_draft(lot: LotId) -> Draft {
    let fields = [
        Field::Serial,
        Field::Reading(Measurand::Mass, 1),
        Field::Reading(Measurand::Diameter, 1),
        Field::Reading(Measurand::Thickness, 1),
        Field::Reading(Measurand::Conductivity, 1),
        Field::Reading(Measurand::Conductivity, 2),
        Field::Reading(Measurand::Temperature, 1),
    ];
    Draft { lot, fields: fields.into_iter().map(DraftField::empty).collect(), focus: 0, probe: None }
}

/// Understands a field: a number with an optional unit; ten times the expected mass is far off.
fn echo(index: usize, field: Field, text: &str) -> Vec<Message> {
    let Field::Reading(measurand, _) = field else {
        let echo = Echo { stored: text.to_owned(), question: None };
        return vec![Message::Echoed { index, echo }];
    };
    if text == "-" {
        return vec![Message::Echoed {
            index,
            echo: Echo { stored: "not measured".to_owned(), question: None },
        }];
    }
    let (number, unit) = text.split_once(' ').unwrap_or((text, measurand.units()[0].symbol));
    let Ok(value) = number.replace(',', ".").parse::<f64>() else {
        let message = format!(
            "{measurand} `{text}` is not a number such as `31.10 g`: one decimal mark, no thousands marks, no exponents"
        );
        return vec![Message::NotUnderstood { index, trouble: Trouble { message, hints: Vec::new() } }];
    };
    let value = if unit == "in" { value * 25.4 } else { value };
    let stored = format!("{value:.2} {}", measurand.units()[0].symbol);
    let far = measurand == Measurand::Mass && value > 100.0;
    let question = far.then(|| format!("{stored} is 10.0 times what this product lets expect, 33.93 g"));
    vec![Message::Echoed { index, echo: Echo { stored, question } }]
}

fn key_named(name: &str) -> Key {
    match name {
        "Enter" => Key::Enter,
        "LF" => Key::LineFeed,
        "Tab" => Key::Tab,
        "BackTab" => Key::BackTab,
        "Esc" => Key::Esc,
        "Up" => Key::Up,
        "Down" => Key::Down,
        "Left" => Key::Left,
        "Right" => Key::Right,
        "Home" => Key::Home,
        "End" => Key::End,
        "PgUp" => Key::PageUp,
        "PgDn" => Key::PageDown,
        "BS" => Key::Backspace,
        "Del" => Key::Delete,
        _ => match (name.strip_prefix("C-"), name.strip_prefix('F')) {
            (Some(letter), _) => Key::Ctrl(letter.chars().next().expect("a letter")),
            (None, Some(number)) => Key::F(number.parse().expect("a number")),
            (None, None) => panic!("no key is named {name}"),
        },
    }
}
