-- Why: a pointing that is known by few stars holds near them only, and nothing said where; and a planet tells the time by its place
-- among the stars, but images that no star explains were not kept.

-- The corners of the hull of the stars that a pointing was fitted to, 'x,y' each, in pixels of the full picture as stored; NULL of
-- frames examined before.
ALTER TABLE measured_pointing ADD COLUMN region TEXT;

-- Measured: bright images that no star explains, brightest first: planets, lights, aircraft.
CREATE TABLE measured_lone_image (
    frame_id     INTEGER NOT NULL,
    number       INTEGER NOT NULL,            -- from 1, the brightest
    x_px         REAL NOT NULL,               -- in pixels of the full picture as stored
    y_px         REAL NOT NULL,
    PRIMARY KEY (frame_id, number)
) STRICT, WITHOUT ROWID;
