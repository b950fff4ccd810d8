-- Stated: where a camera pointed, from a solution of another program. It follows from the log of statements and goes before what
-- was measured. One solution is of many frames: those of a session on one mount.

CREATE TABLE stated_pointing (
    pointing_id  INTEGER PRIMARY KEY,
    mount        TEXT NOT NULL CHECK (mount IN ('tripod', 'tracked')),
    solved_local TEXT,                        -- the clock at mid-exposure of the frame that was solved; NULL: all frames are alike
    law          TEXT NOT NULL,               -- the rest as in measured_pointing
    f_px         REAL NOT NULL,
    k1           REAL NOT NULL,
    k2           REAL NOT NULL,
    cx_px        REAL NOT NULL,
    cy_px        REAL NOT NULL,
    width_px     REAL NOT NULL,
    height_px    REAL NOT NULL,
    right_x      REAL NOT NULL,
    right_y      REAL NOT NULL,
    right_z      REAL NOT NULL,
    forward_x    REAL NOT NULL,
    forward_y    REAL NOT NULL,
    forward_z    REAL NOT NULL,
    residual_px  REAL NOT NULL                -- what our lens leaves of the solution, root mean square
) STRICT;

CREATE TABLE stated_pointing_frame (
    frame_id     INTEGER PRIMARY KEY REFERENCES written_frame,
    pointing_id  INTEGER NOT NULL REFERENCES stated_pointing
) STRICT;

CREATE INDEX stated_pointing_frame_pointing ON stated_pointing_frame (pointing_id);
