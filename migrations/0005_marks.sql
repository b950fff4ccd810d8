-- Why: what the photographer says of a frame's kind, and of a lens that says nothing of itself; and what follows for each
-- frame: why it is of its kind, and how far the sky has turned since the session's reference.

-- What the photographer says a frame is for. Goes before everything that can be told from the frame.
CREATE TABLE stated_kind (
    frame_id    INTEGER PRIMARY KEY REFERENCES written_frame,
    kind        TEXT NOT NULL
        CHECK (kind = 'light' OR kind = 'dark' OR kind = 'flat' OR kind = 'bias' OR kind = 'trial')
) STRICT;

-- The focal length of a lens that the body does not know.
CREATE TABLE stated_focal (
    frame_id    INTEGER PRIMARY KEY REFERENCES written_frame,
    focal_mm    REAL NOT NULL CHECK (focal_mm > 0)
) STRICT;

-- How bright a frame's embedded picture is, where its kind could not be told otherwise.
CREATE TABLE derived_look (
    frame_id    INTEGER PRIMARY KEY REFERENCES written_frame,
    median      REAL NOT NULL,                -- of the luminance, 0 black to 1 white, as the JPEG encodes it
    spread      REAL NOT NULL,                -- from the 2nd to the 98th of a hundred pixels
    glint       REAL NOT NULL                 -- share of pixels far brighter than their neighbourhood
) STRICT;

-- Why frames are of their kinds: few reasons serve many frames.
CREATE TABLE derived_evidence (
    evidence_id INTEGER PRIMARY KEY,
    words       TEXT NOT NULL UNIQUE
) STRICT;

ALTER TABLE derived_time ADD COLUMN evidence_id INTEGER REFERENCES derived_evidence;
-- Turn of the sky about the pole since the session's middle light, in tenths of an arcsecond as all angles.
ALTER TABLE derived_time ADD COLUMN turn INTEGER;
ALTER TABLE derived_time ADD COLUMN turn_deg REAL AS (turn / 36000.0);
-- The columns are filled by the next grouping.
INSERT OR IGNORE INTO derived_pending (night, camera_id)
SELECT DISTINCT date(time.night_day * 86400, 'unixepoch'), ifnull(frame.camera_id, 0)
FROM derived_time AS time JOIN written_frame AS frame USING (frame_id) WHERE time.night_day IS NOT NULL;
