//! Lots: looked at as a whole, and their shared doubts settled on a random sample with acceptance number zero.

use super::custody::named_lot;
use super::lot_work::{Known, LotWork};
use super::review::{Ground, settle_hold};
use super::review_views::{Role, SampleView};
use super::settled::SettledDoubt;
use super::show::lot_of;
use super::views::LotView;
use super::{AppError, Desk, ErrorKind, Setup, new_uuid, said};
use crate::intake::{DecisionId, HoldOrigin, LotId, PieceId, SampleId, Whereabouts};
use crate::metrology::sampling::most_bad_not_excluded;
use crate::quantity::Money;
use crate::reference::MaterialId;
use crate::scoring::{Assessment, DoubtKind, LotAssessment, Outcome, Standing};
use crate::store::{Deed, HoldRow, NewSample, PieceRow, Reader, SampleRow, StoreError, Writer, digest};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use serde_json::json;
use std::collections::{BTreeMap, BTreeSet};

/// Most pieces that an error names.
const NAMED: usize = 6;

/// A doubt that a sample is to settle, as the book keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct SharedText {
    kind: DoubtKind,
    about: Vec<MaterialId>,
}

impl Desk {
    /// Returns what scoring says about a lot as a whole.
    ///
    /// # Errors
    /// What the book says.
    pub fn lot_assessment(&self, lot: LotId) -> Result<LotAssessment, AppError> {
        let work = LotWork::read(&self.setup, self.store.read(), lot_of(self.store.read(), lot)?)?;
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
            let work = LotWork::read(setup, reader, named_lot(reader, lot)?)?;
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
            let shared = work.shared_by(&pieces, here.shared.iter().map(|doubt| doubt.kind));
            let shared = serde_json::to_string(&shared).expect("shared doubts are words and identities");
            let id = SampleId::new(new_uuid(act.at));
            writer.insert_sample(&NewSample {
                id,
                lot: work.row.id,
                seed,
                lot_size: plan.lot,
                places: work.row.places,
                confidence: plan.confidence,
                detect_share: setup.policy.sampling.detect_shares[plan.record as usize],
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
        self.allow(pin, Role::Reviewer)?;
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            let reader = writer.read();
            let work = LotWork::read(setup, reader, named_lot(reader, lot)?)?;
            setup.refuse_bad(&work)?;
            let number = work.row.number;
            let Some(sample) = last_sample(reader, &work)? else {
                return Err(AppError::failed(format!("lot `{number}` has no sample"))
                    .with_hint("draw one with `scruple sample`"));
            };
            let found = shared_texts(&sample)?.into_iter().find(|shared| shared.kind == kind);
            let Some(shared) = found else {
                let message = format!("the sample of lot `{number}` was not drawn for `{}`", kind.label());
                return Err(AppError::failed(message));
            };
            let shared = work.settled_by(&sample, shared)?;
            let bound = work.bound(&sample, std::slice::from_ref(&shared))?;
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
    /// Refuses to work with samples once a piece is bad, wherever it is now.
    fn refuse_bad(&self, work: &LotWork) -> Result<(), AppError> {
        let lot = self.assess_work(work, work.row.logged, |_| true)?;
        if !lot.test_all {
            return Ok(());
        }
        let names = names(lot.bad.iter().filter_map(|key| work.piece(*key)));
        let message = format!(
            "lot `{}` cannot be settled on a sample: {names} is bad, so every piece is tested",
            work.row.number
        );
        Err(AppError::new(ErrorKind::NotPermitted, message))
    }

    fn show_sample(&self, work: &LotWork, sample: SampleRow) -> Result<SampleView, AppError> {
        let drawn: Vec<&Known> = work.drawn(&sample).collect();
        let count = |found: usize| u32::try_from(found).unwrap_or(u32::MAX);
        let disagreed = drawn.iter().filter(|known| disagrees(&known.assessment)).count();
        let number = |known: &Known| known.row.number.to_string();
        let tested: Vec<String> =
            drawn.iter().filter(|known| agrees(&known.assessment)).map(|known| number(known)).collect();
        let bound = if disagreed > 0 {
            "a piece of the sample disagrees: every piece of the lot is tested".to_owned()
        } else {
            format!("when all of them agree: {}", work.bound(&sample, &shared_texts(&sample)?)?)
        };
        Ok(SampleView {
            id: sample.id,
            lot: work.row.number.to_string(),
            seed: sample.seed,
            of: sample.lot_size,
            pieces: drawn.iter().map(|known| known.row.number.to_string()).collect(),
            agreed: count(tested.len()),
            tested,
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
        let work = LotWork::read(self, reader, lot_of(reader, lot)?)?;
        samples.into_iter().map(|sample| self.show_sample(&work, sample)).collect()
    }
}

impl LotWork {
    fn drawn(&self, sample: &SampleRow) -> impl Iterator<Item = &Known> {
        self.pieces.iter().filter(|known| sample.pieces.contains(&known.row.id))
    }

    /// Returns, for each kind of doubt, everything that one of the pieces drawn could be: what the sample can speak about.
    fn shared_by(&self, drawn: &[PieceId], kinds: impl Iterator<Item = DoubtKind>) -> Vec<SharedText> {
        let mut shared: BTreeMap<DoubtKind, BTreeSet<MaterialId>> = BTreeMap::new();
        for kind in kinds {
            let doubts = self
                .pieces
                .iter()
                .filter(|known| drawn.contains(&known.row.id))
                .flat_map(|known| &known.assessment.doubts)
                .filter(|doubt| doubt.kind == kind);
            shared.entry(kind).or_default().extend(doubts.flat_map(|doubt| doubt.about.iter().cloned()));
        }
        shared
            .into_iter()
            .map(|(kind, about)| SharedText { kind, about: about.into_iter().collect() })
            .collect()
    }

    /// Returns what of a shared doubt the sample settles: what no piece of it leaves open.
    ///
    /// # Errors
    /// While a piece of the sample has no second test that agrees, and when the sample settles nothing.
    fn settled_by(&self, sample: &SampleRow, mut shared: SharedText) -> Result<SharedText, AppError> {
        let untested: Vec<&PieceRow> =
            self.drawn(sample).filter(|known| !agrees(&known.assessment)).map(|known| &known.row).collect();
        let (drawn, number) = (sample.pieces.len(), self.row.number);
        if !untested.is_empty() {
            let message = format!(
                "{} of {drawn} pieces of the sample of lot `{number}` have no second test that agrees: {}",
                untested.len(),
                names(untested.into_iter())
            );
            return Err(AppError::failed(message));
        }
        let open: Vec<(&PieceRow, BTreeSet<&MaterialId>)> = self
            .drawn(sample)
            .filter_map(|known| Some((&known.row, known.left_open(shared.kind)?)))
            .collect();
        let before = shared.about.clone();
        shared.about.retain(|material| !open.iter().any(|(_, left)| left.contains(material)));
        if open.is_empty() || !shared.about.is_empty() {
            return Ok(shared);
        }
        let mut left: Vec<String> =
            before.iter().take(NAMED).map(|material| format!("`{material}`")).collect();
        if left.is_empty() {
            left.push(format!("`{}`", shared.kind.label()));
        }
        let message = format!(
            "the second tests of the sample of lot `{number}` leave {} open on {}",
            left.join(", "),
            names(open.iter().map(|(row, _)| *row))
        );
        Err(AppError::failed(message).with_hint("test those pieces by a method that settles the doubt"))
    }

    /// Says what the untested rest may still hold when the whole sample agrees.
    ///
    /// # Source
    /// Largest D with P(none found | D) > 1 − confidence, hypergeometric.
    fn bound(&self, sample: &SampleRow, shared: &[SharedText]) -> Result<String, AppError> {
        let tested = u32::try_from(sample.pieces.len()).unwrap_or(u32::MAX);
        let untested = sample.lot_size.saturating_sub(tested);
        if untested == 0 {
            return Ok("nothing is left untested".to_owned());
        }
        let most = most_bad_not_excluded(sample.lot_size, tested, 0, sample.confidence)
            .map_err(|error| AppError::failed(error.to_string()))?;
        let worth = self
            .pieces
            .iter()
            .flat_map(|known| known.assessment.survivors())
            .filter(|candidate| shared.iter().any(|doubt| doubt.about.contains(&candidate.material)))
            .filter_map(|candidate| candidate.displaced)
            .max_by(|a, b| a.amount.cmp(&b.amount));
        let value = worth.map_or(String::new(), |each| {
            let amount = (each.amount * Decimal::from(most)).round_dp(2);
            format!(", {} of them together", Money { amount, ..each })
        });
        let percent = 100.0 * sample.confidence;
        Ok(format!(
            "at most {most} of the {untested} pieces not tested may be wrong{value} ({percent} % confidence)"
        ))
    }
}

/// Closes the holds of a lot that a sample settles: those of pieces that doubt nothing else, and those of the lot.
fn settle_shared(
    writer: &Writer<'_>,
    work: &LotWork,
    sample: &SampleRow,
    shared: &SharedText,
    reason: &str,
) -> Result<Vec<DecisionId>, AppError> {
    let meant = |hold: &HoldRow| match hold.piece {
        None => true,
        Some(piece) => work.pieces.iter().map(|known| &known.row).any(|row| {
            row.id == piece && row.whereabouts == Whereabouts::Here && row.number.piece <= sample.places
        }),
    };
    let ground = Ground { evidence: None, sample: Some(sample.id) };
    let mut closed = Vec::new();
    for hold in writer.read().open_holds_in_lot(work.row.id)? {
        if hold.origin != HoldOrigin::Scoring || hold.kind != shared.kind || !meant(&hold) {
            continue;
        }
        let mut doubt = SettledDoubt::behind(writer.read(), &hold)?;
        let within = doubt.about.iter().all(|material| shared.about.contains(material))
            && doubt.about.is_empty() == shared.about.is_empty();
        if !within {
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
        work.drawn(sample).count() == sample.pieces.len() && sample.places == work.row.places
    }))
}

fn shared_texts(sample: &SampleRow) -> Result<Vec<SharedText>, AppError> {
    serde_json::from_str(&sample.shared)
        .map_err(|_| StoreError::Strange { column: "sample.shared", found: sample.shared.clone() }.into())
}

/// Tells whether a piece disagrees with its declaration.
fn disagrees(own: &Assessment) -> bool {
    own.standing == Standing::Refuse
        || own.second_tests.iter().any(|test| matches!(test.outcome, Outcome::Outside | Outcome::Marginal))
}

/// Tells whether a piece has a second test that agrees with the declaration, and none that does not.
fn agrees(own: &Assessment) -> bool {
    own.second_tests.iter().any(|test| test.outcome == Outcome::Inside) && !disagrees(own)
}

/// Names a few pieces.
fn names<'a>(pieces: impl Iterator<Item = &'a PieceRow>) -> String {
    let all: Vec<String> = pieces.map(|row| format!("`{}`", row.number)).collect();
    let more = all.len().saturating_sub(NAMED);
    let mut named: Vec<String> = all.into_iter().take(NAMED).collect();
    if more > 0 {
        named.push(format!("{more} more"));
    }
    named.join(", ")
}

/// Makes a seed of the random bits of an identity.
fn random_seed(identity: &str) -> u64 {
    digest(identity).get(..16).and_then(|digits| u64::from_str_radix(digits, 16).ok()).unwrap_or(0)
}
