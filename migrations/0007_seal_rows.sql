-- Seals every row that the program writes, because triggers refuse a change by this program and not by every other client.
--
-- A seal follows each act, in the same transaction: for every row that the act touched, the SHA-256 of the row as it then
-- stood, or a mark that it is gone. Each seal carries the hash of the one before and of the last row of the journal, so the
-- last hash stands for everything in the book. The program seals what the book held before this version when it brings the
-- book here.
CREATE TABLE seal (
    number INTEGER PRIMARY KEY,
    at_ms INTEGER NOT NULL,
    -- The last row of the journal when the seal was made; 0 for a journal without rows.
    journal INTEGER NOT NULL CHECK (journal >= 0),
    entries BLOB NOT NULL,
    previous_hash BLOB NOT NULL CHECK (length(previous_hash) = 32),
    hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE TRIGGER seal_is_never_changed BEFORE UPDATE ON seal BEGIN
    SELECT RAISE(ABORT, 'seals are never changed');
END;
CREATE TRIGGER seal_is_never_deleted BEFORE DELETE ON seal BEGIN
    SELECT RAISE(ABORT, 'seals are never deleted');
END;
CREATE TRIGGER seal_goes_on BEFORE INSERT ON seal BEGIN
    SELECT RAISE(ABORT, 'a seal takes the next number')
    WHERE NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM seal);
END;

-- The half-filled piece is overwritten at every key: a seal for each would fill the book, so the row carries its own digest.
-- It is always there, empty when nothing is half filled, so that a removed one is missed.
ALTER TABLE draft ADD COLUMN digest BLOB CHECK (digest IS NULL OR length(digest) = 32);
INSERT INTO draft (slot, at_ms, body) SELECT 1, 0, '' WHERE NOT EXISTS (SELECT 1 FROM draft);
CREATE TRIGGER draft_is_never_deleted BEFORE DELETE ON draft BEGIN
    SELECT RAISE(ABORT, 'the half-filled piece is emptied, never deleted');
END;
