//! Where every instrument stands: state, last control, what is due next, and the charts of its controls.

use super::controls::point;
use super::instruments::InstrumentView;
use super::recalls::RecallView;
use super::{AppError, Desk};
use crate::evidence::control::{Circumstances, ControlPoint, ControlState, state};
use crate::evidence::{Amount, InstrumentKind};
use crate::scoring::{ControlChart, control_chart};
use crate::store::{ControlRow, Reader};
use chrono::{DateTime, Days, Local, NaiveDate, Utc};

/// Milliseconds of a day.
const DAY_MS: f64 = 86_400_000.0;
/// A drift that leaves the band later than this, in days, is not told: nobody knows so far ahead.
const FARTHEST_DAYS: f64 = 3650.0;

/// All instruments with their states, and what is recalled.
#[derive(Debug, Clone, PartialEq)]
pub struct InstrumentsView {
    /// One row an instrument; of a meter one row a probe.
    pub rows: Vec<InstrumentRow>,
    /// The recall list.
    pub recalls: Vec<RecallView>,
}

/// An instrument, of a meter with one probe, as it stands now.
#[derive(Debug, Clone, PartialEq)]
pub struct InstrumentRow {
    /// What is on record about it.
    pub instrument: InstrumentView,
    /// The probe, for a meter.
    pub probe: Option<String>,
    /// Where it stands.
    pub state: ControlState,
    /// Its controls by reference piece.
    pub series: Vec<ControlSeries>,
    /// When the next calibration is due: by the certificate or by its drift, whichever comes first.
    pub due: Option<Due>,
}

/// When an instrument is due, and by what.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Due {
    /// The day.
    pub day: NaiveDate,
    /// Whether its drift says so and not its certificate.
    pub by_drift: bool,
}

/// The controls of one instrument (and probe) on one reference piece, oldest first.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlSeries {
    /// The reference piece.
    pub reference: String,
    /// Its assigned value, as it was at the last control.
    pub assigned: Amount,
    /// Expanded uncertainty of a difference from it, k = 2: |E_n| is 1 there.
    pub permitted: Amount,
    /// The controls in force.
    pub controls: Vec<ControlRow>,
    /// Their chart.
    pub chart: ControlChart,
    /// The day on which the drift line leaves the permitted band.
    pub leaves: Option<NaiveDate>,
}

impl InstrumentRow {
    /// Returns the name people read: instrument, and probe where there is one.
    pub fn name(&self) -> String {
        match &self.probe {
            Some(probe) => format!("{}, {probe}", self.instrument.name),
            None => self.instrument.name.clone(),
        }
    }

    /// Returns the last control in force.
    pub fn last(&self) -> Option<&ControlRow> {
        self.series.iter().filter_map(|series| series.controls.last()).max_by_key(|control| control.at)
    }
}

impl Desk {
    /// Returns where every instrument stands now.
    ///
    /// # Errors
    /// What the book says.
    pub fn instruments_view(&self) -> Result<InstrumentsView, AppError> {
        let reader = self.store.read();
        let now = self.act().at;
        let register = self.register_view()?;
        let mut rows = Vec::new();
        for instrument in register.instruments {
            let controls = reader.controls(Some(&instrument.name))?;
            let probes: Vec<Option<String>> = match instrument.kind {
                InstrumentKind::Meter if !instrument.assumed && !instrument.checked_on.is_empty() => {
                    register.probes.iter().cloned().map(Some).collect()
                }
                _ => vec![None],
            };
            for probe in probes {
                let own: Vec<ControlRow> = controls
                    .iter()
                    .filter(|control| control.probe == probe && control.withdrawn.is_none())
                    .cloned()
                    .collect();
                rows.push(self.row(reader, instrument.clone(), probe, own, now)?);
            }
        }
        Ok(InstrumentsView { rows, recalls: self.recalls()? })
    }

