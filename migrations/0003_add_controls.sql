-- Adds the register of instruments, controls and recalls, because a reading is worth no more than the instrument behind it.

-- Registers that an owner set; the last row counts, NULL goes back to the instruments of the desk. The text is in rule_text.
CREATE TABLE instrument_setting (
    id INTEGER PRIMARY KEY,
    version TEXT,
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL
) STRICT;

-- The instrument that took a reading, by its name; NULL where nobody had registered one.
ALTER TABLE reading ADD COLUMN instrument TEXT;
CREATE INDEX reading_instrument ON reading (instrument, at_ms) WHERE instrument IS NOT NULL;

-- Readings on reference pieces, with what they came to when they were taken. `offset_min` is the desk's distance from UTC at
-- the time: with it the day of a control stays the same wherever the book is opened. Temperatures in microdegrees Celsius.
CREATE TABLE control (
    id BLOB PRIMARY KEY CHECK (length(id) = 16),
    instrument TEXT NOT NULL CHECK (length(trim(instrument)) > 0),
    reference TEXT NOT NULL CHECK (length(trim(reference)) > 0),
    measurand TEXT NOT NULL CHECK (measurand IN ('mass', 'length', 'conductivity')),
    probe INTEGER REFERENCES probe (id),
    reason TEXT NOT NULL CHECK (reason IN
        ('start of day', 'probe change', 'zero change', 'temperature moved', 'questionable reading')),
    base INTEGER NOT NULL,
    step INTEGER NOT NULL,
    unit TEXT NOT NULL,
    text TEXT NOT NULL,
    temperature INTEGER,
    temperature_text TEXT,
    -- The value that is compared: a conductivity referred to 20 degrees Celsius, else the value shown.
    compared INTEGER NOT NULL,
    expanded INTEGER NOT NULL CHECK (expanded >= 0),
    assigned INTEGER NOT NULL,
    assigned_expanded INTEGER NOT NULL CHECK (assigned_expanded >= 0),
    e_n REAL NOT NULL,
    outcome TEXT NOT NULL CHECK (outcome IN ('passed', 'failed')),
    finding TEXT NOT NULL CHECK (length(trim(finding)) > 0),
    instruments TEXT NOT NULL,
    offset_min INTEGER NOT NULL CHECK (offset_min BETWEEN -1439 AND 1439),
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL,
    CHECK ((measurand = 'conductivity') OR probe IS NULL),
    CHECK ((temperature IS NULL) = (temperature_text IS NULL))
) STRICT;
CREATE INDEX control_instrument ON control (instrument, at_ms);

-- Controls that were entered by mistake; in force is what is not named here.
CREATE TABLE control_withdrawn (
    control BLOB PRIMARY KEY REFERENCES control (id),
    reason TEXT NOT NULL CHECK (length(trim(reason)) > 0),
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Pieces in stock whose readings a failed control voided. A recall is over once the piece is back at the desk, or its
-- control was withdrawn.
CREATE TABLE recall (
    piece BLOB NOT NULL REFERENCES piece (id),
    control BLOB NOT NULL REFERENCES control (id),
    text TEXT NOT NULL CHECK (length(trim(text)) > 0),
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL,
    PRIMARY KEY (piece, control)
) STRICT, WITHOUT ROWID;
CREATE INDEX recall_control ON recall (control);

-- Guards. As before, a BEFORE INSERT guard stands beside each unique key of an insert-only table.

CREATE TRIGGER instrument_setting_is_never_changed BEFORE UPDATE ON instrument_setting BEGIN
    SELECT RAISE(ABORT, 'settings of the instruments are never changed: a new one follows');
END;
CREATE TRIGGER instrument_setting_is_never_deleted BEFORE DELETE ON instrument_setting BEGIN
    SELECT RAISE(ABORT, 'settings of the instruments are never deleted: a new one follows');
END;
CREATE TRIGGER instrument_setting_is_new BEFORE INSERT ON instrument_setting BEGIN
    SELECT RAISE(ABORT, 'a setting with this row number is in the book already')
    WHERE EXISTS (SELECT 1 FROM instrument_setting WHERE id = NEW.id);
END;

CREATE TRIGGER control_is_never_changed BEFORE UPDATE ON control BEGIN
    SELECT RAISE(ABORT, 'controls are never changed: a mistake is withdrawn with a reason');
END;
CREATE TRIGGER control_is_never_deleted BEFORE DELETE ON control BEGIN
    SELECT RAISE(ABORT, 'controls are never deleted: a mistake is withdrawn with a reason');
END;
CREATE TRIGGER control_is_new BEFORE INSERT ON control BEGIN
    SELECT RAISE(ABORT, 'a control with this identity is in the book already')
    WHERE EXISTS (SELECT 1 FROM control WHERE id = NEW.id);
END;

CREATE TRIGGER control_withdrawn_is_never_changed BEFORE UPDATE ON control_withdrawn BEGIN
    SELECT RAISE(ABORT, 'a withdrawn control stays withdrawn');
END;
CREATE TRIGGER control_withdrawn_is_never_deleted BEFORE DELETE ON control_withdrawn BEGIN
    SELECT RAISE(ABORT, 'a withdrawn control stays withdrawn');
END;
CREATE TRIGGER control_withdrawn_is_new BEFORE INSERT ON control_withdrawn BEGIN
    SELECT RAISE(ABORT, 'this control is withdrawn already')
    WHERE EXISTS (SELECT 1 FROM control_withdrawn WHERE control = NEW.control);
END;

CREATE TRIGGER recall_is_never_changed BEFORE UPDATE ON recall BEGIN
    SELECT RAISE(ABORT, 'a recall is never changed');
END;
CREATE TRIGGER recall_is_never_deleted BEFORE DELETE ON recall BEGIN
    SELECT RAISE(ABORT, 'a recall is never deleted: it is over once the piece is back at the desk');
END;
CREATE TRIGGER recall_is_new BEFORE INSERT ON recall BEGIN
    SELECT RAISE(ABORT, 'this piece is recalled for this control already')
    WHERE EXISTS (SELECT 1 FROM recall WHERE piece = NEW.piece AND control = NEW.control);
    SELECT RAISE(ABORT, 'only a failed control recalls')
    WHERE NOT EXISTS (SELECT 1 FROM control WHERE id = NEW.control AND outcome = 'failed');
    SELECT RAISE(ABORT, 'only a piece in stock is recalled: one at the desk is put on hold')
    WHERE NOT EXISTS (SELECT 1 FROM stock WHERE piece = NEW.piece);
END;
