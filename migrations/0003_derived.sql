-- Why: what follows from the written and the stated. Any row here can be dropped and built again;
-- derived_maker says which program and which shower table built it.

CREATE TABLE derived_maker (
    maker_id       INTEGER PRIMARY KEY,
    program        TEXT NOT NULL,             -- 'framefall 0.1.0'
    shower_table   TEXT NOT NULL,             -- edition of the shower table
    UNIQUE (program, shower_table)
) STRICT;

-- A run of frames: one camera, one site, one night, one focal length, no gap that its cadence cannot bridge.
CREATE TABLE derived_session (
    session_id  INTEGER PRIMARY KEY AUTOINCREMENT,   -- a number is never given twice
    camera_id   INTEGER REFERENCES written_camera,
    site_id     INTEGER REFERENCES stated_site,
    night       TEXT NOT NULL,                -- the evening's date; by the body's clock where the place is not known
    focal_mm    REAL,
    start_utc   TEXT,                         -- of the first frame; NULL where UTC is not known
    end_utc     TEXT,                         -- of the last frame's exposure
    start_local TEXT,                         -- what the body's clock showed at the first frame
    end_local   TEXT,                         -- and at the last
    cadence_s   REAL,                         -- median from start to start
    frames      INTEGER NOT NULL,
    missing     INTEGER NOT NULL              -- frames the cadence asks for that are not there
) STRICT;
CREATE INDEX derived_session_night ON derived_session (night, camera_id);

-- Nights of a body whose frames have changed and await grouping into sessions: left behind only by a killed run.
CREATE TABLE derived_pending (
    night       TEXT NOT NULL,
    camera_id   INTEGER NOT NULL,             -- 0 for frames whose body is not known
    PRIMARY KEY (night, camera_id)
) STRICT, WITHOUT ROWID;

-- When and where each frame was taken, who says so, and which session it belongs to.
CREATE TABLE derived_time (
    frame_id    INTEGER PRIMARY KEY REFERENCES written_frame,
    start_utc   TEXT,
    mid_utc     TEXT,
    end_utc     TEXT,
    time_basis  TEXT NOT NULL
        CHECK (time_basis = 'gps' OR time_basis = 'offset' OR time_basis = 'body-zone'
            OR time_basis = 'stated-zone' OR time_basis = 'site-zone' OR time_basis = 'none'),
    time_error_s REAL,                        -- one sigma
    site_id     INTEGER REFERENCES stated_site,
    lat_deg     REAL,
    lon_deg     REAL,
    elev_m      REAL,
    place_basis TEXT NOT NULL
        CHECK (place_basis = 'exif' OR place_basis = 'track' OR place_basis = 'site' OR place_basis = 'none'),
    night       TEXT,
    session_id  INTEGER REFERENCES derived_session,
    seq         INTEGER,                      -- position within the session, from 1
    kind        TEXT CHECK (kind = 'light' OR kind = 'dark' OR kind = 'flat' OR kind = 'bias' OR kind = 'trial'),
    maker_id    INTEGER NOT NULL REFERENCES derived_maker
) STRICT;
CREATE INDEX derived_time_night ON derived_time (night, start_utc) WHERE night IS NOT NULL;
CREATE INDEX derived_time_start ON derived_time (start_utc) WHERE start_utc IS NOT NULL;
CREATE INDEX derived_time_session ON derived_time (session_id, seq) WHERE session_id IS NOT NULL;

-- What was odd on the way to time and place.
CREATE TABLE derived_finding (
    frame_id    INTEGER NOT NULL REFERENCES written_frame,
    code        TEXT NOT NULL,
    saw         TEXT NOT NULL,
    did         TEXT NOT NULL
) STRICT;
CREATE INDEX derived_finding_frame ON derived_finding (frame_id);

-- The sky at the middle of each exposure. All altitudes geometric: no refraction.
CREATE TABLE derived_sky (
    frame_id     INTEGER PRIMARY KEY REFERENCES written_frame,
    sun_alt_deg  REAL,
    twilight     TEXT
        CHECK (twilight = 'day' OR twilight = 'civil' OR twilight = 'nautical' OR twilight = 'astronomical'
            OR twilight = 'night'),
    moon_alt_deg REAL,                        -- as seen from the site, parallax included
    moon_az_deg  REAL,                        -- from north through east
    moon_lit     REAL,                        -- 0 to 1
    lst_deg      REAL,                        -- local apparent sidereal time
    solar_lon_deg REAL,                       -- geometric, equinox J2000.0
    shower       TEXT,                        -- the strongest by its activity profile
    showers      TEXT                         -- every shower with a row in derived_radiant: 'ANT GEM MON'
) STRICT;

-- Each active shower's radiant at the middle of each exposure.
CREATE TABLE derived_radiant (
    shower       TEXT NOT NULL,               -- IAU code
    frame_id     INTEGER NOT NULL,
    alt_deg      REAL NOT NULL,               -- geometric: what published tables give
    az_deg       REAL NOT NULL,
    seen_alt_deg REAL NOT NULL,               -- where trails in the picture point back to
    seen_az_deg  REAL NOT NULL,
    moon_sep_deg REAL NOT NULL,               -- Moon to radiant
    rate         REAL NOT NULL,               -- meteors an hour under a 6.5-magnitude sky
    PRIMARY KEY (shower, frame_id)
) STRICT, WITHOUT ROWID;

-- For people at a prompt: each frame, and each active shower's radiant over it.
CREATE VIEW frame_sky AS
SELECT frame.frame_id, file.name AS file, camera.name AS camera,
       time.start_utc, time.night, site.name AS site, time.session_id AS session, time.seq, time.kind,
       frame.exposure_s, frame.f_number, frame.iso, frame.focal_mm,
       sky.sun_alt_deg, sky.twilight, sky.moon_alt_deg, sky.moon_lit,
       radiant.shower, radiant.alt_deg, radiant.az_deg, radiant.seen_alt_deg, radiant.seen_az_deg,
       radiant.moon_sep_deg, radiant.rate
FROM written_frame AS frame
LEFT JOIN written_file   AS file    ON file.file_id = frame.first_file_id
LEFT JOIN written_camera AS camera  ON camera.camera_id = frame.camera_id
LEFT JOIN derived_time   AS time    ON time.frame_id = frame.frame_id
LEFT JOIN stated_site    AS site    ON site.site_id = time.site_id
LEFT JOIN derived_sky    AS sky     ON sky.frame_id = frame.frame_id
LEFT JOIN derived_radiant AS radiant ON radiant.frame_id = frame.frame_id;
