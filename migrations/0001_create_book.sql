-- Creates the book of a desk, because shipments, readings and holds need one place that refuses to lose or alter them.
--
-- Identities are 16 bytes, UUID version 7. Times are milliseconds since 1970, UTC. Quantities are whole base units (mass in
-- ng, length in nm, conductivity in S/m, temperature in microdegrees Celsius, fineness in parts per billion); beside them
-- stand the text as typed, the unit typed and one step of the last digit. Money is decimal text and a currency. Tables of
-- short rows are WITHOUT ROWID; those that hold long texts are not, so that a search never walks through the texts.

-- One row for every write, in the same transaction; each row carries the hash of the row before.
CREATE TABLE journal (
    sequence INTEGER PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL,
    what TEXT NOT NULL,
    undoes INTEGER REFERENCES journal (sequence),
    payload TEXT NOT NULL,
    payload_hash BLOB NOT NULL CHECK (length(payload_hash) = 32),
    previous_hash BLOB NOT NULL CHECK (length(previous_hash) = 32),
    row_hash BLOB NOT NULL CHECK (length(row_hash) = 32)
) STRICT;
CREATE UNIQUE INDEX journal_undoes ON journal (undoes) WHERE undoes IS NOT NULL;

-- Policies, instruments and dealer's products that assessments were made with, by version.
CREATE TABLE rule_text (
    kind TEXT NOT NULL CHECK (kind IN ('policy', 'instruments', 'products')),
    version TEXT NOT NULL,
    text TEXT NOT NULL,
    first_used_ms INTEGER NOT NULL,
    PRIMARY KEY (kind, version)
) STRICT;

