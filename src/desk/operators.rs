//! Who works at the desk, and what each may do.

use super::review_views::{OperatorView, Role};
use super::{AppError, Desk, ErrorKind, new_uuid, said};
use crate::store::{Deed, OperatorRow, PinOutcome, Reader, WrongTries};
use argon2::Argon2;
use argon2::password_hash::{PasswordHash, PasswordHasher, PasswordVerifier, SaltString};
use chrono::{DateTime, Duration, Utc};
use serde_json::json;

/// Wrong PINs in a row before the next try has to wait.
const FREE_TRIES: u32 = 3;
/// How long the first wait is.
const FIRST_WAIT: Duration = Duration::seconds(30);
/// How long a wait becomes at most.
const LONGEST_WAIT: Duration = Duration::hours(1);
/// Characters that a PIN may have.
const PIN_LENGTH: std::ops::RangeInclusive<usize> = 4..=64;

impl Role {
    /// All roles, the least first.
    pub const ALL: [Role; 3] = [Role::Receiver, Role::Reviewer, Role::Owner];

    /// Returns the word kept in the book.
    pub fn word(self) -> &'static str {
        match self {
            Role::Receiver => "receiver",
            Role::Reviewer => "reviewer",
            Role::Owner => "owner",
        }
    }

    /// Returns the role with the given word.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.word() == word)
    }
}

impl Desk {
    /// Returns the operators in the order of their names; while there is none, whoever works is the owner.
    ///
    /// # Errors
    /// What the book says.
    pub fn operators(&self) -> Result<Vec<OperatorView>, AppError> {
        let rows = self.store.read().operators()?.into_iter();
        Ok(rows
            .map(|row| OperatorView {
                role: Role::named(&row.role).unwrap_or(Role::Receiver),
                has_pin: row.pin_hash.is_some(),
                name: row.name,
            })
            .collect())
    }

    /// Enters an operator, or changes role and PIN of one; without a PIN the operator has none.
    ///
    /// The first operator of a book is its owner. Later only an owner may do this, after [`Desk::sign_in`] when the owner has
    /// a PIN.
    ///
    /// # Errors
    /// `Usage` for an empty name or a PIN that is too short, `NotPermitted` for anybody but an owner, and when no owner would be
    /// left.
    pub fn add_operator(
        &mut self,
        name: &str,
        role: Role,
        pin: Option<&str>,
    ) -> Result<OperatorView, AppError> {
        let name = said("the name", name)?;
        let known = self.operators()?;
        if known.is_empty() && role != Role::Owner {
            let message = format!("the first operator of a book is its owner, not a {}", role.word());
            return Err(AppError::new(ErrorKind::NotPermitted, message));
        }
        self.owner_acts()?;
        let others_own = known.iter().any(|other| other.role == Role::Owner && other.name != name);
        if !known.is_empty() && role != Role::Owner && !others_own {
            let message = format!("`{name}` is the only owner; a book keeps one");
            return Err(AppError::new(ErrorKind::NotPermitted, message));
        }
        let act = self.act();
        let pin_hash = pin.map(|pin| hash(pin, new_uuid(act.at).as_bytes())).transpose()?;
        let has_pin = pin_hash.is_some();
        self.store.write(&act, |writer| {
            writer.insert_operator(&OperatorRow {
                name: name.clone(),
                role: role.word().to_owned(),
                pin_hash,
            })?;
            if has_pin {
                writer.insert_pin_try(&name, PinOutcome::Set)?;
            }
            let payload = json!({ "name": name, "role": role.word(), "has_pin": has_pin });
            writer.journal(Deed::OperatorSet, &payload, None)?;
            Ok::<_, AppError>(())
        })?;
        Ok(OperatorView { name, role, has_pin })
    }

    /// Signs the operator in for acts of the owner, until the desk is closed.
    ///
    /// # Errors
    /// `NotPermitted` for a wrong PIN, for any PIN while wrong ones make the next try wait, or a name that is not in the book.
    pub fn sign_in(&mut self, pin: &str) -> Result<Role, AppError> {
        let role = self.allow(Some(pin), Role::Receiver)?;
        self.signed_in = true;
        Ok(role)
    }

    /// Checks that the operator may do what needs a role, with the PIN where the operator has one; signs nobody in.
    ///
    /// A wrong PIN is kept in the book: after three in a row each further try has to wait, longer each time.
    ///
    /// # Errors
    /// `NotPermitted` with the reason.
    pub(super) fn allow(&mut self, pin: Option<&str>, least: Role) -> Result<Role, AppError> {
        let act = self.act();
        let name = self.operator.as_str();
        let Some(worker) = worker(self.store.read(), name, least)? else { return Ok(Role::Owner) };
        let (Some(kept), Some(pin)) = (&worker.pin_hash, pin) else { return without_pin(name, &worker) };
        // Counted and checked in one transaction: many programs that try at once are no faster than one.
        self.store.write(&act, |writer| {
            let wrong = writer.read().wrong_pin_tries(name)?;
            if let Some(until) = wrong.and_then(|wrong| waits_until(wrong, act.at)) {
                return Ok(Err(too_many(name, wrong.map_or(0, |wrong| wrong.count), until)));
            }
            if is_pin(kept, pin) {
                if wrong.is_some() {
                    writer.insert_pin_try(name, PinOutcome::Right)?;
                    writer.journal(Deed::PinAccepted, &json!({ "name": name }), None)?;
                }
                return Ok(Ok(worker.role));
            }
            writer.insert_pin_try(name, PinOutcome::Wrong)?;
            let count = wrong.map_or(0, |wrong| wrong.count).saturating_add(1);
            writer.journal(Deed::PinRefused, &json!({ "name": name, "wrong": count }), None)?;
            let error = AppError::new(ErrorKind::NotPermitted, format!("this is not the PIN of `{name}`"));
            Ok::<_, AppError>(Err(match waits_until(WrongTries { count, last: act.at }, act.at) {
                Some(until) => error.with_hint(format!("the next try is taken from {} on", shown(until))),
                None => error,
            }))
        })?
    }

