//! Reading values that carry a mark and sources.

use super::mistake::{Place, Reason};
use super::source::{Basis, Bounds, Mark, Ranged, SourceId, Sourced, Specified};
use super::table::{Cell, Fields, OrReport, Page};
use crate::quantity::Quantity;

/// A source named by a field, to be looked up when every file has been read.
pub(super) struct Use {
    pub field: String,
    pub id: SourceId,
    pub place: Place,
}

/// The file being read and the sources its fields name.
pub(super) struct Reader<'t> {
    pub page: Page<'t>,
    pub uses: Vec<Use>,
    /// Ids of the sources and materials begun so far.
    pub declared: Vec<String>,
}

/// What a value and its range are printed as in a message.
pub(super) trait Shown: Copy + PartialOrd {
    fn shown(self) -> String;
}

impl<Q: Quantity> Shown for Q {
    fn shown(self) -> String {
        let long = self.show(9);
        match long.split_once(' ') {
            Some((digits, unit)) => {
                format!("{} {unit}", digits.trim_end_matches('0').trim_end_matches('.'))
            }
            None => long,
        }
    }
}

impl Shown for f64 {
    fn shown(self) -> String {
        self.to_string()
    }
}

/// How a cell becomes a value.
pub(super) type Convert<'t, 'i, T> = fn(&Cell<'t, 'i>) -> Result<T, Reason>;

/// Mark and sources of a record, in this order.
type Provenance = (Mark, Vec<SourceId>);

impl<'t> Reader<'t> {
    /// Reads the sources a record names: at least one.
    pub fn sources(&mut self, fields: &mut Fields<'t, '_>) -> Option<Vec<SourceId>> {
        let cell = fields.required("sources", &mut self.page)?;
        let span = cell.span.clone();
        let listed: Vec<Cell<'_, '_>> = cell.list().or_report(&span, &mut self.page)?.collect();
        if listed.is_empty() {
            self.page.report(span, Reason::NoSource { field: cell.name });
            return None;
        }
        let mut ids = Vec::new();
        for member in listed {
            if let Some(id) = member.id().or_report(&member.span, &mut self.page) {
                ids.push(self.used(id, &member));
            }
        }
        Some(ids)
    }

    /// Notes that a cell names a source.
    pub fn used(&mut self, id: &str, cell: &Cell<'_, '_>) -> SourceId {
        let id = SourceId::new(id);
        let place = self.page.place(cell.span.start);
        self.uses.push(Use { field: cell.name.clone(), id: id.clone(), place });
        id
    }

    /// Reads a mark.
    pub fn mark(&mut self, fields: &mut Fields<'t, '_>) -> Option<Mark> {
        let cell = fields.required("mark", &mut self.page)?;
        cell.word(Mark::from_word, Mark::WORDS).or_report(&cell.span, &mut self.page)
    }

    fn provenance(&mut self, fields: &mut Fields<'t, '_>) -> Option<Provenance> {
        let mark = self.mark(fields);
        let sources = self.sources(fields);
        Some((mark?, sources?))
    }