CREATE TABLE shipment (
    id BLOB PRIMARY KEY CHECK (length(id) = 16),
    number INTEGER NOT NULL UNIQUE CHECK (number > 0),
    source TEXT NOT NULL CHECK (length(trim(source)) > 0),
    received_ms INTEGER NOT NULL,
    operator TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE lot (
    id BLOB PRIMARY KEY CHECK (length(id) = 16),
    shipment BLOB NOT NULL REFERENCES shipment (id),
    line INTEGER NOT NULL CHECK (line > 0),
    product TEXT NOT NULL,
    expected INTEGER NOT NULL CHECK (expected > 0),
    declared_mass_ng INTEGER,
    declared_mass_step_ng INTEGER,
    declared_mass_unit TEXT,
    declared_mass_text TEXT,
    declared_fineness_ppb INTEGER,
    declared_fineness_step_ppb INTEGER,
    declared_fineness_unit TEXT,
    declared_fineness_text TEXT,
    unit_cost TEXT,
    unit_cost_currency TEXT,
    -- Running totals, kept by the triggers below: no screen counts rows.
    places INTEGER NOT NULL DEFAULT 0,
    logged INTEGER NOT NULL DEFAULT 0 CHECK (logged >= 0),
    clear INTEGER NOT NULL DEFAULT 0 CHECK (clear >= 0),
    hold INTEGER NOT NULL DEFAULT 0 CHECK (hold >= 0),
    refuse INTEGER NOT NULL DEFAULT 0 CHECK (refuse >= 0),
    lot_doubts INTEGER NOT NULL DEFAULT 0 CHECK (lot_doubts >= 0),
    fine_ng INTEGER NOT NULL DEFAULT 0 CHECK (fine_ng >= 0),
    UNIQUE (shipment, line),
    CHECK (logged <= expected)
) STRICT, WITHOUT ROWID;

-- Serials of the packing list; `piece` is the piece that was logged with it.
CREATE TABLE expected_serial (
    lot BLOB NOT NULL REFERENCES lot (id),
    serial_key TEXT NOT NULL,
    serial TEXT NOT NULL,
    position INTEGER NOT NULL,
    piece BLOB REFERENCES piece (id),
    PRIMARY KEY (lot, serial_key)
) STRICT, WITHOUT ROWID;
CREATE INDEX expected_serial_of_piece ON expected_serial (piece) WHERE piece IS NOT NULL;

CREATE TABLE piece (
    id BLOB PRIMARY KEY CHECK (length(id) = 16),
    lot BLOB NOT NULL REFERENCES lot (id),
    place INTEGER NOT NULL CHECK (place > 0),
    serial TEXT,
    serial_key TEXT,
    state TEXT NOT NULL CHECK (state IN ('logged', 'held', 'voided')),
    standing TEXT NOT NULL CHECK (standing IN ('clear', 'hold', 'refuse')),
    assessment BLOB REFERENCES assessment (id),
    fine_ng INTEGER NOT NULL CHECK (fine_ng >= 0),
    logged_ms INTEGER NOT NULL,
    operator TEXT NOT NULL,
    UNIQUE (lot, place)
) STRICT, WITHOUT ROWID;
CREATE INDEX piece_serial ON piece (serial_key) WHERE serial_key IS NOT NULL;

-- Probes as they were when a reading was taken.
CREATE TABLE probe (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL,
    frequency_mhz INTEGER,
    coil_inner_nm INTEGER,
    coil_outer_nm INTEGER,
    lift_off_range_nm INTEGER,
    standardised TEXT NOT NULL
) STRICT;

-- Readings and serials as entered. A correction is a new row that names the one it replaces; in force is what no row
-- replaces. `base` is NULL for a serial and for "not measured".
CREATE TABLE reading (
    id BLOB PRIMARY KEY CHECK (length(id) = 16),
    piece BLOB NOT NULL REFERENCES piece (id),
    measurand TEXT NOT NULL CHECK (measurand IN
        ('serial', 'mass', 'diameter', 'thickness', 'length', 'width', 'conductivity', 'temperature')),
    spot INTEGER NOT NULL CHECK (spot BETWEEN 1 AND 99),
    base INTEGER,
    step INTEGER,
    unit TEXT,
    text TEXT NOT NULL,
    probe INTEGER REFERENCES probe (id),
    replaces BLOB REFERENCES reading (id),
    reason TEXT,
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL,
    CHECK ((base IS NULL) = (step IS NULL) AND (base IS NULL) = (unit IS NULL)),
    CHECK (replaces IS NULL OR length(trim(coalesce(reason, ''))) > 0)
) STRICT, WITHOUT ROWID;
CREATE INDEX reading_piece ON reading (piece);
CREATE UNIQUE INDEX reading_replaces ON reading (replaces) WHERE replaces IS NOT NULL;

-- What scoring said, with everything needed to compute it again.
CREATE TABLE assessment (
    id BLOB PRIMARY KEY CHECK (length(id) = 16),
    piece BLOB NOT NULL REFERENCES piece (id),
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL,
    standing TEXT NOT NULL CHECK (standing IN ('clear', 'hold', 'refuse')),
    score REAL NOT NULL,
    engine INTEGER NOT NULL,
    reference TEXT NOT NULL,
    policy TEXT NOT NULL,
    instruments TEXT NOT NULL,
    price TEXT,
    price_currency TEXT,
    lot_size INTEGER NOT NULL,
    readings TEXT NOT NULL,
    body TEXT NOT NULL
) STRICT;
CREATE INDEX assessment_piece ON assessment (piece);

-- Open and closed doubts; without a piece a hold belongs to the whole lot.
CREATE TABLE hold (
    id BLOB PRIMARY KEY CHECK (length(id) = 16),
    lot BLOB NOT NULL REFERENCES lot (id),
    piece BLOB REFERENCES piece (id),
    kind TEXT NOT NULL,
    origin TEXT NOT NULL CHECK (origin IN ('scoring', 'record', 'person')),
    text TEXT NOT NULL,
    offers TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('open', 'closed')),
    opened_ms INTEGER NOT NULL,
    opened_by TEXT NOT NULL,
    closed_ms INTEGER,
    closed_by TEXT,
    closed_reason TEXT,
    CHECK ((state = 'closed') = (closed_ms IS NOT NULL)),
    CHECK ((state = 'closed') = (closed_by IS NOT NULL)),
    CHECK ((state = 'closed') = (length(trim(coalesce(closed_reason, ''))) > 0))
) STRICT;
CREATE INDEX hold_piece ON hold (piece) WHERE piece IS NOT NULL;
CREATE INDEX hold_open ON hold (lot) WHERE state = 'open';
CREATE UNIQUE INDEX hold_open_of_lot ON hold (lot, kind) WHERE piece IS NULL AND state = 'open';

