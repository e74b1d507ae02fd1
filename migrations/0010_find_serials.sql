-- Finds a piece by the last characters of its serial, and shipments and lots by source and product, without reading whole tables.

-- `substr` is part of SQLite itself, so that any client can go on writing to these tables.
CREATE INDEX piece_serial_end ON piece (substr(serial_key, -4)) WHERE serial_key IS NOT NULL;
CREATE INDEX expected_serial_start ON expected_serial (serial_key) WHERE piece IS NULL;
CREATE INDEX expected_serial_end ON expected_serial (substr(serial_key, -4)) WHERE piece IS NULL;
CREATE INDEX shipment_source ON shipment (source COLLATE NOCASE, number);
CREATE INDEX lot_product ON lot (product);
