//! An invented day at an invented desk: three shipments, so that a newcomer sees the bench with something on it.
//!
//! Every source, serial and reading is made up; the readings were drawn once with the scatter of the instruments beside
//! them and stand as text in `assets/demo/`. Among them: a silver disc of plated copper, 900 silver declared as 999, a heavy
//! alloy core in a 22 ct coin, a thick gold bar read with a high-frequency probe, a coin too small for its probe, a worn
//! light coin, two equal serials, a short count, and a piece half typed.

use super::{AppError, ControlRequest, Desk, Field};
use crate::quantity::Money;
use crate::reference::Metal;
use crate::store::Act;
use chrono::{Duration, Local, NaiveTime};

/// A shipment of the invented day.
struct Parcel {
    source: &'static str,
    list_name: &'static str,
    list: &'static str,
    readings_name: &'static str,
    readings: &'static str,
}

const PARCELS: [Parcel; 3] = [
    Parcel {
        source: "Moonpond Bullion (invented)",
        list_name: "moonpond-list.csv",
        list: include_str!("../../assets/demo/moonpond-list.csv"),
        readings_name: "moonpond-readings.csv",
        readings: include_str!("../../assets/demo/moonpond-readings.csv"),
    },
    Parcel {
        source: "Three Geese Estates (invented)",
        list_name: "three-geese-list.csv",
        list: include_str!("../../assets/demo/three-geese-list.csv"),
        readings_name: "three-geese-readings.csv",
        readings: include_str!("../../assets/demo/three-geese-readings.csv"),
    },
    Parcel {
        source: "Tin Kettle Traders (invented)",
        list_name: "tin-kettle-list.csv",
        list: include_str!("../../assets/demo/tin-kettle-list.csv"),
        readings_name: "tin-kettle-readings.csv",
        readings: include_str!("../../assets/demo/tin-kettle-readings.csv"),
    },
];

/// The instruments of the invented desk.
pub const INSTRUMENTS: &str = include_str!("../../assets/demo/instruments.toml");

/// Controls of the weeks before and of this morning, drawn once with the scatter of the instruments.
const CONTROLS: &str = include_str!("../../assets/demo/controls.csv");
/// Hours between this morning's controls and now, where the day is that old.
const CONTROLS_BEFORE: i64 = 2;

/// Prices of a troy ounce on the invented day, in the policy's currency.
const PRICES: [(Metal, &str); 4] =
    [(Metal::Gold, "2400"), (Metal::Silver, "30"), (Metal::Platinum, "950"), (Metal::Palladium, "900")];

/// Fills an empty book with the invented day.
///
/// # Errors
/// Those of the use cases it calls; with the files shipped none occurs on a writable disk.
pub fn fill(desk: &mut Desk) -> Result<(), AppError> {
    let now = desk.act();
    desk.set_register("assets/demo/instruments.toml", INSTRUMENTS)?;
    take_controls(desk, &now)?;
    let currency = desk.policy().currency;
    for (metal, price) in PRICES {
        let price = Money::parse(price, currency).expect("the prices of the demo are amounts");
        desk.set_price(metal, price)?;
    }
    let mut last = None;
    for parcel in PARCELS {
        let shipment = desk.receive(parcel.source, parcel.list_name, parcel.list, false)?;
        desk.log_readings(&shipment.number, parcel.readings_name, parcel.readings, false, false)?;
        last = Some(shipment);
    }
    // The last lot is still being logged: a piece lies on the bench, its diameter half typed.
    if let Some(lot) = last.and_then(|shipment| shipment.lots.into_iter().next_back()) {
        let mut draft = desk.new_draft(lot.id)?;
        let typed = [("mass", "31.11", true), ("diameter", "30.0", false)];
        for (name, text, accepted) in typed {
            let of_name = |field: &Field| matches!(field, Field::Reading(kind, _) if kind.name() == name);
            if let Some(index) = draft.fields.iter().position(|field| of_name(&field.field)) {
                text.clone_into(&mut draft.fields[index].text);
                draft.fields[index].accepted = accepted;
                draft.focus = index;
            }
        }
        desk.save_draft(&draft)?;
    }
    Ok(())
}

/// Takes the controls of the weeks before and of this morning, oldest first, each at the time of its day.
fn take_controls(desk: &mut Desk, now: &Act) -> Result<(), AppError> {
    let since_midnight = now.at.with_timezone(&Local).time().signed_duration_since(NaiveTime::MIN);
    let before = since_midnight.min(Duration::hours(CONTROLS_BEFORE));
    let mut rows: Vec<(i64, ControlRequest)> = CONTROLS.lines().skip(1).filter_map(control).collect();
    rows.sort_by_key(|(days, _)| std::cmp::Reverse(*days));
    for (days, request) in rows {
        let act = Act { operator: now.operator.clone(), at: now.at - before - Duration::days(days) };
        desk.record_control_at(&act, &request)?;
    }
    Ok(())
}

/// Reads a row of the controls: days before, reference piece, instrument, probe, value, temperature.
fn control(row: &str) -> Option<(i64, ControlRequest)> {
    let mut cells = row.split(',').map(str::trim);
    let days = cells.next()?.parse().ok()?;
    let text = |cell: Option<&str>| cell.filter(|cell| !cell.is_empty()).map(str::to_owned);
    let reference = text(cells.next())?;
    let (instrument, probe) = (text(cells.next()), text(cells.next()));
    let value = text(cells.next())?;
    let temperature = text(cells.next());
    Some((days, ControlRequest { reference, value, instrument, probe, temperature, reason: None }))
}
