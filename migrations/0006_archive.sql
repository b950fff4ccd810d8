-- Why: an archive is asked the same questions year after year, and its disks change places.

-- Queries by name, for '@name' in another query.
CREATE TABLE stated_query (
    name        TEXT PRIMARY KEY COLLATE NOCASE,
    query       TEXT NOT NULL,                -- whole: the names it was made of are written out
    saved_utc   TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Which volume a dump lies on, where the platform tells: a disk that is plugged in elsewhere is known again, and one
-- that is not plugged in can be named.
ALTER TABLE written_dump ADD COLUMN volume_id TEXT;      -- the file system's own number
ALTER TABLE written_dump ADD COLUMN volume_label TEXT;   -- the name it was given
ALTER TABLE written_dump ADD COLUMN volume_path TEXT;    -- the dump's root below the volume's
