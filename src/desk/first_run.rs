//! The first start on a new book: name and currency of the desk, and its instruments, in one act.

use super::config::short_version;
use super::instruments::check_register;
use super::{AppError, Desk, said};
use crate::quantity::Currency;
use crate::scoring::Policy;
use crate::store::{Deed, Writer, digest};
use serde_json::json;

/// Name of the preference that keeps the name of the desk.
const DESK_NAME: &str = "desk_name";

/// What is answered on the first start.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FirstAnswers {
    /// Name of the desk, as day sheets show it.
    pub name: String,
    /// Code of the currency that it buys and sells in, such as `EUR`.
    pub currency: String,
    /// A register of instruments, with the name of its file; `None` goes on with those assumed.
    pub register: Option<(String, String)>,
}

impl Desk {
    /// Tells whether nothing was ever written into the book.
    ///
    /// # Errors
    /// What the book says.
    pub fn is_untouched(&self) -> Result<bool, AppError> {
        Ok(self.store.read().journal_head()?.0 == 0)
    }

    /// Returns the name of the desk, when somebody gave it one.
    ///
    /// # Errors
    /// What the book says.
    pub fn desk_name(&self) -> Result<Option<String>, AppError> {
        Ok(self.store.read().preference(DESK_NAME)?)
    }

    /// Sets the desk up: all answers in one act, or none of them.
    ///
    /// A currency that the policy in force already has changes nothing. Any other becomes that of the policy of the book;
    /// amounts of the policy then count in it, unconverted.
    ///
    /// # Errors
    /// `Usage` for a name that is empty or too long or a code that is none; every mistake of the register; `NotPermitted` for
    /// anybody but an owner.
    pub fn set_up(&mut self, answers: &FirstAnswers) -> Result<(), AppError> {
        self.owner_acts()?;
        let name = said("the name of the desk", &answers.name)?;
        let currency = Currency::parse(answers.currency.trim().to_uppercase().as_str())
            .map_err(|error| AppError::usage(error.to_string(), Vec::new()))?;
        let policy = match currency == self.setup.policy.currency {
            true => None,
            false => {
                let text = with_currency(&self.setup.texts.policy, currency);
                let policy = Policy::parse("the policy of the desk", &text)
                    .map_err(|error| AppError::failed(error.to_string()))?;
                Some((policy, text))
            }
        };
        if let Some((file, text)) = &answers.register {
            check_register(file, text, &self.setup.catalogue)?;
        }
        let act = self.act();
        self.store.write(&act, |writer| {
            writer.prefer(DESK_NAME, &name)?;
            writer.journal(Deed::DeskNamed, &json!({ "name": name }), None)?;
            if let Some((policy, text)) = &policy {
                writer.keep_rule_text("policy", policy.version(), text)?;
                writer.set_policy(Some(policy.version()))?;
                let payload = json!({
                    "file": null, "version": policy.version(), "currency": currency.code(), "text_sha256": digest(text),
                });
                writer.journal(Deed::PolicySet, &payload, None)?;
            }
            if let Some((file, text)) = &answers.register {
                register(writer, file, text)?;
            }
            Ok::<_, AppError>(())
        })?;
        if let Some((policy, text)) = policy {
            self.setup.policy = policy;
            self.setup.texts.policy = text;
        }
        self.take_up_register()
    }
}

fn register(writer: &Writer<'_>, file: &str, text: &str) -> Result<(), AppError> {
    let version = short_version(text);
    writer.keep_rule_text("instruments", &version, text)?;
    writer.set_instruments(Some(&version))?;
    let payload = json!({ "file": file, "version": version, "text_sha256": digest(text) });
    writer.journal(Deed::InstrumentsSet, &payload, None)?;
    Ok(())
}

/// Returns the text of a policy with another currency, everything else as it stands there.
fn with_currency(text: &str, currency: Currency) -> String {
    let own = format!("currency = \"{}\"", currency.code());
    let top = text.lines().take_while(|line| !line.trim_start().starts_with('['));
    let place = top
        .into_iter()
        .position(|line| line.split_once('=').is_some_and(|(key, _)| key.trim() == "currency"));
    let mut lines: Vec<&str> = text.lines().collect();
    match place {
        Some(place) => lines[place] = &own,
        None => lines.insert(0, &own),
    }
    lines.join("\n") + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_currency_of_a_policy_changes() {
        let dollar = Currency::parse("USD").unwrap();
        assert_eq!(
            with_currency("# money\ncurrency = \"EUR\" # the desk\n\n[review]\ncurrency = 1\n", dollar),
            "# money\ncurrency = \"USD\"\n\n[review]\ncurrency = 1\n"
        );
        assert_eq!(with_currency("[review]\n", dollar), "currency = \"USD\"\n[review]\n");
    }
}
