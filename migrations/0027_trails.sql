-- Stated: trails in pictures, and what each is. They follow from the log of statements, which names a trail by its frame and its ends.

CREATE TABLE stated_trail (
    trail_id    INTEGER PRIMARY KEY AUTOINCREMENT,    -- a number is never given twice
    frame_id    INTEGER NOT NULL REFERENCES written_frame,
    from_x      INTEGER NOT NULL,             -- hundredths of a pixel of the full picture as stored, to the right and downward from
    from_y      INTEGER NOT NULL,             -- the outer corner of its first pixel
    to_x        INTEGER NOT NULL,
    to_y        INTEGER NOT NULL,
    judged      TEXT NOT NULL CHECK (judged IN ('meteor', 'satellite', 'aircraft', 'other')),
    shower      TEXT,                         -- of a meteor: an IAU code, or 'sporadic'; NULL where it was not stated
    UNIQUE (frame_id, from_x, from_y, to_x, to_y)
) STRICT;

CREATE VIEW trail AS
SELECT trail.trail_id AS trail, trail.frame_id, frame.path, frame.file, frame.start_utc, frame.night, frame.session, frame.seq,
       trail.from_x / 100.0 AS from_x_px, trail.from_y / 100.0 AS from_y_px, trail.to_x / 100.0 AS to_x_px,
       trail.to_y / 100.0 AS to_y_px, trail.judged, trail.shower
FROM stated_trail AS trail
LEFT JOIN frame ON frame.frame_id = trail.frame_id;
