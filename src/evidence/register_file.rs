//! Text of a register → instruments, probes and reference pieces. Reports every mistake with file, line and field.
//!
//! A register holds any of `[[instrument]]`, `[[probe]]` and `[[reference]]`. What goes with which kind of instrument is
//! written in [`Reader::instrument`]; an example with every field is `assets/demo/instruments.toml`.

use super::accuracy::{CLASS_WORDS, Certificate, Direct, Limit, Standard, class_named};
use super::instruments::{ProbeText, read_probes};
use super::register::{Meter, Register, SharePpm, Thermometer};
use super::{Amount, InstrumentKind, Measurand, Probe, ReferencePiece};
use crate::metrology::evaluation::{rectangular, resolution};
use crate::metrology::permissible::{WeightClass, micrometer_error_um, weight_error_mg};
use crate::quantity::{Conductivity, Length, Mass, Quantity, TemperatureDifference};
use crate::reference::mistake::{Place, Suggestion, listed};
use crate::reference::table::{Cell, Fields, OrReport, Page};
use crate::reference::{MaterialId, Mistake, Mistakes, Reason};
use std::ops::Range;
use toml::de::DeTable;

/// Most characters of a name.
const LONGEST_NAME: usize = 40;
/// Bounds of a coverage factor.
const COVERAGE: (f64, f64) = (1.0, 10.0);
/// Coverage factor of an uncertainty that follows from a weight class.
const CLASS_COVERAGE: f64 = 2.0;
/// The standards that limit an error, as they are named in a register.
const STANDARDS: [&str; 3] = ["OIML R 76-1", "DIN 862", "DIN 863-1"];
/// Bounds of the range of a micrometer in millimetres.
const RANGE_TO: (f64, f64) = (25.0, 100.0);

/// Tells whether a text is a register and not the short form.
pub(super) fn is_register(text: &str) -> bool {
    let (document, _) = DeTable::parse_recoverable(text);
    let has = |field| document.get_ref().get(field).is_some();
    (has("instrument") || has("reference")) && !has("scale")
}

/// Reads a register.
///
/// # Errors
/// Every mistake, in the order of the lines.
pub(super) fn read(file: &str, text: &str) -> Result<(Register, Vec<Probe>), Mistakes> {
    let (document, errors) = DeTable::parse_recoverable(text);
    let mut reader = Reader {
        page: Page::new(file, text),
        register: Register::default(),
        names: Vec::new(),
        wanted: Vec::new(),
    };
    let mut top = Fields::top(&document);
    for fields in reader.records(&mut top, "instrument") {
        reader.instrument(fields);
    }
    let mut probes: Vec<Probe> = Vec::new();
    for fields in reader.records(&mut top, "probe") {
        probes.extend(reader.probe(file, fields).into_iter().flatten());
    }
    for fields in reader.records(&mut top, "reference") {
        reader.reference(fields);
    }
    top.finish(&mut reader.page);
    reader.check_names();
    let mut mistakes = reader.page.mistakes;
    if !errors.is_empty() {
        // What a line with a syntax mistake was meant to say is unknown, so that nothing may be called missing.
        mistakes.retain(|mistake| !matches!(mistake.reason, Reason::MissingField { .. }));
        let page = Page::new(file, text);
        mistakes.extend(errors.into_iter().map(|error| Mistake {
            place: page.place(error.span().unwrap_or(0..0).start),
            reason: Reason::Syntax { message: error.message().replace('\n', ", ") },
        }));
    }
    if mistakes.is_empty() {
        return Ok((reader.register, probes));
    }
    mistakes.sort_by_key(|mistake| (mistake.place.line, mistake.place.column));
    Err(Mistakes(mistakes))
}

/// The register as far as it was read.
struct Reader<'t> {
    page: Page<'t>,
    register: Register,
    /// Kind of record, name and place of everything that has a name.
    names: Vec<(&'static str, String, Place)>,
    /// Instruments that reference pieces name, to be looked up when everything was read.
    wanted: Vec<(String, Range<usize>)>,
}