-- Which pieces raise a doubt of their lot: the hold of the lot closes when none does any more.
CREATE TABLE lot_doubt (
    lot BLOB NOT NULL REFERENCES lot (id),
    kind TEXT NOT NULL,
    piece BLOB NOT NULL REFERENCES piece (id),
    PRIMARY KEY (lot, kind, piece)
) STRICT, WITHOUT ROWID;
CREATE INDEX lot_doubt_piece ON lot_doubt (piece);

CREATE TABLE price (
    id INTEGER PRIMARY KEY,
    metal TEXT NOT NULL,
    per_troy_ounce TEXT NOT NULL,
    currency TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL
) STRICT;
CREATE INDEX price_metal ON price (metal, id);

-- Pieces that may be sold. Nothing gets here past an open hold.
CREATE TABLE stock (
    piece BLOB PRIMARY KEY REFERENCES piece (id),
    released_ms INTEGER NOT NULL,
    released_by TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- The half-filled piece of the bench. The only rows that are overwritten without a journal row.
CREATE TABLE draft (
    slot INTEGER PRIMARY KEY CHECK (slot = 1),
    at_ms INTEGER NOT NULL,
    body TEXT NOT NULL
) STRICT;

CREATE TABLE preference (
    name TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Guards. A BEFORE INSERT guard stands beside each unique key of an insert-only table, because INSERT OR REPLACE deletes
-- rows without asking the DELETE triggers.

CREATE TRIGGER journal_is_never_changed BEFORE UPDATE ON journal BEGIN
    SELECT RAISE(ABORT, 'journal rows are never changed');
END;
CREATE TRIGGER journal_is_never_deleted BEFORE DELETE ON journal BEGIN
    SELECT RAISE(ABORT, 'journal rows are never deleted');
END;
CREATE TRIGGER journal_goes_on BEFORE INSERT ON journal BEGIN
    SELECT RAISE(ABORT, 'a journal row takes the next number')
    WHERE NEW.sequence IS NOT (SELECT coalesce(max(sequence), 0) + 1 FROM journal);
    SELECT RAISE(ABORT, 'an act is undone once')
    WHERE NEW.undoes IS NOT NULL AND EXISTS (SELECT 1 FROM journal WHERE undoes = NEW.undoes);
END;

CREATE TRIGGER reading_is_never_changed BEFORE UPDATE ON reading BEGIN
    SELECT RAISE(ABORT, 'readings are never changed: a correction is a new reading that names the one it replaces');
END;
CREATE TRIGGER reading_is_never_deleted BEFORE DELETE ON reading BEGIN
    SELECT RAISE(ABORT, 'readings are never deleted: a correction is a new reading that names the one it replaces');
END;
CREATE TRIGGER reading_is_new BEFORE INSERT ON reading BEGIN
    SELECT RAISE(ABORT, 'a reading with this identity is in the book already')
    WHERE EXISTS (SELECT 1 FROM reading WHERE id = NEW.id);
    SELECT RAISE(ABORT, 'a reading is replaced once')
    WHERE NEW.replaces IS NOT NULL AND EXISTS (SELECT 1 FROM reading WHERE replaces = NEW.replaces);
    SELECT RAISE(ABORT, 'a correction replaces a reading of the same piece, kind and spot')
    WHERE NEW.replaces IS NOT NULL AND NOT EXISTS (
        SELECT 1 FROM reading WHERE id = NEW.replaces
        AND piece = NEW.piece AND measurand = NEW.measurand AND spot = NEW.spot);
    SELECT RAISE(ABORT, 'a second reading of the same kind and spot names the one it replaces')
    WHERE NEW.replaces IS NULL AND EXISTS (
        SELECT 1 FROM reading WHERE piece = NEW.piece AND measurand = NEW.measurand AND spot = NEW.spot);
    SELECT RAISE(ABORT, 'a voided piece takes no readings')
    WHERE EXISTS (SELECT 1 FROM piece WHERE id = NEW.piece AND state = 'voided');
END;

CREATE TRIGGER assessment_is_never_changed BEFORE UPDATE ON assessment BEGIN
    SELECT RAISE(ABORT, 'assessments are never changed: a new one follows');
END;
CREATE TRIGGER assessment_is_never_deleted BEFORE DELETE ON assessment BEGIN
    SELECT RAISE(ABORT, 'assessments are never deleted: a new one follows');
END;
CREATE TRIGGER assessment_is_new BEFORE INSERT ON assessment BEGIN
    SELECT RAISE(ABORT, 'an assessment with this identity is in the book already')
    WHERE EXISTS (SELECT 1 FROM assessment WHERE id = NEW.id);
END;

CREATE TRIGGER price_is_never_changed BEFORE UPDATE ON price BEGIN
    SELECT RAISE(ABORT, 'prices are never changed: a new one follows');
END;
CREATE TRIGGER price_is_never_deleted BEFORE DELETE ON price BEGIN
    SELECT RAISE(ABORT, 'prices are never deleted: a new one follows');
END;
CREATE TRIGGER price_is_new BEFORE INSERT ON price BEGIN
    SELECT RAISE(ABORT, 'a price with this number is in the book already')
    WHERE EXISTS (SELECT 1 FROM price WHERE id = NEW.id);
END;

CREATE TRIGGER shipment_is_never_changed BEFORE UPDATE ON shipment BEGIN
    SELECT RAISE(ABORT, 'a shipment is never changed');
END;
CREATE TRIGGER shipment_is_never_deleted BEFORE DELETE ON shipment BEGIN
    SELECT RAISE(ABORT, 'a shipment is never deleted');
END;
CREATE TRIGGER shipment_is_new BEFORE INSERT ON shipment BEGIN
    SELECT RAISE(ABORT, 'a shipment with this identity or number is in the book already')
    WHERE EXISTS (SELECT 1 FROM shipment WHERE id = NEW.id OR number = NEW.number);
END;

CREATE TRIGGER lot_keeps_what_was_declared
BEFORE UPDATE OF id, shipment, line, product, expected, declared_mass_ng, declared_mass_step_ng, declared_mass_unit,
    declared_mass_text, declared_fineness_ppb, declared_fineness_step_ppb, declared_fineness_unit,
    declared_fineness_text, unit_cost, unit_cost_currency ON lot BEGIN
    SELECT RAISE(ABORT, 'what the packing list declared is never changed: add a line');
END;
CREATE TRIGGER lot_is_never_deleted BEFORE DELETE ON lot BEGIN
    SELECT RAISE(ABORT, 'a lot is never deleted');
END;
CREATE TRIGGER lot_is_new BEFORE INSERT ON lot BEGIN
    SELECT RAISE(ABORT, 'a lot with this identity or line is in the book already')
    WHERE EXISTS (SELECT 1 FROM lot WHERE id = NEW.id OR (shipment = NEW.shipment AND line = NEW.line));
END;

CREATE TRIGGER piece_keeps_its_identity
BEFORE UPDATE OF id, lot, place, logged_ms, operator ON piece BEGIN
    SELECT RAISE(ABORT, 'a piece keeps its identity');
END;
CREATE TRIGGER piece_stays_voided BEFORE UPDATE ON piece WHEN OLD.state = 'voided' BEGIN
    SELECT RAISE(ABORT, 'a voided piece is never changed');
END;
CREATE TRIGGER piece_is_never_deleted BEFORE DELETE ON piece BEGIN
    SELECT RAISE(ABORT, 'a piece is never deleted: it is voided with a reason');
END;
CREATE TRIGGER piece_is_new BEFORE INSERT ON piece BEGIN
    SELECT RAISE(ABORT, 'a piece with this identity or place is in the book already')
    WHERE EXISTS (SELECT 1 FROM piece WHERE id = NEW.id OR (lot = NEW.lot AND place = NEW.place));
END;

CREATE TRIGGER hold_keeps_its_identity
BEFORE UPDATE OF id, lot, piece, kind, origin, opened_ms, opened_by ON hold BEGIN
    SELECT RAISE(ABORT, 'a hold keeps its identity');
END;
CREATE TRIGGER hold_stays_closed BEFORE UPDATE ON hold WHEN OLD.state = 'closed' BEGIN
    SELECT RAISE(ABORT, 'a closed hold is never changed');
END;
CREATE TRIGGER hold_is_never_deleted BEFORE DELETE ON hold BEGIN
    SELECT RAISE(ABORT, 'a hold is never deleted: it is closed with a reason');
END;
CREATE TRIGGER hold_is_new BEFORE INSERT ON hold BEGIN
    SELECT RAISE(ABORT, 'this hold is in the book already')
    WHERE EXISTS (SELECT 1 FROM hold WHERE id = NEW.id)
    OR (NEW.piece IS NULL AND NEW.state = 'open' AND EXISTS (
        SELECT 1 FROM hold WHERE lot = NEW.lot AND kind = NEW.kind AND piece IS NULL AND state = 'open'));
END;

CREATE TRIGGER stock_takes_no_held_piece BEFORE INSERT ON stock BEGIN
    SELECT RAISE(ABORT, 'a piece with an open hold cannot become stock')
    WHERE EXISTS (SELECT 1 FROM hold WHERE piece = NEW.piece AND state = 'open');
    SELECT RAISE(ABORT, 'a piece of a lot with an open hold cannot become stock')
    WHERE EXISTS (
        SELECT 1 FROM piece JOIN hold ON hold.lot = piece.lot
        WHERE piece.id = NEW.piece AND hold.piece IS NULL AND hold.state = 'open');
    SELECT RAISE(ABORT, 'only a logged piece can become stock')
    WHERE NOT EXISTS (SELECT 1 FROM piece WHERE id = NEW.piece AND state = 'logged');
END;
CREATE TRIGGER stock_is_never_changed BEFORE UPDATE ON stock BEGIN
    SELECT RAISE(ABORT, 'a stock row is never changed');
END;

-- Running totals.

CREATE TRIGGER piece_is_counted AFTER INSERT ON piece BEGIN
    UPDATE lot SET
        places = max(places, NEW.place),
        logged = logged + (NEW.state <> 'voided'),
        clear = clear + (NEW.state <> 'voided' AND NEW.standing = 'clear'),
        hold = hold + (NEW.state <> 'voided' AND NEW.standing = 'hold'),
        refuse = refuse + (NEW.state <> 'voided' AND NEW.standing = 'refuse'),
        fine_ng = fine_ng + CASE WHEN NEW.state <> 'voided' THEN NEW.fine_ng ELSE 0 END
    WHERE id = NEW.lot;
END;
CREATE TRIGGER piece_is_recounted AFTER UPDATE OF state, standing, fine_ng ON piece BEGIN
    UPDATE lot SET
        logged = logged + (NEW.state <> 'voided') - (OLD.state <> 'voided'),
        clear = clear + (NEW.state <> 'voided' AND NEW.standing = 'clear')
            - (OLD.state <> 'voided' AND OLD.standing = 'clear'),
        hold = hold + (NEW.state <> 'voided' AND NEW.standing = 'hold')
            - (OLD.state <> 'voided' AND OLD.standing = 'hold'),
        refuse = refuse + (NEW.state <> 'voided' AND NEW.standing = 'refuse')
            - (OLD.state <> 'voided' AND OLD.standing = 'refuse'),
        fine_ng = fine_ng + CASE WHEN NEW.state <> 'voided' THEN NEW.fine_ng ELSE 0 END
            - CASE WHEN OLD.state <> 'voided' THEN OLD.fine_ng ELSE 0 END
    WHERE id = NEW.lot;
END;
CREATE TRIGGER lot_hold_is_counted AFTER INSERT ON hold WHEN NEW.piece IS NULL AND NEW.state = 'open' BEGIN
    UPDATE lot SET lot_doubts = lot_doubts + 1 WHERE id = NEW.lot;
END;
CREATE TRIGGER lot_hold_is_recounted AFTER UPDATE OF state ON hold
WHEN NEW.piece IS NULL AND OLD.state = 'open' AND NEW.state = 'closed' BEGIN
    UPDATE lot SET lot_doubts = lot_doubts - 1 WHERE id = NEW.lot;
END;
