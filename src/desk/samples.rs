//! Lots: looked at as a whole, and their shared doubts settled on a random sample with acceptance number zero.

use super::custody::named_lot;
use super::operators::authority;
use super::review::{Ground, settle_hold};
use super::review_views::{Role, SampleView};
use super::settle::evidence;
use super::settled::SettledDoubt;
use super::show::{kept_assessment, lot_of};
use super::views::LotView;
use super::{AppError, Desk, ErrorKind, Setup, new_uuid, said};
use crate::evidence::PieceEvidence;
use crate::intake::{DecisionId, HoldOrigin, LotId, PieceId, SampleId, Whereabouts};
use crate::reference::MaterialId;
use crate::scoring::{
    Assessment, Bound, DoubtKind, LotAssessment, LotDeclared, LotPiece, Outcome, PieceKey, Standing,
    assess_lot,
};
use crate::store::{Deed, HoldRow, LotRow, NewSample, PieceRow, Reader, SampleRow, Writer, digest};
use serde::{Deserialize, Serialize};
use serde_json::json;

/// Most pieces that an error names.
const NAMED: usize = 6;

/// A doubt that a sample is to settle, as the book keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct SharedText {
    kind: DoubtKind,
    about: Vec<MaterialId>,
}

/// The pieces of a lot with what is known of each, those that left the desk among them.
pub(super) struct LotWork {
    row: LotRow,
    pieces: Vec<(PieceRow, PieceEvidence, Assessment)>,
}

impl Desk {
    /// Returns what scoring says about a lot as a whole.
    ///
    /// # Errors
    /// What the book says.
    pub fn lot_assessment(&self, lot: LotId) -> Result<LotAssessment, AppError> {
        let work = LotWork::read(self.store.read(), lot_of(self.store.read(), lot)?)?;
        let declared = work.row.expected;
        self.setup.assess_work(&work, declared, |_| true)
    }

