-- Why: a shower that gives most there and then is another than the one with the greatest ZHR, and meteors an hour under the
-- sky of the frame are others than under the sky of the ZHR: both are kept. Earlier rows follow an earlier shower table
-- (activity, radiants), so none is carried over: the sky over every frame is computed again by the next command.

DROP VIEW frame_sky;
DROP TABLE derived_radiant;
DROP TABLE derived_sky;
DELETE FROM derived_day;
DELETE FROM derived_active;

CREATE TABLE derived_sky (
    frame_id     INTEGER PRIMARY KEY REFERENCES written_frame,
    sun_alt      INTEGER,
    moon_alt     INTEGER,
    moon_az      INTEGER,
    moon_lit_ppm INTEGER,                     -- millionths
    lst          INTEGER,
    solar_lon    INTEGER,
    shower_id    INTEGER REFERENCES derived_shower,   -- the greatest rate there and then; NULL where no radiant is up or
                                                      -- the place is not known
    main_shower_id INTEGER REFERENCES derived_shower, -- the greatest ZHR, its radiant up or not
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

CREATE INDEX derived_sky_unplaced ON derived_sky (main_shower_id) WHERE active_id IS NULL;

CREATE TABLE derived_radiant (
    shower_id    INTEGER NOT NULL,
    frame_id     INTEGER NOT NULL,
    stood        INTEGER NOT NULL,            -- alt * 2^24 + az: two angles of three bytes each in one number of six
    seen         INTEGER NOT NULL,
    moon_sep     INTEGER NOT NULL,            -- tenths of an arcsecond, as all angles here
    rates        INTEGER NOT NULL,            -- rate - seen_rate, times 2^20, + rate: on a dark night as small as the rate alone
    rate_milli   INTEGER AS (rates & 1048575),        -- thousandths
    seen_rate_milli INTEGER AS ((rates & 1048575) - (rates >> 20)),
    alt          INTEGER AS (stood >> 24),
    az           INTEGER AS (stood & 16777215),       -- from 0
    seen_alt     INTEGER AS (seen >> 24),
    seen_az      INTEGER AS (seen & 16777215),
    alt_deg      REAL AS ((stood >> 24) / 36000.0),   -- geometric: what published tables give
    az_deg       REAL AS ((stood & 16777215) / 36000.0),
    seen_alt_deg REAL AS ((seen >> 24) / 36000.0),    -- where trails in the picture point back to
    seen_az_deg  REAL AS ((seen & 16777215) / 36000.0),
    moon_sep_deg REAL AS (moon_sep / 36000.0),        -- Moon to radiant
    rate         REAL AS ((rates & 1048575) / 1000.0),            -- meteors an hour under a 6.5-magnitude sky
    seen_rate    REAL AS (((rates & 1048575) - (rates >> 20)) / 1000.0),  -- under the sky of the frame: site, twilight, moonlight
    PRIMARY KEY (shower_id, frame_id)
) STRICT, WITHOUT ROWID;

CREATE VIEW frame_sky AS
SELECT frame.frame_id, frame.file, frame.camera, frame.start_utc, frame.night, frame.site, frame.session, frame.seq,
       frame.kind, frame.exposure_s, frame.f_number, frame.iso, frame.focal_mm,
       sky.sun_alt_deg, sky.twilight, sky.moon_alt_deg, sky.moon_lit,
       shower.code AS shower, radiant.alt_deg, radiant.az_deg, radiant.seen_alt_deg, radiant.seen_az_deg,
       radiant.moon_sep_deg, radiant.rate, radiant.seen_rate
FROM frame_time AS frame
LEFT JOIN derived_sky     AS sky     ON sky.frame_id = frame.frame_id
LEFT JOIN derived_active  AS active  ON active.active_id = sky.active_id
LEFT JOIN derived_shower  AS shower
    ON shower.code IN (SELECT value FROM json_each('["' || replace(active.showers, ' ', '","') || '"]'))
LEFT JOIN derived_radiant AS radiant
    ON radiant.shower_id = shower.shower_id AND radiant.frame_id = frame.frame_id;
