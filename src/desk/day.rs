//! The end-of-day account, from running totals: no piece is counted for it.

use super::review_views::{DayLot, DayView, Worth};
use super::show::{Prices, prices, value_of};
use super::{AppError, Desk, Setup};
use crate::evidence::{Direct, Limit};
use crate::intake::PieceId;
use crate::quantity::{Mass, Quantity};
use crate::reference::{Metal, ProductId};
use crate::scoring::ENGINE_VERSION;
use crate::store::{ProductTotal, Reader};
use chrono::{DateTime, Days, Local, NaiveDate, NaiveTime, TimeZone, Utc};
use std::collections::{BTreeMap, BTreeSet};

impl Desk {
    /// Returns the account of a day in the time zone of the machine; without a day, of today.
    ///
    /// What is sellable, on hold and at risk is told as it stands now, whatever the day.
    ///
    /// # Errors
    /// `Usage` for a day that the calendar of the machine does not have.
    pub fn day(&self, day: Option<NaiveDate>) -> Result<DayView, AppError> {
        let now = self.act().at;
        let day = day.unwrap_or_else(|| now.with_timezone(&Local).date_naive());
        let (from, to) = span(day)?;
        let reader = self.store.read();
        let prices = prices(reader)?;
        let lots = reader.lots_touched(from, to)?.into_iter().map(|lot| DayLot {
            source: lot.source.clone(),
            released: lot.released,
            sent_back: lot.sent_back,
            surrendered: lot.surrendered,
            lot: self.setup.show_lot(lot, Vec::new()),
        });
        let lots = lots.collect();
        let received = reader.lots_received(from, to)?;
        let received = received.iter().map(|lot| (&lot.product, (lot.logged, lot.fine)));
        let received = self.setup.by_metal(received, &prices);
        let totals = reader.product_totals()?;
        let standing = |part: fn(&ProductTotal) -> (u32, Mass)| {
            self.setup.by_metal(totals.iter().map(|total| (&total.product, part(total))), &prices)
        };
        let recalled = recalled(reader)?;
        let sellable = totals.iter().map(|total| {
            let (pieces, fine) = total.released;
            let (away, of) = recalled.get(&total.product).copied().unwrap_or((0, Mass::from_base(0)));
            (
                &total.product,
                (pieces.saturating_sub(away), Mass::from_base(fine.base().saturating_sub(of.base()))),
            )
        });
        let sellable = self.setup.by_metal(sellable, &prices);
        let decisions = reader
            .decisions_between(from, to)?
            .iter()
            .enumerate()
            .map(|(done, decision)| {
                self.progress().step("decisions of the day", done as u64, None)?;
                self.setup.show_decision(reader, decision)
            })
            .collect::<Result<_, AppError>>()?;
        let (journal_rows, journal_head) = reader.journal_head()?;
        Ok(DayView {
            day,
            desk: self.desk_name()?,
            made_at: now,
            lots,
            received,
            sellable,
            recalled: self.setup.by_metal(recalled.iter().map(|(product, part)| (product, *part)), &prices),
            on_hold: standing(|total| total.hold),
            at_risk: standing(|total| total.refuse),
            doubts: reader.doubt_totals()?,
            second_tests: reader.second_tests_between(from, to)?,
            decisions,
            instruments: self.setup.instruments_in_words(),
            journal_rows,
            journal_head,
            versions: (
                ENGINE_VERSION,
                self.setup.catalogue.version().to_owned(),
                self.setup.policy.version().to_owned(),
            ),
        })
    }
}

impl Setup {
    /// Adds up pieces and fine mass by metal, in the order of the metals' names, and values each metal once.
    fn by_metal<'a>(
        &self,
        parts: impl Iterator<Item = (&'a ProductId, (u32, Mass))>,
        prices: &Prices,
    ) -> Vec<Worth> {
        let mut sums: BTreeMap<&'static str, (Metal, u32, i64)> = BTreeMap::new();
        for (product, (pieces, fine)) in parts.filter(|(_, (pieces, _))| *pieces > 0) {
            let metal =
                self.catalogue.product(product.as_str()).map_or(Metal::Other, |product| product.metal);
            let sum = sums.entry(metal.as_str()).or_insert((metal, 0, 0));
            sum.1 += pieces;
            sum.2 = sum.2.saturating_add(fine.base());
        }
        sums.into_values()
            .map(|(metal, pieces, fine)| {
                let fine = Mass::from_base(fine);
                let value = prices.get(&metal).map(|price| value_of(fine, *price));
                Worth { metal, pieces, fine, value }
            })
            .collect()
    }

