//! Doubts settled by people, with a reason, on evidence or on their own word.

use super::custody::at_the_desk;
use super::review_views::{OpenGroup, Role};
use super::second_tests::report_now;
use super::settle::{close, recount};
use super::settled::SettledDoubt;
use super::show::{kept_assessment, lot_of, piece_of, prices};
use super::views::HoldView;
use super::{AppError, Desk, ErrorKind, Setup, new_uuid, said};
use crate::intake::lifecycle::HoldEvent;
use crate::intake::{DecisionId, HoldId, PieceId, Refusal, SampleId, SecondTestId};
use crate::reference::MaterialId;
use crate::scoring::{Because, Construction, DoubtKind, Method, Outcome, Power, SecondTestReport};
use crate::store::{DecisionKind, Deed, HoldRow, NewDecision, Reader, SecondTestRow, Writer};
use serde_json::json;
use std::collections::HashMap;

/// What a settlement without a second test begins with.
const BY_DECISION: &str = "by decision, without a second test";

/// What a settlement rests on.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Ground {
    pub(super) evidence: Option<SecondTestId>,
    pub(super) sample: Option<SampleId>,
}

impl Desk {
    /// Settles an open doubt by a person's decision, on a second test or on the person's own word, and keeps it settled: the
    /// same doubt does not open again when the piece is scored again on the same readings.
    ///
    /// A second test is taken as evidence only when its own report can tell something about the doubt. Returns the hold, closed.
    ///
    /// # Errors
    /// `NotPermitted` without the role of a reviewer or the PIN, and for evidence that cannot tell, with its numbers; `Usage`
    /// without a reason; `Failed` for a hold that is closed, and for evidence of another piece.
    pub fn settle(
        &mut self,
        hold: HoldId,
        reason: &str,
        evidence: Option<SecondTestId>,
        pin: Option<&str>,
    ) -> Result<HoldView, AppError> {
        let reason = said("the reason", reason)?;
        self.allow(pin, Role::Reviewer)?;
        let act = self.act();
        let Desk { store, setup, .. } = self;
        store.write(&act, |writer| {
            let row = open_hold(writer.read(), hold)?;
            let doubt = SettledDoubt::behind(writer.read(), &row)?;
            let reason = match evidence {
                Some(test) => {
                    setup.check_evidence(writer.read(), &row, &doubt, test)?;
                    reason.clone()
                }
                None => format!("{BY_DECISION}: {reason}"),
            };
            let ground = Ground { evidence, sample: None };
            let decision = settle_hold(writer, &row, &doubt, &reason, ground)?;
            let payload = json!({
                "piece": row.piece.map(|piece| piece.to_string()),
                "lot": row.lot.to_string(),
                "hold": row.id.to_string(),
                "kind": row.kind.word(),
                "text": row.cause.key(),
                "decision": decision.to_string(),
                "evidence": evidence.map(|test| test.to_string()),
                "reason": reason,
            });
            writer.journal(Deed::HoldSettled, &payload, None)?;
            let reader = writer.read();
            let piece = row.piece.map(|piece| piece_of(reader, piece)).transpose()?;
            Ok(setup.show_hold(row.clone(), &lot_of(reader, row.lot)?, piece.as_ref(), &prices(reader)?))
        })
    }

    /// Returns the last second test of a method that may serve as evidence for settling a hold.
    ///
    /// # Errors
    /// `NotPermitted` when the method cannot tell what the doubt is about, with its numbers; `Failed` when none is recorded.
    pub fn evidence_of(&self, hold: HoldId, method: Method) -> Result<SecondTestId, AppError> {
        let reader = self.store.read();
        let row = open_hold(reader, hold)?;
        let pieces: Vec<PieceId> = match row.piece {
            Some(piece) => vec![piece],
            None => reader.pieces_of(row.lot)?.into_iter().map(|piece| piece.id).collect(),
        };
        let mut tests: Vec<SecondTestRow> = Vec::new();
        for piece in pieces {
            tests.extend(reader.second_tests_of(piece)?.into_iter().filter(|test| test.method == method));
        }
        if let Some(test) = tests.into_iter().max_by_key(|test| (test.at, test.id)) {
            let doubt = SettledDoubt::behind(reader, &row)?;
            self.setup.check_evidence(reader, &row, &doubt, test.id)?;
            return Ok(test.id);
        }
        check_offer(&row, method)?;
        let whose = whose(reader, &row)?;
        Err(AppError::failed(format!("no {} of {whose} is recorded", method.label()))
            .with_hint("record it with `scruple second`"))
    }

    /// Returns the open doubts grouped by piece and lot: the group with the most money at risk first.
    ///
    /// # Errors
    /// What the book says.
    pub fn open_groups(&self) -> Result<Vec<OpenGroup>, AppError> {
        let mut groups: Vec<OpenGroup> = Vec::new();
        let mut places: HashMap<String, usize> = HashMap::new();
        for hold in self.holds()? {
            let number = hold.piece.clone().unwrap_or_else(|| hold.lot.clone());
            match places.get(&number) {
                Some(place) => groups[*place].doubts.push(hold),
                None => {
                    places.insert(number.clone(), groups.len());
                    groups.push(OpenGroup {
                        scope: hold.scope,
                        number,
                        standing: hold.standing,
                        at_risk: hold.at_risk,
                        doubts: vec![hold],
                    });
                }
            }
        }
        // Stable: groups with the same money stay in the order of the holds, lot by lot.
        groups.sort_by_key(|group| {
            let money = group.at_risk.map(|money| std::cmp::Reverse(money.amount));
            (money.is_some(), money, std::cmp::Reverse(group.standing))
        });
        Ok(groups)
    }
}