    /// Checks that an owner works, signed in when that owner has a PIN.
    pub(super) fn owner_acts(&self) -> Result<(), AppError> {
        match worker(self.store.read(), &self.operator, Role::Owner)? {
            Some(worker) if !self.signed_in => without_pin(&self.operator, &worker).map(|_| ()),
            _ => Ok(()),
        }
    }
}

/// An operator as far as acts ask.
struct Worker {
    role: Role,
    pin_hash: Option<String>,
}

/// Finds an operator and checks the role; `None` while the book names no operator, so that whoever works is the owner.
fn worker(reader: Reader<'_>, operator: &str, least: Role) -> Result<Option<Worker>, AppError> {
    let operators = reader.operators()?;
    if operators.is_empty() {
        return Ok(None);
    }
    let Some(row) = operators.into_iter().find(|row| row.name == operator) else {
        let message = format!("`{operator}` is not an operator of this book");
        return Err(AppError::new(ErrorKind::NotPermitted, message)
            .with_hint("an owner enters operators with `scruple operator add`"));
    };
    let role = Role::named(&row.role).unwrap_or(Role::Receiver);
    enough(operator, role, least)?;
    Ok(Some(Worker { role, pin_hash: row.pin_hash }))
}

/// Lets an operator act who has no PIN.
fn without_pin(operator: &str, worker: &Worker) -> Result<Role, AppError> {
    if worker.pin_hash.is_none() {
        return Ok(worker.role);
    }
    let message = format!("`{operator}` signs this with a PIN, and none was given");
    Err(AppError::new(ErrorKind::NotPermitted, message))
}

/// Returns until when wrong PINs make the next try wait; `None` when it need not wait.
///
/// The wait doubles with each wrong PIN. A clock that stands before the last try was set back: that try is taken, and the
/// wait counts from it.
fn waits_until(wrong: WrongTries, now: DateTime<Utc>) -> Option<DateTime<Utc>> {
    let more = wrong.count.checked_sub(FREE_TRIES)?;
    let wait = FIRST_WAIT.checked_mul(1 << more.min(16)).unwrap_or(LONGEST_WAIT).min(LONGEST_WAIT);
    let until = wrong.last + wait;
    (wrong.last <= now && now < until).then_some(until)
}

/// Says that wrong PINs make the next try wait.
fn too_many(operator: &str, count: u32, until: DateTime<Utc>) -> AppError {
    let message = format!(
        "`{operator}` has typed {count} wrong PINs in a row; the next try is taken from {} on",
        shown(until)
    );
    AppError::new(ErrorKind::NotPermitted, message)
        .with_hint("an owner can set a new PIN with `scruple operator add`")
}

fn shown(at: DateTime<Utc>) -> String {
    at.format("%Y-%m-%d %H:%M:%S UTC").to_string()
}

/// Tells whether more than one person works at the desk, so that two pairs of eyes can be asked for.
pub(super) fn is_shared_desk(reader: Reader<'_>) -> Result<bool, AppError> {
    Ok(reader.operators()?.len() > 1)
}

fn enough(operator: &str, role: Role, least: Role) -> Result<(), AppError> {
    if role >= least {
        return Ok(());
    }
    let message = format!("`{operator}` is a {}; this needs a {}", role.word(), least.word());
    Err(AppError::new(ErrorKind::NotPermitted, message))
}

/// Hashes a PIN with Argon2id and the parameters its authors recommend for the crate's version.
fn hash(pin: &str, salt: &[u8]) -> Result<String, AppError> {
    let length = pin.chars().count();
    if !PIN_LENGTH.contains(&length) {
        let (least, most) = (PIN_LENGTH.start(), PIN_LENGTH.end());
        let message = format!("the PIN has {length} characters; allowed are {least} to {most}");
        return Err(AppError::usage(message, Vec::new()));
    }
    let unusable = |_| AppError::failed("the PIN cannot be hashed");
    let salt = SaltString::encode_b64(salt).map_err(unusable)?;
    Ok(Argon2::default().hash_password(pin.as_bytes(), &salt).map_err(unusable)?.to_string())
}

fn is_pin(kept: &str, pin: &str) -> bool {
    PasswordHash::new(kept).is_ok_and(|kept| Argon2::default().verify_password(pin.as_bytes(), &kept).is_ok())
}
