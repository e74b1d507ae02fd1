//! Every assessment of the book computed again from what it was made of: readings, second tests, controls as they were known,
//! price, type book, and the texts of policy and instruments that the book keeps by version.

use super::audit::Recomputed;
use super::config::{RuleTexts, config_folder, short_version};
use super::instruments::check_register;
use super::settle::body;
use super::show::lot_of;
use super::type_book::type_book_of;
use super::{AppError, Setup};
use crate::evidence::{Instruments, Measurand};
use crate::intake::{ReadingId, SecondTestId};
use crate::quantity::Money;
use crate::reference::{Catalogue, ProductId};
use crate::scoring::{Declared, ENGINE_VERSION, Policy, Standards, TypeBook};
use crate::store::{
    AuditFault, AuditReport, Deed, FiledAssessment, Progress, Reader, ReadingRow, SecondTestRow,
};
use chrono::{DateTime, Utc};
use serde_json::Value;
use std::collections::BTreeMap;
use std::rc::Rc;
use uuid::Uuid;

/// Assessments read at once.
const AT_ONCE: u32 = 200;
/// Rules kept ready; scoring standards are dear to make anew.
const MOST_SETUPS: usize = 12;

/// An instrument taken into use: when, and for which readings.
type Chosen = (DateTime<Utc>, Vec<(Measurand, String)>);

/// Versions of reference, policy and instruments, and the instruments in use.
type Rules = (String, String, String, Vec<(Measurand, String)>);

/// What an assessment came to when it was computed again.
enum Again {
    Same,
    Older,
    NotPossible(String),
    Wrong(String),
}

/// What an assessment was made from.
pub(super) struct Behind {
    pub(super) setup: Rc<Setup>,
    product: ProductId,
    price: Option<Money>,
    lot_size: u32,
    source: String,
    type_book: Option<TypeBook>,
    pub(super) readings: Vec<ReadingRow>,
    pub(super) tests: Vec<SecondTestRow>,
    /// Whether withdrawals of its very millisecond did not count.
    pub(super) strictly: bool,
}

impl Behind {
    /// Returns what the piece was declared to be.
    pub(super) fn declared(&self) -> Result<Declared<'_>, AppError> {
        Ok(Declared {
            product: self.setup.product(&self.product)?,
            price: self.price,
            lot_size: self.lot_size,
            source: Some(&self.source),
            type_book: self.type_book.as_ref(),
        })
    }
}

/// Computes assessments again.
pub(super) struct Recomputer<'a> {
    reader: Reader<'a>,
    /// The reference of this machine.
    own: &'a Catalogue,
    chosen: Vec<Chosen>,
    setups: Vec<(Rules, Rc<Setup>)>,
}

impl<'a> Recomputer<'a> {
    pub(super) fn new(reader: Reader<'a>, own: &'a Catalogue) -> Result<Self, AppError> {
        // A journal that cannot be read back is told as a fault of the journal; then no choice is known.
        let acts = reader.acts(Deed::InstrumentChosen).unwrap_or_default();
        let chosen = acts.iter().map(|(at, payload)| (*at, choice(payload))).collect();
        Ok(Recomputer { reader, own, chosen, setups: Vec::new() })
    }

    /// Computes every assessment again; one that comes out otherwise is a fault.
    pub(super) fn every(
        mut self,
        report: &mut AuditReport,
        progress: &Progress,
    ) -> Result<Recomputed, AppError> {
        let mut recomputed = Recomputed::default();
        let mut reasons: BTreeMap<String, (u64, String)> = BTreeMap::new();
        let (mut place, mut done) = (i64::MIN, 0);
        loop {
            let Ok(page) = self.reader.assessments_behind(place, AT_ONCE) else {
                report.add(fault("every assessment".to_owned(), "they cannot be read".to_owned()));
                break;
            };
            let Some(last) = page.last() else { break };
            place = last.as_ref().map_or_else(|(place, _)| *place, |filed| filed.place);
            for filed in page {
                done += 1;
                progress.step("assessments computed again", done, None)?;
                let filed = match filed {
                    Ok(filed) => filed,
                    Err((place, error)) => {
                        report
                            .add(fault(format!("row number {place}"), format!("it cannot be read: {error}")));
                        continue;
                    }
                };
                match self.again(&filed) {
                    Again::Same => recomputed.same += 1,
                    Again::Older => recomputed.older_engine += 1,
                    Again::Wrong(wrong) => report.add(fault(self.named(&filed), wrong)),
                    Again::NotPossible(reason) => {
                        let named = self.named(&filed);
                        reasons.entry(reason).or_insert((0, named)).0 += 1;
                    }
                }
            }
        }
        // What a stop cut short looks like an assessment that cannot be had.
        progress.check()?;
        let told = reasons.into_iter().map(|(reason, (count, first))| (reason, count, first));
        recomputed.not_possible = told.collect();
        Ok(recomputed)
    }

