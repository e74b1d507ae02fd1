//! One piece through the desk: received, assessed, its plan carried out step by step with noise, until nothing is open or nothing is
//! left to do.

use super::adapter::{self, House, Stands, Step};
use super::eddy::Eddy;
use super::instruments::{Desk, Means};
use super::products::Spec;
use super::truth::{Face, Inside, Piece};
use scruple::evidence::{Coil, Measurand, PieceEvidence, Probe, RingingBody};
use scruple::metrology::seeded::SplitMix64;
use scruple::physics::ring::{Mode, plate_lambda_squared};
use scruple::quantity::Length;
use scruple::reference::Kind;
use scruple::scoring::{Assessment, Method};
use std::cell::OnceCell;

/// Most tests and repeats that anybody makes of one piece.
const PATIENCE: usize = 10;
/// Spots of a conductivity reading that is taken again.
const SPOTS_AGAIN: usize = 3;
/// A deeper probe as a desk would buy it for a face: outer radius from the inscribed one, inner from the outer.
const FACE_OVER_OUTER: f64 = 1.9;
const INNER_OVER_OUTER: f64 = 0.575;
/// A desk's probe of stepped frequency runs a little above the lowest that does.
const ABOVE_LOWEST: f64 = 1.03;

/// What every piece of one line is read with.
pub struct Line<'h> {
    house: &'h House,
    pub spec: &'static Spec,
    probe: &'h Probe,
    eddy: Eddy,
    lambda_squared: Option<f64>,
    like: Piece,
    skins: (f64, f64),
    deeper: OnceCell<(Probe, Eddy)>,
}

/// What became of a piece.
pub struct Passed {
    pub began: Stands,
    pub ended: Stands,
    /// Second tests and repeats.
    pub tests: usize,
    pub first: Assessment,
    pub last: Assessment,
}

impl<'h> Line<'h> {
    /// Prepares a line of pieces like one, with skins from and to.
    pub fn of(house: &'h House, spec: &'static Spec, like: Piece, skins: (f64, f64)) -> Self {
        let probe = house.probe(spec);
        let eddy = Eddy::of(probe, &like, skins);
        let lambda_squared = match like.face {
            Face::Disc(diameter) => {
                let poisson = match like.inside {
                    Inside::Core(core, _) => f64::midpoint(core.poisson, like.metal.poisson),
                    _ => like.metal.poisson,
                };
                plate_lambda_squared(Mode::LOWEST, poisson, 2.0 * like.field / diameter)
            }
            Face::Plate(..) => None,
        };
        Line { house, spec, probe, eddy, lambda_squared, like, skins, deeper: OnceCell::new() }
    }

    pub fn probe_name(&self) -> &str {
        &self.probe.name
    }

    fn deeper(&self, step: &Step) -> Option<&(Probe, Eddy)> {
        let frequency = step.frequency?;
        Some(self.deeper.get_or_init(|| {
            let outer = self.like.face.inscribed_radius() / FACE_OVER_OUTER;
            let mm = Length::from_millimetres;
            let coil = Coil { inner: mm(INNER_OVER_OUTER * outer), outer: mm(outer), length: None };
            let hertz = ABOVE_LOWEST * frequency.as_hertz();
            let probe = Probe {
                name: "deeper".to_owned(),
                frequency: Some(scruple::quantity::Frequency::from_hertz(hertz)),
                coil: Some(coil),
                ..self.probe.clone()
            };
            let eddy = Eddy::of(&probe, &self.like, self.skins);
            (probe, eddy)
        }))
    }

    /// Takes a piece through the desk; `sweeps` tells whether the operator sweeps where the plan says so, or stays on one spot.
    pub fn pass(&self, piece: &Piece, sweeps: bool, noise: &mut SplitMix64) -> Passed {
        let coin = self.spec.product().kind == Kind::Coin;
        let means = Means {
            probe: self.probe,
            eddy: &self.eddy,
            lambda_squared: self.lambda_squared,
            body: if coin { RingingBody::Struck } else { RingingBody::Flat },
            worn: self.spec.worn,
        };
        let mut desk = Desk::new(noise);
        let mut evidence = desk.receive(piece, &means);
        let first = self.house.assess(self.spec, &evidence);
        let (mut last, mut tests) = (first.clone(), 0);
        let mut repeated: Vec<Measurand> = Vec::new();
        let mut done: Vec<Step> = Vec::new();
        while tests < PATIENCE && !matches!(adapter::stands(&last), Stands::Refused | Stands::Clear) {
            let again = adapter::again(&last).into_iter().find(|measurand| !repeated.contains(measurand));
            if let Some(measurand) = again {
                repeated.push(measurand);
                self.repeat(measurand, piece, &mut desk, &mut evidence);
            } else if let Some(step) = adapter::next(&last).filter(|step| !done.contains(step)) {
                done.push(step);
                let step = Step { swept: step.swept && sweeps, ..step };
                let deeper = if step.method == Method::Conductivity { self.deeper(&step) } else { None };
                let deeper = deeper.map(|(probe, eddy)| (probe, eddy));
                let Some(test) = desk.perform(&step, piece, &means, deeper) else { break };
                evidence.second_tests.push(test);
            } else {
                break;
            }
            tests += 1;
            last = self.house.assess(self.spec, &evidence);
        }
        Passed { began: adapter::stands(&first), ended: adapter::stands(&last), tests, first, last }
    }

    /// Takes a reading again.
    fn repeat(&self, measurand: Measurand, piece: &Piece, desk: &mut Desk<'_>, evidence: &mut PieceEvidence) {
        match (measurand, piece.face) {
            (Measurand::Mass, _) => evidence.mass = Some(desk.weigh(piece.mass)),
            (Measurand::Thickness, _) => evidence.thickness = Some(desk.measure(piece.rim)),
            (Measurand::Diameter, Face::Disc(diameter)) => {
                evidence.diameter = Some(desk.measure(diameter));
            }
            (Measurand::Length, Face::Plate(length, _)) => evidence.length = Some(desk.measure(length)),
            (Measurand::Width, Face::Plate(_, width)) => evidence.width = Some(desk.measure(width)),
            (Measurand::Conductivity, _) => {
                evidence.conductivity = (0..SPOTS_AGAIN).map(|_| desk.spot(piece, &self.eddy)).collect();
            }
            _ => {}
        }
    }
}
