//! Finding shipments, lots, pieces and serials that are still expected, by what somebody remembers of them.

use super::show::lot_of;
use super::{AppError, Desk};
use crate::intake::{LotId, PieceState, ShipmentNumber, Whereabouts};
use crate::quantity::entry::clean;
use crate::reference::Product;
use crate::scoring::Standing;
use crate::store::{LotRow, PieceRow, Reader, SERIAL_END, ShipmentRow};
use chrono::{DateTime, Utc};
use std::collections::HashSet;

/// Rows that are looked at for each question before the best are taken.
const LOOKED_AT: u32 = 60;

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum HitKind {
    /// A piece.
    Piece,
    /// A serial of a packing list that no piece carries yet; its number is that of the lot.
    Expected,
    /// A lot.
    Lot,
    /// A shipment.
    Shipment,
}

impl HitKind {
    /// Returns the word people read.
    pub fn word(self) -> &'static str {
        match self {
            HitKind::Piece => "piece",
            HitKind::Expected => "expected",
            HitKind::Lot => "lot",
            HitKind::Shipment => "shipment",
        }
    }
}

/// Something that was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hit {
    /// What it is.
    pub kind: HitKind,
    /// Its number; of an expected serial that of the lot that waits for it.
    pub number: String,
    /// Serial, where it has one.
    pub serial: Option<String>,
    /// Source or product, in words.
    pub what: String,
    /// The lot to open, for a lot and an expected serial.
    pub lot: Option<LotId>,
    /// Standing of a piece or a lot, where there is one.
    pub standing: Option<Standing>,
    /// Where it is, in words.
    pub place: String,
    /// Whether its number or serial is just what was typed.
    pub exact: bool,
    /// When it was taken in or logged.
    pub at: DateTime<Utc>,
}

impl Desk {
    /// Finds what fits a text, at most `limit`: what it names exactly first, then the newest.
    ///
    /// It is the start of a number or of a serial, the start of any word of a source or a product, or, from four characters on,
    /// the end of a serial. Letters of either case are the same. Nothing fits an empty text.
    ///
    /// # Errors
    /// What the book says.
    pub fn search(&self, text: &str, limit: usize) -> Result<Vec<Hit>, AppError> {
        let text = clean(text);
        if text.is_empty() {
            return Ok(Vec::new());
        }
        let mut search = Search { desk: self, reader: self.store.read(), text: &text, hits: Vec::new() };
        search.numbers()?;
        search.serials()?;
        search.words()?;
        let mut hits = search.hits;
        let mut known = HashSet::new();
        hits.retain(|hit| known.insert((hit.kind, hit.number.clone(), hit.serial.clone())));
        hits.sort_by(|a, b| b.exact.cmp(&a.exact).then(b.at.cmp(&a.at)).then(a.kind.cmp(&b.kind)));
        hits.truncate(limit);
        Ok(hits)
    }
}

/// A search under way.
struct Search<'a> {
    desk: &'a Desk,
    reader: Reader<'a>,
    text: &'a str,
    hits: Vec<Hit>,
}

