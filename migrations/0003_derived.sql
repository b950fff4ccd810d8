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

-- When and where each frame was taken, who says so, and which session it belongs to. Middle and end of the exposure
-- follow from its start and its length: view frame_time.
CREATE TABLE derived_time (
    frame_id    INTEGER PRIMARY KEY REFERENCES written_frame,
    start_ms    INTEGER,                      -- when the shutter opened, UTC
    time_basis_no INTEGER NOT NULL CHECK (time_basis_no BETWEEN 0 AND 5),
    time_basis  TEXT AS (CASE time_basis_no WHEN 0 THEN 'gps' WHEN 1 THEN 'offset' WHEN 2 THEN 'body-zone'
                         WHEN 3 THEN 'stated-zone' WHEN 4 THEN 'site-zone' WHEN 5 THEN 'none' END),
    time_error_ms INTEGER,                    -- one sigma
    time_error_s  REAL AS (time_error_ms / 1000.0),
    site_id     INTEGER REFERENCES stated_site,
    lat_deg     REAL,                         -- the place, where it is another than the site's own
    lon_deg     REAL,
    elev_m      REAL,
    place_basis_no INTEGER NOT NULL CHECK (place_basis_no BETWEEN 0 AND 3),
    place_basis TEXT AS (CASE place_basis_no WHEN 0 THEN 'exif' WHEN 1 THEN 'track' WHEN 2 THEN 'site'
                         WHEN 3 THEN 'none' END),
    night_day   INTEGER,                      -- the evening's date
    session_id  INTEGER REFERENCES derived_session,
    seq         INTEGER,                      -- position within the session, from 1
    kind_no     INTEGER CHECK (kind_no BETWEEN 0 AND 4),
    kind        TEXT AS (CASE kind_no WHEN 0 THEN 'light' WHEN 1 THEN 'dark' WHEN 2 THEN 'flat' WHEN 3 THEN 'bias'
                         WHEN 4 THEN 'trial' END),
    maker_id    INTEGER NOT NULL REFERENCES derived_maker
) STRICT;
CREATE INDEX derived_time_night ON derived_time (night_day) WHERE night_day IS NOT NULL;
CREATE INDEX derived_time_start ON derived_time (start_ms) WHERE start_ms IS NOT NULL;
CREATE INDEX derived_time_session ON derived_time (session_id, seq) WHERE session_id IS NOT NULL;

-- What was odd on the way to time and place.
CREATE TABLE derived_finding (
    frame_id    INTEGER NOT NULL REFERENCES written_frame,
    code        TEXT NOT NULL,
    saw         TEXT NOT NULL,
    did         TEXT NOT NULL
) STRICT;
CREATE INDEX derived_finding_frame ON derived_finding (frame_id);

-- Which showers are active together.
CREATE TABLE derived_active (
    active_id    INTEGER PRIMARY KEY,
    showers      TEXT NOT NULL UNIQUE         -- IAU codes: 'ANT GEM MON'
) STRICT;

-- The sky at the middle of each exposure. All altitudes geometric: no refraction. Angles are kept in tenths of an
-- arcsecond, those that go round from -180° to 180°: three bytes each. The generated columns give degrees.
CREATE TABLE derived_sky (
    frame_id     INTEGER PRIMARY KEY REFERENCES written_frame,
    sun_alt      INTEGER,
    moon_alt     INTEGER,
    moon_az      INTEGER,
    moon_lit_ppm INTEGER,                     -- millionths
    lst          INTEGER,
    solar_lon    INTEGER,
    shower       TEXT,                        -- the strongest by its activity profile
    active_id    INTEGER REFERENCES derived_active,   -- every shower with a row in derived_radiant
    sun_alt_deg  REAL AS (sun_alt / 36000.0),
    twilight     TEXT AS (CASE WHEN sun_alt >= -29998 THEN 'day' WHEN sun_alt >= -216000 THEN 'civil'
                          WHEN sun_alt >= -432000 THEN 'nautical' WHEN sun_alt >= -648000 THEN 'astronomical'
                          WHEN sun_alt IS NOT NULL THEN 'night' END),
    moon_alt_deg REAL AS (moon_alt / 36000.0),        -- as seen from the site, parallax included
    moon_az_deg  REAL AS ((moon_az + (moon_az < 0) * 12960000) / 36000.0),      -- from north through east
    moon_lit     REAL AS (moon_lit_ppm / 1000000.0),  -- 0 to 1
    lst_deg      REAL AS ((lst + (lst < 0) * 12960000) / 36000.0),              -- local apparent sidereal time
    solar_lon_deg REAL AS ((solar_lon + (solar_lon < 0) * 12960000) / 36000.0)  -- geometric, equinox J2000.0
) STRICT;

