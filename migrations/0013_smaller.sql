-- Why: a million frames carry four million radiants with a name in each, and words and fractions that take eight bytes where
-- three do. The same facts in less room; what was kept is read under the names it had.

DROP VIEW frame_sky;
DROP VIEW frame_time;

-- Showers by number: a small one takes a byte of a row, or none.
CREATE TABLE derived_shower (
    shower_id    INTEGER PRIMARY KEY,
    code         TEXT NOT NULL UNIQUE         -- IAU code: 'GEM'
) STRICT;

INSERT INTO derived_shower (code)
SELECT code.value AS shower FROM derived_active AS active
JOIN json_each('["' || replace(active.showers, ' ', '","') || '"]') AS code WHERE active.showers <> ''
UNION SELECT shower FROM derived_sky WHERE shower IS NOT NULL;

CREATE TABLE derived_sky_smaller (
    frame_id     INTEGER PRIMARY KEY REFERENCES written_frame,
    sun_alt      INTEGER,
    moon_alt     INTEGER,
    moon_az      INTEGER,
    moon_lit_ppm INTEGER,                     -- millionths
    lst          INTEGER,
    solar_lon    INTEGER,
    shower_id    INTEGER REFERENCES derived_shower,   -- the strongest by its activity profile
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

INSERT INTO derived_sky_smaller (frame_id, sun_alt, moon_alt, moon_az, moon_lit_ppm, lst, solar_lon, shower_id, active_id)
SELECT frame_id, sun_alt, moon_alt, moon_az, moon_lit_ppm, lst, solar_lon, shower.shower_id, active_id
FROM derived_sky AS sky LEFT JOIN derived_shower AS shower ON shower.code = sky.shower ORDER BY frame_id;

DROP TABLE derived_sky;
ALTER TABLE derived_sky_smaller RENAME TO derived_sky;
CREATE INDEX derived_sky_unplaced ON derived_sky (shower_id) WHERE active_id IS NULL;

CREATE TABLE derived_radiant_smaller (
    shower_id    INTEGER NOT NULL,
    frame_id     INTEGER NOT NULL,
    stood        INTEGER NOT NULL,            -- alt * 2^24 + az: two angles of three bytes each in one number of six
    seen         INTEGER NOT NULL,
    moon_sep     INTEGER NOT NULL,            -- tenths of an arcsecond, as all angles here
    rate_milli   INTEGER NOT NULL,            -- thousandths
    alt          INTEGER AS (stood >> 24),
    az           INTEGER AS (stood & 16777215),       -- from 0
    seen_alt     INTEGER AS (seen >> 24),
    seen_az      INTEGER AS (seen & 16777215),
    alt_deg      REAL AS ((stood >> 24) / 36000.0),   -- geometric: what published tables give
    az_deg       REAL AS ((stood & 16777215) / 36000.0),
    seen_alt_deg REAL AS ((seen >> 24) / 36000.0),    -- where trails in the picture point back to
    seen_az_deg  REAL AS ((seen & 16777215) / 36000.0),
    moon_sep_deg REAL AS (moon_sep / 36000.0),        -- Moon to radiant
    rate         REAL AS (rate_milli / 1000.0),       -- meteors an hour under a 6.5-magnitude sky
    PRIMARY KEY (shower_id, frame_id)
) STRICT, WITHOUT ROWID;

INSERT INTO derived_radiant_smaller (shower_id, frame_id, stood, seen, moon_sep, rate_milli)
SELECT shower.shower_id, radiant.frame_id,
       (radiant.alt << 24) | (radiant.az + (radiant.az < 0) * 12960000),
       (radiant.seen_alt << 24) | (radiant.seen_az + (radiant.seen_az < 0) * 12960000),
       radiant.moon_sep, radiant.rate_milli
FROM derived_shower AS shower CROSS JOIN derived_radiant AS radiant ON radiant.shower = shower.code
ORDER BY shower.shower_id, radiant.frame_id;

DROP TABLE derived_radiant;
ALTER TABLE derived_radiant_smaller RENAME TO derived_radiant;

-- Places stated for one frame after the other: the first and the last of a run, both of which are frames. Every frame between
-- them was stated to be there.
CREATE TABLE stated_place_run (
    first_frame  INTEGER PRIMARY KEY,
    last_frame   INTEGER NOT NULL CHECK (last_frame >= first_frame),
    site_id      INTEGER NOT NULL REFERENCES stated_site
) STRICT;

INSERT INTO stated_place_run (first_frame, last_frame, site_id)
SELECT min(frame_id), max(frame_id), site_id
FROM (SELECT frame.frame_id, place.site_id, row_number() OVER (ORDER BY frame.frame_id)
             - row_number() OVER (PARTITION BY place.site_id ORDER BY frame.frame_id) AS run
      FROM written_frame AS frame LEFT JOIN stated_place AS place ON place.frame_id = frame.frame_id)
WHERE site_id IS NOT NULL
GROUP BY site_id, run ORDER BY 1;

DROP TABLE stated_place;
ALTER TABLE stated_place_run RENAME TO stated_place;

CREATE TABLE written_frame_smaller (
    frame_id      INTEGER PRIMARY KEY,         -- the file_id of the file it began with
    camera_id     INTEGER REFERENCES written_camera,
    first_file_id INTEGER NOT NULL,           -- the file shown for it: raw before JPEG. The two tables point at each
                                              -- other; the foreign key is on the file's side
    clock_s       INTEGER,                    -- what the clock showed: seconds from its 1970-01-01T00:00:00, no zone
    clock_fraction TEXT,                      -- and the digits of the second's fraction, as written: '25' is 0.25 s
    clock_source_no INTEGER,
    clock_source  TEXT AS (CASE clock_source_no WHEN 0 THEN 'original' WHEN 1 THEN 'digitised' WHEN 2 THEN 'file' END),
    utc_offset_s  INTEGER,                    -- what the body wrote beside it, seconds east
    utc_offset    TEXT AS (CASE WHEN utc_offset_s < 0 THEN '-' WHEN utc_offset_s >= 0 THEN '+' END  -- '+01:00'
                           || printf('%02d:%02d', abs(utc_offset_s) / 3600, abs(utc_offset_s) / 60 % 60)
                           || CASE utc_offset_s % 60 WHEN 0 THEN '' ELSE printf(':%02d', abs(utc_offset_s) % 60) END),
    body_zone_s   INTEGER,                    -- the body's zone setting from its maker note, seconds east
    exposure_s    REAL,
    f_number_millionths INTEGER,              -- hardly one is whole, and a fraction takes eight bytes: this takes three or four
    f_number      REAL AS (f_number_millionths / 1000000.0),
    iso           REAL,
    focal_mm      REAL,
    focal35_mm    REAL,
    lens_id       INTEGER REFERENCES written_lens,
    width_px      INTEGER,                    -- of the main image, as stored
    height_px     INTEGER,
    orientation   INTEGER CHECK (orientation BETWEEN 1 AND 8),
    temperature_c REAL,                       -- the body's own reading
    shutter_count INTEGER,                    -- the body's image counter
    gps_lat_deg   REAL,                       -- north positive
    gps_lon_deg   REAL,                       -- east positive
    gps_elev_m    REAL,
    gps_ms        INTEGER                     -- the GPS time stamp, UTC
) STRICT;

INSERT INTO written_frame_smaller (frame_id, camera_id, first_file_id, clock_s, clock_fraction, clock_source_no, utc_offset_s,
    body_zone_s, exposure_s, f_number_millionths, iso, focal_mm, focal35_mm, lens_id, width_px, height_px, orientation,
    temperature_c, shutter_count, gps_lat_deg, gps_lon_deg, gps_elev_m, gps_ms)
SELECT frame_id, camera_id, first_file_id, clock_s, clock_fraction, clock_source_no,
       CASE substr(utc_offset, 1, 1) WHEN '-' THEN -1 WHEN '+' THEN 1 END
           * (CAST(substr(utc_offset, 2, 2) AS INTEGER) * 3600 + CAST(substr(utc_offset, 5, 2) AS INTEGER) * 60
              + CAST(substr(utc_offset, 8, 2) AS INTEGER)),
       body_zone_s, exposure_s, CAST(round(f_number * 1000000) AS INTEGER), iso, focal_mm, focal35_mm, lens_id, width_px,
       height_px, orientation, temperature_c, shutter_count, gps_lat_deg, gps_lon_deg, gps_elev_m, gps_ms
FROM written_frame ORDER BY frame_id;

DROP TABLE written_frame;
ALTER TABLE written_frame_smaller RENAME TO written_frame;
CREATE INDEX written_frame_clock ON written_frame (clock_s) WHERE clock_s IS NOT NULL;

CREATE TABLE written_file_smaller (
    file_id     INTEGER PRIMARY KEY,
    folder_id   INTEGER NOT NULL REFERENCES written_folder,
    name        TEXT NOT NULL,
    name_bytes  BLOB,                         -- byte for byte, where it is not UTF-8
    frame_id    INTEGER NOT NULL REFERENCES written_frame,
    copy_of     INTEGER,                      -- the file_id of the one whose contents it repeats
    format_no   INTEGER NOT NULL,             -- the container, told by its contents
    format      TEXT AS (CASE format_no
                         WHEN 0 THEN 'jpeg' WHEN 1 THEN 'tiff' WHEN 2 THEN 'png' WHEN 3 THEN 'webp'
                         WHEN 4 THEN 'heif' WHEN 5 THEN 'avif' WHEN 6 THEN 'nef' WHEN 7 THEN 'nrw' WHEN 8 THEN 'cr2'
                         WHEN 9 THEN 'cr3' WHEN 10 THEN 'crw' WHEN 11 THEN 'arw' WHEN 12 THEN 'sr2'
                         WHEN 13 THEN 'dng' WHEN 14 THEN 'gpr' WHEN 15 THEN 'orf' WHEN 16 THEN 'rw2'
                         WHEN 17 THEN 'raf' WHEN 18 THEN 'pef' WHEN 19 THEN 'srw' WHEN 20 THEN '3fr'
                         WHEN 21 THEN 'fff' WHEN 22 THEN 'iiq' WHEN 23 THEN 'kdc' WHEN 24 THEN 'dcr'
                         WHEN 25 THEN 'erf' WHEN 26 THEN 'mef' WHEN 27 THEN 'mos' WHEN 28 THEN 'mrw'
                         WHEN 29 THEN 'x3f' WHEN 30 THEN 'unknown' END),
    bytes       INTEGER NOT NULL,
    modified_ns INTEGER NOT NULL,             -- the file system's time stamp, nanoseconds since 1970; only to see a change
    fingerprint INTEGER,                      -- six bytes of a hash over length and samples; NULL where they could not
                                              -- tell files apart. Copies share it, their size and their clock's second
    undated     INTEGER NOT NULL,             -- 1 where the file tells no clock reading by which it could be found
    health_no   INTEGER NOT NULL CHECK (health_no BETWEEN 0 AND 3),
    health      TEXT AS (CASE health_no WHEN 0 THEN 'sound' WHEN 1 THEN 'truncated' WHEN 2 THEN 'unreadable'
                         WHEN 3 THEN 'no-metadata' END),
    thumbnail_offset INTEGER,                 -- the smallest embedded JPEG
    thumbnail_bytes  INTEGER,
    preview_offset   INTEGER,                 -- the largest embedded JPEG
    preview_bytes    INTEGER
) STRICT;

INSERT INTO written_file_smaller (file_id, folder_id, name, name_bytes, frame_id, copy_of, format_no, bytes, modified_ns,
    fingerprint, undated, health_no, thumbnail_offset, thumbnail_bytes, preview_offset, preview_bytes)
SELECT file_id, folder_id, name, name_bytes, frame_id, copy_of,
       CASE format
           WHEN 'jpeg' THEN 0 WHEN 'tiff' THEN 1 WHEN 'png' THEN 2 WHEN 'webp' THEN 3 WHEN 'heif' THEN 4
           WHEN 'avif' THEN 5 WHEN 'nef' THEN 6 WHEN 'nrw' THEN 7 WHEN 'cr2' THEN 8 WHEN 'cr3' THEN 9
           WHEN 'crw' THEN 10 WHEN 'arw' THEN 11 WHEN 'sr2' THEN 12 WHEN 'dng' THEN 13 WHEN 'gpr' THEN 14
           WHEN 'orf' THEN 15 WHEN 'rw2' THEN 16 WHEN 'raf' THEN 17 WHEN 'pef' THEN 18 WHEN 'srw' THEN 19
           WHEN '3fr' THEN 20 WHEN 'fff' THEN 21 WHEN 'iiq' THEN 22 WHEN 'kdc' THEN 23 WHEN 'dcr' THEN 24
           WHEN 'erf' THEN 25 WHEN 'mef' THEN 26 WHEN 'mos' THEN 27 WHEN 'mrw' THEN 28 WHEN 'x3f' THEN 29 ELSE 30 END,
       bytes, modified_ns, fingerprint >> 16, undated, health_no, thumbnail_offset, thumbnail_bytes, preview_offset, preview_bytes
FROM written_file ORDER BY file_id;

DROP TABLE written_file;
ALTER TABLE written_file_smaller RENAME TO written_file;
CREATE INDEX written_file_folder ON written_file (folder_id);
CREATE INDEX written_file_further ON written_file (frame_id) WHERE frame_id <> file_id;
CREATE INDEX written_file_copies ON written_file (copy_of) WHERE copy_of IS NOT NULL;
CREATE INDEX written_file_undated ON written_file (fingerprint) WHERE undated = 1;

-- A session lies in one night: one index serves both.
ALTER TABLE derived_session ADD COLUMN night_day INTEGER AS (unixepoch(night) / 86400);

CREATE TABLE derived_time_smaller (
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
    session_id  INTEGER,                      -- in derived_session, which has the same night
    seq         INTEGER,                      -- position within the session, from 1
    kind_no     INTEGER CHECK (kind_no BETWEEN 0 AND 4),
    kind        TEXT AS (CASE kind_no WHEN 0 THEN 'light' WHEN 1 THEN 'dark' WHEN 2 THEN 'flat' WHEN 3 THEN 'bias'
                         WHEN 4 THEN 'trial' END),
    maker_id    INTEGER NOT NULL REFERENCES derived_maker,
    evidence_id INTEGER REFERENCES derived_evidence,  -- why it is of its kind
    turn        INTEGER,                      -- of the sky about the pole since the session's middle light, as derived_sky's angles
    turn_deg    REAL AS (turn / 36000.0)
) STRICT;

INSERT INTO derived_time_smaller (frame_id, start_ms, time_basis_no, time_error_ms, site_id, lat_deg, lon_deg, elev_m,
    place_basis_no, night_day, session_id, seq, kind_no, maker_id, evidence_id, turn)
SELECT frame_id, start_ms, time_basis_no, time_error_ms, site_id, lat_deg, lon_deg, elev_m,
       place_basis_no, night_day, session_id, seq, kind_no, maker_id, evidence_id, turn
FROM derived_time ORDER BY frame_id;

DROP TABLE derived_time;
ALTER TABLE derived_time_smaller RENAME TO derived_time;
CREATE INDEX derived_time_night ON derived_time (night_day, session_id, seq) WHERE night_day IS NOT NULL;
CREATE INDEX derived_time_start ON derived_time (start_ms) WHERE start_ms IS NOT NULL;
CREATE INDEX derived_time_calibration ON derived_time (kind_no) WHERE kind_no IN (1, 2, 3);

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

CREATE VIEW frame_sky AS
SELECT frame.frame_id, frame.file, frame.camera, frame.start_utc, frame.night, frame.site, frame.session, frame.seq,
       frame.kind, frame.exposure_s, frame.f_number, frame.iso, frame.focal_mm,
       sky.sun_alt_deg, sky.twilight, sky.moon_alt_deg, sky.moon_lit,
       shower.code AS shower, radiant.alt_deg, radiant.az_deg, radiant.seen_alt_deg, radiant.seen_az_deg,
       radiant.moon_sep_deg, radiant.rate
FROM frame_time AS frame
LEFT JOIN derived_sky     AS sky     ON sky.frame_id = frame.frame_id
LEFT JOIN derived_active  AS active  ON active.active_id = sky.active_id
LEFT JOIN derived_shower  AS shower
    ON shower.code IN (SELECT value FROM json_each('["' || replace(active.showers, ' ', '","') || '"]'))
LEFT JOIN derived_radiant AS radiant
    ON radiant.shower_id = shower.shower_id AND radiant.frame_id = frame.frame_id;