    /// Says what is assumed about each instrument.
    fn instruments_in_words(&self) -> Vec<String> {
        let own = &self.instruments;
        let compared = if own.meter.compared_with_same_alloy {
            "compared with a reference piece of the same alloy"
        } else {
            "not compared with a reference piece of the same alloy"
        };
        let meter = format!(
            "{}: repeats within {} %, {compared}",
            own.meter.called(),
            f64::from(own.meter.repeatability_ppm) / 1e4
        );
        let thermometer = own.thermometer.name.as_deref().unwrap_or("thermometer");
        let mut words = vec![
            direct_in_words(&own.scale, |mass| format!("{} mg", mass.base() as f64 / 1e6)),
            direct_in_words(&own.calliper, |length| format!("{} mm", length.as_millimetres())),
        ];
        words.extend(own.only_for.iter().map(|(measurand, instrument)| {
            let said = direct_in_words(instrument, |length| format!("{} mm", length.as_millimetres()));
            format!("for the {measurand} {said}")
        }));
        words.push(meter);
        words.push(format!(
            "{thermometer}: standard uncertainty {} K",
            own.thermometer.standard_uncertainty.as_kelvin()
        ));
        words.extend(own.probes.iter().map(|probe| {
            let frequency = probe.frequency.map_or("frequency not known".to_owned(), |frequency| {
                format!("{} kHz", frequency.as_hertz() / 1000.0)
            });
            format!("probe {}: {frequency}", probe.name)
        }));
        words
    }
}

/// Adds up by product what has to come back from stock; a piece counts once, however often it was recalled.
fn recalled(reader: Reader<'_>) -> Result<BTreeMap<ProductId, (u32, Mass)>, AppError> {
    let mut sums: BTreeMap<ProductId, (u32, Mass)> = BTreeMap::new();
    let pieces: BTreeSet<PieceId> = reader.recalls()?.into_iter().map(|recall| recall.piece).collect();
    for piece in pieces {
        let Some(row) = reader.stock_of(piece)? else { continue };
        let sum = sums.entry(row.product).or_insert((0, Mass::from_base(0)));
        *sum = (sum.0 + 1, Mass::from_base(sum.1.base().saturating_add(row.fine.base())));
    }
    Ok(sums)
}

/// Says what is on record about an instrument that shows its quantity directly.
fn direct_in_words<Q: Quantity>(instrument: &Direct<Q>, show: impl Fn(Q) -> String) -> String {
    let off = match (&instrument.certificate, &instrument.limit) {
        (Some(certificate), _) => {
            format!("{}, U = {}, k = {}", certificate.named(), show(certificate.expanded), certificate.k)
        }
        (None, Some(Limit::Stated(limit))) => format!("limit of error {}", show(*limit)),
        (None, Some(Limit::Standard(standard))) => format!("limit of error by {}", standard.words()),
        (None, None) => "no limit of error on record".to_owned(),
    };
    format!("{}: repeats within {}, {off}", instrument.called(), show(instrument.repeatability))
}

/// Returns the moments at which a day begins and the next one does.
fn span(day: NaiveDate) -> Result<(DateTime<Utc>, DateTime<Utc>), AppError> {
    let missing =
        || AppError::usage(format!("day `{day}` is not in the calendar of this machine"), Vec::new());
    let begin = |day: NaiveDate| {
        // Where a clock is put forward at midnight the day begins with the first hour that exists.
        (0..24)
            .filter_map(|hour| NaiveTime::from_hms_opt(hour, 0, 0))
            .find_map(|time| Local.from_local_datetime(&day.and_time(time)).earliest())
            .map(|moment| moment.with_timezone(&Utc))
    };
    let next = day.checked_add_days(Days::new(1)).ok_or_else(missing)?;
    Ok((begin(day).ok_or_else(missing)?, begin(next).ok_or_else(missing)?))
}
