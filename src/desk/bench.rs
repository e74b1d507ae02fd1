//! The bench: the half-filled piece, what a typed field means, and logging the piece.

use super::custody::named_piece;
use super::show::{Depth, lot_of, piece_of, prices};
use super::views::{Draft, DraftField, Echo, Field, PieceView};
use super::{AppError, Desk, Setup, new_uuid};
use crate::evidence::{Amount, Instruments, Measurand, Probe};
use crate::intake::lifecycle::{LotCount, LotEvent};
use crate::intake::{LotId, PieceId, ReadingId, Serial, TypedField, TypedReading, typed};
use crate::quantity::Mass;
use crate::reference::{Kind, Product, Shape};
use crate::store::{Deed, LotRow, NewPiece, NewReading, Subject, Writer};
use serde_json::{Value, json};

/// Name of the preference that keeps the probe used last.
pub(super) const LAST_PROBE: &str = "last_probe";
/// Mass of a bar from which two spots are asked for.
const TWO_SPOTS_FROM_GRAMS: f64 = 100.0;
/// How many times off a value may be before the typist is asked.
const FAR_OFF: f64 = 3.0;
/// Temperatures, in degrees Celsius, outside which the typist is asked; common practice, no source.
const USUAL_TEMPERATURES: (f64, f64) = (5.0, 45.0);

/// Everything that was entered about one piece.
#[derive(Debug, Clone, Default)]
pub(super) struct Entered {
    pub(super) serial: Option<Serial>,
    pub(super) readings: Vec<EnteredReading>,
    /// What was deliberately not measured, with its spot.
    pub(super) not_measured: Vec<(Measurand, u8)>,
    pub(super) probe: Option<Probe>,
}

/// One reading that was entered.
#[derive(Debug, Clone)]
pub(super) struct EnteredReading {
    pub(super) spot: u8,
    pub(super) reading: TypedReading,
    /// Why a value far off was kept.
    pub(super) reason: Option<String>,
    /// The line in which a device sent it.
    pub(super) device_line: Option<String>,
}

impl EnteredReading {
    /// Makes a reading that somebody typed and nobody was asked about.
    pub(super) fn typed(spot: u8, reading: TypedReading) -> Self {
        EnteredReading { spot, reading, reason: None, device_line: None }
    }
}

impl Desk {
    /// Returns the pieces of a lot in their order, voided ones left out.
    ///
    /// Their assessments are as kept in the book: what was excluded is left out. [`Desk::piece`] brings it.
    ///
    /// # Errors
    /// What the book says.
    pub fn pieces(&self, lot: LotId) -> Result<Vec<PieceView>, AppError> {
        let reader = self.store.read();
        let prices = prices(reader)?;
        let pieces = reader.pieces_of(lot)?.into_iter();
        pieces.map(|piece| self.setup.show_piece(reader, piece, &prices, Depth::Kept)).collect()
    }

    /// Returns a piece with everything that is known about it.
    ///
    /// # Errors
    /// `Failed` when the book does not have it.
    pub fn piece(&self, id: PieceId) -> Result<PieceView, AppError> {
        let reader = self.store.read();
        self.setup.show_piece(reader, piece_of(reader, id)?, &prices(reader)?, Depth::Full)
    }

    /// Returns the piece with a number such as `S-0012/3-07`, or the one piece that bears a serial.
    ///
    /// # Errors
    /// `Failed` when none does, or several bear the serial.
    pub fn find_piece(&self, number: &str) -> Result<PieceView, AppError> {
        let reader = self.store.read();
        self.setup.show_piece(reader, named_piece(reader, number)?, &prices(reader)?, Depth::Full)
    }

    /// Returns an empty form for the next piece of a lot, its fields in the order of the desk.
    ///
    /// # Errors
    /// `Failed` when the book does not have the lot or the reference not its product.
    pub fn new_draft(&self, lot: LotId) -> Result<Draft, AppError> {
        let reader = self.store.read();
        let row = lot_of(reader, lot)?;
        let product = self.setup.product(&row.product)?;
        let (declared, _) = reader.declared_serials(lot, None)?;
        let fields = fields(product, declared > 0);
        let preferred = reader.preference(LAST_PROBE)?;
        let probes = &self.setup.instruments.probes;
        let last = preferred.and_then(|name| probes.iter().find(|probe| probe.name == name));
        Ok(Draft {
            lot,
            fields: fields.into_iter().map(DraftField::empty).collect(),
            focus: 0,
            probe: last.or(probes.first()).map(|probe| probe.name.clone()),
        })
    }

