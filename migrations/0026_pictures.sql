-- Why: what is in a picture was not known: its stars, how wide the lens draws them, and which way the camera looked among them.
-- Stars are measured on files that may be away later, so they are kept apart from what follows from them, a time and a place.

CREATE TABLE measured_picture (
    frame_id     INTEGER PRIMARY KEY,
    edition      INTEGER NOT NULL,            -- of the measures; the picture is examined again where it is an earlier one
    why_not      TEXT,                        -- why there was no picture to examine; NULL where there was one
    stars        INTEGER,                     -- star images found
    sky_level    REAL,                        -- median level of the sky, 0 to 1, as the camera encoded it
    star_width_px REAL,                       -- width at half maximum in the middle, in pixels of the full picture
    corner_width_px REAL,                     -- the same in the corners
    pointing     TEXT                         -- 'good', 'weak', or why the pointing is not known: 'too-few-stars', 'no-match'
) STRICT;

-- The camera that draws the stars of the table where their images are. Pixels of the full picture as stored.
CREATE TABLE measured_pointing (
    frame_id     INTEGER PRIMARY KEY,
    fitted_to    TEXT NOT NULL,               -- 'horizon': to stars as seen over the site, 'stars': to their catalogued places
    law          TEXT NOT NULL,               -- 'rectilinear', 'equidistant', 'equisolid', 'stereographic'
    f_px         REAL NOT NULL,
    k1           REAL NOT NULL,               -- distortion, in half diagonals
    k2           REAL NOT NULL,
    cx_px        REAL NOT NULL,               -- where the optical axis meets the picture
    cy_px        REAL NOT NULL,
    width_px     REAL NOT NULL,
    height_px    REAL NOT NULL,
    right_x      REAL NOT NULL,               -- ICRS direction of the picture's right, and of forward; down follows
    right_y      REAL NOT NULL,
    right_z      REAL NOT NULL,
    forward_x    REAL NOT NULL,
    forward_y    REAL NOT NULL,
    forward_z    REAL NOT NULL,
    matched      INTEGER NOT NULL,            -- stars that it was fitted to
    residual_px  REAL NOT NULL,               -- root mean square of what is left
    log_odds     REAL NOT NULL                -- natural logarithm of the odds against chance
) STRICT;

CREATE TABLE derived_pointing (
    frame_id     INTEGER PRIMARY KEY,
    alt_deg      REAL NOT NULL,               -- of the middle of the picture, as seen
    az_deg       REAL NOT NULL,
    roll_deg     REAL NOT NULL                -- clockwise as the photographer sees it
) STRICT;

-- Where active radiants are drawn, for frames whose pointing is known.
CREATE TABLE derived_in_picture (
    shower_id    INTEGER NOT NULL,
    frame_id     INTEGER NOT NULL,
    x_px         REAL,                        -- NULL where the lens cannot draw it
    y_px         REAL,
    seen_x_px    REAL,                        -- where trails point back to
    seen_y_px    REAL,
    in_picture   INTEGER NOT NULL,            -- 1 within the picture
    PRIMARY KEY (shower_id, frame_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX derived_in_picture_frame ON derived_in_picture (frame_id);

CREATE TRIGGER derived_pointing_deleted AFTER DELETE ON derived_pointing BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) VALUES (old.frame_id);
END;
CREATE TRIGGER derived_in_picture_deleted AFTER DELETE ON derived_in_picture BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) VALUES (old.frame_id);
END;