    fn named(&self, filed: &FiledAssessment) -> String {
        let piece = self.reader.piece(filed.piece).ok().flatten();
        let piece =
            piece.map_or_else(|| "a piece that is missing".to_owned(), |row| format!("piece {}", row.number));
        format!("assessment of {piece} (id {})", filed.id)
    }

    fn again(&mut self, filed: &FiledAssessment) -> Again {
        let kept = &filed.kept.assessment;
        let columns = (
            kept.standing.word().to_owned(),
            kept.score,
            kept.engine,
            kept.reference.clone(),
            kept.policy.clone(),
        );
        if columns != filed.columns {
            return Again::Wrong("its columns are not what its text says".to_owned());
        }
        match kept.engine {
            engine if engine < ENGINE_VERSION => return Again::Older,
            engine if engine > ENGINE_VERSION => {
                return Again::NotPossible(format!(
                    "engine {engine} is newer than this program's {ENGINE_VERSION}"
                ));
            }
            _ => {}
        }
        // What came first within one millisecond the book does not say: either order may have been the one.
        match self.once(filed, false) {
            Ok(Again::Wrong(wrong)) => match self.once(filed, true) {
                Ok(Again::Same) => Again::Same,
                _ => Again::Wrong(wrong),
            },
            Ok(again) => again,
            Err(error) => Again::NotPossible(error.message),
        }
    }

    fn once(&mut self, filed: &FiledAssessment, strictly: bool) -> Result<Again, AppError> {
        let behind = match self.behind(filed, strictly)? {
            Ok(behind) => behind,
            Err(again) => return Ok(again),
        };
        let reader = self.reader.as_known_to(filed.id, filed.at, strictly);
        let again = behind.setup.judge(reader, &behind.declared()?, &behind.readings, &behind.tests)?;
        Ok(match body(&again) == filed.kept.body {
            true => Again::Same,
            false => Again::Wrong("its readings give another assessment".to_owned()),
        })
    }

    /// Returns what an assessment was made from, when that gives the very assessment; else why it does not.
    pub(super) fn made_from(&mut self, filed: &FiledAssessment) -> Result<Result<Behind, String>, AppError> {
        if filed.kept.assessment.engine != ENGINE_VERSION {
            let engine = filed.kept.assessment.engine;
            return Ok(Err(format!(
                "it was scored with rules {engine}, this program has rules {ENGINE_VERSION}"
            )));
        }
        let mut why = String::new();
        for strictly in [false, true] {
            match self.once(filed, strictly)? {
                Again::Same => return self.behind(filed, strictly).map(|behind| behind.map_err(|_| why)),
                Again::Wrong(wrong) | Again::NotPossible(wrong) => why = wrong,
                Again::Older => {}
            }
        }
        Ok(Err(why))
    }

    /// Gathers what an assessment was made from.
    fn behind(&mut self, filed: &FiledAssessment, strictly: bool) -> Result<Result<Behind, Again>, AppError> {
        let kept = &filed.kept;
        let setup = match self.setup(filed, strictly)? {
            Ok(setup) => setup,
            Err(reason) => return Ok(Err(Again::NotPossible(reason))),
        };
        let reader = self.reader.as_known_to(filed.id, filed.at, strictly);
        let (readings, tests) = match made_of(reader, filed)? {
            Ok(found) => found,
            Err(wrong) => return Ok(Err(Again::Wrong(wrong))),
        };
        let Some(row) = reader.piece(filed.piece)? else {
            return Ok(Err(Again::Wrong("its piece is missing".to_owned())));
        };
        if setup.catalogue.product(row.product.as_str()).is_none() {
            let reason = format!("product `{}` is not in the reference", row.product);
            return Ok(Err(Again::NotPossible(reason)));
        }
        let used = kept.assessment.type_book.as_ref().map(|used| used.version.as_str());
        let type_book = type_book_of(reader, &row.product, used)?;
        if used.is_some() && type_book.is_none() {
            let wrong = "the version of the type book that it used is missing".to_owned();
            return Ok(Err(Again::Wrong(wrong)));
        }
        let source = lot_of(reader, row.lot)?.source;
        let (price, lot_size) = (kept.price, kept.lot_size);
        Ok(Ok(Behind {
            setup,
            product: row.product,
            price,
            lot_size,
            source,
            type_book,
            readings,
            tests,
            strictly,
        }))
    }

