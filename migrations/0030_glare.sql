-- Measured: the largest burnt-out spot of a picture, which may be the Moon. Where the Moon is among the stars tells the time.

CREATE TABLE measured_glare (
    frame_id     INTEGER PRIMARY KEY,
    x_px         REAL NOT NULL,               -- its middle, in pixels of the full picture as stored
    y_px         REAL NOT NULL,
    radius_px    REAL NOT NULL                -- of a disc of its area
) STRICT;