impl Search<'_> {
    fn is(&self, text: &str) -> bool {
        text.eq_ignore_ascii_case(self.text)
    }

    fn add_shipment(&mut self, shipment: &ShipmentRow) {
        let number = shipment.number.to_string();
        self.hits.push(Hit {
            kind: HitKind::Shipment,
            exact: self.is(&number),
            number,
            serial: None,
            what: shipment.source.clone(),
            lot: None,
            standing: None,
            place: "taken in".to_owned(),
            at: shipment.received_at,
        });
    }

    fn add_lot(&mut self, lot: &LotRow) -> Result<(), AppError> {
        let number = lot.number.to_string();
        let standing = super::show::lot_standing(lot);
        self.hits.push(Hit {
            kind: HitKind::Lot,
            exact: self.is(&number),
            number,
            serial: None,
            what: self.desk.setup.product_name(&lot.product),
            lot: Some(lot.id),
            standing,
            place: format!("{} of {} logged", lot.logged, lot.expected),
            at: self.received_at(lot)?,
        });
        Ok(())
    }

    fn add_expected(&mut self, lot: LotId, serial: String) -> Result<(), AppError> {
        let lot = lot_of(self.reader, lot)?;
        self.hits.push(Hit {
            kind: HitKind::Expected,
            number: lot.number.to_string(),
            exact: self.is(&serial),
            serial: Some(serial),
            what: self.desk.setup.product_name(&lot.product),
            lot: Some(lot.id),
            standing: None,
            place: "not logged yet".to_owned(),
            at: self.received_at(&lot)?,
        });
        Ok(())
    }

    fn add_piece(&mut self, piece: PieceRow) {
        let number = piece.number.to_string();
        let voided = piece.state == PieceState::Voided;
        let place = match piece.whereabouts {
            _ if voided => "voided",
            Whereabouts::Here => "at the desk",
            Whereabouts::Stock => "in stock",
            Whereabouts::SentBack => "sent back",
            Whereabouts::Surrendered => "surrendered",
        };
        let exact = self.is(&number) || piece.serial.as_deref().is_some_and(|serial| self.is(serial));
        self.hits.push(Hit {
            kind: HitKind::Piece,
            number,
            serial: piece.serial,
            what: self.desk.setup.product_name(&piece.product),
            lot: None,
            standing: (!voided).then_some(piece.standing),
            place: place.to_owned(),
            exact: exact && !voided,
            at: piece.logged_at,
        });
    }

    fn received_at(&self, lot: &LotRow) -> Result<DateTime<Utc>, AppError> {
        let shipment = self.reader.shipment(lot.shipment)?;
        Ok(shipment.map_or(DateTime::UNIX_EPOCH, |shipment| shipment.received_at))
    }

    /// Looks for numbers that begin so.
    fn numbers(&mut self) -> Result<(), AppError> {
        let Some(start) = NumberStart::of(self.text) else { return Ok(()) };
        let Some((line, place)) = start.lot else {
            let mut ranges = ranges(start.shipment, 4);
            // `12` is S-0012 too.
            ranges.extend(start.shipment.parse::<u32>().ok().map(|number| (number, number)));
            for (from, to) in ranges {
                for shipment in self.reader.shipments_numbered(from, to, LOOKED_AT)? {
                    self.add_shipment(&shipment);
                }
            }
            // All of a shipment that is named in full.
            if let Ok(number) = start.shipment.parse::<u32>()
                && start.shipment.len() >= 4
            {
                for lot in self.reader.lots_numbered(ShipmentNumber(number), ALL, LOOKED_AT)? {
                    self.add_lot(&lot)?;
                }
            }
            return Ok(());
        };
        let Ok(number) = start.shipment.parse::<u32>().map(ShipmentNumber) else { return Ok(()) };
        match place {
            None => {
                for range in ranges(line, 1) {
                    for lot in self.reader.lots_numbered(number, range, LOOKED_AT)? {
                        self.add_lot(&lot)?;
                    }
                }
                if let Ok(line) = line.parse() {
                    self.places(number, line, "")?;
                }
            }
            Some(place) => {
                if let Ok(line) = line.parse() {
                    self.places(number, line, place)?;
                }
            }
        }
        Ok(())
    }

    /// Looks for pieces of a lot whose place begins so.
    fn places(&mut self, shipment: ShipmentNumber, line: u32, place: &str) -> Result<(), AppError> {
        let mut ranges = ranges(place, 2);
        ranges.extend(place.parse::<u32>().ok().map(|number| (number, number)));
        for range in ranges {
            for piece in self.reader.pieces_numbered(shipment, line, range, LOOKED_AT)? {
                self.add_piece(piece);
            }
        }
        Ok(())
    }

    /// Looks for serials that begin or end so.
    fn serials(&mut self) -> Result<(), AppError> {
        if self.text.chars().any(char::is_whitespace) {
            return Ok(());
        }
        let key = self.text.to_uppercase();
        let mut pieces = self.reader.pieces_by_serial_start(&key, LOOKED_AT)?;
        // However many begin so: the one that is just so is among them.
        if let Ok(serial) = crate::intake::Serial::parse(self.text) {
            pieces
                .extend(self.reader.pieces_with_serial(&serial)?.into_iter().rev().take(LOOKED_AT as usize));
        }
        let mut expected = self.reader.expected_exactly(&key, LOOKED_AT)?;
        expected.extend(self.reader.expected_by_start(&key, LOOKED_AT)?);
        if key.chars().count() >= SERIAL_END {
            pieces.extend(self.reader.pieces_by_serial_end(&key, LOOKED_AT)?);
            expected.extend(self.reader.expected_by_end(&key, LOOKED_AT)?);
        }
        for piece in pieces {
            self.add_piece(piece);
        }
        for (lot, serial) in expected {
            self.add_expected(lot, serial)?;
        }
        Ok(())
    }

    /// Looks for words of sources and products that begin so.
    fn words(&mut self) -> Result<(), AppError> {
        let typed: Vec<String> = self.text.split_whitespace().map(str::to_lowercase).collect();
        let first = self.text.split_whitespace().next().unwrap_or_default();
        let mut sources = self.reader.sources_from(first)?;
        sources.retain(|source| starts_words(source, &typed));
        if !first.is_empty() {
            let all = self.reader.sources_from("")?.into_iter();
            sources.extend(all.filter(|source| starts_words(source, &typed)));
        }
        sources.sort();
        sources.dedup();
        for source in sources {
            for shipment in self.reader.shipments_of_source(&source, LOOKED_AT)? {
                self.add_shipment(&shipment);
            }
        }
        let fits = |product: &&Product| {
            starts_words(&product.name, &typed) || starts_words(product.id.as_str(), &typed)
        };
        for product in self.desk.setup.catalogue.products().filter(fits) {
            for lot in self.reader.lots_of_product(&product.id, LOOKED_AT)? {
                self.add_lot(&lot)?;
            }
        }
        Ok(())
    }
}