    /// Says what a typed field means, and asks when the value is far from what the product lets expect.
    ///
    /// # Errors
    /// `Usage` for a text that the field does not take, found and allowed named.
    pub fn echo(&self, lot: LotId, field: Field, text: &str) -> Result<Echo, AppError> {
        let product = self.setup.product(&lot_of(self.store.read(), lot)?.product)?;
        match field {
            Field::Serial => {
                let serial = read_serial(text)?;
                let stored = serial.map_or_else(|| "no serial".to_owned(), |serial| serial.text().to_owned());
                Ok(Echo { stored, question: None })
            }
            Field::Reading(measurand, _) => match read_reading(field, measurand, text)? {
                None => Ok(Echo { stored: "not measured".to_owned(), question: None }),
                Some(reading) => {
                    let question = self.setup.far_off(product, reading.amount);
                    Ok(Echo {
                        stored: reading.stored(),
                        question: question.map(|far| format!("{}, {far}: keep it?", reading.stored())),
                    })
                }
            },
        }
    }

    /// Saves the half-filled piece; it is on disk when this returns.
    ///
    /// # Errors
    /// What the book says.
    pub fn save_draft(&mut self, draft: &Draft) -> Result<(), AppError> {
        let body = serde_json::to_string(draft).expect("a draft is made of texts and whole numbers");
        let at = self.act().at;
        Ok(self.store.save_draft(&body, at)?)
    }

    /// Returns the half-filled piece, if one was left.
    ///
    /// # Errors
    /// What the book says. A draft of a form that this program does not know is left alone and not shown.
    pub fn draft(&self) -> Result<Option<Draft>, AppError> {
        let Some(body) = self.store.read().draft()? else { return Ok(None) };
        let draft: Option<Draft> = serde_json::from_str(&body).ok();
        match draft {
            Some(draft) if self.store.read().lot(draft.lot)?.is_some() => Ok(Some(draft)),
            _ => Ok(None),
        }
    }

    /// Logs a piece: piece, readings, assessment, holds and journal in one transaction; the draft is cleared. What comes back is
    /// without what was excluded.
    ///
    /// # Errors
    /// `Usage` for a field that is empty, cannot be read, or is far off without a reason; `Failed` when the lot is full.
    pub fn log_piece(&mut self, draft: &Draft) -> Result<PieceView, AppError> {
        let act = self.act();
        let Desk { store, setup, .. } = self;
        let lot = lot_of(store.read(), draft.lot)?;
        let entered = setup.entered(&lot, draft)?;
        store.write(&act, |writer| {
            setup.keep_rules(writer)?;
            let piece = setup.enter(writer, draft.lot, &entered)?;
            writer.clear_draft()?;
            let reader = writer.read();
            // What was excluded is computed again when somebody opens the page about the piece.
            setup.show_piece(reader, piece_of(reader, piece)?, &prices(reader)?, Depth::Kept)
        })
    }
}

impl Setup {
    /// Reads the fields of a draft.
    fn entered(&self, lot: &LotRow, draft: &Draft) -> Result<Entered, AppError> {
        let product = self.product(&lot.product)?;
        let mut entered = Entered::default();
        for DraftField { field, text, reason, device_line, .. } in &draft.fields {
            let Field::Reading(measurand, spot) = *field else {
                entered.serial = read_serial(text)?;
                continue;
            };
            if text.trim().is_empty() && field.may_stay_empty() {
                continue;
            }
            match read_reading(*field, measurand, text)? {
                None => entered.not_measured.push((measurand, spot)),
                Some(reading) => {
                    if let Some(far) = self.far_off(product, reading.amount).filter(|_| reason.is_none()) {
                        let message =
                            format!("{} `{}` is {far}, and no reason is given", field.label(), reading.text);
                        return Err(AppError::usage(
                            message,
                            vec!["type it again, or say why it is kept".to_owned()],
                        ));
                    }
                    let (reason, device_line) = (reason.clone(), device_line.clone());
                    entered.readings.push(EnteredReading { spot, reading, reason, device_line });
                }
            }
        }
        if let Some(name) = &draft.probe {
            entered.probe = Some(self.probe(name)?);
        }
        Ok(entered)
    }

    /// Returns a probe of the desk.
    pub(super) fn probe(&self, name: &str) -> Result<Probe, AppError> {
        self.instruments.probe(name).cloned().ok_or_else(|| {
            let names: Vec<String> =
                self.instruments.probes.iter().map(|probe| format!("`{}`", probe.name)).collect();
            AppError::usage(format!("probe `{name}` is not one of {}", names.join(", ")), Vec::new())
        })
    }

