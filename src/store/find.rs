//! Looking things up while somebody types: every question is answered from an index, and nothing that grows with the pieces is
//! ever read whole.

use super::connection::Reader;
use super::error::StoreError;
use super::pieces::PieceRow;
use super::row::id;
use super::shipments::{LotRow, ShipmentRow};
use crate::intake::{LotId, ShipmentNumber};
use crate::reference::ProductId;

/// Characters at the end of a serial by which it can be found.
pub const SERIAL_END: usize = 4;
/// Most names of sources that are looked through for words inside them; beyond, their first word still finds them.
const MOST_SOURCES: u32 = 5000;

/// Restricts pieces to serials that begin with a text, the last ones first.
const PIECE_STARTS: &str = "WHERE piece.serial_key >= ?1 AND piece.serial_key < ?2
    ORDER BY piece.serial_key DESC, piece.id DESC LIMIT ?3";
/// Restricts pieces to serials that end in a text, the newest ones first.
const PIECE_ENDS: &str = "WHERE piece.serial_key IS NOT NULL AND substr(piece.serial_key, -4) = ?1
    AND substr(piece.serial_key, -?2) = ?3 ORDER BY piece.id DESC LIMIT ?4";
/// Restricts pieces to places of a lot.
const PIECE_PLACES: &str = "WHERE shipment.number = ?1 AND lot.line = ?2 AND piece.place BETWEEN ?3 AND ?4
    ORDER BY piece.place LIMIT ?5";
/// Restricts lots to lines of a shipment.
const LOT_LINES: &str =
    "WHERE shipment.number = ?1 AND lot.line BETWEEN ?2 AND ?3 ORDER BY lot.line LIMIT ?4";
/// Restricts lots to a product, the newest ones first.
const LOT_PRODUCT: &str = "WHERE lot.product = ?1 ORDER BY lot.id DESC LIMIT ?2";
const SHIPMENT_NUMBERS: &str =
    "SELECT id, number, source, received_ms FROM shipment WHERE number BETWEEN ?1 AND ?2
    ORDER BY number DESC LIMIT ?3";
const SHIPMENT_SOURCE: &str =
    "SELECT id, number, source, received_ms FROM shipment WHERE source = ?1 COLLATE NOCASE
    ORDER BY number DESC LIMIT ?2";
/// Names of sources from one on, each once: from each, a jump to the next.
const SOURCES_FROM: &str = "WITH RECURSIVE name (source) AS (
        SELECT (SELECT source FROM shipment WHERE source >= ?1 COLLATE NOCASE
                ORDER BY source COLLATE NOCASE LIMIT 1)
        UNION ALL
        SELECT (SELECT source FROM shipment WHERE source > name.source COLLATE NOCASE
                ORDER BY source COLLATE NOCASE LIMIT 1)
        FROM name WHERE name.source IS NOT NULL
    ) SELECT source FROM name WHERE source IS NOT NULL LIMIT ?2";
const EXPECTED_EXACTLY: &str = "SELECT lot, serial FROM expected_serial WHERE piece IS NULL AND serial_key = ?1 ORDER BY lot DESC LIMIT ?2";
const EXPECTED_STARTS: &str = "SELECT lot, serial FROM expected_serial
    WHERE piece IS NULL AND serial_key >= ?1 AND serial_key < ?2 ORDER BY serial_key DESC LIMIT ?3";
const EXPECTED_ENDS: &str = "SELECT lot, serial FROM expected_serial
    WHERE piece IS NULL AND substr(serial_key, -4) = ?1 AND substr(serial_key, -?2) = ?3 ORDER BY lot DESC LIMIT ?4";

/// Returns the first text behind all those that begin with the given.
fn behind(start: &str) -> String {
    format!("{start}{}", char::MAX)
}

/// Returns the last characters by which a serial is looked up.
fn end_of(key: &str) -> String {
    let skip = key.chars().count().saturating_sub(SERIAL_END);
    key.chars().skip(skip).collect()
}

fn length(key: &str) -> i64 {
    i64::try_from(key.chars().count()).unwrap_or(i64::MAX)
}