/// Every line or place.
const ALL: (u32, u32) = (1, u32::MAX);

/// Tells whether each word that was typed begins a word of a text, or the text itself.
fn starts_words(text: &str, typed: &[String]) -> bool {
    let text = text.to_lowercase();
    typed.iter().all(|word| {
        text.starts_with(word.as_str())
            || text.split(|c: char| !c.is_alphanumeric()).any(|part| part.starts_with(word.as_str()))
    })
}

/// The start of a number, in digits.
#[derive(Debug, PartialEq, Eq)]
struct NumberStart<'t> {
    shipment: &'t str,
    /// Line of the lot, and place of the piece where a dash follows.
    lot: Option<(&'t str, Option<&'t str>)>,
}

impl<'t> NumberStart<'t> {
    /// Reads `S`, `S-00`, `12`, `S-0012/`, `S-0012/3-0` and the like.
    fn of(text: &'t str) -> Option<Self> {
        let rest = text.strip_prefix(['S', 's']).unwrap_or(text);
        let rest = rest.strip_prefix('-').unwrap_or(rest);
        let digits = |text: &str| text.len() <= 9 && text.bytes().all(|b| b.is_ascii_digit());
        let found = match rest.split_once('/') {
            None => NumberStart { shipment: rest, lot: None },
            Some((shipment, lot)) => {
                let lot = lot.split_once('-').map_or((lot, None), |(line, place)| (line, Some(place)));
                NumberStart { shipment, lot: Some(lot) }
            }
        };
        let (line, place) = found.lot.unwrap_or(("", None));
        let all = digits(found.shipment) && digits(line) && digits(place.unwrap_or_default());
        all.then_some(found)
    }
}

/// Returns the numbers that begin with the digits when they are padded with zeros to a width.
fn ranges(digits: &str, width: u32) -> Vec<(u32, u32)> {
    let Ok(start) = digits.parse::<u64>() else { return vec![ALL] };
    let length = digits.len() as u32;
    let mut found = Vec::new();
    let mut add = |zeros: u32| {
        let step = 10u64.pow(zeros);
        let (from, to) = ((start * step).max(1), (start + 1) * step - 1);
        if let (Ok(from), Ok(to)) = (u32::try_from(from), u32::try_from(to.min(u64::from(u32::MAX))))
            && from <= to
        {
            found.push((from, to));
        }
    };
    if length <= width {
        add(width - length);
    }
    if !digits.starts_with('0') {
        for longer in (width + 1).max(length)..=9 {
            add(longer - length);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_read_as_far_as_it_is_typed() {
        let start =
            |text| NumberStart::of(text).map(|start| (start.shipment.to_owned(), start.lot.is_some()));
        assert_eq!(start("S"), Some((String::new(), false)));
        assert_eq!(start("s-00"), Some(("00".to_owned(), false)));
        assert_eq!(start("12/3-0"), Some(("12".to_owned(), true)));
        assert_eq!(start("S-0012/x"), None);
        assert_eq!(start("SILVER"), None);
    }

    #[test]
    fn digits_stand_for_all_numbers_that_begin_with_them() {
        let begins = |digits: &str, width: u32, number: u32| {
            ranges(digits, width).iter().any(|(from, to)| (*from..=*to).contains(&number))
        };
        for number in [1, 7, 12, 120, 1200, 9999, 12_000, 120_345] {
            for digits in ["0", "00", "001", "0012", "1", "12", "120", "1200", "12000", "9"] {
                let shown = format!("{number:04}");
                assert_eq!(begins(digits, 4, number), shown.starts_with(digits), "{digits} {shown}");
            }
        }
    }

    #[test]
    fn words_are_found_by_their_start_in_any_order() {
        let typed = |text: &str| text.split_whitespace().map(str::to_lowercase).collect::<Vec<_>>();
        assert!(starts_words("Three Geese Estates (invented)", &typed("est geese")));
        assert!(starts_words("us-5112-e", &typed("US-5112")));
        assert!(!starts_words("Three Geese", &typed("eese")));
    }
}
