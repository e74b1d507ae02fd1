//! Who works at the desk, and what each may do.

use super::review_views::{OperatorView, Role};
use super::{AppError, Desk, ErrorKind, new_uuid, said};
use crate::store::{Deed, OperatorRow, Reader};
use argon2::Argon2;
use argon2::password_hash::{PasswordHash, PasswordHasher, PasswordVerifier, SaltString};
use serde_json::json;

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
            let payload = json!({ "name": name, "role": role.word(), "has_pin": has_pin });
            writer.journal(Deed::OperatorSet, &payload, None)?;
            Ok::<_, AppError>(())
        })?;
        Ok(OperatorView { name, role, has_pin })
    }

    /// Signs the operator in for acts of the owner, until the desk is closed.
    ///
    /// # Errors
    /// `NotPermitted` for a wrong PIN, or a name that is not in the book.
    pub fn sign_in(&mut self, pin: &str) -> Result<Role, AppError> {
        let role = authority(self.store.read(), &self.operator, Some(pin), Role::Receiver)?;
        self.signed_in = true;
        Ok(role)
    }

    /// Checks that the operator may do what needs a role, with the PIN where the operator has one; signs nobody in.
    ///
    /// # Errors
    /// `NotPermitted` with the reason.
    pub fn may(&self, least: Role, pin: Option<&str>) -> Result<Role, AppError> {
        authority(self.store.read(), &self.operator, pin, least)
    }

    /// Checks that an owner works, signed in when that owner has a PIN.
    pub(super) fn owner_acts(&self) -> Result<(), AppError> {
        if self.signed_in {
            let row = self.store.read().operators()?.into_iter().find(|row| row.name == self.operator);
            let role = row.and_then(|row| Role::named(&row.role)).unwrap_or(Role::Receiver);
            return enough(&self.operator, role, Role::Owner);
        }
        authority(self.store.read(), &self.operator, None, Role::Owner).map(|_| ())
    }
}

/// Checks role and PIN of an operator; returns the role.
pub(super) fn authority(
    reader: Reader<'_>,
    operator: &str,
    pin: Option<&str>,
    least: Role,
) -> Result<Role, AppError> {
    let operators = reader.operators()?;
    if operators.is_empty() {
        return Ok(Role::Owner);
    }
    let Some(row) = operators.into_iter().find(|row| row.name == operator) else {
        let message = format!("`{operator}` is not an operator of this book");
        return Err(AppError::new(ErrorKind::NotPermitted, message)
            .with_hint("an owner enters operators with `scruple operator add`"));
    };
    let role = Role::named(&row.role).unwrap_or(Role::Receiver);
    enough(operator, role, least)?;
    match (&row.pin_hash, pin) {
        (None, _) => Ok(role),
        (Some(_), None) => {
            let message = format!("`{operator}` signs this with a PIN, and none was given");
            Err(AppError::new(ErrorKind::NotPermitted, message))
        }
        (Some(kept), Some(pin)) if is_pin(kept, pin) => Ok(role),
        (Some(_), Some(_)) => {
            Err(AppError::new(ErrorKind::NotPermitted, format!("this is not the PIN of `{operator}`")))
        }
    }
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