-- Each active shower's radiant at the middle of each exposure.
CREATE TABLE derived_radiant (
    shower       TEXT NOT NULL,               -- IAU code
    frame_id     INTEGER NOT NULL,
    alt          INTEGER NOT NULL,            -- tenths of an arcsecond, as in derived_sky
    az           INTEGER NOT NULL,
    seen_alt     INTEGER NOT NULL,
    seen_az      INTEGER NOT NULL,
    moon_sep     INTEGER NOT NULL,
    rate_milli   INTEGER NOT NULL,            -- thousandths
    alt_deg      REAL AS (alt / 36000.0),     -- geometric: what published tables give
    az_deg       REAL AS ((az + (az < 0) * 12960000) / 36000.0),
    seen_alt_deg REAL AS (seen_alt / 36000.0),        -- where trails in the picture point back to
    seen_az_deg  REAL AS ((seen_az + (seen_az < 0) * 12960000) / 36000.0),
    moon_sep_deg REAL AS (moon_sep / 36000.0),        -- Moon to radiant
    rate         REAL AS (rate_milli / 1000.0),       -- meteors an hour under a 6.5-magnitude sky
    PRIMARY KEY (shower, frame_id)
) STRICT, WITHOUT ROWID;

-- For people at a prompt: when and where each frame was taken.
CREATE VIEW frame_time AS
SELECT frame.frame_id, file.name AS file, camera.name AS camera,
       strftime('%Y-%m-%dT%H:%M:%S', frame.clock_s, 'unixepoch') || ifnull('.' || frame.clock_fraction, '')
           AS clock_local,
       strftime('%Y-%m-%dT%H:%M:%fZ', time.start_ms / 1000.0, 'unixepoch') AS start_utc,
       strftime('%Y-%m-%dT%H:%M:%fZ', (time.start_ms + round(ifnull(frame.exposure_s, 0) * 500)) / 1000.0, 'unixepoch')
           AS mid_utc,
       strftime('%Y-%m-%dT%H:%M:%fZ', (time.start_ms + round(ifnull(frame.exposure_s, 0) * 1000)) / 1000.0, 'unixepoch')
           AS end_utc,
       time.time_basis, time.time_error_s, date(time.night_day * 86400, 'unixepoch') AS night, site.name AS site,
       ifnull(time.lat_deg, site.lat_deg) AS lat_deg, ifnull(time.lon_deg, site.lon_deg) AS lon_deg,
       ifnull(time.elev_m, site.elev_m) AS elev_m, time.place_basis, time.session_id AS session, time.seq, time.kind,
       frame.exposure_s, frame.f_number, frame.iso, frame.focal_mm
FROM written_frame AS frame
LEFT JOIN written_file   AS file    ON file.file_id = frame.first_file_id
LEFT JOIN written_camera AS camera  ON camera.camera_id = frame.camera_id
LEFT JOIN derived_time   AS time    ON time.frame_id = frame.frame_id
LEFT JOIN stated_site    AS site    ON site.site_id = time.site_id;

-- The same, with the sky and each active shower's radiant over it.
CREATE VIEW frame_sky AS
SELECT frame.frame_id, frame.file, frame.camera, frame.start_utc, frame.night, frame.site, frame.session, frame.seq,
       frame.kind, frame.exposure_s, frame.f_number, frame.iso, frame.focal_mm,
       sky.sun_alt_deg, sky.twilight, sky.moon_alt_deg, sky.moon_lit,
       radiant.shower, radiant.alt_deg, radiant.az_deg, radiant.seen_alt_deg, radiant.seen_az_deg,
       radiant.moon_sep_deg, radiant.rate
FROM frame_time AS frame
LEFT JOIN derived_sky     AS sky     ON sky.frame_id = frame.frame_id
LEFT JOIN derived_active  AS active  ON active.active_id = sky.active_id
LEFT JOIN derived_radiant AS radiant
    ON radiant.frame_id = frame.frame_id AND radiant.shower IN (SELECT value FROM json_each(
        '["' || replace(active.showers, ' ', '","') || '"]'));
