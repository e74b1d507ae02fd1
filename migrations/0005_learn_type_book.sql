-- Adds the type book, because what released pieces measured tells which new piece of the product is unlike them.

-- What a released piece measured, one row a quantity, in the quantity's first unit (g, mm, MS/m at 20 °C, share of the
-- envelope). A row counts unless its release is named in type_book_withdrawn.
CREATE TABLE type_book_value (
    id INTEGER PRIMARY KEY,
    product TEXT NOT NULL,
    quantity TEXT NOT NULL CHECK (quantity IN
        ('mass', 'diameter', 'length', 'width', 'thickness', 'conductivity', 'fill')),
    instrument TEXT NOT NULL CHECK (length(instrument) > 0),
    piece BLOB NOT NULL REFERENCES piece (id),
    decision BLOB NOT NULL REFERENCES decision (id),
    lot BLOB NOT NULL REFERENCES lot (id),
    value REAL NOT NULL,
    repeatability REAL NOT NULL CHECK (repeatability >= 0),
    step REAL NOT NULL CHECK (step >= 0),
    shared REAL NOT NULL CHECK (shared >= 0),
    released_ms INTEGER NOT NULL
) STRICT;
CREATE UNIQUE INDEX type_book_value_decision ON type_book_value (decision, quantity);
CREATE INDEX type_book_value_key ON type_book_value (product, quantity, instrument);
CREATE INDEX type_book_value_product ON type_book_value (product);

-- Releases that teach nothing any more: taken back, or found wrong later.
CREATE TABLE type_book_withdrawn (
    id INTEGER PRIMARY KEY,
    decision BLOB NOT NULL UNIQUE REFERENCES decision (id),
    product TEXT NOT NULL,
    reason TEXT NOT NULL CHECK (length(trim(reason)) > 0),
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL
) STRICT;
CREATE INDEX type_book_withdrawn_product ON type_book_withdrawn (product);

-- Pieces that count, by quantity and instrument; kept by the triggers below: nothing counts rows.
CREATE TABLE type_book_total (
    product TEXT NOT NULL,
    quantity TEXT NOT NULL,
    instrument TEXT NOT NULL,
    pieces INTEGER NOT NULL DEFAULT 0 CHECK (pieces >= 0),
    PRIMARY KEY (product, quantity, instrument)
) STRICT, WITHOUT ROWID;

