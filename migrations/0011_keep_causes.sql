-- Keeps why a doubt is open as a fact beside its words, because decisions and settlements go by what it is, never by how it is worded.

-- JSON; NULL for holds of before, which keep their words. In new rows `text` is the key of the cause.
ALTER TABLE hold ADD COLUMN cause TEXT;
