-- Why: a clock fix can be limited to some of its body's readings, and two fixes of one reading may be limited to different ones.
-- GPS time stamps of one body and evening are looked up together.

CREATE TABLE stated_clock_fix_limited (
    fix_id       INTEGER PRIMARY KEY AUTOINCREMENT,  -- a number is never given twice
    camera_id    INTEGER NOT NULL REFERENCES written_camera,
    reading      TEXT NOT NULL,               -- what the clock showed, ISO 8601 without zone
    true_utc     TEXT NOT NULL,               -- the instant it was then
    reset_before INTEGER NOT NULL CHECK (reset_before IN (0, 1)),  -- 1: the clock was reset since the fix before
    from_local   TEXT,                        -- the first reading it is limited to; NULL: no first one
    until_local  TEXT                         -- the first reading after those it is limited to; NULL: no last one
) STRICT;

INSERT INTO stated_clock_fix_limited (fix_id, camera_id, reading, true_utc, reset_before)
SELECT fix_id, camera_id, reading, true_utc, reset_before FROM stated_clock_fix;

-- The highest number ever given goes on with the table.
DELETE FROM sqlite_sequence WHERE name = 'stated_clock_fix_limited';
INSERT INTO sqlite_sequence (name, seq)
SELECT 'stated_clock_fix_limited', seq FROM sqlite_sequence WHERE name = 'stated_clock_fix';

DROP TABLE stated_clock_fix;
ALTER TABLE stated_clock_fix_limited RENAME TO stated_clock_fix;
CREATE UNIQUE INDEX stated_clock_fix_span
    ON stated_clock_fix (camera_id, reading, ifnull(from_local, ''), ifnull(until_local, ''));

CREATE INDEX written_frame_stamped ON written_frame (camera_id, clock_s) WHERE gps_ms IS NOT NULL;
