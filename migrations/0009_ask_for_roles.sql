-- Lets the book itself refuse acts without the role for them, because a desk that forgets to ask must not matter.
--
-- A book without operators is open to whoever works. Taking back one's own act needs no role: it was asked for at the act.
CREATE TRIGGER journal_asks_for_a_reviewer BEFORE INSERT ON journal
WHEN NEW.what IN ('hold settled', 'lot settled', 'pieces sent back', 'pieces surrendered', 'pieces released',
    'control withdrawn', 'recalled piece back') BEGIN
    SELECT RAISE(ABORT, 'this act needs a reviewer or an owner of this book')
    WHERE EXISTS (SELECT 1 FROM operator) AND coalesce(
        (SELECT role FROM operator WHERE name = NEW.operator ORDER BY id DESC LIMIT 1), '') NOT IN ('reviewer', 'owner');
END;
CREATE TRIGGER journal_asks_for_an_owner BEFORE INSERT ON journal
WHEN NEW.what IN ('policy set', 'instruments set') BEGIN
    SELECT RAISE(ABORT, 'this act needs an owner of this book')
    WHERE EXISTS (SELECT 1 FROM operator) AND coalesce(
        (SELECT role FROM operator WHERE name = NEW.operator ORDER BY id DESC LIMIT 1), '') <> 'owner';
END;
-- The first operator is entered by whoever makes the desk a shared one.
CREATE TRIGGER operator_is_set_by_an_owner BEFORE INSERT ON operator BEGIN
    SELECT RAISE(ABORT, 'operators are set by an owner of this book')
    WHERE EXISTS (SELECT 1 FROM operator) AND coalesce(
        (SELECT role FROM operator WHERE name = NEW.operator ORDER BY id DESC LIMIT 1), '') <> 'owner';
END;

-- Which release is the last must not hang on the clock that identities are made from.
DROP TRIGGER stock_is_taken_back_by_a_decision;
CREATE TRIGGER stock_is_taken_back_by_a_decision BEFORE DELETE ON stock BEGIN
    SELECT RAISE(ABORT, 'a piece leaves stock only by a decision that takes back its release')
    WHERE NOT EXISTS (SELECT 1 FROM decision WHERE piece = OLD.piece AND kind = 'released')
    OR EXISTS (
        SELECT 1 FROM decision AS release WHERE release.piece = OLD.piece AND release.kind = 'released'
        AND NOT EXISTS (SELECT 1 FROM decision WHERE undoes = release.id));
END;