    /// Reads a required field by a conversion.
    pub fn required<'i, T>(
        &mut self,
        fields: &mut Fields<'t, 'i>,
        field: &'static str,
        convert: Convert<'t, 'i, T>,
    ) -> Option<T> {
        let cell = fields.required(field, &mut self.page)?;
        convert(&cell).or_report(&cell.span, &mut self.page)
    }

    /// Opens a record: a table that is asked field by field.
    fn open<'i>(&mut self, cell: &Cell<'t, 'i>) -> Option<Fields<'t, 'i>> {
        cell.fields().or_report(&cell.span, &mut self.page)
    }

    /// Reads `{ value, mark, sources }`.
    pub fn sourced<'i, T>(&mut self, cell: &Cell<'t, 'i>, convert: Convert<'t, 'i, T>) -> Option<Sourced<T>> {
        let mut fields = self.open(cell)?;
        let value = self.required(&mut fields, "value", convert);
        let provenance = self.provenance(&mut fields);
        fields.finish(&mut self.page);
        let (mark, sources) = provenance?;
        Some(Sourced { value: value?, mark, sources })
    }

    /// Reads `{ value, low, high, mark, range, sources }`; `range` is the mark of low and high and may be left out.
    pub fn ranged<'i, T: Shown>(
        &mut self,
        cell: &Cell<'t, 'i>,
        convert: Convert<'t, 'i, T>,
    ) -> Option<Ranged<T>> {
        let mut fields = self.open(cell)?;
        let value = self.required(&mut fields, "value", convert);
        let low = self.required(&mut fields, "low", convert);
        let high = self.required(&mut fields, "high", convert);
        let range = fields
            .optional("range")
            .and_then(|word| word.word(Mark::from_word, Mark::WORDS).or_report(&word.span, &mut self.page));
        let provenance = self.provenance(&mut fields);
        fields.finish(&mut self.page);
        let (value, low, high) = (value?, low?, high?);
        if !(low <= value && value <= high) {
            let reason = Reason::OutsideOwnRange {
                field: cell.name.clone(),
                value: value.shown(),
                low: low.shown(),
                high: high.shown(),
            };
            self.page.report(cell.span.clone(), reason);
        }
        let (mark, sources) = provenance?;
        Some(Ranged { value, low, high, mark, range_mark: range.unwrap_or(mark), sources })
    }

    /// Reads `{ low, high, mark, sources }`.
    pub fn bounds<'i, T: Shown>(
        &mut self,
        cell: &Cell<'t, 'i>,
        convert: Convert<'t, 'i, T>,
    ) -> Option<Bounds<T>> {
        let mut fields = self.open(cell)?;
        let low = self.required(&mut fields, "low", convert);
        let high = self.required(&mut fields, "high", convert);
        let provenance = self.provenance(&mut fields);
        fields.finish(&mut self.page);
        let (low, high) = (low?, high?);
        if low > high {
            let reason = Reason::OutsideOwnRange {
                field: cell.name.clone(),
                value: low.shown(),
                low: low.shown(),
                high: high.shown(),
            };
            self.page.report(cell.span.clone(), reason);
        }
        let (mark, sources) = provenance?;
        Some(Bounds { low, high, mark, sources })
    }

    /// Reads a table of `nominal`, `basis`, `minus` and `plus`.
    pub fn specified<'i, Q: Quantity>(&mut self, cell: &Cell<'t, 'i>) -> Option<Specified<Q>> {
        let mut fields = self.open(cell)?;
        let nominal = fields
            .required("nominal", &mut self.page)
            .and_then(|nominal| self.sourced(&nominal, |cell| cell.quantity::<Q>()));
        let basis = match fields.optional("basis") {
            None => Some(Basis::Nominal),
            Some(word) => word.word(Basis::from_word, Basis::WORDS).or_report(&word.span, &mut self.page),
        };
        let minus = self.deviation(&mut fields, "minus", nominal.as_ref());
        let plus = self.deviation(&mut fields, "plus", nominal.as_ref());
        fields.finish(&mut self.page);
        Some(Specified { nominal: nominal?, basis: basis?, minus, plus })
    }

    fn deviation<Q: Quantity>(
        &mut self,
        fields: &mut Fields<'t, '_>,
        field: &'static str,
        nominal: Option<&Sourced<Q>>,
    ) -> Option<Sourced<Q>> {
        let cell = fields.optional(field)?;
        let deviation = self.sourced(&cell, |cell| cell.quantity::<Q>())?;
        if let Some(nominal) = nominal.filter(|nominal| deviation.value >= nominal.value) {
            let reason = Reason::DeviationTooLarge {
                field: cell.name.clone(),
                deviation: deviation.value.shown(),
                nominal: nominal.value.shown(),
            };
            self.page.report(cell.span.clone(), reason);
        }
        Some(deviation)
    }
}
