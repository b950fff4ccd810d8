-- Why: a write-ahead log does not say which database it belongs to. Beside a catalogue that was restored from a backup, the
-- log of another one, or of a later state, would be applied as if it were its own. Every change therefore writes down which
-- state it began from and which one it led to; a log that begins from another state than the file's is refused.

-- One row, from the first change on. Neither written, stated nor derived: it says nothing about frames.
CREATE TABLE catalogue_generation (
    only         INTEGER PRIMARY KEY CHECK (only = 1),
    chain        BLOB NOT NULL                -- a mark of 16 bytes, the state before the latest change, the state after it
) STRICT;
