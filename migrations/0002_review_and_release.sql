-- Adds second tests, operators, decisions, samples, endings and the value of stock, because a piece leaves the desk only on record.

-- What a second test showed, as typed data, and what it came to when it was recorded.
CREATE TABLE second_test (
    id BLOB PRIMARY KEY CHECK (length(id) = 16),
    piece BLOB NOT NULL REFERENCES piece (id),
    method TEXT NOT NULL,
    body TEXT NOT NULL,
    summary TEXT NOT NULL CHECK (length(trim(summary)) > 0),
    report TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL
) STRICT;
CREATE INDEX second_test_piece ON second_test (piece);
CREATE INDEX second_test_day ON second_test (at_ms, method);

-- Second tests that were entered by mistake; in force is what is not named here.
CREATE TABLE second_test_withdrawn (
    second_test BLOB PRIMARY KEY REFERENCES second_test (id),
    reason TEXT NOT NULL CHECK (length(trim(reason)) > 0),
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Who works at the desk. A change is a new row with the same name; the last row of a name counts.
CREATE TABLE operator (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL CHECK (length(trim(name)) > 0),
    role TEXT NOT NULL CHECK (role IN ('receiver', 'reviewer', 'owner')),
    pin_hash TEXT,
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL
) STRICT;
CREATE INDEX operator_name ON operator (name, id);

-- Policies that an owner set; the last row counts, NULL goes back to the policy of the desk. The text is in rule_text.
CREATE TABLE policy_setting (
    id INTEGER PRIMARY KEY,
    version TEXT,
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL
) STRICT;

-- Until when nothing of a shipment is released; the last row of a shipment counts.
CREATE TABLE holding_period (
    id INTEGER PRIMARY KEY,
    shipment BLOB NOT NULL REFERENCES shipment (id),
    source_kind TEXT NOT NULL CHECK (length(trim(source_kind)) > 0),
    until_ms INTEGER NOT NULL,
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL
) STRICT;
CREATE INDEX holding_period_shipment ON holding_period (shipment, id);

-- Pieces drawn at random from a lot: with the seed anyone draws them again. `shared` names the doubts they are to settle.
CREATE TABLE sample (
    id BLOB PRIMARY KEY CHECK (length(id) = 16),
    lot BLOB NOT NULL REFERENCES lot (id),
    seed TEXT NOT NULL,
    size INTEGER NOT NULL CHECK (size > 0),
    lot_size INTEGER NOT NULL CHECK (lot_size >= size),
    places INTEGER NOT NULL CHECK (places > 0),
    confidence REAL NOT NULL CHECK (confidence > 0 AND confidence < 1),
    detect_share REAL NOT NULL CHECK (detect_share > 0 AND detect_share < 1),
    pieces TEXT NOT NULL,
    shared TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL
) STRICT;
CREATE INDEX sample_lot ON sample (lot);

-- What somebody decided. Without a piece it is about the whole lot; `undoes` names the decision that it takes back. A
-- settlement keeps in `doubt` what exactly it settled, so that scoring the piece again does not open the same doubt again.
CREATE TABLE decision (
    id BLOB PRIMARY KEY CHECK (length(id) = 16),
    kind TEXT NOT NULL CHECK (kind IN ('settled', 'reopened', 'sent_back', 'send_back_undone', 'surrendered', 'released',
        'release_undone')),
    lot BLOB NOT NULL REFERENCES lot (id),
    piece BLOB REFERENCES piece (id),
    hold BLOB REFERENCES hold (id),
    evidence BLOB REFERENCES second_test (id),
    sample BLOB REFERENCES sample (id),
    undoes BLOB REFERENCES decision (id),
    doubt TEXT,
    reason TEXT NOT NULL CHECK (length(trim(reason)) > 0),
    at_ms INTEGER NOT NULL,
    operator TEXT NOT NULL,
    CHECK (piece IS NOT NULL OR kind IN ('settled', 'reopened')),
    CHECK ((kind IN ('reopened', 'send_back_undone', 'release_undone')) = (undoes IS NOT NULL)),
    CHECK ((kind = 'settled') = (doubt IS NOT NULL))
) STRICT;
CREATE INDEX decision_piece ON decision (piece) WHERE piece IS NOT NULL;
CREATE INDEX decision_lot ON decision (lot);
CREATE INDEX decision_day ON decision (at_ms);
CREATE UNIQUE INDEX decision_undoes ON decision (undoes) WHERE undoes IS NOT NULL;

-- Pieces that left the desk without becoming stock.
CREATE TABLE piece_end (
    piece BLOB PRIMARY KEY REFERENCES piece (id),
    kind TEXT NOT NULL CHECK (kind IN ('sent_back', 'surrendered')),
    decision BLOB NOT NULL REFERENCES decision (id),
    at_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- What a piece was worth when it was released: fine mass exact, one rounding, and by which rule.
CREATE TABLE stock_value (
    decision BLOB PRIMARY KEY REFERENCES decision (id),
    piece BLOB NOT NULL REFERENCES piece (id),
    fine_ng INTEGER NOT NULL CHECK (fine_ng >= 0),
    price TEXT,
    currency TEXT,
    value TEXT,
    rounding_rule TEXT NOT NULL,
    assessment BLOB NOT NULL REFERENCES assessment (id),
    CHECK ((price IS NULL) = (value IS NULL) AND (price IS NULL) = (currency IS NULL))
) STRICT, WITHOUT ROWID;
CREATE INDEX stock_value_piece ON stock_value (piece);
CREATE INDEX stock_day ON stock (released_ms);
CREATE INDEX journal_day ON journal (at_ms);
CREATE INDEX shipment_day ON shipment (received_ms);

-- In which quarters of an hour since 1970 pieces of a lot were logged; any day of any time zone is made of quarters.
CREATE TABLE lot_quarter (
    quarter INTEGER NOT NULL,
    lot BLOB NOT NULL REFERENCES lot (id),
    PRIMARY KEY (quarter, lot)
) STRICT, WITHOUT ROWID;

-- Where the pieces of a lot are now, with their fine mass; clear, hold and refuse are those still at the desk.
CREATE TABLE lot_total (
    lot BLOB PRIMARY KEY REFERENCES lot (id),
    clear INTEGER NOT NULL DEFAULT 0 CHECK (clear >= 0),
    clear_ng INTEGER NOT NULL DEFAULT 0 CHECK (clear_ng >= 0),
    hold INTEGER NOT NULL DEFAULT 0 CHECK (hold >= 0),
    hold_ng INTEGER NOT NULL DEFAULT 0 CHECK (hold_ng >= 0),
    refuse INTEGER NOT NULL DEFAULT 0 CHECK (refuse >= 0),
    refuse_ng INTEGER NOT NULL DEFAULT 0 CHECK (refuse_ng >= 0),
    released INTEGER NOT NULL DEFAULT 0 CHECK (released >= 0),
    released_ng INTEGER NOT NULL DEFAULT 0 CHECK (released_ng >= 0),
    sent_back INTEGER NOT NULL DEFAULT 0 CHECK (sent_back >= 0),
    sent_back_ng INTEGER NOT NULL DEFAULT 0 CHECK (sent_back_ng >= 0),
    surrendered INTEGER NOT NULL DEFAULT 0 CHECK (surrendered >= 0),
    surrendered_ng INTEGER NOT NULL DEFAULT 0 CHECK (surrendered_ng >= 0)
) STRICT, WITHOUT ROWID;

-- The same over all lots of a product, so that no screen adds up lots.
CREATE TABLE product_total (
    product TEXT PRIMARY KEY,
    clear INTEGER NOT NULL DEFAULT 0,
    clear_ng INTEGER NOT NULL DEFAULT 0,
    hold INTEGER NOT NULL DEFAULT 0,
    hold_ng INTEGER NOT NULL DEFAULT 0,
    refuse INTEGER NOT NULL DEFAULT 0,
    refuse_ng INTEGER NOT NULL DEFAULT 0,
    released INTEGER NOT NULL DEFAULT 0,
    released_ng INTEGER NOT NULL DEFAULT 0
) STRICT, WITHOUT ROWID;

-- Open doubts by kind: of pieces, of lots.
CREATE TABLE doubt_total (
    kind TEXT PRIMARY KEY,
    pieces INTEGER NOT NULL DEFAULT 0,
    lots INTEGER NOT NULL DEFAULT 0
) STRICT, WITHOUT ROWID;

-- Guards. As before, a BEFORE INSERT guard stands beside each unique key of an insert-only table.

CREATE TRIGGER second_test_is_never_changed BEFORE UPDATE ON second_test BEGIN
    SELECT RAISE(ABORT, 'second tests are never changed: a mistake is withdrawn with a reason');
END;
CREATE TRIGGER second_test_is_never_deleted BEFORE DELETE ON second_test BEGIN
    SELECT RAISE(ABORT, 'second tests are never deleted: a mistake is withdrawn with a reason');
END;
CREATE TRIGGER second_test_is_new BEFORE INSERT ON second_test BEGIN
    SELECT RAISE(ABORT, 'a second test with this identity is in the book already')
    WHERE EXISTS (SELECT 1 FROM second_test WHERE id = NEW.id);
    SELECT RAISE(ABORT, 'a voided piece takes no second tests')
    WHERE EXISTS (SELECT 1 FROM piece WHERE id = NEW.piece AND state = 'voided');
    SELECT RAISE(ABORT, 'a piece in stock takes no second tests: take back its release first')
    WHERE EXISTS (SELECT 1 FROM stock WHERE piece = NEW.piece);
    SELECT RAISE(ABORT, 'a piece that left the desk takes no second tests')
    WHERE EXISTS (SELECT 1 FROM piece_end WHERE piece = NEW.piece);
END;

CREATE TRIGGER second_test_withdrawn_is_never_changed BEFORE UPDATE ON second_test_withdrawn BEGIN
    SELECT RAISE(ABORT, 'a withdrawn second test stays withdrawn');
END;
CREATE TRIGGER second_test_withdrawn_is_never_deleted BEFORE DELETE ON second_test_withdrawn BEGIN
    SELECT RAISE(ABORT, 'a withdrawn second test stays withdrawn');
END;
CREATE TRIGGER second_test_withdrawn_is_new BEFORE INSERT ON second_test_withdrawn BEGIN
    SELECT RAISE(ABORT, 'this second test is withdrawn already')
    WHERE EXISTS (SELECT 1 FROM second_test_withdrawn WHERE second_test = NEW.second_test);
    SELECT RAISE(ABORT, 'the second tests of a piece in stock stay as they are: take back its release first')
    WHERE EXISTS (
        SELECT 1 FROM second_test JOIN stock ON stock.piece = second_test.piece WHERE second_test.id = NEW.second_test);
    SELECT RAISE(ABORT, 'the second tests of a piece that left the desk stay as they are')
    WHERE EXISTS (
        SELECT 1 FROM second_test JOIN piece_end ON piece_end.piece = second_test.piece
        WHERE second_test.id = NEW.second_test);
END;

CREATE TRIGGER operator_is_never_changed BEFORE UPDATE ON operator BEGIN
    SELECT RAISE(ABORT, 'operators are never changed: a new row follows');
END;
CREATE TRIGGER operator_is_never_deleted BEFORE DELETE ON operator BEGIN
    SELECT RAISE(ABORT, 'operators are never deleted: a new row follows');
END;
CREATE TRIGGER operator_is_new BEFORE INSERT ON operator BEGIN
    SELECT RAISE(ABORT, 'an operator with this row number is in the book already')
    WHERE EXISTS (SELECT 1 FROM operator WHERE id = NEW.id);
END;

CREATE TRIGGER policy_setting_is_never_changed BEFORE UPDATE ON policy_setting BEGIN
    SELECT RAISE(ABORT, 'settings of the policy are never changed: a new one follows');
END;
CREATE TRIGGER policy_setting_is_never_deleted BEFORE DELETE ON policy_setting BEGIN
    SELECT RAISE(ABORT, 'settings of the policy are never deleted: a new one follows');
END;
CREATE TRIGGER policy_setting_is_new BEFORE INSERT ON policy_setting BEGIN
    SELECT RAISE(ABORT, 'a setting with this row number is in the book already')
    WHERE EXISTS (SELECT 1 FROM policy_setting WHERE id = NEW.id);
END;
CREATE TRIGGER rule_text_is_new BEFORE INSERT ON rule_text BEGIN
    SELECT RAISE(ABORT, 'a version of the rules has one text')
    WHERE EXISTS (SELECT 1 FROM rule_text WHERE kind = NEW.kind AND version = NEW.version AND text <> NEW.text);
END;
CREATE TRIGGER rule_text_is_never_changed BEFORE UPDATE ON rule_text BEGIN
    SELECT RAISE(ABORT, 'a version of the rules is never changed');
END;
CREATE TRIGGER rule_text_is_never_deleted BEFORE DELETE ON rule_text BEGIN
    SELECT RAISE(ABORT, 'a version of the rules is never deleted');
END;

CREATE TRIGGER holding_period_is_never_changed BEFORE UPDATE ON holding_period BEGIN
    SELECT RAISE(ABORT, 'holding periods are never changed: a new one follows');
END;
CREATE TRIGGER holding_period_is_never_deleted BEFORE DELETE ON holding_period BEGIN
    SELECT RAISE(ABORT, 'holding periods are never deleted: a new one follows');
END;
CREATE TRIGGER holding_period_is_new BEFORE INSERT ON holding_period BEGIN
    SELECT RAISE(ABORT, 'a holding period with this row number is in the book already')
    WHERE EXISTS (SELECT 1 FROM holding_period WHERE id = NEW.id);
END;

CREATE TRIGGER sample_is_never_changed BEFORE UPDATE ON sample BEGIN
    SELECT RAISE(ABORT, 'a sample is never changed');
END;
CREATE TRIGGER sample_is_never_deleted BEFORE DELETE ON sample BEGIN
    SELECT RAISE(ABORT, 'a sample is never deleted');
END;
CREATE TRIGGER sample_is_new BEFORE INSERT ON sample BEGIN
    SELECT RAISE(ABORT, 'a sample with this identity is in the book already')
    WHERE EXISTS (SELECT 1 FROM sample WHERE id = NEW.id);
END;

CREATE TRIGGER decision_is_never_changed BEFORE UPDATE ON decision BEGIN
    SELECT RAISE(ABORT, 'decisions are never changed: one that takes it back follows');
END;
CREATE TRIGGER decision_is_never_deleted BEFORE DELETE ON decision BEGIN
    SELECT RAISE(ABORT, 'decisions are never deleted: one that takes it back follows');
END;
CREATE TRIGGER decision_is_new BEFORE INSERT ON decision BEGIN
    SELECT RAISE(ABORT, 'a decision with this identity is in the book already')
    WHERE EXISTS (SELECT 1 FROM decision WHERE id = NEW.id);
    SELECT RAISE(ABORT, 'a decision is taken back once')
    WHERE NEW.undoes IS NOT NULL AND EXISTS (SELECT 1 FROM decision WHERE undoes = NEW.undoes);
    SELECT RAISE(ABORT, 'a decision is taken back for the same piece and lot, by the kind that takes it back')
    WHERE NEW.undoes IS NOT NULL AND NOT EXISTS (
        SELECT 1 FROM decision AS old WHERE old.id = NEW.undoes AND old.piece IS NEW.piece AND old.lot = NEW.lot
        AND NEW.kind = CASE old.kind WHEN 'settled' THEN 'reopened' WHEN 'sent_back' THEN 'send_back_undone'
            WHEN 'released' THEN 'release_undone' END);
    SELECT RAISE(ABORT, 'a piece belongs to the lot of its decision')
    WHERE NEW.piece IS NOT NULL AND NOT EXISTS (SELECT 1 FROM piece WHERE id = NEW.piece AND lot = NEW.lot);
    SELECT RAISE(ABORT, 'the evidence of a decision is a second test of its piece, or of a piece of its lot')
    WHERE NEW.evidence IS NOT NULL AND NOT EXISTS (
        SELECT 1 FROM second_test JOIN piece ON piece.id = second_test.piece
        WHERE second_test.id = NEW.evidence AND piece.lot = NEW.lot
        AND (NEW.piece IS NULL OR NEW.sample IS NOT NULL OR piece.id = NEW.piece));
    SELECT RAISE(ABORT, 'a withdrawn second test is no evidence')
    WHERE EXISTS (SELECT 1 FROM second_test_withdrawn WHERE second_test = NEW.evidence);
END;

CREATE TRIGGER piece_end_is_never_changed BEFORE UPDATE ON piece_end BEGIN
    SELECT RAISE(ABORT, 'the end of a piece is never changed');
END;
CREATE TRIGGER piece_end_is_new BEFORE INSERT ON piece_end BEGIN
    SELECT RAISE(ABORT, 'this piece left the desk already')
    WHERE EXISTS (SELECT 1 FROM piece_end WHERE piece = NEW.piece);
    SELECT RAISE(ABORT, 'a piece in stock is neither sent back nor surrendered: take back its release first')
    WHERE EXISTS (SELECT 1 FROM stock WHERE piece = NEW.piece);
    SELECT RAISE(ABORT, 'a voided piece is neither sent back nor surrendered')
    WHERE EXISTS (SELECT 1 FROM piece WHERE id = NEW.piece AND state = 'voided');
    SELECT RAISE(ABORT, 'a piece leaves the desk by a decision about it')
    WHERE NOT EXISTS (SELECT 1 FROM decision WHERE id = NEW.decision AND piece = NEW.piece AND kind = NEW.kind);
END;
CREATE TRIGGER piece_end_is_taken_back_by_a_decision BEFORE DELETE ON piece_end BEGIN
    SELECT RAISE(ABORT, 'a piece comes back to the desk only by a decision that takes back its end')
    WHERE NOT EXISTS (SELECT 1 FROM decision WHERE undoes = OLD.decision);
END;

CREATE TRIGGER stock_value_is_never_changed BEFORE UPDATE ON stock_value BEGIN
    SELECT RAISE(ABORT, 'the value at release is never changed');
END;
CREATE TRIGGER stock_value_is_never_deleted BEFORE DELETE ON stock_value BEGIN
    SELECT RAISE(ABORT, 'the value at release is never deleted');
END;
CREATE TRIGGER stock_value_is_new BEFORE INSERT ON stock_value BEGIN
    SELECT RAISE(ABORT, 'this release has a value already')
    WHERE EXISTS (SELECT 1 FROM stock_value WHERE decision = NEW.decision);
END;

CREATE TRIGGER stock_is_new BEFORE INSERT ON stock BEGIN
    SELECT RAISE(ABORT, 'this piece is in stock already')
    WHERE EXISTS (SELECT 1 FROM stock WHERE piece = NEW.piece);
    SELECT RAISE(ABORT, 'a piece that left the desk cannot become stock')
    WHERE EXISTS (SELECT 1 FROM piece_end WHERE piece = NEW.piece);
    SELECT RAISE(ABORT, 'a piece cannot become stock before the holding period of its source is over')
    WHERE EXISTS (
        SELECT 1 FROM piece JOIN lot ON lot.id = piece.lot JOIN holding_period ON holding_period.shipment = lot.shipment
        WHERE piece.id = NEW.piece AND holding_period.until_ms > NEW.released_ms
        AND holding_period.id = (
            SELECT max(last.id) FROM holding_period AS last WHERE last.shipment = lot.shipment));
END;
CREATE TRIGGER stock_is_taken_back_by_a_decision BEFORE DELETE ON stock BEGIN
    SELECT RAISE(ABORT, 'a piece leaves stock only by a decision that takes back its release')
    WHERE NOT EXISTS (
        SELECT 1 FROM decision WHERE undoes = (
            SELECT max(id) FROM decision WHERE piece = OLD.piece AND kind = 'released'));
END;

CREATE TRIGGER piece_away_is_never_changed BEFORE UPDATE ON piece BEGIN
    SELECT RAISE(ABORT, 'a piece in stock is never changed: take back its release first')
    WHERE EXISTS (SELECT 1 FROM stock WHERE piece = OLD.id);
    SELECT RAISE(ABORT, 'a piece that left the desk is never changed')
    WHERE EXISTS (SELECT 1 FROM piece_end WHERE piece = OLD.id);
END;
CREATE TRIGGER reading_is_of_a_piece_here BEFORE INSERT ON reading BEGIN
    SELECT RAISE(ABORT, 'a piece in stock takes no readings: take back its release first')
    WHERE EXISTS (SELECT 1 FROM stock WHERE piece = NEW.piece);
    SELECT RAISE(ABORT, 'a piece that left the desk takes no readings')
    WHERE EXISTS (SELECT 1 FROM piece_end WHERE piece = NEW.piece);
END;
CREATE TRIGGER hold_is_of_a_piece_here BEFORE INSERT ON hold WHEN NEW.piece IS NOT NULL AND NEW.state = 'open' BEGIN
    SELECT RAISE(ABORT, 'a piece in stock takes no holds: take back its release first')
    WHERE EXISTS (SELECT 1 FROM stock WHERE piece = NEW.piece);
    SELECT RAISE(ABORT, 'a piece that left the desk takes no holds')
    WHERE EXISTS (SELECT 1 FROM piece_end WHERE piece = NEW.piece);
END;

-- Running totals.

CREATE TRIGGER lot_gets_totals AFTER INSERT ON lot BEGIN
    INSERT INTO product_total (product) SELECT NEW.product
    WHERE NOT EXISTS (SELECT 1 FROM product_total WHERE product = NEW.product);
    INSERT INTO lot_total (lot) VALUES (NEW.id);
END;
CREATE TRIGGER piece_is_added_up AFTER INSERT ON piece WHEN NEW.state <> 'voided' BEGIN
    UPDATE lot_total SET
        clear = clear + (NEW.standing = 'clear'), clear_ng = clear_ng + (NEW.standing = 'clear') * NEW.fine_ng,
        hold = hold + (NEW.standing = 'hold'), hold_ng = hold_ng + (NEW.standing = 'hold') * NEW.fine_ng,
        refuse = refuse + (NEW.standing = 'refuse'), refuse_ng = refuse_ng + (NEW.standing = 'refuse') * NEW.fine_ng
    WHERE lot = NEW.lot;
END;
CREATE TRIGGER piece_is_of_a_quarter AFTER INSERT ON piece BEGIN
    INSERT INTO lot_quarter (quarter, lot) SELECT NEW.logged_ms / 900000, NEW.lot
    WHERE NOT EXISTS (SELECT 1 FROM lot_quarter WHERE quarter = NEW.logged_ms / 900000 AND lot = NEW.lot);
END;
CREATE TRIGGER piece_is_added_up_anew AFTER UPDATE OF state, standing, fine_ng ON piece BEGIN
    UPDATE lot_total SET
        clear = clear + (NEW.state <> 'voided' AND NEW.standing = 'clear')
            - (OLD.state <> 'voided' AND OLD.standing = 'clear'),
        clear_ng = clear_ng + (NEW.state <> 'voided' AND NEW.standing = 'clear') * NEW.fine_ng
            - (OLD.state <> 'voided' AND OLD.standing = 'clear') * OLD.fine_ng,
        hold = hold + (NEW.state <> 'voided' AND NEW.standing = 'hold')
            - (OLD.state <> 'voided' AND OLD.standing = 'hold'),
        hold_ng = hold_ng + (NEW.state <> 'voided' AND NEW.standing = 'hold') * NEW.fine_ng
            - (OLD.state <> 'voided' AND OLD.standing = 'hold') * OLD.fine_ng,
        refuse = refuse + (NEW.state <> 'voided' AND NEW.standing = 'refuse')
            - (OLD.state <> 'voided' AND OLD.standing = 'refuse'),
        refuse_ng = refuse_ng + (NEW.state <> 'voided' AND NEW.standing = 'refuse') * NEW.fine_ng
            - (OLD.state <> 'voided' AND OLD.standing = 'refuse') * OLD.fine_ng
    WHERE lot = NEW.lot;
END;
CREATE TRIGGER stock_is_added_up AFTER INSERT ON stock BEGIN
    UPDATE lot_total SET
        clear = clear - (piece.standing = 'clear'), clear_ng = clear_ng - (piece.standing = 'clear') * piece.fine_ng,
        hold = hold - (piece.standing = 'hold'), hold_ng = hold_ng - (piece.standing = 'hold') * piece.fine_ng,
        refuse = refuse - (piece.standing = 'refuse'), refuse_ng = refuse_ng - (piece.standing = 'refuse') * piece.fine_ng,
        released = released + 1, released_ng = released_ng + piece.fine_ng
    FROM piece WHERE piece.id = NEW.piece AND lot_total.lot = piece.lot;
END;
CREATE TRIGGER stock_is_taken_off AFTER DELETE ON stock BEGIN
    UPDATE lot_total SET
        clear = clear + (piece.standing = 'clear'), clear_ng = clear_ng + (piece.standing = 'clear') * piece.fine_ng,
        hold = hold + (piece.standing = 'hold'), hold_ng = hold_ng + (piece.standing = 'hold') * piece.fine_ng,
        refuse = refuse + (piece.standing = 'refuse'), refuse_ng = refuse_ng + (piece.standing = 'refuse') * piece.fine_ng,
        released = released - 1, released_ng = released_ng - piece.fine_ng
    FROM piece WHERE piece.id = OLD.piece AND lot_total.lot = piece.lot;
END;
CREATE TRIGGER piece_end_is_added_up AFTER INSERT ON piece_end BEGIN
    UPDATE lot_total SET
        clear = clear - (piece.standing = 'clear'), clear_ng = clear_ng - (piece.standing = 'clear') * piece.fine_ng,
        hold = hold - (piece.standing = 'hold'), hold_ng = hold_ng - (piece.standing = 'hold') * piece.fine_ng,
        refuse = refuse - (piece.standing = 'refuse'), refuse_ng = refuse_ng - (piece.standing = 'refuse') * piece.fine_ng,
        sent_back = sent_back + (NEW.kind = 'sent_back'),
        sent_back_ng = sent_back_ng + (NEW.kind = 'sent_back') * piece.fine_ng,
        surrendered = surrendered + (NEW.kind = 'surrendered'),
        surrendered_ng = surrendered_ng + (NEW.kind = 'surrendered') * piece.fine_ng
    FROM piece WHERE piece.id = NEW.piece AND lot_total.lot = piece.lot;
END;
CREATE TRIGGER piece_end_is_taken_off AFTER DELETE ON piece_end BEGIN
    UPDATE lot_total SET
        clear = clear + (piece.standing = 'clear'), clear_ng = clear_ng + (piece.standing = 'clear') * piece.fine_ng,
        hold = hold + (piece.standing = 'hold'), hold_ng = hold_ng + (piece.standing = 'hold') * piece.fine_ng,
        refuse = refuse + (piece.standing = 'refuse'), refuse_ng = refuse_ng + (piece.standing = 'refuse') * piece.fine_ng,
        sent_back = sent_back - (OLD.kind = 'sent_back'),
        sent_back_ng = sent_back_ng - (OLD.kind = 'sent_back') * piece.fine_ng,
        surrendered = surrendered - (OLD.kind = 'surrendered'),
        surrendered_ng = surrendered_ng - (OLD.kind = 'surrendered') * piece.fine_ng
    FROM piece WHERE piece.id = OLD.piece AND lot_total.lot = piece.lot;
END;
CREATE TRIGGER product_is_added_up AFTER UPDATE ON lot_total BEGIN
    UPDATE product_total SET
        clear = clear + NEW.clear - OLD.clear, clear_ng = clear_ng + NEW.clear_ng - OLD.clear_ng,
        hold = hold + NEW.hold - OLD.hold, hold_ng = hold_ng + NEW.hold_ng - OLD.hold_ng,
        refuse = refuse + NEW.refuse - OLD.refuse, refuse_ng = refuse_ng + NEW.refuse_ng - OLD.refuse_ng,
        released = released + NEW.released - OLD.released,
        released_ng = released_ng + NEW.released_ng - OLD.released_ng
    WHERE product = (SELECT product FROM lot WHERE id = NEW.lot);
END;
CREATE TRIGGER doubt_is_counted AFTER INSERT ON hold WHEN NEW.state = 'open' BEGIN
    INSERT INTO doubt_total (kind) SELECT NEW.kind
    WHERE NOT EXISTS (SELECT 1 FROM doubt_total WHERE kind = NEW.kind);
    UPDATE doubt_total SET pieces = pieces + (NEW.piece IS NOT NULL), lots = lots + (NEW.piece IS NULL)
    WHERE kind = NEW.kind;
END;
CREATE TRIGGER doubt_is_counted_off AFTER UPDATE OF state ON hold WHEN OLD.state = 'open' AND NEW.state = 'closed' BEGIN
    UPDATE doubt_total SET pieces = pieces - (NEW.piece IS NOT NULL), lots = lots - (NEW.piece IS NULL)
    WHERE kind = NEW.kind;
END;

-- What the book held before.

INSERT INTO product_total (product, clear, clear_ng, hold, hold_ng, refuse, refuse_ng)
SELECT lot.product,
    count(piece.id) FILTER (WHERE piece.standing = 'clear'),
    coalesce(sum(piece.fine_ng) FILTER (WHERE piece.standing = 'clear'), 0),
    count(piece.id) FILTER (WHERE piece.standing = 'hold'),
    coalesce(sum(piece.fine_ng) FILTER (WHERE piece.standing = 'hold'), 0),
    count(piece.id) FILTER (WHERE piece.standing = 'refuse'),
    coalesce(sum(piece.fine_ng) FILTER (WHERE piece.standing = 'refuse'), 0)
FROM lot LEFT JOIN piece ON piece.lot = lot.id AND piece.state <> 'voided' GROUP BY lot.product;
INSERT INTO lot_total (lot, clear, clear_ng, hold, hold_ng, refuse, refuse_ng)
SELECT lot.id,
    count(piece.id) FILTER (WHERE piece.standing = 'clear'),
    coalesce(sum(piece.fine_ng) FILTER (WHERE piece.standing = 'clear'), 0),
    count(piece.id) FILTER (WHERE piece.standing = 'hold'),
    coalesce(sum(piece.fine_ng) FILTER (WHERE piece.standing = 'hold'), 0),
    count(piece.id) FILTER (WHERE piece.standing = 'refuse'),
    coalesce(sum(piece.fine_ng) FILTER (WHERE piece.standing = 'refuse'), 0)
FROM lot LEFT JOIN piece ON piece.lot = lot.id AND piece.state <> 'voided' GROUP BY lot.id;
INSERT INTO lot_quarter (quarter, lot) SELECT DISTINCT logged_ms / 900000, lot FROM piece;
INSERT INTO doubt_total (kind, pieces, lots)
SELECT kind, count(piece), count(*) - count(piece) FROM hold WHERE state = 'open' GROUP BY kind;
