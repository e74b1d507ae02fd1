//! Decisions that people took: insert-only; one that takes another back names it.

use super::connection::{Reader, Writer};
use super::error::StoreError;
use super::row::{Id, id, maybe_id, time, word};
use crate::intake::{DecisionId, HoldId, LotId, PieceId, SampleId, SecondTestId};
use chrono::{DateTime, Utc};
use rusqlite::{Params, Row};

/// What was decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DecisionKind {
    /// A doubt was settled.
    Settled,
    /// A settlement was taken back.
    Reopened,
    /// A piece went back to its source.
    SentBack,
    /// A send-back was taken back.
    SendBackUndone,
    /// A piece was handed to the authorities.
    Surrendered,
    /// A piece became stock.
    Released,
    /// A release was taken back.
    ReleaseUndone,
}

impl DecisionKind {
    /// All kinds.
    pub const ALL: [DecisionKind; 7] = [
        DecisionKind::Settled,
        DecisionKind::Reopened,
        DecisionKind::SentBack,
        DecisionKind::SendBackUndone,
        DecisionKind::Surrendered,
        DecisionKind::Released,
        DecisionKind::ReleaseUndone,
    ];

    /// Returns the word kept in the book.
    pub fn word(self) -> &'static str {
        match self {
            DecisionKind::Settled => "settled",
            DecisionKind::Reopened => "reopened",
            DecisionKind::SentBack => "sent_back",
            DecisionKind::SendBackUndone => "send_back_undone",
            DecisionKind::Surrendered => "surrendered",
            DecisionKind::Released => "released",
            DecisionKind::ReleaseUndone => "release_undone",
        }
    }

    /// Returns the kind with the given word.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}

/// A decision in the book.
#[derive(Debug, Clone, PartialEq)]
pub struct DecisionRow {
    /// Identity.
    pub id: DecisionId,
    /// What was decided.
    pub kind: DecisionKind,
    /// The lot.
    pub lot: LotId,
    /// The piece; `None` when it is about the whole lot.
    pub piece: Option<PieceId>,
    /// The hold that it closed or opened again.
    pub hold: Option<HoldId>,
    /// The second test it rests on.
    pub evidence: Option<SecondTestId>,
    /// The sample it rests on.
    pub sample: Option<SampleId>,
    /// The decision it takes back.
    pub undoes: Option<DecisionId>,
    /// What exactly was settled, as JSON.
    pub doubt: Option<String>,
    /// Why.
    pub reason: String,
    /// When.
    pub at: DateTime<Utc>,
    /// Who.
    pub operator: String,
}

/// A decision that is to be written.
#[derive(Debug, Clone, PartialEq)]
pub struct NewDecision<'a> {
    /// Identity.
    pub id: DecisionId,
    /// What is decided.
    pub kind: DecisionKind,
    /// The lot.
    pub lot: LotId,
    /// The piece; `None` when it is about the whole lot.
    pub piece: Option<PieceId>,
    /// The hold that it closes or opens again.
    pub hold: Option<HoldId>,
    /// The second test it rests on.
    pub evidence: Option<SecondTestId>,
    /// The sample it rests on.
    pub sample: Option<SampleId>,
    /// The decision it takes back.
    pub undoes: Option<DecisionId>,
    /// What exactly is settled, as JSON.
    pub doubt: Option<String>,
    /// Why.
    pub reason: &'a str,
}

const DECISION: &str =
    "SELECT id, kind, lot, piece, hold, evidence, sample, undoes, doubt, reason, at_ms, operator
    FROM decision";
const IN_FORCE: &str = "NOT EXISTS (SELECT 1 FROM decision AS later WHERE later.undoes = decision.id)";