    /// Writes a piece with its readings, settles it and every piece that bears its serial, and adds the journal row.
    pub(super) fn enter(
        &self,
        writer: &Writer<'_>,
        lot: LotId,
        entered: &Entered,
    ) -> Result<PieceId, AppError> {
        let row = lot_of(writer.read(), lot)?;
        LotCount { expected: row.expected, logged: row.logged }
            .after(LotEvent::PieceLogged)
            .map_err(|refusal| AppError::refused(&format!("lot `{}`", row.number), &refusal))?;
        let at = writer.act().at;
        let id = PieceId::new(new_uuid(at));
        let serial = entered.serial.as_ref();
        writer.insert_piece(&NewPiece { id, lot, place: row.places + 1, serial: entered.serial.clone() })?;
        writer.tie_serial(lot, id, serial)?;
        let readings = new_readings(entered, &self.instruments, || ReadingId::new(new_uuid(at)));
        for reading in &readings {
            writer.insert_reading(id, reading)?;
        }
        let probe = entered.probe.as_ref().filter(|_| readings.iter().any(|reading| reading.probe.is_some()));
        if let Some(probe) = probe {
            writer.prefer(LAST_PROBE, &probe.name)?;
        }
        let assessment = self.settle(writer, id)?;
        let piece = piece_of(writer.read(), id)?;
        for other in self.affected(writer.read(), &piece, serial)? {
            self.settle_identity(writer, other)?;
        }
        let mut payload = json!({
            "piece": id.to_string(),
            "number": piece.number.to_string(),
            "lot": lot.to_string(),
            "product": piece.product.as_str(),
            "readings": readings.iter().map(reading_json).collect::<Vec<_>>(),
            "assessment": assessment,
        });
        self.screen_when_complete(writer, lot, &mut payload)?;
        writer.journal(Deed::PieceLogged, &payload, None)?;
        Ok(id)
    }

    /// Says how far a value is from what the product lets expect, when it is more than three times off.
    pub(super) fn far_off(&self, product: &Product, amount: Amount) -> Option<String> {
        let value = amount.value();
        if amount.measurand == Measurand::Temperature {
            let (low, high) = USUAL_TEMPERATURES;
            return (!(low..=high).contains(&value))
                .then(|| format!("outside the usual {low:.0} to {high:.0} C"));
        }
        let (low, high) = self.expected(product, amount.measurand)?;
        let unit = amount.unit().symbol;
        if value > high * FAR_OFF {
            Some(format!("{:.1} times the expected {high} {unit}", value / high))
        } else if value * FAR_OFF < low {
            let share =
                if value > 0.0 { format!("1/{:.1} of", low / value) } else { "nothing of".to_owned() };
            Some(format!("{share} the expected {low} {unit}"))
        } else {
            None
        }
    }

    /// Returns the range in which a product lets a value lie, in the first unit; `None` where it says nothing.
    fn expected(&self, product: &Product, measurand: Measurand) -> Option<(f64, f64)> {
        let mass = |mass: Mass| mass.as_grams();
        let range = match measurand {
            Measurand::Mass => match (&product.mass, &product.mass_range) {
                (Some(specified), _) => Some((mass(specified.nominal.value), mass(specified.nominal.value))),
                (None, Some(range)) => Some((mass(range.low), mass(range.high))),
                (None, None) => None,
            },
            Measurand::Conductivity => {
                let conductivity = self.catalogue.alloy_of(product).conductivity.value.as_ms_per_m();
                Some((conductivity, conductivity))
            }
            Measurand::Temperature => None,
            length => {
                let specified = match length {
                    Measurand::Diameter => &product.diameter,
                    Measurand::Thickness => &product.thickness,
                    Measurand::Length => &product.length,
                    _ => &product.width,
                };
                let stated = specified.as_ref().filter(|length| !length.is_customary());
                let nominal = stated.map(|length| length.nominal.value.as_millimetres());
                nominal.map(|nominal| (nominal, nominal))
            }
        };
        range.filter(|(low, high)| *low > 0.0 && *high > 0.0)
    }
}