/// The fields that every kind of instrument has, with those that some have.
struct Common {
    name: String,
    kind: InstrumentKind,
    due: Option<chrono::NaiveDate>,
}

impl<'t> Reader<'t> {
    fn records<'i>(&mut self, top: &mut Fields<'t, 'i>, field: &'static str) -> Vec<Fields<'t, 'i>> {
        let Some(cell) = top.optional(field) else { return Vec::new() };
        let Some(list) = cell.list().or_report(&cell.span, &mut self.page) else { return Vec::new() };
        list.filter_map(|member| member.fields().or_report(&member.span, &mut self.page)).collect()
    }

    /// Reads the name of a record, which no other record of its kind may have.
    fn name(&mut self, fields: &mut Fields<'t, '_>, what: &'static str) -> Option<String> {
        fields.call(format!("this {what}"));
        let cell = fields.required("name", &mut self.page)?;
        let text = cell.text().or_report(&cell.span, &mut self.page)?;
        let name = text.trim().to_owned();
        fields.call(format!("{what} `{name}`"));
        if name.chars().count() > LONGEST_NAME || name.chars().any(char::is_control) {
            let reason = Reason::BadName { found: name.escape_debug().to_string(), most: LONGEST_NAME };
            self.page.report(cell.span, reason);
            return None;
        }
        let place = self.page.place(cell.span.start);
        let same = |other: &str| other.to_lowercase() == name.to_lowercase();
        match self.names.iter().find(|(kind, other, _)| *kind == what && same(other)) {
            Some((_, _, first)) => {
                let reason = Reason::DuplicateId { kind: what, id: name.clone(), first: first.clone() };
                self.page.report(cell.span, reason);
            }
            None => self.names.push((what, name.clone(), place)),
        }
        Some(name)
    }

    fn optional<'i, T>(
        &mut self,
        fields: &mut Fields<'t, 'i>,
        field: &'static str,
        convert: impl FnOnce(&Cell<'t, 'i>) -> Result<T, Reason>,
    ) -> Option<T> {
        let cell = fields.optional(field)?;
        convert(&cell).or_report(&cell.span, &mut self.page)
    }

    fn required<'i, T>(
        &mut self,
        fields: &mut Fields<'t, 'i>,
        field: &'static str,
        convert: impl FnOnce(&Cell<'t, 'i>) -> Result<T, Reason>,
    ) -> Option<T> {
        let cell = fields.required(field, &mut self.page)?;
        convert(&cell).or_report(&cell.span, &mut self.page)
    }

    fn instrument(&mut self, mut fields: Fields<'t, '_>) {
        let name = self.name(&mut fields, "instrument");
        let f = &mut fields;
        let kind = self.required(f, "kind", |c| c.word(InstrumentKind::named, InstrumentKind::WORDS));
        let due = self.optional(f, "due", |c| c.day());
        if let (Some(kind), Some(name)) = (kind, &name) {
            self.in_use_for(f, kind, name);
        } else {
            f.optional("in_use_for");
        }
        let Some(kind) = kind else {
            // Without its kind nothing says which other fields it may have.
            return;
        };
        let common = Common { name: name.clone().unwrap_or_default(), kind, due };
        match kind {
            InstrumentKind::Scale => {
                let scale = self.direct::<Mass>(f, common);
                self.register.scales.extend(scale.filter(|_| name.is_some()));
            }
            InstrumentKind::Calliper | InstrumentKind::Micrometer | InstrumentKind::Ultrasound => {
                let length = self.direct::<Length>(f, common);
                self.register.lengths.extend(length.filter(|_| name.is_some()));
            }
            InstrumentKind::Meter => {
                let meter = self.meter(f, common);
                self.register.meters.extend(meter.filter(|_| name.is_some()));
            }
            InstrumentKind::Thermometer => {
                let thermometer = self.thermometer(f, common);
                self.register.thermometers.extend(thermometer.filter(|_| name.is_some()));
            }
        }
        fields.finish(&mut self.page);
    }

    /// Reads for which readings an instrument is in use.
    fn in_use_for(&mut self, fields: &mut Fields<'t, '_>, kind: InstrumentKind, name: &str) {
        let Some(cell) = fields.optional("in_use_for") else { return };
        let Some(list) = cell.list().or_report(&cell.span, &mut self.page) else { return };
        let words: Vec<&str> = kind.measurands().iter().map(|of| of.name()).collect();
        for member in list {
            let Some(text) = member.text().or_report(&member.span, &mut self.page) else { continue };
            match kind.measurands().iter().find(|of| of.name() == text) {
                Some(of) => self.register.in_use_for.push((*of, name.to_owned())),
                None => {
                    let allowed = listed(&words);
                    let reason =
                        Reason::UnknownWord { field: cell.name.clone(), found: text.to_owned(), allowed };
                    self.page.report(member.span, reason);
                }
            }
        }
    }

    /// Reads what an instrument that shows its quantity directly can do.
    fn direct<Q: Quantity>(&mut self, f: &mut Fields<'t, '_>, common: Common) -> Option<Direct<Q>> {
        let Common { name, kind, due } = common;
        let repeatability = self.required(f, "repeatability", |c| c.quantity::<Q>());
        let digit_step = self.optional(f, "digit_step", |c| c.quantity::<Q>());
        let greatest = self.optional(f, "max", |c| c.quantity::<Q>());
        let certificate = self.certificate(f, |c| c.quantity::<Q>());
        let stated = f.optional("limit_of_error");
        let limit = match &stated {
            Some(cell) => cell.quantity::<Q>().or_report(&cell.span, &mut self.page).map(Limit::Stated),
            None => None,
        };
        let by = f.optional("limit_by");
        let by_standard = by.is_some();
        let standard = self.standard(f, by, kind);
        if limit.is_some() && standard.is_some() {
            self.one_of(f, &name, &["limit_of_error", "limit_by"]);
        }
        if stated.is_none() && !by_standard && certificate.is_none() {
            let fields = ["certificate", "limit_of_error", "limit_by"].join("` or `");
            let (record, field) = (format!("instrument `{name}`"), fields);
            self.page.report(f.span.clone(), Reason::MissingField { record, field });
        }
        let limit = limit.or(standard.map(Limit::Standard));
        Some(Direct {
            name: Some(name),
            kind,
            repeatability: repeatability?,
            digit_step,
            certificate,
            limit,
            greatest,
            due,
        })
    }

    /// Reads the standard that limits an error.
    fn standard<'i>(
        &mut self,
        f: &mut Fields<'t, 'i>,
        by: Option<Cell<'t, 'i>>,
        kind: InstrumentKind,
    ) -> Option<Standard> {
        let class = f.optional("class");
        let e = f.optional("e");
        let range = f.optional("range_to");
        let word = by.as_ref()?.text().or_report(&by.as_ref()?.span, &mut self.page)?;
        let allowed: &[&str] = match kind {
            InstrumentKind::Scale => &STANDARDS[..1],
            InstrumentKind::Calliper => &STANDARDS[1..2],
            InstrumentKind::Micrometer => &STANDARDS[2..],
            _ => &[],
        };
        let by = by?;
        if !allowed.contains(&word) {
            let allowed = if allowed.is_empty() { "none: state it".to_owned() } else { listed(allowed) };
            let reason = Reason::UnknownWord { field: by.name.clone(), found: word.to_owned(), allowed };
            self.page.report(by.span, reason);
            return None;
        }
        let record = format!("limit_by = \"{word}\"");
        let mut needed = |cell: Option<Cell<'t, '_>>, field: &str| {
            if cell.is_none() {
                let (record, field) = (record.clone(), field.to_owned());
                self.page.report(by.span.clone(), Reason::MissingField { record, field });
            }
        };
        match kind {
            InstrumentKind::Scale => {
                let (Some(class), Some(e)) = (&class, &e) else {
                    needed(class, "class");
                    needed(e, "e");
                    return None;
                };
                let class = class.word(class_named, &CLASS_WORDS).or_report(&class.span, &mut self.page);
                let interval = e.quantity::<Mass>().or_report(&e.span, &mut self.page)?;
                if interval.base() == 0 {
                    let reason = Reason::NumberOutOfRange {
                        field: e.name.clone(),
                        found: "0".to_owned(),
                        least: "1 mg".to_owned(),
                        greatest: "100 g".to_owned(),
                    };
                    self.page.report(e.span.clone(), reason);
                    return None;
                }
                Some(Standard::OimlR76 { class: class?, e: interval })
            }
            InstrumentKind::Micrometer => {
                let Some(range) = &range else {
                    needed(range, "range_to");
                    return None;
                };
                let range_to = range.quantity::<Length>().or_report(&range.span, &mut self.page)?;
                let range_to_mm = range_to.as_millimetres().round() as u32;
                if micrometer_error_um(range_to_mm).is_none() {
                    let reason = Reason::NumberOutOfRange {
                        field: range.name.clone(),
                        found: format!("{} mm", range_to.as_millimetres()),
                        least: format!("{} mm, in steps of 25", RANGE_TO.0),
                        greatest: format!("{} mm", RANGE_TO.1),
                    };
                    self.page.report(range.span.clone(), reason);
                    return None;
                }
                Some(Standard::Din863 { range_to_mm })
            }
            _ => Some(Standard::Din862),
        }
    }

    /// Reads `certificate = { number, date, U, k }`.
    fn certificate<'i, Q>(
        &mut self,
        f: &mut Fields<'t, 'i>,
        convert: impl FnOnce(&Cell<'t, 'i>) -> Result<Q, Reason>,
    ) -> Option<Certificate<Q>> {
        let cell = f.optional("certificate")?;
        let mut inner = cell.fields().or_report(&cell.span, &mut self.page)?;
        let (number, date) = (self.typed(&mut inner, "number"), self.typed(&mut inner, "date"));
        let expanded = self.required(&mut inner, "U", convert);
        let k = self.required(&mut inner, "k", |c| c.number(COVERAGE.0, COVERAGE.1));
        inner.finish(&mut self.page);
        Some(Certificate { number, date, expanded: expanded?, k: k? })
    }

    /// Reads a text that is kept as typed; a day may stand without quotes.
    fn typed(&mut self, f: &mut Fields<'t, '_>, field: &'static str) -> String {
        let text = self.optional(f, field, |cell| match cell.day() {
            Ok(day) => Ok(day.to_string()),
            Err(_) => cell.text().map(crate::quantity::entry::clean),
        });
        text.unwrap_or_default()
    }

    fn meter(&mut self, f: &mut Fields<'t, '_>, common: Common) -> Option<Meter> {
        let repeatability = self.required(f, "repeatability", |c| c.share_ppm());
        let digit_step = self.optional(f, "digit_step", |c| c.quantity::<Conductivity>());
        let certificate = self.certificate(f, |c| c.share_ppm().map(SharePpm));
        let limit = self.optional(f, "limit_of_error", |c| c.share_ppm()).map(SharePpm);
        let compared = self.optional(f, "compared_with_same_alloy", |c| c.flag());
        let keeps = self.optional(f, "keeps_standardisation", |c| c.flag());
        Some(Meter {
            name: Some(common.name),
            repeatability_ppm: repeatability?,
            digit_step,
            compared_with_same_alloy: compared.unwrap_or(false),
            certificate,
            limit,
            keeps_standardisation: keeps.unwrap_or(false),
            due: common.due,
        })
    }

    /// Reads a thermometer: its standard uncertainty, or what it follows from.
    fn thermometer(&mut self, f: &mut Fields<'t, '_>, common: Common) -> Option<Thermometer> {
        type Kelvin = TemperatureDifference;
        let stated = self.optional(f, "standard_uncertainty", |c| c.quantity::<Kelvin>());
        let repeatability = self.optional(f, "repeatability", |c| c.quantity::<Kelvin>());
        let step = self.optional(f, "digit_step", |c| c.quantity::<Kelvin>());
        let limit = self.optional(f, "limit_of_error", |c| c.quantity::<Kelvin>());
        let certificate = self.certificate(f, |c| c.quantity::<Kelvin>());
        let off = match (&certificate, limit) {
            (Some(certificate), _) => Some(certificate.expanded.as_kelvin() / certificate.k),
            (None, Some(limit)) => Some(rectangular(limit.as_kelvin())),
            (None, None) => None,
        };
        let follows = off.map(|off| {
            let kelvin = |part: Option<Kelvin>| part.map_or(0.0, Kelvin::as_kelvin);
            Kelvin::from_kelvin(off.hypot(kelvin(repeatability)).hypot(resolution(kelvin(step))))
        });
        if stated.is_some() == follows.is_some() {
            self.one_of(f, &common.name, &["standard_uncertainty", "certificate", "limit_of_error"]);
        }
        let standard_uncertainty = stated.or(follows)?;
        Some(Thermometer { name: Some(common.name), standard_uncertainty, due: common.due })
    }

    fn one_of(&mut self, f: &Fields<'t, '_>, name: &str, fields: &[&str]) {
        let reason = Reason::NotOneOf { record: format!("instrument `{name}`"), fields: listed(fields) };
        self.page.report(f.span.clone(), reason);
    }

    fn probe(&mut self, file: &str, mut fields: Fields<'t, '_>) -> Option<Vec<Probe>> {
        let name = self.name(&mut fields, "probe");
        let f = &mut fields;
        let mut spans: Vec<(&'static str, Range<usize>)> = Vec::new();
        let frequencies = f.optional("frequencies").and_then(|cell| {
            spans.push(("frequencies", cell.span.clone()));
            let list = cell.list().or_report(&cell.span, &mut self.page)?;
            let texts =
                list.map(|member| member.text().or_report(&member.span, &mut self.page).map(str::to_owned));
            texts.collect::<Option<Vec<String>>>()
        });
        let mut text = |reader: &mut Self, field: &'static str| {
            let cell = f.optional(field)?;
            spans.push((field, cell.span.clone()));
            cell.text().or_report(&cell.span, &mut reader.page).map(str::to_owned)
        };
        let typed = ProbeText {
            name: name.clone().unwrap_or_default(),
            frequencies,
            frequency: text(self, "frequency"),
            coil_inner: text(self, "coil_inner"),
            coil_outer: text(self, "coil_outer"),
            coil_length: text(self, "coil_length"),
            lift_off_range: text(self, "lift_off_range"),
            edge_distance: text(self, "edge_distance"),
            standardised: text(self, "standardised"),
        };
        let span = fields.span.clone();
        fields.finish(&mut self.page);
        name?;
        match read_probes(file, typed) {
            Ok(probes) => Some(probes),
            Err(error) => {
                let message = error.to_string();
                let message = message.strip_prefix(&format!("{file}: ")).unwrap_or(&message).to_owned();
                let named = spans.into_iter().find(|(field, _)| message.contains(&format!(": {field}`")));
                self.page.report(named.map_or(span, |(_, span)| span), Reason::Probe { message });
                None
            }
        }
    }

    fn reference(&mut self, mut fields: Fields<'t, '_>) {
        let name = self.name(&mut fields, "reference");
        let f = &mut fields;
        let material = f.optional("material").and_then(|cell| {
            let id = MaterialId::new(cell.id().or_report(&cell.span, &mut self.page)?);
            self.register.materials.push((id.clone(), self.page.place(cell.span.start)));
            Some(id)
        });
        let mass = f.optional("mass");
        let length = f.optional("length");
        let conductivity = f.optional("conductivity");
        let record = format!("reference `{}`", name.clone().unwrap_or_default());
        let given = [mass, length, conductivity].into_iter().enumerate().filter_map(|(at, c)| Some((at, c?)));
        let mut given: Vec<(usize, Cell<'_, '_>)> = given.collect();
        let assigned = match (given.pop(), given.is_empty()) {
            (Some((0, cell)), true) => self.assigned::<Mass>(f, &cell, Measurand::Mass),
            (Some((1, cell)), true) => self.assigned::<Length>(f, &cell, Measurand::Length),
            (Some((_, cell)), true) => self.assigned::<Conductivity>(f, &cell, Measurand::Conductivity),
            _ => {
                let fields = listed(&["mass", "length", "conductivity"]);
                self.page.report(f.span.clone(), Reason::NotOneOf { record: record.clone(), fields });
                for field in ["U", "k", "weight_class"] {
                    f.optional(field);
                }
                None
            }
        };
        let (certificate, date) = (self.typed(f, "certificate"), self.typed(f, "date"));
        let mut checks = Vec::new();
        if let Some(cell) = f.optional("instruments")
            && let Some(list) = cell.list().or_report(&cell.span, &mut self.page)
        {
            for member in list {
                let text = member.text().or_report(&member.span, &mut self.page);
                checks.extend(text.map(|text| text.trim().to_owned()));
                self.wanted.extend(text.map(|text| (text.trim().to_owned(), member.span)));
            }
        }
        fields.finish(&mut self.page);
        let (Some(name), Some((assigned, expanded, k))) = (name, assigned) else { return };
        self.register.references.push(ReferencePiece {
            name,
            material,
            assigned,
            expanded,
            k,
            certificate,
            date,
            checks,
        });
    }

    /// Reads an assigned value with its U and k; a weight may name its class instead.
    fn assigned<Q: Quantity>(
        &mut self,
        f: &mut Fields<'t, '_>,
        cell: &Cell<'t, '_>,
        measurand: Measurand,
    ) -> Option<(Amount, Amount, f64)> {
        let value = cell.quantity::<Q>().or_report(&cell.span, &mut self.page);
        let amount = |value: Q| Amount { measurand, base: value.base() };
        let class = f.optional("weight_class");
        let (expanded, k) = match class {
            Some(class) if measurand == Measurand::Mass => {
                f.optional("U");
                f.optional("k");
                let word = class.word(weight_class, WEIGHT_CLASSES).or_report(&class.span, &mut self.page)?;
                let grams = value.map(|value| amount(value).value())?;
                let limit = (grams.fract() == 0.0).then(|| weight_error_mg(grams as u32, word)).flatten();
                let Some(limit) = limit else {
                    let reason = Reason::NumberOutOfRange {
                        field: cell.name.clone(),
                        found: format!("{grams} g"),
                        least: "1 g".to_owned(),
                        greatest: "200 g, one of 1, 2, 5, 10, 20, 50, 200 g with a weight class".to_owned(),
                    };
                    self.page.report(cell.span.clone(), reason);
                    return None;
                };
                // The limit of a class is the half width of a rectangle (JCGM 100:2008, 4.3.7).
                let u = rectangular(limit / 1000.0);
                (Some(Amount::of(measurand, CLASS_COVERAGE * u)), Some(CLASS_COVERAGE))
            }
            other => {
                if let Some(class) = other {
                    let reason = Reason::DoesNotGo {
                        record: "this reference".to_owned(),
                        field: class.name.clone(),
                        why: "only a weight has a weight class",
                    };
                    self.page.report(class.span, reason);
                }
                let expanded = self.required(f, "U", |c| c.quantity::<Q>()).map(amount);
                (expanded, self.required(f, "k", |c| c.number(COVERAGE.0, COVERAGE.1)))
            }
        };
        Some((amount(value?), expanded?, k?))
    }

    /// Reports names that reference pieces give and nothing bears.
    fn check_names(&mut self) {
        let known: Vec<String> = self
            .names
            .iter()
            .filter(|(kind, ..)| *kind == "instrument")
            .map(|(_, name, _)| name.clone())
            .collect();
        for (name, span) in std::mem::take(&mut self.wanted) {
            if !known.iter().any(|other| other.to_lowercase() == name.to_lowercase()) {
                let closest = Suggestion(known.clone());
                let field = "instruments".to_owned();
                self.page.report(span, Reason::UnknownName { field, name, closest });
            }
        }
    }
}

/// The words for the classes of weights that the tables hold.
const WEIGHT_CLASSES: &[&str] = &["E2", "F1", "F2", "M1"];

fn weight_class(word: &str) -> Option<WeightClass> {
    match word {
        "E2" => Some(WeightClass::E2),
        "F1" => Some(WeightClass::F1),
        "F2" => Some(WeightClass::F2),
        "M1" => Some(WeightClass::M1),
        _ => None,
    }
}
