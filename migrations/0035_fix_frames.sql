-- Clock fixes that are limited to frames, where other frames of the body have readings among theirs.

ALTER TABLE stated_clock_fix ADD COLUMN frames BLOB CHECK (length(frames) = 16);  -- identifies the set of frames; NULL: all

DROP INDEX stated_clock_fix_span;

CREATE UNIQUE INDEX stated_clock_fix_span
    ON stated_clock_fix (camera_id, reading, ifnull(from_local, ''), ifnull(until_local, ''), ifnull(frames, x''));

CREATE TABLE stated_fix_frame (
    frame_id     INTEGER NOT NULL REFERENCES written_frame,
    fix_id       INTEGER NOT NULL REFERENCES stated_clock_fix,
    PRIMARY KEY (frame_id, fix_id)
) STRICT, WITHOUT ROWID;

CREATE INDEX stated_fix_frame_fix ON stated_fix_frame (fix_id);
