-- Why: a fingerprint of samples recognises a copy; only all of a file's bytes prove that it is still what it was. The hash
-- of a whole file is taken when a list is checked by contents, and is kept so that the next check compares it.

-- The contents of a file, as the disk gave them.
CREATE TABLE written_content (
    file_id     INTEGER PRIMARY KEY REFERENCES written_file ON DELETE CASCADE,
    bytes       INTEGER NOT NULL,             -- the file's size and time stamp when the hash was taken: it speaks for that
    modified_ns INTEGER NOT NULL,             -- state of the file alone
    blake3      BLOB NOT NULL CHECK (length(blake3) = 32),
    taken_utc   TEXT NOT NULL
) STRICT;
