-- Written: fingerprints of 16 bytes, by which two catalogues agree on a frame. Of files that earlier versions took in, the six
-- bytes that they kept stay, until an ingest reads the file again.

DROP INDEX written_file_undated;

ALTER TABLE written_file RENAME COLUMN fingerprint TO short_fingerprint;

ALTER TABLE written_file ADD COLUMN fingerprint BLOB CHECK (length(fingerprint) = 16 OR length(fingerprint) = 6);

UPDATE written_file SET fingerprint = unhex(printf('%012x', short_fingerprint & 0xffffffffffff))
WHERE short_fingerprint IS NOT NULL;

ALTER TABLE written_file DROP COLUMN short_fingerprint;

CREATE INDEX written_file_undated ON written_file (fingerprint) WHERE undated = 1;

-- Stated: every statement as it was made, in order, and never changed; removing something is a statement too. What follows from
-- them row by row (stated_site, stated_kind and so on) is what is in force, and can be made again from them in any catalogue of
-- the same dumps.

CREATE TABLE stated_word (
    word_id      INTEGER PRIMARY KEY,
    word         TEXT NOT NULL UNIQUE         -- what can be stated: 'zone', 'zone-removal', 'place'
) STRICT;

CREATE TABLE stated_log (
    number       INTEGER PRIMARY KEY,         -- in the order in which they took effect here
    identity     BLOB NOT NULL UNIQUE CHECK (length(identity) = 16),  -- random; the same in every catalogue that has it
    stated_ms    INTEGER,                     -- when, UTC; NULL where an earlier version did not note it
    word_id      INTEGER NOT NULL REFERENCES stated_word,
    content      TEXT NOT NULL CHECK (json_valid(content)),           -- docs/statements.md
    takes_back   INTEGER REFERENCES stated_log
) STRICT;

CREATE TABLE stated_frames (
    number       INTEGER NOT NULL REFERENCES stated_log,
    part         INTEGER NOT NULL,            -- from 1: an ingest adds one for each step, an upgrade or a dump its own
    dump         TEXT NOT NULL,               -- the label that the dump had then
    frames       INTEGER NOT NULL,
    first_s      INTEGER,                     -- the first second that a clock showed, and the last; NULL where none showed any
    last_s       INTEGER,
    marks        BLOB NOT NULL,               -- packed: some five bytes a frame (docs/statements.md)
    PRIMARY KEY (number, part)
) STRICT;

CREATE TABLE pending_statement (
    number       INTEGER NOT NULL,            -- a statement, and a frame of it that is not here yet
    clock_s      INTEGER,
    mark         BLOB NOT NULL,               -- packed alone
    site_id      INTEGER                      -- the site of a stated place
) STRICT;

CREATE INDEX pending_statement_number ON pending_statement (number);

CREATE TRIGGER stated_log_kept BEFORE DELETE ON stated_log BEGIN
    SELECT RAISE(ABORT, 'a statement is never deleted; removing what it states is another statement');
END;

CREATE TRIGGER stated_log_unchanged BEFORE UPDATE ON stated_log BEGIN
    SELECT RAISE(ABORT, 'a statement is never changed; another one replaces it');
END;

CREATE TRIGGER stated_frames_kept BEFORE DELETE ON stated_frames BEGIN
    SELECT RAISE(ABORT, 'a statement is never deleted; removing what it states is another statement');
END;

CREATE TRIGGER stated_frames_unchanged BEFORE UPDATE ON stated_frames BEGIN
    SELECT RAISE(ABORT, 'a statement is never changed; another one replaces it');
END;

CREATE VIEW statement AS
SELECT log.number, strftime('%Y-%m-%dT%H:%M:%fZ', log.stated_ms / 1000.0, 'unixepoch') AS stated_utc, word.word AS what,
       log.content, (SELECT sum(part.frames) FROM stated_frames AS part WHERE part.number = log.number) AS frames,
       (SELECT count(*) FROM pending_statement AS pending WHERE pending.number = log.number) AS frames_not_here,
       log.takes_back, (SELECT min(later.number) FROM stated_log AS later WHERE later.takes_back = log.number) AS taken_back_by,
       lower(hex(log.identity)) AS identity
FROM stated_log AS log JOIN stated_word AS word USING (word_id);