-- Figures that assessments used, by version, with the last rows they were learned from: the figures in force are those
-- learned from the last rows there are.
CREATE TABLE type_book_version (
    id INTEGER PRIMARY KEY,
    product TEXT NOT NULL,
    version TEXT NOT NULL,
    last_value INTEGER NOT NULL,
    last_withdrawn INTEGER NOT NULL,
    text TEXT NOT NULL,
    at_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX type_book_version_product ON type_book_version (product, version);

-- Guards.

CREATE TRIGGER type_book_value_is_never_changed BEFORE UPDATE ON type_book_value BEGIN
    SELECT RAISE(ABORT, 'what a piece taught is never changed: its release is withdrawn');
END;
CREATE TRIGGER type_book_value_is_never_deleted BEFORE DELETE ON type_book_value BEGIN
    SELECT RAISE(ABORT, 'what a piece taught is never deleted: its release is withdrawn');
END;
CREATE TRIGGER type_book_value_is_new BEFORE INSERT ON type_book_value BEGIN
    SELECT RAISE(ABORT, 'this release taught this quantity already')
    WHERE EXISTS (SELECT 1 FROM type_book_value WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM type_book_value WHERE decision = NEW.decision AND quantity = NEW.quantity);
    SELECT RAISE(ABORT, 'only a released piece teaches')
    WHERE NOT EXISTS (SELECT 1 FROM stock WHERE piece = NEW.piece)
    OR NOT EXISTS (
        SELECT 1 FROM decision WHERE id = NEW.decision AND piece = NEW.piece AND lot = NEW.lot AND kind = 'released');
    SELECT RAISE(ABORT, 'a piece teaches about the product of its lot')
    WHERE NOT EXISTS (SELECT 1 FROM lot WHERE id = NEW.lot AND product = NEW.product);
END;

CREATE TRIGGER type_book_withdrawn_is_never_changed BEFORE UPDATE ON type_book_withdrawn BEGIN
    SELECT RAISE(ABORT, 'what was withdrawn from the type book stays withdrawn');
END;
CREATE TRIGGER type_book_withdrawn_is_never_deleted BEFORE DELETE ON type_book_withdrawn BEGIN
    SELECT RAISE(ABORT, 'what was withdrawn from the type book stays withdrawn');
END;
CREATE TRIGGER type_book_withdrawn_is_new BEFORE INSERT ON type_book_withdrawn BEGIN
    SELECT RAISE(ABORT, 'this release is withdrawn from the type book already')
    WHERE EXISTS (SELECT 1 FROM type_book_withdrawn WHERE id = NEW.id OR decision = NEW.decision);
END;

CREATE TRIGGER type_book_version_is_never_changed BEFORE UPDATE ON type_book_version BEGIN
    SELECT RAISE(ABORT, 'a version of the type book is never changed');
END;
CREATE TRIGGER type_book_version_is_never_deleted BEFORE DELETE ON type_book_version BEGIN
    SELECT RAISE(ABORT, 'a version of the type book is never deleted');
END;
CREATE TRIGGER type_book_version_is_new BEFORE INSERT ON type_book_version BEGIN
    SELECT RAISE(ABORT, 'a version of the type book with this row number is in the book already')
    WHERE EXISTS (SELECT 1 FROM type_book_version WHERE id = NEW.id);
    SELECT RAISE(ABORT, 'a version of the type book has one text')
    WHERE EXISTS (
        SELECT 1 FROM type_book_version WHERE product = NEW.product AND version = NEW.version AND text <> NEW.text);
END;

-- A release that is taken back teaches nothing, whoever takes it back.

CREATE TRIGGER type_book_forgets_what_is_taken_back AFTER INSERT ON decision WHEN NEW.kind = 'release_undone' BEGIN
    INSERT INTO type_book_withdrawn (decision, product, reason, at_ms, operator)
    SELECT NEW.undoes, lot.product, NEW.reason, NEW.at_ms, NEW.operator FROM lot
    WHERE lot.id = NEW.lot AND EXISTS (SELECT 1 FROM type_book_value WHERE decision = NEW.undoes)
    AND NOT EXISTS (SELECT 1 FROM type_book_withdrawn WHERE decision = NEW.undoes);
END;

-- Running totals.

CREATE TRIGGER type_book_value_is_counted AFTER INSERT ON type_book_value BEGIN
    INSERT INTO type_book_total (product, quantity, instrument) SELECT NEW.product, NEW.quantity, NEW.instrument
    WHERE NOT EXISTS (
        SELECT 1 FROM type_book_total
        WHERE product = NEW.product AND quantity = NEW.quantity AND instrument = NEW.instrument);
    UPDATE type_book_total SET pieces = pieces + 1
    WHERE product = NEW.product AND quantity = NEW.quantity AND instrument = NEW.instrument;
END;
CREATE TRIGGER type_book_value_is_counted_off AFTER INSERT ON type_book_withdrawn BEGIN
    UPDATE type_book_total SET pieces = pieces - 1
    FROM type_book_value AS value WHERE value.decision = NEW.decision AND type_book_total.product = value.product
    AND type_book_total.quantity = value.quantity AND type_book_total.instrument = value.instrument;
END;

-- What the book held before: the checks of pieces in stock, as their assessments keep them. Repeatability and what the
-- readings of a lot share come from the lines of the uncertainty budget; the fill is learned from new pieces.

INSERT INTO type_book_value (product, quantity, instrument, piece, decision, lot, value, repeatability, step, shared,
    released_ms)
SELECT lot.product, kept.quantity,
    CASE kept.quantity WHEN 'mass' THEN 'scale' WHEN 'conductivity' THEN coalesce((
        SELECT probe.name FROM reading JOIN probe ON probe.id = reading.probe
        WHERE reading.piece = stock.piece AND reading.measurand = 'conductivity'
        AND NOT EXISTS (SELECT 1 FROM reading AS later WHERE later.replaces = reading.id)
        ORDER BY reading.spot DESC LIMIT 1), 'probe not recorded') ELSE 'calliper' END,
    stock.piece, stock_value.decision, piece.lot, kept.value / kept.per_unit,
    coalesce((SELECT max(json_extract(line.value, '$.u.base')) FROM json_each(kept.budget) AS line
        WHERE json_extract(line.value, '$.name') = 'repeatability'), 0) / kept.per_unit,
    coalesce((SELECT max(reading.step) FROM reading WHERE reading.piece = stock.piece
        AND reading.measurand = kept.quantity
        AND NOT EXISTS (SELECT 1 FROM reading AS later WHERE later.replaces = reading.id)), 0) / kept.per_unit,
    CASE kept.quantity WHEN 'conductivity' THEN kept.u ELSE coalesce((
        SELECT max(json_extract(line.value, '$.u.base')) FROM json_each(kept.budget) AS line
        WHERE json_extract(line.value, '$.name') = 'limit of error'), 0) END / kept.per_unit,
    stock.released_ms
FROM stock JOIN piece ON piece.id = stock.piece JOIN lot ON lot.id = piece.lot
JOIN stock_value ON stock_value.decision = (
    SELECT max(id) FROM decision WHERE decision.piece = stock.piece AND decision.kind = 'released')
JOIN (
    SELECT assessment.id, json_extract(checked.value, '$.measurand') AS quantity,
        json_extract(checked.value, '$.value.base') AS value, json_extract(checked.value, '$.u.base') AS u,
        json_extract(checked.value, '$.budget') AS budget,
        CASE json_extract(checked.value, '$.measurand') WHEN 'mass' THEN 1e9 ELSE 1e6 END AS per_unit
    FROM assessment, json_each(assessment.body, '$.checks') AS checked
    WHERE assessment.standing <> 'refuse' AND json_extract(checked.value, '$.value.base') IS NOT NULL
    AND NOT EXISTS (
        SELECT 1 FROM json_each(assessment.body, '$.second_tests') AS test
        WHERE json_extract(test.value, '$.outcome') IN ('outside', 'marginal'))
) AS kept ON kept.id = stock_value.assessment
WHERE kept.quantity IN ('mass', 'diameter', 'length', 'width', 'thickness', 'conductivity')
ORDER BY stock.released_ms, stock.piece, kept.quantity;