    /// Draws a random sample of a lot for the doubts that its pieces share, and keeps it with its seed.
    ///
    /// Without a seed one is drawn. A lot has one sample; another is drawn only after pieces were added or taken out.
    ///
    /// # Errors
    /// `Failed` when the pieces share no doubt or a sample stands; `NotPermitted` when a piece of the lot is bad.
    pub fn draw_sample(&mut self, lot: &str, seed: Option<u64>) -> Result<SampleView, AppError> {
        let act = self.act();
        let seed = seed.unwrap_or_else(|| random_seed(&new_uuid(act.at).to_string()));
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            let reader = writer.read();
            let work = LotWork::read(reader, named_lot(reader, lot)?)?;
            let number = work.row.number;
            setup.refuse_bad(&work)?;
            if let Some(standing) = last_sample(reader, &work)? {
                let message = format!(
                    "lot `{number}` has a sample of {} pieces already, drawn with seed {}",
                    standing.pieces.len(),
                    standing.seed
                );
                return Err(AppError::failed(message)
                    .with_hint("test those; drawing until the sample pleases proves nothing"));
            }
            let here = setup.assess_work(&work, 0, |row| row.whereabouts == Whereabouts::Here)?;
            let Some(plan) = here.plan.filter(|_| !here.shared.is_empty()) else {
                return Err(AppError::failed(format!("the pieces of lot `{number}` share no open doubt")));
            };
            let drawn = plan.sample(seed);
            let pieces: Vec<PieceId> =
                drawn.chosen.iter().filter_map(|key| work.piece(*key)).map(|row| row.id).collect();
            let shared: Vec<SharedText> = here
                .shared
                .iter()
                .map(|doubt| SharedText { kind: doubt.kind, about: doubt.about.clone() })
                .collect();
            let shared = serde_json::to_string(&shared).expect("shared doubts are words and identities");
            let id = SampleId::new(new_uuid(act.at));
            writer.insert_sample(&NewSample {
                id,
                lot: work.row.id,
                seed,
                lot_size: plan.lot,
                places: work.row.places,
                confidence: plan.confidence,
                detect_share: setup.policy.sampling.detect_share,
                pieces: &pieces,
                shared: &shared,
            })?;
            let payload = json!({
                "lot": work.row.id.to_string(),
                "number": number.to_string(),
                "sample": id.to_string(),
                "seed": seed.to_string(),
                "of": plan.lot,
                "pieces": pieces.iter().map(|piece| piece.to_string()).collect::<Vec<_>>(),
                "confidence": plan.confidence,
                "detects": plan.detects,
            });
            writer.journal(Deed::SampleDrawn, &payload, None)?;
            let kept = writer.read().samples_of(work.row.id)?.into_iter().find(|sample| sample.id == id);
            setup.show_sample(&work, kept.expect("the sample was kept in this transaction"))
        })
    }

    /// Returns the samples of a lot, oldest first.
    ///
    /// # Errors
    /// What the book says.
    pub fn samples(&self, lot: LotId) -> Result<Vec<SampleView>, AppError> {
        self.setup.samples_of(self.store.read(), lot)
    }

    /// Settles a doubt that the pieces of a lot share, because every piece of the sample has a second test that settles it and
    /// none disagrees. What the untested rest may still hold goes into the reason.
    ///
    /// # Errors
    /// `NotPermitted` without the role of a reviewer or the PIN, and when a piece is bad: then every piece is tested; `Failed`
    /// while a piece of the sample is not tested, or when nothing of that kind is open; `Usage` without a reason.
    pub fn settle_on_sample(
        &mut self,
        lot: &str,
        kind: DoubtKind,
        reason: &str,
        pin: Option<&str>,
    ) -> Result<LotView, AppError> {
        let reason = said("the reason", reason)?;
        authority(self.store.read(), &self.operator, pin, Role::Reviewer)?;
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            let reader = writer.read();
            let work = LotWork::read(reader, named_lot(reader, lot)?)?;
            setup.refuse_bad(&work)?;
            let number = work.row.number;
            let Some(sample) = last_sample(reader, &work)? else {
                return Err(AppError::failed(format!("lot `{number}` has no sample"))
                    .with_hint("draw one with `scruple sample`"));
            };
            let shared = shared_of(&sample, kind)?;
            if shared.is_empty() {
                let message = format!("the sample of lot `{number}` was not drawn for `{}`", kind.label());
                return Err(AppError::failed(message));
            }
            work.refuse_untested(&sample, &shared)?;
            let bound = setup.bound(&work, &sample, &shared)?;
            let words = format!(
                "{reason}; sample of {} of {} pieces, seed {}, all agree; {}",
                sample.pieces.len(),
                sample.lot_size,
                sample.seed,
                bound
            );
            let closed = settle_shared(writer, &work, &sample, &shared, &words)?;
            if closed.is_empty() {
                return Err(AppError::failed(format!(
                    "no doubt `{}` of lot `{number}` is open",
                    kind.label()
                )));
            }
            let payload = json!({
                "lot": work.row.id.to_string(),
                "number": number.to_string(),
                "sample": sample.id.to_string(),
                "kind": kind.word(),
                "decisions": closed.iter().map(|decision| decision.to_string()).collect::<Vec<_>>(),
                "reason": words,
            });
            writer.journal(Deed::LotSettled, &payload, None)?;
            Ok(setup.show_lot(lot_of(writer.read(), work.row.id)?, Vec::new()))
        })
    }
}

impl Setup {
    fn assess_work(
        &self,
        work: &LotWork,
        declared: u32,
        wanted: impl Fn(&PieceRow) -> bool,
    ) -> Result<LotAssessment, AppError> {
        let product = self.product(&work.row.product)?;
        let pieces: Vec<LotPiece<'_>> = work
            .pieces
            .iter()
            .filter(|(row, ..)| wanted(row))
            .map(|(row, evidence, assessment)| (PieceKey(row.number.piece), evidence, assessment))
            .collect();
        Ok(assess_lot(&self.rules(), &LotDeclared { product, quantity: declared }, &pieces))
    }

    /// Refuses to work with samples once a piece is bad, wherever it is now.
    fn refuse_bad(&self, work: &LotWork) -> Result<(), AppError> {
        let lot = self.assess_work(work, work.row.logged, |_| true)?;
        if !lot.test_all {
            return Ok(());
        }
        let names = work.names(lot.bad.iter().filter_map(|key| work.piece(*key)));
        let message = format!(
            "lot `{}` cannot be settled on a sample: {names} is bad, so every piece is tested",
            work.row.number
        );
        Err(AppError::new(ErrorKind::NotPermitted, message))
    }