/// Returns the fields of the form for a product, in the order of the desk.
fn fields(product: &Product, serials_declared: bool) -> Vec<Field> {
    let reading = |measurand| Field::Reading(measurand, 1);
    let mut fields = Vec::new();
    if serials_declared || product.kind == Kind::Bar {
        fields.push(Field::Serial);
    }
    fields.push(reading(Measurand::Mass));
    match product.shape {
        Shape::Round => fields.push(reading(Measurand::Diameter)),
        Shape::Rectangular | Shape::Cast => {
            fields.extend([reading(Measurand::Length), reading(Measurand::Width)])
        }
    }
    fields.push(reading(Measurand::Thickness));
    fields.push(reading(Measurand::Conductivity));
    if asks_two_spots(product) {
        fields.push(Field::Reading(Measurand::Conductivity, 2));
    }
    fields.push(reading(Measurand::Temperature));
    fields
}

/// Tells whether a product is a bar so heavy that one spot says too little of it.
fn asks_two_spots(product: &Product) -> bool {
    let nominal = product.mass.as_ref().map(|mass| mass.nominal.value);
    let least = nominal.or(product.mass_range.as_ref().map(|range| range.low));
    product.kind == Kind::Bar && least.is_some_and(|mass| mass >= Mass::from_grams(TWO_SPOTS_FROM_GRAMS))
}

/// Reads a serial field: nothing and `-` both mean that there is none.
pub(super) fn read_serial(text: &str) -> Result<Option<Serial>, AppError> {
    match crate::quantity::entry::clean(text).as_str() {
        "" | "-" => Ok(None),
        "=" => {
            let message = "serial `=` repeats nothing: each piece has a serial of its own";
            Err(AppError::usage(message, vec!["read it from the piece, or type `-` for none".to_owned()]))
        }
        text => Serial::parse(text).map(Some).map_err(|error| AppError::usage(error.to_string(), Vec::new())),
    }
}

/// Reads a field of a reading; `None` for `-`.
pub(super) fn read_reading(
    field: Field,
    measurand: Measurand,
    text: &str,
) -> Result<Option<TypedReading>, AppError> {
    let usage = |message: String, hint: &str| AppError::usage(message, vec![hint.to_owned()]);
    match typed::read(measurand, text, None) {
        Ok(TypedField::Value(reading)) => Ok(Some(reading)),
        Ok(TypedField::NotMeasured) => Ok(None),
        Ok(TypedField::Nothing) => {
            Err(usage(format!("{} is empty", field.label()), "type the value, or `-` for not measured"))
        }
        Ok(TypedField::Repeat) => Err(usage(
            format!("{} `=` repeats nothing: a reading is taken anew on each piece", field.label()),
            "type the value, or `-` for not measured",
        )),
        Err(error) => Err(AppError::usage(error.to_string(), Vec::new())),
    }
}

/// Makes the rows of everything that was entered.
fn new_readings(
    entered: &Entered,
    instruments: &Instruments,
    mut id: impl FnMut() -> ReadingId,
) -> Vec<NewReading> {
    let mut readings = Vec::new();
    if let Some(serial) = &entered.serial {
        readings.push(NewReading::of_serial(id(), serial));
    }
    for EnteredReading { spot, reading, reason, device_line } in &entered.readings {
        let probe =
            (reading.amount.measurand == Measurand::Conductivity).then(|| entered.probe.clone()).flatten();
        readings.push(NewReading {
            probe,
            instrument: instruments.name_for(reading.amount.measurand).map(str::to_owned),
            reason: reason.clone(),
            device_line: device_line.clone(),
            ..NewReading::of_typed(id(), *spot, reading)
        });
    }
    for (measurand, spot) in &entered.not_measured {
        readings.push(NewReading::nothing(id(), Subject::Measured(*measurand), *spot));
    }
    readings
}

/// Returns the field that a word of the journal and a spot name.
pub(super) fn reading_field(word: &str, spot: u8) -> Option<Field> {
    match word == Subject::Serial.word() {
        true => Some(Field::Serial),
        false => Measurand::named(word).map(|measurand| Field::Reading(measurand, spot)),
    }
}

/// Returns a reading as the journal tells it.
pub(super) fn reading_json(reading: &NewReading) -> Value {
    let value = reading.value.as_ref();
    json!({
        "id": reading.id.to_string(),
        "measurand": reading.subject.word(),
        "spot": reading.spot,
        "base": value.map(|(base, ..)| base),
        "step": value.map(|(_, step, _)| step),
        "unit": value.map(|(.., unit)| unit),
        "text": reading.text,
        "probe": reading.probe.as_ref().map(|probe| probe.name.as_str()),
        "instrument": reading.instrument,
        "replaces": reading.replaces.map(|id| id.to_string()),
        "reason": reading.reason,
        "device_line": reading.device_line,
    })
}