fn decision_row(row: &Row<'_>) -> Result<DecisionRow, StoreError> {
    Ok(DecisionRow {
        id: id(row, "id")?,
        kind: word(row, "kind", DecisionKind::named)?,
        lot: id(row, "lot")?,
        piece: maybe_id(row, "piece")?,
        hold: maybe_id(row, "hold")?,
        evidence: maybe_id(row, "evidence")?,
        sample: maybe_id(row, "sample")?,
        undoes: maybe_id(row, "undoes")?,
        doubt: row.get("doubt")?,
        reason: row.get("reason")?,
        at: time(row, "at_ms")?,
        operator: row.get("operator")?,
    })
}

impl Writer<'_> {
    /// Writes a decision.
    ///
    /// # Errors
    /// `Refused` for evidence of another lot or piece, and for taking back what was taken back.
    pub fn insert_decision(&self, new: &NewDecision<'_>) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO decision (id, kind, lot, piece, hold, evidence, sample, undoes, doubt, reason, at_ms,
                 operator) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
            )?
            .execute((
                new.id.column(),
                new.kind.word(),
                new.lot.column(),
                new.piece.as_ref().map(Id::column),
                new.hold.as_ref().map(Id::column),
                new.evidence.as_ref().map(Id::column),
                new.sample.as_ref().map(Id::column),
                new.undoes.as_ref().map(Id::column),
                &new.doubt,
                new.reason,
                self.at_ms(),
                &self.act.operator,
            ))?;
        Ok(())
    }
}

impl Reader<'_> {
    /// Returns a decision.
    ///
    /// # Errors
    /// What the database says.
    pub fn decision(&self, decision: DecisionId) -> Result<Option<DecisionRow>, StoreError> {
        Ok(self.select_decisions("WHERE id = ?1", [decision.column()])?.pop())
    }

    /// Tells whether a decision was not taken back.
    ///
    /// # Errors
    /// What the database says.
    pub fn decision_is_in_force(&self, decision: DecisionId) -> Result<bool, StoreError> {
        let rest = format!("WHERE id = ?1 AND {IN_FORCE}");
        Ok(!self.select_decisions(&rest, [decision.column()])?.is_empty())
    }

    /// Returns the settlements of a piece that are in force, oldest first.
    ///
    /// # Errors
    /// What the database says.
    pub fn settlements_of_piece(&self, piece: PieceId) -> Result<Vec<DecisionRow>, StoreError> {
        let rest = format!("WHERE piece = ?1 AND kind = 'settled' AND {IN_FORCE} ORDER BY at_ms, id");
        self.select_decisions(&rest, [piece.column()])
    }

    /// Returns the settlements of a lot itself that are in force, oldest first.
    ///
    /// # Errors
    /// What the database says.
    pub fn settlements_of_lot(&self, lot: LotId) -> Result<Vec<DecisionRow>, StoreError> {
        let rest = format!(
            "WHERE lot = ?1 AND piece IS NULL AND kind = 'settled' AND {IN_FORCE} ORDER BY at_ms, id"
        );
        self.select_decisions(&rest, [lot.column()])
    }

    /// Returns the decisions about a piece and about its lot as a whole, oldest first.
    ///
    /// # Errors
    /// What the database says.
    pub fn decisions_about(&self, lot: LotId, piece: PieceId) -> Result<Vec<DecisionRow>, StoreError> {
        self.select_decisions(
            "WHERE piece = ?2 OR (lot = ?1 AND piece IS NULL) ORDER BY at_ms, id",
            (lot.column(), piece.column()),
        )
    }

    /// Returns the decisions from one moment up to but not including another, oldest first.
    ///
    /// # Errors
    /// What the database says.
    pub fn decisions_between(
        &self,
        from: DateTime<Utc>,
        to: DateTime<Utc>,
    ) -> Result<Vec<DecisionRow>, StoreError> {
        self.select_decisions(
            "WHERE at_ms >= ?1 AND at_ms < ?2 ORDER BY at_ms, id",
            (from.timestamp_millis(), to.timestamp_millis()),
        )
    }

    fn select_decisions(&self, rest: &str, params: impl Params) -> Result<Vec<DecisionRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(&format!("{DECISION} {rest}"))?;
        statement.query_and_then(params, decision_row)?.collect()
    }
}
