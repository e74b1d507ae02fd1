-- Counts wrong PINs in the book, because who may try without end finds every PIN, and a restart must not start anew.
--
-- `right` and `set` end a run of wrong ones.
CREATE TABLE pin_try (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL CHECK (length(trim(name)) > 0),
    outcome TEXT NOT NULL CHECK (outcome IN ('wrong', 'right', 'set')),
    at_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX pin_try_name ON pin_try (name, id);

CREATE TRIGGER pin_try_is_never_changed BEFORE UPDATE ON pin_try BEGIN
    SELECT RAISE(ABORT, 'tries of a PIN are never changed');
END;
CREATE TRIGGER pin_try_is_never_deleted BEFORE DELETE ON pin_try BEGIN
    SELECT RAISE(ABORT, 'tries of a PIN are never deleted');
END;
CREATE TRIGGER pin_try_is_new BEFORE INSERT ON pin_try BEGIN
    SELECT RAISE(ABORT, 'a try with this row number is in the book already')
    WHERE EXISTS (SELECT 1 FROM pin_try WHERE id = NEW.id);
END;
