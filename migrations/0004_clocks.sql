-- Why: what the photographer states of clocks and places after the trip: clock fixes, the zones bodies were set to,
-- recorded tracks, how dark a site's sky is. Derived rows follow from these; nothing here is ever changed by an ingest.

-- When this body's clock read A, the true time was B.
CREATE TABLE stated_clock_fix (
    fix_id       INTEGER PRIMARY KEY AUTOINCREMENT,  -- a number is never given twice
    camera_id    INTEGER NOT NULL REFERENCES written_camera,
    reading      TEXT NOT NULL,               -- what the clock showed, ISO 8601 without zone
    true_utc     TEXT NOT NULL,               -- the instant it was then
    reset_before INTEGER NOT NULL CHECK (reset_before IN (0, 1)),  -- 1: the clock was set anew since the fix before
    UNIQUE (camera_id, reading)
) STRICT;

-- The zone a body's clock was set to.
CREATE TABLE stated_clock_zone (
    zone_id      INTEGER PRIMARY KEY AUTOINCREMENT,
    camera_id    INTEGER NOT NULL REFERENCES written_camera,
    zone         TEXT NOT NULL,               -- IANA name, or a fixed offset: 'Europe/Rome', '+01:00'
    from_local   TEXT,                        -- first reading it holds for; NULL: from the first there is
    until_local  TEXT                         -- first reading it holds for no more; NULL: for ever
) STRICT;
CREATE UNIQUE INDEX stated_clock_zone_span
    ON stated_clock_zone (camera_id, ifnull(from_local, ''), ifnull(until_local, ''));

-- A recorded track: where the photographer was, second by second.
CREATE TABLE stated_track (
    track_id     INTEGER PRIMARY KEY AUTOINCREMENT,
    name         TEXT NOT NULL UNIQUE,        -- the file's own name
    first_utc    TEXT NOT NULL,
    last_utc     TEXT NOT NULL,
    points       INTEGER NOT NULL
) STRICT;
CREATE TABLE stated_track_point (
    track_id     INTEGER NOT NULL REFERENCES stated_track ON DELETE CASCADE,
    at_utc       TEXT NOT NULL,
    segment      INTEGER NOT NULL,            -- the receiver was off between two segments
    lat_deg      REAL NOT NULL CHECK (lat_deg BETWEEN -90 AND 90),
    lon_deg      REAL NOT NULL CHECK (lon_deg BETWEEN -180 AND 180),
    elev_m       REAL,
    PRIMARY KEY (track_id, at_utc)
) STRICT, WITHOUT ROWID;

-- How dark a site's sky is on a moonless night, for the rates to expect.
ALTER TABLE stated_site ADD COLUMN sqm_mag REAL CHECK (sqm_mag BETWEEN 14 AND 23);           -- mag/arcsec² at the zenith
ALTER TABLE stated_site ADD COLUMN limiting_mag REAL CHECK (limiting_mag BETWEEN 0 AND 8);   -- faintest star seen

-- Which number a set of frames bore as a session, so that it bears it again when a statement is taken back.
CREATE TABLE derived_session_number (
    members      TEXT PRIMARY KEY,            -- first and last frame, count and hash of the members' numbers
    session_id   INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