    /// Says what the untested rest may still hold when the whole sample agrees.
    fn bound(&self, work: &LotWork, sample: &SampleRow, shared: &[SharedText]) -> Result<String, AppError> {
        let lot = self.assess_work(work, 0, |_| true)?;
        let worth = work
            .pieces
            .iter()
            .flat_map(|(.., assessment)| assessment.survivors())
            .filter(|candidate| shared.iter().any(|doubt| doubt.about.contains(&candidate.material)))
            .filter_map(|candidate| candidate.displaced)
            .max_by(|a, b| a.amount.cmp(&b.amount));
        let size = u32::try_from(sample.pieces.len()).unwrap_or(u32::MAX);
        let Some(plan) = lot.plan else { return Ok("nothing is left untested".to_owned()) };
        let plan = crate::scoring::SamplePlan { lot: sample.lot_size, confidence: sample.confidence, ..plan };
        let bound = plan.bound_after(size, 0, worth).map_err(|error| AppError::failed(error.to_string()))?;
        Ok(bound_in_words(&bound))
    }

    fn show_sample(&self, work: &LotWork, sample: SampleRow) -> Result<SampleView, AppError> {
        let shared: Vec<SharedText> = shared_texts(&sample)?;
        let drawn: Vec<&(PieceRow, PieceEvidence, Assessment)> =
            work.pieces.iter().filter(|(row, ..)| sample.pieces.contains(&row.id)).collect();
        let count = |found: usize| u32::try_from(found).unwrap_or(u32::MAX);
        let disagreed = drawn.iter().filter(|(.., assessment)| disagrees(assessment)).count();
        let agreed = drawn.iter().filter(|(.., own)| !disagrees(own) && is_settled(own, &shared)).count();
        let bound = if disagreed > 0 {
            "a piece of the sample disagrees: every piece of the lot is tested".to_owned()
        } else {
            format!("when all of them agree: {}", self.bound(work, &sample, &shared)?)
        };
        Ok(SampleView {
            id: sample.id,
            lot: work.row.number.to_string(),
            seed: sample.seed,
            of: sample.lot_size,
            pieces: drawn.iter().map(|(row, ..)| row.number.to_string()).collect(),
            agreed: count(agreed),
            disagreed: count(disagreed),
            bound,
        })
    }

    /// Returns the samples of a lot, oldest first.
    pub(super) fn samples_of(&self, reader: Reader<'_>, lot: LotId) -> Result<Vec<SampleView>, AppError> {
        let samples = reader.samples_of(lot)?;
        if samples.is_empty() {
            return Ok(Vec::new());
        }
        let work = LotWork::read(reader, lot_of(reader, lot)?)?;
        samples.into_iter().map(|sample| self.show_sample(&work, sample)).collect()
    }
}

impl LotWork {
    /// Reads the pieces of a lot with what is known of each.
    fn read(reader: Reader<'_>, row: LotRow) -> Result<Self, AppError> {
        let mut pieces = Vec::new();
        for piece in reader.pieces_of(row.id)? {
            let evidence = evidence(&reader.readings_in_force(piece.id)?, &reader.second_tests_of(piece.id)?);
            let assessment = kept_assessment(reader, &piece)?.assessment;
            pieces.push((piece, evidence, assessment));
        }
        Ok(LotWork { row, pieces })
    }

    fn piece(&self, key: PieceKey) -> Option<&PieceRow> {
        self.pieces.iter().map(|(row, ..)| row).find(|row| row.number.piece == key.0)
    }

    /// Names a few pieces.
    fn names<'a>(&self, pieces: impl Iterator<Item = &'a PieceRow>) -> String {
        let all: Vec<String> = pieces.map(|row| format!("`{}`", row.number)).collect();
        let more = all.len().saturating_sub(NAMED);
        let mut named: Vec<String> = all.into_iter().take(NAMED).collect();
        if more > 0 {
            named.push(format!("{more} more"));
        }
        named.join(", ")
    }

    /// Refuses while a piece of the sample has no second test that settles the doubt.
    fn refuse_untested(&self, sample: &SampleRow, shared: &[SharedText]) -> Result<(), AppError> {
        let open: Vec<&PieceRow> = self
            .pieces
            .iter()
            .filter(|(row, _, own)| sample.pieces.contains(&row.id) && !is_settled(own, shared))
            .map(|(row, ..)| row)
            .collect();
        if open.is_empty() {
            return Ok(());
        }
        let message = format!(
            "{} of {} pieces of the sample of lot `{}` have no second test that settles the doubt: {}",
            open.len(),
            sample.pieces.len(),
            self.row.number,
            self.names(open.iter().copied())
        );
        Err(AppError::failed(message))
    }
}

