-- A reading that a device sent keeps the line it came in, so that a doubt about it can go back to the very bytes.
-- NULL is a reading that was typed or imported. Bytes that are not printable ASCII, and the backslash, are written \xNN.

ALTER TABLE reading ADD COLUMN device_line TEXT
    CHECK (device_line IS NULL OR (base IS NOT NULL AND length(device_line) BETWEEN 1 AND 1000));