    /// Returns what an assessment was made with, or why that cannot be had any more.
    fn setup(
        &mut self,
        filed: &FiledAssessment,
        strictly: bool,
    ) -> Result<Result<Rc<Setup>, String>, AppError> {
        let (assessment, instruments) = (&filed.kept.assessment, &filed.kept.instruments);
        let in_use = self.in_use(filed.at, strictly);
        let rules =
            (assessment.reference.clone(), assessment.policy.clone(), instruments.clone(), in_use.clone());
        if let Some(at) = self.setups.iter().position(|(known, _)| *known == rules) {
            return Ok(Ok(Rc::clone(&self.setups[at].1)));
        }
        let Some(catalogue) = self.catalogue(&assessment.reference)? else {
            return Ok(Err(format!("reference {} is not of this program", assessment.reference)));
        };
        let (policy, policy_text) = match self.policy(&assessment.policy)? {
            Ok(policy) => policy,
            Err(reason) => return Ok(Err(reason)),
        };
        let (register, instruments_text) = match self.register(instruments, &catalogue)? {
            Ok(register) => register,
            Err(reason) => return Ok(Err(reason)),
        };
        let setup = Rc::new(Setup {
            catalogue,
            instruments: if in_use.is_empty() { register } else { register.using(&in_use) },
            policy,
            standards: Standards::default(),
            texts: RuleTexts {
                policy: policy_text,
                instruments: instruments_text,
                instruments_version: instruments.clone(),
                products: None,
            },
        });
        if self.setups.len() == MOST_SETUPS {
            self.setups.remove(0);
        }
        self.setups.push((rules, Rc::clone(&setup)));
        Ok(Ok(setup))
    }

    /// Returns the reference of a version: the one shipped, the one of this machine, or one with products that the book keeps.
    fn catalogue(&self, version: &str) -> Result<Option<Catalogue>, AppError> {
        for known in [self.own, Catalogue::embedded()] {
            if known.version() == version {
                return Ok(Some(known.clone()));
            }
        }
        let Some(text) = self.reader.rule_text("products", version)? else { return Ok(None) };
        // The name of the file is part of the version.
        let of_folder = config_folder().map(|folder| folder.join("products.toml").display().to_string());
        let mut names = of_folder.into_iter().chain(["products.toml".to_owned()]);
        Ok(names.find_map(|name| {
            Catalogue::embedded().with_dealer(&name, &text).ok().filter(|made| made.version() == version)
        }))
    }

    fn policy(&self, version: &str) -> Result<Result<(Policy, String), String>, AppError> {
        let missing = || format!("the text of policy {version} is not in the book");
        let Some(text) = self.reader.rule_text("policy", version)? else { return Ok(Err(missing())) };
        match Policy::parse(&format!("policy {version} of the book"), &text) {
            Ok(policy) if policy.version() == version => Ok(Ok((policy, text))),
            _ => Ok(Err(format!("the text of policy {version} is another one now"))),
        }
    }

    fn register(
        &self,
        version: &str,
        catalogue: &Catalogue,
    ) -> Result<Result<(Instruments, String), String>, AppError> {
        let missing = || format!("the text of instruments {version} is not in the book");
        let Some(text) = self.reader.rule_text("instruments", version)? else { return Ok(Err(missing())) };
        if short_version(&text) != version {
            return Ok(Err(format!("the text of instruments {version} is another one now")));
        }
        let read = check_register(&format!("instruments {version} of the book"), &text, catalogue);
        Ok(read.map(|register| (register, text)).map_err(|error| error.message))
    }

    /// Returns which instruments were in use for which readings at a moment.
    fn in_use(&self, at: DateTime<Utc>, strictly: bool) -> Vec<(Measurand, String)> {
        let mut in_use: Vec<(Measurand, String)> = Vec::new();
        let before =
            self.chosen.iter().filter(|(chosen, _)| if strictly { *chosen < at } else { *chosen <= at });
        for (measurand, name) in before.flat_map(|(_, choice)| choice) {
            in_use.retain(|(of, _)| of != measurand);
            in_use.push((*measurand, name.clone()));
        }
        in_use.sort_by_key(|(of, _)| Measurand::ALL.iter().position(|known| known == of));
        in_use
    }
}

/// Readings and second tests.
type MadeOf = (Vec<ReadingRow>, Vec<SecondTestRow>);

/// Returns the readings and second tests that an assessment names, or what is wrong with them.
fn made_of(reader: Reader<'_>, filed: &FiledAssessment) -> Result<Result<MadeOf, String>, AppError> {
    let (mut readings, mut tests) = (Vec::new(), Vec::new());
    for name in &filed.readings {
        let Ok(id) = Uuid::parse_str(name) else {
            return Ok(Err(format!("it names `{name}`, which is no identity")));
        };
        if let Some(reading) = reader.reading(ReadingId::new(id))? {
            readings.push(reading);
        } else if let Some(test) = reader.second_test(SecondTestId::new(id))? {
            tests.push(test);
        } else {
            return Ok(Err(format!("reading {id} that it names is missing")));
        }
    }
    Ok(Ok((readings, tests)))
}

/// Reads which instrument an act took into use, and for what.
fn choice(payload: &Value) -> Vec<(Measurand, String)> {
    let name = payload["instrument"].as_str().unwrap_or_default();
    let words = payload["for"].as_array().map(Vec::as_slice).unwrap_or_default();
    let measurands = words.iter().filter_map(|word| {
        Measurand::ALL.into_iter().find(|measurand| Some(measurand.name()) == word.as_str())
    });
    measurands.map(|measurand| (measurand, name.to_owned())).collect()
}

fn fault(row: String, wrong: String) -> AuditFault {
    AuditFault { table: "assessment".to_owned(), row, wrong, written_by: None }
}