impl Reader<'_> {
    /// Returns shipments whose numbers lie between two, newest first.
    ///
    /// # Errors
    /// What the database says.
    pub fn shipments_numbered(&self, from: u32, to: u32, most: u32) -> Result<Vec<ShipmentRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(SHIPMENT_NUMBERS)?;
        statement.query_and_then((from, to, most), super::shipments::shipment_row)?.collect()
    }

    /// Returns shipments of a source, newest first; letters of either case are the same.
    ///
    /// # Errors
    /// What the database says.
    pub fn shipments_of_source(&self, source: &str, most: u32) -> Result<Vec<ShipmentRow>, StoreError> {
        let mut statement = self.connection.prepare_cached(SHIPMENT_SOURCE)?;
        statement.query_and_then((source, most), super::shipments::shipment_row)?.collect()
    }

    /// Returns the names of sources from one on in the order of the alphabet, each once.
    ///
    /// # Errors
    /// What the database says.
    pub fn sources_from(&self, name: &str) -> Result<Vec<String>, StoreError> {
        let mut statement = self.connection.prepare_cached(SOURCES_FROM)?;
        let rows = statement.query_map((name, MOST_SOURCES), |row| row.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Returns lots of a shipment whose lines lie between two.
    ///
    /// # Errors
    /// What the database says.
    pub fn lots_numbered(
        &self,
        shipment: ShipmentNumber,
        (from, to): (u32, u32),
        most: u32,
    ) -> Result<Vec<LotRow>, StoreError> {
        self.select_lots(LOT_LINES, (shipment.0, from, to, most))
    }

    /// Returns lots of a product, newest first.
    ///
    /// # Errors
    /// What the database says.
    pub fn lots_of_product(&self, product: &ProductId, most: u32) -> Result<Vec<LotRow>, StoreError> {
        self.select_lots(LOT_PRODUCT, (product.as_str(), most))
    }

    /// Returns pieces of a lot whose places lie between two, voided ones among them.
    ///
    /// # Errors
    /// What the database says.
    pub fn pieces_numbered(
        &self,
        shipment: ShipmentNumber,
        line: u32,
        (from, to): (u32, u32),
        most: u32,
    ) -> Result<Vec<PieceRow>, StoreError> {
        self.select_pieces(PIECE_PLACES, (shipment.0, line, from, to, most))
    }

    /// Returns pieces whose serial begins with a key, voided ones among them.
    ///
    /// # Errors
    /// What the database says.
    pub fn pieces_by_serial_start(&self, key: &str, most: u32) -> Result<Vec<PieceRow>, StoreError> {
        self.select_pieces(PIECE_STARTS, (key, behind(key), most))
    }

    /// Returns pieces whose serial ends in a key of at least [`SERIAL_END`] characters, newest first, voided ones among them.
    ///
    /// # Errors
    /// What the database says.
    pub fn pieces_by_serial_end(&self, key: &str, most: u32) -> Result<Vec<PieceRow>, StoreError> {
        self.select_pieces(PIECE_ENDS, (end_of(key), length(key), key, most))
    }

    /// Returns serials of packing lists that are just the key and that no piece carries yet.
    ///
    /// # Errors
    /// What the database says.
    pub fn expected_exactly(&self, key: &str, most: u32) -> Result<Vec<(LotId, String)>, StoreError> {
        let mut statement = self.connection.prepare_cached(EXPECTED_EXACTLY)?;
        let rows = statement.query_map((key, most), |row| Ok((id(row, "lot")?, row.get("serial")?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Returns serials of packing lists that begin with a key and that no piece carries yet.
    ///
    /// # Errors
    /// What the database says.
    pub fn expected_by_start(&self, key: &str, most: u32) -> Result<Vec<(LotId, String)>, StoreError> {
        let mut statement = self.connection.prepare_cached(EXPECTED_STARTS)?;
        let rows =
            statement.query_map((key, behind(key), most), |row| Ok((id(row, "lot")?, row.get("serial")?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Returns the same for serials that end in a key of at least [`SERIAL_END`] characters.
    ///
    /// # Errors
    /// What the database says.
    pub fn expected_by_end(&self, key: &str, most: u32) -> Result<Vec<(LotId, String)>, StoreError> {
        let mut statement = self.connection.prepare_cached(EXPECTED_ENDS)?;
        let params = (end_of(key), length(key), key, most);
        let rows = statement.query_map(params, |row| Ok((id(row, "lot")?, row.get("serial")?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

#[cfg(test)]
mod tests {
    use super::super::migrate::{MIGRATIONS, made_in_memory};
    use super::super::{pieces, shipments};
    use super::*;

    #[test]
    fn a_serial_is_looked_up_by_its_last_four_characters() {
        assert_eq!(end_of("AB12345"), "2345");
        assert_eq!(end_of("ÄÖ1"), "ÄÖ1");
        assert!(behind("AB").as_str() > "ABZZZ" && behind("AB").as_str() < "AC");
    }

    /// Returns how the database looks a question up, in its own words.
    fn plan(connection: &rusqlite::Connection, question: &str) -> Vec<String> {
        let mut statement = connection.prepare(&format!("EXPLAIN QUERY PLAN {question}")).unwrap();
        let mut rows = statement.raw_query();
        let mut plan = Vec::new();
        while let Some(row) = rows.next().unwrap() {
            plan.push(row.get("detail").unwrap());
        }
        plan
    }

    #[test]
    fn no_question_reads_a_table_that_grows_with_the_pieces() {
        let piece = |rest: &str| format!("{} {rest}", pieces::PIECE);
        let lot = |rest: &str| format!("{} {rest}", shipments::LOT);
        let questions = [
            SHIPMENT_NUMBERS.to_owned(),
            SHIPMENT_SOURCE.to_owned(),
            SOURCES_FROM.to_owned(),
            EXPECTED_EXACTLY.to_owned(),
            EXPECTED_STARTS.to_owned(),
            EXPECTED_ENDS.to_owned(),
            lot(LOT_LINES),
            lot(LOT_PRODUCT),
            piece(PIECE_PLACES),
            piece(PIECE_STARTS),
            piece(PIECE_ENDS),
        ];
        let connection = made_in_memory(MIGRATIONS).unwrap();
        for question in &questions {
            let plan = plan(&connection, question);
            assert!(plan.iter().any(|step| step.starts_with("SEARCH ")), "{question}: {plan:?}");
            for step in &plan {
                // The only thing that is walked along is the list of names made on the way.
                let own = ["SCAN name", "SCAN CONSTANT ROW"].contains(&step.as_str());
                assert!(!step.starts_with("SCAN ") || own, "{question}: {step}");
                assert!(!step.contains("TEMP B-TREE"), "{question}: {step}");
            }
        }
        // What the test looks for is there when a question does read a whole table.
        let whole = plan(&connection, &piece("WHERE piece.serial LIKE '%1'"));
        assert!(whole.iter().any(|step| step.starts_with("SCAN ")), "{whole:?}");
    }
}