/// Closes the holds of a lot that a sample settles: those of pieces that doubt nothing else, and those of the lot.
fn settle_shared(
    writer: &Writer<'_>,
    work: &LotWork,
    sample: &SampleRow,
    shared: &[SharedText],
    reason: &str,
) -> Result<Vec<DecisionId>, AppError> {
    let meant = |hold: &HoldRow| match hold.piece {
        None => true,
        Some(piece) => work.pieces.iter().any(|(row, ..)| {
            row.id == piece && row.whereabouts == Whereabouts::Here && row.number.piece <= sample.places
        }),
    };
    let ground = Ground { evidence: None, sample: Some(sample.id) };
    let mut closed = Vec::new();
    for hold in writer.read().open_holds_in_lot(work.row.id)? {
        if hold.origin != HoldOrigin::Scoring || !meant(&hold) {
            continue;
        }
        let mut doubt = SettledDoubt::behind(writer.read(), &hold)?;
        let within = |about: &[MaterialId]| {
            shared.iter().any(|shared| {
                shared.kind == hold.kind
                    && about.iter().all(|material| shared.about.contains(material))
                    && about.is_empty() == shared.about.is_empty()
            })
        };
        if !within(&doubt.about) {
            continue;
        }
        if doubt.places.is_some() {
            doubt.places = Some(sample.places);
        }
        closed.push(settle_hold(writer, &hold, &doubt, reason, ground)?);
    }
    Ok(closed)
}

/// Returns the last sample of a lot while it stands: no piece was added since, none of its pieces was taken out.
fn last_sample(reader: Reader<'_>, work: &LotWork) -> Result<Option<SampleRow>, AppError> {
    let last = reader.samples_of(work.row.id)?.pop();
    Ok(last.filter(|sample| {
        let complete = sample.pieces.iter().all(|id| work.pieces.iter().any(|(row, ..)| row.id == *id));
        complete && sample.places == work.row.places
    }))
}

fn shared_texts(sample: &SampleRow) -> Result<Vec<SharedText>, AppError> {
    serde_json::from_str(&sample.shared).map_err(|_| {
        crate::store::StoreError::Strange { column: "sample.shared", found: sample.shared.clone() }.into()
    })
}

fn shared_of(sample: &SampleRow, kind: DoubtKind) -> Result<Vec<SharedText>, AppError> {
    let mut shared = shared_texts(sample)?;
    shared.retain(|doubt| doubt.kind == kind);
    Ok(shared)
}

/// Tells whether a piece disagrees with its declaration.
fn disagrees(own: &Assessment) -> bool {
    own.standing == Standing::Refuse
        || own.second_tests.iter().any(|test| matches!(test.outcome, Outcome::Outside | Outcome::Marginal))
}

/// Tells whether a piece has a second test that agrees, and raises none of the shared doubts any more.
fn is_settled(own: &Assessment, shared: &[SharedText]) -> bool {
    let tested = own.second_tests.iter().any(|test| test.outcome == Outcome::Inside);
    let raises = |doubt: &SharedText| {
        own.doubts.iter().any(|raised| {
            raised.kind == doubt.kind
                && (doubt.about.is_empty()
                    || raised.about.iter().any(|material| doubt.about.contains(material)))
        })
    };
    tested && !disagrees(own) && !shared.iter().any(raises)
}

/// Says what the untested rest may still hold.
fn bound_in_words(bound: &Bound) -> String {
    let percent = 100.0 * bound.confidence;
    let value = bound.value.map_or(String::new(), |value| format!(", {value}"));
    if bound.untested == 0 {
        return "nothing is left untested".to_owned();
    }
    format!(
        "of {} pieces not tested at most {} may be wrong{value} ({percent} % confidence)",
        bound.untested, bound.most_bad
    )
}

/// Makes a seed of the random bits of an identity.
fn random_seed(identity: &str) -> u64 {
    digest(identity).get(..16).and_then(|digits| u64::from_str_radix(digits, 16).ok()).unwrap_or(0)
}