impl Setup {
    /// Refuses a second test as evidence when it is of another piece, disagrees, or cannot tell what the doubt is about.
    fn check_evidence(
        &self,
        reader: Reader<'_>,
        hold: &HoldRow,
        doubt: &SettledDoubt,
        test: SecondTestId,
    ) -> Result<(), AppError> {
        let found = reader.second_test(test)?.filter(|test| !test.withdrawn);
        let test = found.ok_or_else(|| AppError::failed(format!("second test `{test}` is not in force")))?;
        let piece = piece_of(reader, test.piece)?;
        let belongs = match hold.piece {
            Some(piece) => piece == test.piece,
            None => hold.lot == piece.lot,
        };
        let whose = whose(reader, hold)?;
        if !belongs {
            let message = format!(
                "the {} is of piece `{}`, the doubt is of {whose}",
                test.method.label(),
                piece.number
            );
            return Err(AppError::failed(message));
        }
        let tests = reader.second_tests_of(piece.id)?;
        let place = tests.iter().position(|other| other.id == test.id).unwrap_or(usize::MAX);
        let report = report_now(&kept_assessment(reader, &piece)?.assessment, place, &test);
        let cannot = |why: &str| {
            let message =
                format!("{} cannot settle `{}` of {whose}: {why}", test.method.label(), hold.kind.label());
            Err(AppError::new(ErrorKind::NotPermitted, message)
                .with_hint("a reviewer may settle it without evidence, with a reason; the record says so"))
        };
        match report.outcome {
            Outcome::Inside => {}
            Outcome::Outside | Outcome::Marginal => {
                return cannot(&format!("it does not agree with the declaration: {}", report.reason));
            }
            _ => return cannot(&report.reason),
        }
        if doubt.about.is_empty() {
            check_offer(hold, test.method)
        } else {
            match untold(&report, doubt) {
                Some(why) => cannot(&why),
                None => Ok(()),
            }
        }
    }
}

/// Returns why a report tells nothing about something the doubt names; `None` when it tells something about each.
fn untold(report: &SecondTestReport, doubt: &SettledDoubt) -> Option<String> {
    let built = match doubt.kind {
        DoubtKind::HiddenCore => Construction::Core,
        _ => Construction::Solid,
    };
    let told = |material: &MaterialId| {
        let mut excluded = report.excluded.iter();
        excluded.any(|excluded| excluded.material == *material && excluded.construction == built)
    };
    let untold: Vec<&MaterialId> = doubt.about.iter().filter(|material| !told(material)).collect();
    let first = untold.first()?;
    let mut left = report.not_told_apart.iter();
    let why = left.find(|left| left.construction == built && untold.contains(&&left.material));
    Some(match why {
        Some(left) => format!("{}: {}", left.name, left.why),
        None => format!("it excludes nothing about `{first}`: {}", report.reason),
    })
}

/// Refuses a method that was not considered for a doubt, or that cannot tell.
fn check_offer(hold: &HoldRow, method: Method) -> Result<(), AppError> {
    let (label, kind) = (method.label(), hold.kind.label());
    match hold.offers.iter().find(|offer| offer.method == method) {
        Some(offer) if offer.power == Power::Cannot => {
            let why = match &offer.because {
                Because::NotHere { reason } | Because::Said { text: reason } => reason.as_str(),
                _ => "it reads what is open as it reads a good piece",
            };
            let message = format!("{label} cannot settle `{kind}`: {why}");
            Err(AppError::new(ErrorKind::NotPermitted, message))
        }
        Some(_) => Ok(()),
        None => {
            let allowed: Vec<String> = hold
                .offers
                .iter()
                .filter(|offer| offer.power != Power::Cannot)
                .map(|offer| format!("`{}`", offer.method.label()))
                .collect();
            let message = format!("{label} says nothing about `{kind}`; allowed are {}", allowed.join(", "));
            Err(AppError::new(ErrorKind::NotPermitted, message))
        }
    }
}

/// Returns a hold that must be open, of a piece that must be here.
fn open_hold(reader: Reader<'_>, hold: HoldId) -> Result<HoldRow, AppError> {
    let Some((row, open)) = reader.hold(hold)? else {
        return Err(AppError::failed(format!("hold `{hold}` is not in the book")));
    };
    if !open {
        return Err(AppError::refused(&whose(reader, &row)?, &Refusal::HoldClosed));
    }
    if let Some(piece) = row.piece {
        at_the_desk(&piece_of(reader, piece)?)?;
    }
    Ok(row)
}

/// Names the piece or lot of a hold.
fn whose(reader: Reader<'_>, hold: &HoldRow) -> Result<String, AppError> {
    Ok(match hold.piece {
        Some(piece) => format!("piece `{}`", piece_of(reader, piece)?.number),
        None => format!("lot `{}`", lot_of(reader, hold.lot)?.number),
    })
}

/// Writes the decision that settles a hold, closes the hold and counts its piece anew.
pub(super) fn settle_hold(
    writer: &Writer<'_>,
    hold: &HoldRow,
    doubt: &SettledDoubt,
    reason: &str,
    ground: Ground,
) -> Result<DecisionId, AppError> {
    let id = DecisionId::new(new_uuid(writer.act().at));
    writer.insert_decision(&NewDecision {
        id,
        kind: DecisionKind::Settled,
        lot: hold.lot,
        piece: hold.piece,
        hold: Some(hold.id),
        evidence: ground.evidence,
        sample: ground.sample,
        undoes: None,
        doubt: Some(doubt.json()),
        reason,
    })?;
    close(writer, hold, HoldEvent::Settled { reason }, "hold")?;
    if let Some(piece) = hold.piece {
        recount(writer, piece)?;
    }
    Ok(id)
}