    /// Returns every control on record, oldest first, those withdrawn among them; with a name those of one instrument.
    ///
    /// # Errors
    /// `Usage` for a name that neither the register nor the book knows.
    pub fn controls(&self, instrument: Option<&str>) -> Result<Vec<ControlRow>, AppError> {
        let reader = self.store.read();
        let Some(name) = instrument else { return Ok(reader.controls(None)?) };
        let known = self.setup.instruments.register.instrument(name);
        let found = reader.controls(Some(known.as_ref().map_or(name, |one| one.name.as_str())))?;
        if found.is_empty() && known.is_none() {
            return Err(super::instruments::not_registered(name, &self.setup.instruments.register));
        }
        Ok(found)
    }

    fn row(
        &self,
        reader: Reader<'_>,
        instrument: InstrumentView,
        probe: Option<String>,
        controls: Vec<ControlRow>,
        now: DateTime<Utc>,
    ) -> Result<InstrumentRow, AppError> {
        let points: Vec<ControlPoint> = controls.iter().map(point).collect();
        let state = if instrument.checked_on.is_empty() {
            ControlState::NotAsked
        } else {
            let keeps = self.setup.instruments.register.keeps_standardisation(&instrument.name);
            let probe_changed = match controls.last() {
                Some(last) if probe.is_some() && !keeps => {
                    reader.other_probe_between(&instrument.name, probe.as_deref(), last.at, now)?
                }
                _ => false,
            };
            let temperature = match controls.last() {
                Some(last) if instrument.kind == InstrumentKind::Meter => {
                    reader.last_temperature(last.at, now)?
                }
                _ => None,
            };
            state(&points, now, Circumstances { temperature, probe_changed })
        };
        let mut series: Vec<ControlSeries> = Vec::new();
        for control in controls {
            match series.iter_mut().find(|series| series.reference == control.reference) {
                Some(known) => known.controls.push(control),
                None => series.push(ControlSeries {
                    reference: control.reference.clone(),
                    assigned: Amount { measurand: control.measurand, base: control.assigned },
                    permitted: Amount { measurand: control.measurand, base: 0 },
                    controls: vec![control],
                    chart: control_chart(&[], &[], 0.0),
                    leaves: None,
                }),
            }
        }
        for one in &mut series {
            chart(one, now);
        }
        let by_drift = series.iter().filter_map(|series| series.leaves).min();
        let due = match (instrument.due, by_drift) {
            (Some(certificate), Some(drift)) if drift < certificate => {
                Some(Due { day: drift, by_drift: true })
            }
            (Some(day), _) => Some(Due { day, by_drift: false }),
            (None, Some(day)) => Some(Due { day, by_drift: true }),
            (None, None) => None,
        };
        Ok(InstrumentRow { instrument, probe, state, series, due })
    }
}

/// Computes the chart of a series and when its drift leaves the permitted band.
fn chart(series: &mut ControlSeries, now: DateTime<Utc>) {
    let Some((first, last)) = series.controls.first().zip(series.controls.last()) else { return };
    let measurand = last.measurand;
    let value = |base: i64| Amount { measurand, base }.value();
    series.assigned = Amount { measurand, base: last.assigned };
    let permitted = value(last.expanded).hypot(value(last.assigned_expanded));
    series.permitted = Amount::of(measurand, permitted);
    let assigned = value(last.assigned);
    let since = |at: DateTime<Utc>| (at - first.at).num_milliseconds() as f64 / DAY_MS;
    let days: Vec<f64> = series.controls.iter().map(|control| since(control.at)).collect();
    let values: Vec<(f64, bool)> =
        series.controls.iter().map(|control| (value(control.compared), control.passed)).collect();
    series.chart = control_chart(&values, &days, assigned);
    let today = since(now);
    let leaves = series
        .chart
        .drift
        .and_then(|line| line.leaves(today, assigned - permitted, assigned + permitted))
        .filter(|leaves| leaves - today <= FARTHEST_DAYS);
    series.leaves = leaves.and_then(|leaves| {
        let whole = (leaves - today).floor().max(0.0) as u64;
        now.with_timezone(&Local).date_naive().checked_add_days(Days::new(whole))
    });
}
