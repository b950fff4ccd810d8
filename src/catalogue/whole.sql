-- What the migrations come to; tests/house/new_catalogue.rs writes it.

CREATE TABLE written_folder (
    folder_id   INTEGER PRIMARY KEY,
    dump_id     INTEGER NOT NULL REFERENCES written_dump,
    path        TEXT NOT NULL,                -- below the root, '/' between names; '' is the root itself
    path_bytes  BLOB,                         -- byte for byte, where it is not UTF-8
    UNIQUE (dump_id, path)
) STRICT;

CREATE TABLE written_camera (
    camera_id   INTEGER PRIMARY KEY,
    make        TEXT,
    model       TEXT,
    serial      TEXT,
    name        TEXT NOT NULL                 -- model and serial in one, as shown
) STRICT;

CREATE UNIQUE INDEX written_camera_body
    ON written_camera (ifnull(make, ''), ifnull(model, ''), ifnull(serial, ''));

CREATE TABLE written_lens (
    lens_id     INTEGER PRIMARY KEY,
    name        TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE written_finding (
    file_id     INTEGER NOT NULL REFERENCES written_file ON DELETE CASCADE,
    code        TEXT NOT NULL,
    saw         TEXT NOT NULL,
    did         TEXT NOT NULL
) STRICT;

CREATE INDEX written_finding_file ON written_finding (file_id);

CREATE TABLE stated_site (
    site_id     INTEGER PRIMARY KEY,
    name        TEXT NOT NULL UNIQUE COLLATE NOCASE,
    lat_deg     REAL NOT NULL CHECK (lat_deg BETWEEN -90 AND 90),      -- north positive
    lon_deg     REAL NOT NULL CHECK (lon_deg BETWEEN -180 AND 180),    -- east positive
    elev_m      REAL NOT NULL,
    zone        TEXT,                         -- IANA name: 'Europe/Rome'
    origin      TEXT NOT NULL
        CHECK (origin = 'stated' OR origin = 'exif')  -- 'exif': made from a frame's GPS position
, sqm_mag REAL CHECK (sqm_mag BETWEEN 14 AND 23), limiting_mag REAL CHECK (limiting_mag BETWEEN 0 AND 8), of_track INTEGER NOT NULL DEFAULT 0) STRICT;

CREATE TABLE derived_finding (
    frame_id    INTEGER NOT NULL REFERENCES written_frame,
    code        TEXT NOT NULL,
    saw         TEXT NOT NULL,
    did         TEXT NOT NULL
) STRICT;

CREATE INDEX derived_finding_frame ON derived_finding (frame_id);

CREATE TABLE derived_active (
    active_id    INTEGER PRIMARY KEY,
    showers      TEXT NOT NULL UNIQUE         -- IAU codes: 'ANT GEM MON'
) STRICT;

CREATE TABLE stated_clock_zone (
    zone_id      INTEGER PRIMARY KEY AUTOINCREMENT,
    camera_id    INTEGER NOT NULL REFERENCES written_camera,
    zone         TEXT NOT NULL,               -- IANA name, or a fixed offset: 'Europe/Rome', '+01:00'
    from_local   TEXT,                        -- first reading it holds for; NULL: from the first there is
    until_local  TEXT                         -- first reading it holds for no more; NULL: for ever
) STRICT;

CREATE UNIQUE INDEX stated_clock_zone_span
    ON stated_clock_zone (camera_id, ifnull(from_local, ''), ifnull(until_local, ''));

CREATE TABLE stated_kind (
    frame_id    INTEGER PRIMARY KEY REFERENCES written_frame,
    kind        TEXT NOT NULL
        CHECK (kind = 'light' OR kind = 'dark' OR kind = 'flat' OR kind = 'bias' OR kind = 'trial')
) STRICT;

CREATE TABLE stated_focal (
    frame_id    INTEGER PRIMARY KEY REFERENCES written_frame,
    focal_mm    REAL NOT NULL CHECK (focal_mm > 0)
) STRICT;

CREATE TABLE derived_evidence (
    evidence_id INTEGER PRIMARY KEY,
    words       TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE derived_day (
    day          INTEGER NOT NULL,            -- since 1970-01-01
    active_id    INTEGER NOT NULL REFERENCES derived_active,
    PRIMARY KEY (day, active_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE derived_shower (
    shower_id    INTEGER PRIMARY KEY,
    code         TEXT NOT NULL UNIQUE         -- IAU code: 'GEM'
) STRICT;

CREATE TABLE "stated_place" (
    first_frame  INTEGER PRIMARY KEY,
    last_frame   INTEGER NOT NULL CHECK (last_frame >= first_frame),
    site_id      INTEGER NOT NULL REFERENCES stated_site
) STRICT;

CREATE TABLE "written_frame" (
    frame_id      INTEGER PRIMARY KEY,         -- the file_id of the file it began with
    camera_id     INTEGER REFERENCES written_camera,
    first_file_id INTEGER NOT NULL,           -- the file shown for it: raw before JPEG. The two tables point at each
                                              -- other; the foreign key is on the file's side
    clock_s       INTEGER,                    -- what the clock showed: seconds from its 1970-01-01T00:00:00, no zone
    clock_fraction TEXT,                      -- and the digits of the second's fraction, as written: '25' is 0.25 s
    clock_source_no INTEGER,
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

CREATE INDEX written_frame_clock ON written_frame (clock_s) WHERE clock_s IS NOT NULL;

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

CREATE TABLE catalogue_generation (
    only         INTEGER PRIMARY KEY CHECK (only = 1),
    chain        BLOB NOT NULL                -- a mark of 16 bytes, the state before the latest change, the state after it
) STRICT;

CREATE TABLE measured_look (
    block        INTEGER PRIMARY KEY,         -- of frames: their numbers divided by 32
    looks        BLOB NOT NULL CHECK (length(looks) = 192)  -- six bytes a frame, highest first: 2^47 + its measures (0015), or 0
) STRICT;

CREATE TABLE "derived_maker" (
    maker_id       INTEGER PRIMARY KEY,
    program        TEXT NOT NULL,             -- 'framefall 0.1.0'
    formulas       INTEGER NOT NULL DEFAULT 1, -- version of the formulas
    shower_table   TEXT NOT NULL,             -- edition of the shower table
    frames         INTEGER NOT NULL DEFAULT 0, -- rows of derived_time with the maker's number
    UNIQUE (program, formulas, shower_table)
) STRICT;

CREATE TABLE given_session (
    members      TEXT PRIMARY KEY,            -- first and last frame, count and hash of the members' numbers
    session_id   INTEGER NOT NULL,
    frames       TEXT                         -- the members themselves, '3..90 95..120/5', until another session has one of them
) STRICT, WITHOUT ROWID;

CREATE INDEX given_session_number ON given_session (session_id);

CREATE TABLE pending_frame (
    frame_id     INTEGER PRIMARY KEY
) STRICT;

CREATE TABLE pending_rebuild (
    only_row     INTEGER PRIMARY KEY CHECK (only_row = 1),
    after_frame  INTEGER NOT NULL
) STRICT;

CREATE TABLE word_format (
    format_no   INTEGER PRIMARY KEY,
    format      TEXT NOT NULL UNIQUE          -- the container, told by its contents: 'nef'
) STRICT;

CREATE TABLE word_health (
    health_no   INTEGER PRIMARY KEY,
    health      TEXT NOT NULL UNIQUE          -- the state of a file: 'truncated'
) STRICT;

CREATE TABLE word_clock_source (
    clock_source_no INTEGER PRIMARY KEY,
    clock_source TEXT NOT NULL UNIQUE         -- the tag that a clock reading came from: 'original'
) STRICT;

CREATE TABLE word_time_basis (
    time_basis_no INTEGER PRIMARY KEY,
    time_basis  TEXT NOT NULL UNIQUE          -- how UTC was reached: 'gps'
) STRICT;

CREATE TABLE word_place_basis (
    place_basis_no INTEGER PRIMARY KEY,
    place_basis TEXT NOT NULL UNIQUE          -- how the place was reached: 'track'
) STRICT;

CREATE TABLE word_kind (
    kind_no     INTEGER PRIMARY KEY,
    kind        TEXT NOT NULL UNIQUE          -- what a frame is for: 'light'
) STRICT;

CREATE TABLE "written_dump" (
    dump_id     INTEGER PRIMARY KEY,
    label       TEXT NOT NULL UNIQUE,         -- the name shown: the root folder's own name
    root        TEXT UNIQUE,                  -- absolute path, no slash at the end; NULL while another dump lies there
    root_bytes  BLOB,                         -- the path byte for byte, where it is not UTF-8
    left_root   TEXT,                         -- where it lay until another dump took that place
    left_root_bytes BLOB,
    first_seen_ms INTEGER,                    -- first and latest ingest, UTC
    last_seen_ms  INTEGER,
    volume_id   TEXT,                         -- the file system it lay on at the latest ingest, as far as known
    volume_label TEXT,
    volume_path TEXT,                         -- the root below that file system's own
    root_shown  TEXT AS (ifnull(root, left_root || ' (not here, dump ' || dump_id || ')'))  -- a path that leads nowhere
                                                                                           -- while another dump lies there
) STRICT;

CREATE TABLE "written_file" (
    file_id     INTEGER PRIMARY KEY,
    folder_id   INTEGER NOT NULL REFERENCES written_folder,
    name        TEXT NOT NULL,
    name_bytes  BLOB,                         -- byte for byte, where it is not UTF-8
    frame_id    INTEGER NOT NULL REFERENCES written_frame,
    copy_of     INTEGER,                      -- the file_id of the one whose contents it repeats
    format_no   INTEGER NOT NULL REFERENCES word_format,
    bytes       INTEGER NOT NULL,
    modified_ns INTEGER NOT NULL,             -- the file system's time stamp, nanoseconds since 1970; only to see a change
    undated     INTEGER NOT NULL,             -- 1 where the file tells no clock reading by which it could be found
    health_no   INTEGER NOT NULL REFERENCES word_health,
    thumbnail_offset INTEGER,                 -- the smallest embedded JPEG
    thumbnail_bytes  INTEGER,
    preview_offset   INTEGER,                 -- the largest embedded JPEG
    preview_bytes    INTEGER
, fingerprint BLOB CHECK (length(fingerprint) = 16 OR length(fingerprint) = 6)) STRICT;

CREATE INDEX written_file_folder ON written_file (folder_id);

CREATE INDEX written_file_further ON written_file (frame_id) WHERE frame_id <> file_id;

CREATE INDEX written_file_copies ON written_file (copy_of) WHERE copy_of IS NOT NULL;

CREATE TABLE "stated_track" (
    track_id     INTEGER PRIMARY KEY AUTOINCREMENT,
    name         TEXT NOT NULL UNIQUE,        -- the file's own name
    first_ms     INTEGER NOT NULL,            -- its first point and its last, UTC
    last_ms      INTEGER NOT NULL,
    points       INTEGER NOT NULL
) STRICT;

CREATE TABLE "stated_track_point" (
    track_id     INTEGER NOT NULL REFERENCES stated_track ON DELETE CASCADE,
    at_ms        INTEGER NOT NULL,            -- UTC
    segment      INTEGER NOT NULL,            -- the receiver was off between two segments
    lat_deg      REAL NOT NULL CHECK (lat_deg BETWEEN -90 AND 90),
    lon_deg      REAL NOT NULL CHECK (lon_deg BETWEEN -180 AND 180),
    elev_m       REAL,
    PRIMARY KEY (track_id, at_ms)
) STRICT, WITHOUT ROWID;

CREATE TABLE "stated_query" (
    name        TEXT PRIMARY KEY COLLATE NOCASE,
    query       TEXT NOT NULL,                -- whole: the names it was made of are written out
    saved_ms    INTEGER                       -- when, UTC
) STRICT, WITHOUT ROWID;

CREATE TABLE "stated_clock_fix" (
    fix_id       INTEGER PRIMARY KEY AUTOINCREMENT,  -- a number is never given twice
    camera_id    INTEGER NOT NULL REFERENCES written_camera,
    reading      TEXT NOT NULL,               -- what the clock showed, ISO 8601 without zone
    true_ms      INTEGER NOT NULL,            -- the instant it was then, UTC
    reset_before INTEGER NOT NULL CHECK (reset_before IN (0, 1)),  -- 1: the clock was reset since the fix before
    from_local   TEXT,                        -- the first reading it is limited to; NULL: no first one
    until_local  TEXT                         -- the first reading after those it is limited to; NULL: no last one
, frames BLOB CHECK (length(frames) = 16)) STRICT;

CREATE TABLE "derived_time" (
    frame_id    INTEGER PRIMARY KEY REFERENCES written_frame,
    start_ms    INTEGER,                      -- when the shutter opened, UTC
    time_basis_no INTEGER NOT NULL REFERENCES word_time_basis,
    time_error_ms INTEGER,                    -- one sigma
    time_error_s  REAL AS (time_error_ms / 1000.0),
    site_id     INTEGER REFERENCES stated_site,
    lat_deg     REAL,                         -- the place, where it is another than the site's own
    lon_deg     REAL,
    elev_m      REAL,
    place_basis_no INTEGER NOT NULL REFERENCES word_place_basis,
    night_day   INTEGER,                      -- the evening's date, in days since 1970-01-01
    session_id  INTEGER,                      -- in derived_session, which has the same night
    seq         INTEGER,                      -- position within the session, from 1
    kind_no     INTEGER REFERENCES word_kind,
    maker_id    INTEGER REFERENCES derived_maker,
    evidence_id INTEGER REFERENCES derived_evidence,  -- why it is of its kind
    turn        INTEGER,                      -- of the sky about the pole since the session's middle light, as derived_sky's angles
    turn_deg    REAL AS (turn / 36000.0)
, turn_basis TEXT CHECK (turn_basis IN ('stars', 'mount'))) STRICT;

CREATE INDEX derived_time_night ON derived_time (night_day, session_id, seq) WHERE night_day IS NOT NULL;

CREATE INDEX derived_time_start ON derived_time (start_ms) WHERE start_ms IS NOT NULL;

CREATE INDEX derived_time_calibration ON derived_time (kind_no) WHERE kind_no IN (1, 2, 3);

CREATE TABLE "derived_session" (
    session_id  INTEGER PRIMARY KEY AUTOINCREMENT,   -- a number is never given twice
    camera_id   INTEGER REFERENCES written_camera,
    site_id     INTEGER REFERENCES stated_site,
    night_day   INTEGER NOT NULL,             -- the evening's date; by the body's clock where the place is not known
    focal_mm    REAL,
    start_ms    INTEGER,                      -- of the first frame, UTC; NULL where it is not known
    end_ms      INTEGER,                      -- of the last frame's exposure
    start_local TEXT,                         -- what the body's clock showed at the first frame
    end_local   TEXT,                         -- and at the last
    cadence_s   REAL,                         -- median from start to start
    frames      INTEGER NOT NULL,
    missing     INTEGER NOT NULL              -- frames the cadence asks for that are not there
) STRICT;

CREATE INDEX derived_session_night ON derived_session (night_day, camera_id);

CREATE TABLE "pending_night" (
    night_day   INTEGER NOT NULL,
    camera_id   INTEGER                       -- NULL for frames whose body is not known
) STRICT;

CREATE UNIQUE INDEX pending_night_body ON pending_night (night_day, ifnull(camera_id, 0));

CREATE TRIGGER derived_time_deleted AFTER DELETE ON derived_time BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) VALUES (old.frame_id);
    INSERT OR IGNORE INTO pending_night (night_day, camera_id)
    SELECT old.night_day, camera_id FROM written_frame
    WHERE frame_id = old.frame_id AND old.night_day IS NOT NULL;
    UPDATE derived_maker SET frames = frames - 1 WHERE maker_id = old.maker_id;
END;

CREATE TRIGGER derived_time_inserted AFTER INSERT ON derived_time BEGIN
    UPDATE derived_maker SET frames = frames + 1 WHERE maker_id = new.maker_id;
END;

CREATE TRIGGER derived_time_made AFTER UPDATE OF maker_id ON derived_time BEGIN
    UPDATE derived_maker SET frames = frames - 1 WHERE maker_id = old.maker_id;
    UPDATE derived_maker SET frames = frames + 1 WHERE maker_id = new.maker_id;
END;

CREATE TRIGGER derived_sky_deleted AFTER DELETE ON derived_sky BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) VALUES (old.frame_id);
END;

CREATE TRIGGER derived_radiant_deleted AFTER DELETE ON derived_radiant BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) VALUES (old.frame_id);
END;

CREATE TRIGGER derived_finding_deleted AFTER DELETE ON derived_finding BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) VALUES (old.frame_id);
END;

CREATE TRIGGER derived_session_deleted AFTER DELETE ON derived_session BEGIN
    INSERT OR IGNORE INTO pending_night (night_day, camera_id) VALUES (old.night_day, old.camera_id);
END;

CREATE TRIGGER derived_maker_deleted AFTER DELETE ON derived_maker BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) SELECT frame_id FROM derived_time WHERE maker_id = old.maker_id;
    UPDATE derived_time SET maker_id = NULL WHERE maker_id = old.maker_id;
END;

CREATE TRIGGER derived_shower_deleted AFTER DELETE ON derived_shower BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) SELECT frame_id FROM derived_sky
    WHERE old.shower_id IN (shower_id, main_shower_id);
    DELETE FROM derived_radiant WHERE shower_id = old.shower_id;
END;

CREATE TRIGGER derived_active_deleted AFTER DELETE ON derived_active BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) SELECT frame_id FROM derived_sky WHERE active_id = old.active_id;
END;

CREATE TRIGGER derived_evidence_deleted AFTER DELETE ON derived_evidence BEGIN
    INSERT OR IGNORE INTO pending_night (night_day, camera_id)
    SELECT DISTINCT night_day, camera_id
    FROM derived_time JOIN written_frame USING (frame_id)
    WHERE evidence_id = old.evidence_id AND night_day IS NOT NULL;
    UPDATE derived_time SET evidence_id = NULL WHERE evidence_id = old.evidence_id;
END;

CREATE TRIGGER derived_day_deleted AFTER DELETE ON derived_day BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id)
    SELECT frame_id FROM derived_time JOIN derived_sky USING (frame_id)
    WHERE start_ms BETWEEN old.day * 86400000 AND old.day * 86400000 + 86399999 AND active_id = old.active_id;
END;

CREATE INDEX written_file_undated ON written_file (fingerprint) WHERE undated = 1;

CREATE TABLE stated_word (
    word_id      INTEGER PRIMARY KEY,
    word         TEXT NOT NULL UNIQUE         -- what can be stated: 'zone', 'zone-removal', 'place'
) STRICT;

CREATE TABLE stated_log (
    number       INTEGER PRIMARY KEY,         -- in the order in which they took effect here
    identity     BLOB NOT NULL UNIQUE CHECK (length(identity) = 16),  -- random; the same in every catalogue that has it
    stated_ms    INTEGER,                     -- when, UTC; NULL where an earlier version did not note it
    word_id      INTEGER NOT NULL REFERENCES stated_word,
    content      TEXT NOT NULL CHECK (json_valid(content)),           -- docs/statements.md
    takes_back   INTEGER REFERENCES stated_log
) STRICT;

CREATE TABLE stated_frames (
    number       INTEGER NOT NULL REFERENCES stated_log,
    part         INTEGER NOT NULL,            -- from 1: an ingest adds one for each step, an upgrade or a dump its own
    dump         TEXT NOT NULL,               -- the label that the dump had then
    frames       INTEGER NOT NULL,
    first_s      INTEGER,                     -- the first second that a clock showed, and the last; NULL where none showed any
    last_s       INTEGER,
    marks        BLOB NOT NULL,               -- packed: some five bytes a frame (docs/statements.md)
    PRIMARY KEY (number, part)
) STRICT;

CREATE TABLE pending_statement (
    number       INTEGER NOT NULL,            -- a statement, and a frame of it that is not here yet
    clock_s      INTEGER,
    mark         BLOB NOT NULL,               -- packed alone
    site_id      INTEGER                      -- the site of a stated place
) STRICT;

CREATE INDEX pending_statement_number ON pending_statement (number);

CREATE TRIGGER stated_log_kept BEFORE DELETE ON stated_log BEGIN
    SELECT RAISE(ABORT, 'a statement is never deleted; removing what it states is another statement');
END;

CREATE TRIGGER stated_log_unchanged BEFORE UPDATE ON stated_log BEGIN
    SELECT RAISE(ABORT, 'a statement is never changed; another one replaces it');
END;

CREATE TRIGGER stated_frames_kept BEFORE DELETE ON stated_frames BEGIN
    SELECT RAISE(ABORT, 'a statement is never deleted; removing what it states is another statement');
END;

CREATE TRIGGER stated_frames_unchanged BEFORE UPDATE ON stated_frames BEGIN
    SELECT RAISE(ABORT, 'a statement is never changed; another one replaces it');
END;

CREATE VIEW statement AS
SELECT log.number, strftime('%Y-%m-%dT%H:%M:%fZ', log.stated_ms / 1000.0, 'unixepoch') AS stated_utc, word.word AS what,
       log.content, (SELECT sum(part.frames) FROM stated_frames AS part WHERE part.number = log.number) AS frames,
       (SELECT count(*) FROM pending_statement AS pending WHERE pending.number = log.number) AS frames_not_here,
       log.takes_back, (SELECT min(later.number) FROM stated_log AS later WHERE later.takes_back = log.number) AS taken_back_by,
       lower(hex(log.identity)) AS identity
FROM stated_log AS log JOIN stated_word AS word USING (word_id);

CREATE TABLE catalogue_backup (
    only_row     INTEGER PRIMARY KEY CHECK (only_row = 1),
    made_ms      INTEGER NOT NULL             -- the latest one, UTC
) STRICT;

CREATE TABLE measured_device (
    device_id    INTEGER PRIMARY KEY,
    number       INTEGER NOT NULL,            -- by which the system told it from others then
    volume_id    TEXT,                        -- the volume's own number and name, where they were known
    volume_label TEXT
) STRICT;

CREATE UNIQUE INDEX measured_device_known ON measured_device (number, ifnull(volume_id, ''), ifnull(volume_label, ''));

CREATE TABLE measured_content (
    dump_id      INTEGER NOT NULL REFERENCES written_dump ON DELETE CASCADE,
    path         TEXT NOT NULL,               -- below the root: written_folder.path and written_file.name, '/' between them
    bytes        INTEGER NOT NULL,            -- the file's size and time stamp when the hashes were taken: they are for that
    modified_ns  INTEGER NOT NULL,            -- state of the file alone
    blake3       BLOB NOT NULL CHECK (length(blake3) = 32),
    sha256       BLOB CHECK (length(sha256) = 32),
    taken_ms     INTEGER,                     -- when the hashes were taken, UTC
    checked_ms   INTEGER,                     -- when the file was last read whole and compared with them, UTC
    way          TEXT,                        -- how it was read then: 'direct' past the cache, 'dropped' after its pages were
                                              -- dropped from it, 'cached' where the device cannot be asked
    result       TEXT,                        -- 'same', 'differs', 'unreadable'
    device_id    INTEGER REFERENCES measured_device,
    PRIMARY KEY (dump_id, path)
) STRICT, WITHOUT ROWID;

CREATE TABLE measured_card (
    dump_id      INTEGER NOT NULL REFERENCES written_dump ON DELETE CASCADE,
    root         TEXT NOT NULL,               -- the folder that was copied, as written_dump.root
    copied_ms    INTEGER NOT NULL,            -- when it was last copied, UTC
    PRIMARY KEY (dump_id, root)
) STRICT, WITHOUT ROWID;

CREATE TABLE given_frame (
    frame_id     INTEGER NOT NULL,
    clock_s      INTEGER,                     -- the second that the clock showed
    mark         BLOB NOT NULL                -- one of its files, packed alone as in pending_statement
) STRICT;

CREATE INDEX given_frame_clock ON given_frame (clock_s);

CREATE INDEX given_frame_number ON given_frame (frame_id);

CREATE TABLE stated_look (
    frame_id    INTEGER PRIMARY KEY REFERENCES written_frame,
    looked      INTEGER CHECK (looked IN (0, 1)),     -- 1: looked at; NULL where nothing was said
    chosen      INTEGER CHECK (chosen IN (0, 1)),     -- 1: wanted in the picture
    note        TEXT
) STRICT;

CREATE VIEW frame_look AS
SELECT frame.frame_id, frame.path, frame.file, frame.camera, frame.start_utc, frame.night, frame.site, frame.session,
       frame.seq, frame.kind, iif(look.looked = 1, 'yes', 'no') AS looked,
       CASE look.chosen WHEN 1 THEN 'yes' WHEN 0 THEN 'no' END AS chosen, look.note
FROM frame
LEFT JOIN stated_look AS look ON look.frame_id = frame.frame_id;

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
, region TEXT) STRICT;

CREATE TABLE derived_pointing (
    frame_id     INTEGER PRIMARY KEY,
    alt_deg      REAL NOT NULL,               -- of the middle of the picture, as seen
    az_deg       REAL NOT NULL,
    roll_deg     REAL NOT NULL                -- clockwise as the photographer sees it
) STRICT;

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

CREATE TABLE stated_trail (
    trail_id    INTEGER PRIMARY KEY AUTOINCREMENT,    -- a number is never given twice
    frame_id    INTEGER NOT NULL REFERENCES written_frame,
    from_x      INTEGER NOT NULL,             -- hundredths of a pixel of the full picture as stored, to the right and downward from
    from_y      INTEGER NOT NULL,             -- the outer corner of its first pixel
    to_x        INTEGER NOT NULL,
    to_y        INTEGER NOT NULL,
    judged      TEXT NOT NULL CHECK (judged IN ('meteor', 'satellite', 'aircraft', 'other')),
    shower      TEXT,                         -- of a meteor: an IAU code, or 'sporadic'; NULL where it was not stated
    UNIQUE (frame_id, from_x, from_y, to_x, to_y)
) STRICT;

CREATE VIEW trail AS
SELECT trail.trail_id AS trail, trail.frame_id, frame.path, frame.file, frame.start_utc, frame.night, frame.session, frame.seq,
       trail.from_x / 100.0 AS from_x_px, trail.from_y / 100.0 AS from_y_px, trail.to_x / 100.0 AS to_x_px,
       trail.to_y / 100.0 AS to_y_px, trail.judged, trail.shower
FROM stated_trail AS trail
LEFT JOIN frame ON frame.frame_id = trail.frame_id;

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

CREATE TABLE derived_trail (
    trail_id     INTEGER PRIMARY KEY,
    frame_id     INTEGER NOT NULL,
    shower       TEXT NOT NULL                -- 'GEM'; 'GEM/MON', either of two; 'sporadic'
) STRICT;

CREATE INDEX derived_trail_frame ON derived_trail (frame_id);

CREATE TRIGGER derived_trail_deleted AFTER DELETE ON derived_trail BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) VALUES (old.frame_id);
END;

CREATE TABLE measured_glare (
    frame_id     INTEGER PRIMARY KEY,
    x_px         REAL NOT NULL,               -- its middle, in pixels of the full picture as stored
    y_px         REAL NOT NULL,
    radius_px    REAL NOT NULL                -- of a disc of its area
) STRICT;

CREATE TABLE zone_offset (
    zone        TEXT NOT NULL,                -- as in stated_site
    from_ms     INTEGER NOT NULL,             -- when the offset begins, UTC
    offset_s    INTEGER NOT NULL,             -- seconds east, until the zone's next row
    PRIMARY KEY (zone, from_ms)
) STRICT, WITHOUT ROWID;

CREATE VIEW frame AS
SELECT frame.frame_id,
       dump.root_shown || '/' || iif(folder.path = '', '', folder.path || '/') || file.name AS path,
       file.name AS file, dump.label AS dump, camera.name AS camera, lens.name AS lens,
       strftime('%Y-%m-%dT%H:%M:%S', frame.clock_s, 'unixepoch') || ifnull('.' || frame.clock_fraction, '')
           AS clock_local,
       strftime('%Y-%m-%dT%H:%M:%fZ', time.start_ms / 1000.0, 'unixepoch') AS start_utc,
       (SELECT strftime('%Y-%m-%dT%H:%M:%f', (time.start_ms + offset_s * 1000) / 1000.0, 'unixepoch')
               || iif(offset_s < 0, '-', '+')
               || strftime(iif(offset_s % 60, '%H:%M:%S', '%H:%M'), abs(offset_s), 'unixepoch')
        FROM zone_offset AS zone WHERE zone.zone = site.zone AND zone.from_ms <= time.start_ms
        ORDER BY zone.from_ms DESC LIMIT 1) AS start_local,
       strftime('%Y-%m-%dT%H:%M:%fZ', (time.start_ms + round(ifnull(frame.exposure_s, 0) * 500)) / 1000.0, 'unixepoch')
           AS mid_utc,
       strftime('%Y-%m-%dT%H:%M:%fZ', (time.start_ms + round(ifnull(frame.exposure_s, 0) * 1000)) / 1000.0, 'unixepoch')
           AS end_utc,
       time_basis.time_basis, time.time_error_s, date(time.night_day * 86400, 'unixepoch') AS night, site.name AS site,
       site.zone AS zone,
       ifnull(time.lat_deg, site.lat_deg) AS lat_deg, ifnull(time.lon_deg, site.lon_deg) AS lon_deg,
       ifnull(time.elev_m, site.elev_m) AS elev_m, place_basis.place_basis, time.session_id AS session, time.seq,
       kind.kind, health.health, format.format, frame.exposure_s, frame.f_number, frame.iso,
       ifnull(focal.focal_mm, frame.focal_mm) AS focal_mm
FROM written_frame AS frame
LEFT JOIN written_file     AS file        ON file.file_id = frame.first_file_id
LEFT JOIN written_folder   AS folder      ON folder.folder_id = file.folder_id
LEFT JOIN written_dump     AS dump        ON dump.dump_id = folder.dump_id
LEFT JOIN word_format      AS format      ON format.format_no = file.format_no
LEFT JOIN word_health      AS health      ON health.health_no = file.health_no
LEFT JOIN written_camera   AS camera      ON camera.camera_id = frame.camera_id
LEFT JOIN written_lens     AS lens        ON lens.lens_id = frame.lens_id
LEFT JOIN stated_focal     AS focal       ON focal.frame_id = frame.frame_id
LEFT JOIN derived_time     AS time        ON time.frame_id = frame.frame_id
LEFT JOIN word_time_basis  AS time_basis  ON time_basis.time_basis_no = time.time_basis_no
LEFT JOIN word_place_basis AS place_basis ON place_basis.place_basis_no = time.place_basis_no
LEFT JOIN word_kind        AS kind        ON kind.kind_no = time.kind_no
LEFT JOIN stated_site      AS site        ON site.site_id = time.site_id;

CREATE VIEW frame_sky AS
SELECT frame.frame_id, frame.file, frame.camera, frame.start_utc, frame.start_local, frame.night, frame.site,
       frame.session, frame.seq, frame.kind, frame.exposure_s, frame.f_number, frame.iso, frame.focal_mm,
       sky.sun_alt_deg, sky.twilight, sky.moon_alt_deg, sky.moon_lit, strongest.code AS strongest,
       shower.code AS shower, radiant.alt_deg, radiant.az_deg, radiant.seen_alt_deg, radiant.seen_az_deg,
       radiant.moon_sep_deg, radiant.rate, radiant.seen_rate
FROM frame
LEFT JOIN derived_sky     AS sky       ON sky.frame_id = frame.frame_id
LEFT JOIN derived_shower  AS strongest ON strongest.shower_id = sky.shower_id
LEFT JOIN derived_active  AS active    ON active.active_id = sky.active_id
LEFT JOIN derived_shower  AS shower
    ON shower.code IN (SELECT value FROM json_each('["' || replace(active.showers, ' ', '","') || '"]'))
LEFT JOIN derived_radiant AS radiant
    ON radiant.shower_id = shower.shower_id AND radiant.frame_id = frame.frame_id;

CREATE VIEW session AS
SELECT session.session_id AS session, date(session.night_day * 86400, 'unixepoch') AS night, site.name AS site,
       site.zone AS zone, camera.name AS camera, session.focal_mm,
       strftime('%Y-%m-%dT%H:%M:%fZ', session.start_ms / 1000.0, 'unixepoch') AS start_utc,
       strftime('%Y-%m-%dT%H:%M:%fZ', session.end_ms / 1000.0, 'unixepoch') AS end_utc,
       (SELECT strftime('%Y-%m-%dT%H:%M:%f', (session.start_ms + offset_s * 1000) / 1000.0, 'unixepoch')
               || iif(offset_s < 0, '-', '+')
               || strftime(iif(offset_s % 60, '%H:%M:%S', '%H:%M'), abs(offset_s), 'unixepoch')
        FROM zone_offset AS zone WHERE zone.zone = site.zone AND zone.from_ms <= session.start_ms
        ORDER BY zone.from_ms DESC LIMIT 1) AS start_local,
       (SELECT strftime('%Y-%m-%dT%H:%M:%f', (session.end_ms + offset_s * 1000) / 1000.0, 'unixepoch')
               || iif(offset_s < 0, '-', '+')
               || strftime(iif(offset_s % 60, '%H:%M:%S', '%H:%M'), abs(offset_s), 'unixepoch')
        FROM zone_offset AS zone WHERE zone.zone = site.zone AND zone.from_ms <= session.end_ms
        ORDER BY zone.from_ms DESC LIMIT 1) AS end_local,
       session.start_local AS start_clock, session.end_local AS end_clock, session.cadence_s, session.frames,
       session.missing
FROM derived_session AS session
LEFT JOIN stated_site    AS site   ON site.site_id = session.site_id
LEFT JOIN written_camera AS camera ON camera.camera_id = session.camera_id;

CREATE TABLE measured_search (
    frame_id     INTEGER PRIMARY KEY,
    edition      INTEGER NOT NULL,            -- of the search; the session is searched again where it is an earlier one
    why_not      TEXT,                        -- why the frame was not searched; NULL where it was
    began        TEXT,                        -- why a new segment begins with it; NULL where it goes on from the frame before
    at_end       INTEGER NOT NULL,            -- 1 where it is the first or the last of its segment
    clear        REAL,                        -- share of the cells of the sky that show their usual stars
    sky_stops    REAL,                        -- brightness of the sky against the median of its segment
    signs        TEXT                         -- what is noticed: 'cloud', 'dew', 'focus', 'shaken', 'light', separated by spaces
) STRICT;

CREATE TABLE measured_trail (
    trail_id     INTEGER PRIMARY KEY AUTOINCREMENT,   -- a number is never given twice
    frame_id     INTEGER NOT NULL,
    from_x       INTEGER NOT NULL,            -- hundredths of a pixel of the full picture as stored, to the right and downward from
    from_y       INTEGER NOT NULL,            -- the outer corner of its first pixel
    to_x         INTEGER NOT NULL,
    to_y         INTEGER NOT NULL,
    class        TEXT NOT NULL,               -- 'meteor', 'moving-light', 'other-light'
    score        REAL NOT NULL,               -- how likely it is a meteor, 0 to 1
    light        INTEGER,                     -- the moving light that drew it, numbered within its session
    line_snr     REAL NOT NULL,               -- its whole light in units of its noise
    mean_snr     REAL NOT NULL,               -- its mean light in units of the noise of a pixel
    peak_snr     REAL NOT NULL,               -- the same of its brightest five pixels
    peak_at      REAL NOT NULL,               -- where it is brightest: 0 at an end, 0.5 in the middle
    lit          REAL NOT NULL,               -- share of its pixels that are lit
    seen         REAL NOT NULL,               -- share of its pixels that no star hides
    off_line_px  REAL NOT NULL,               -- how far its light is off the line
    bend_px      REAL NOT NULL,               -- how far its middle bends off it
    width_px     REAL NOT NULL,               -- width at half maximum
    beside       REAL NOT NULL,               -- light beside it, as a share of its own
    ends         REAL NOT NULL,               -- light of its ends, as a share of its middle
    lopsided     REAL NOT NULL,               -- light of the fainter end, as a share of the brighter
    peaks        REAL NOT NULL,               -- how often its light rises and falls again
    unrest       REAL NOT NULL,               -- how restless its pixels are, 1 for not at all
    starry       REAL NOT NULL,               -- share of it over places where stars are seen
    edge         REAL NOT NULL,               -- how many of its ends are at the edge of the picture
    goes_on      REAL NOT NULL,               -- light beyond an end in a neighbour, where a moving light would be
    goes_on_both REAL NOT NULL,               -- the weaker of the two neighbours
    goes_on_far  REAL NOT NULL,               -- the same two frames away
    on_line      REAL NOT NULL,               -- light anywhere on its line beyond its ends in the neighbours
    stays        REAL NOT NULL,               -- light that stays in place afterwards
    twin         REAL NOT NULL,               -- a like line beside it in the neighbours, as a share of its own light
    others       REAL NOT NULL,               -- lines in the frame beside it
    neighbours   REAL NOT NULL,               -- frames that it was compared with, 0 to 4
    linked       REAL NOT NULL,               -- lines of neighbours that continue it
    again        REAL NOT NULL,               -- share of the frames near its own with a like line at its place
    crowd        REAL NOT NULL                -- lines around it in each frame near its own
, dashes REAL NOT NULL DEFAULT 1, chain REAL NOT NULL DEFAULT 1, light_curve TEXT NOT NULL DEFAULT '') STRICT;

CREATE INDEX measured_trail_frame ON measured_trail (frame_id);

CREATE VIEW found_trail AS
SELECT found.* FROM measured_trail AS found
WHERE NOT EXISTS (
    SELECT 1 FROM (
        SELECT said.frame_id, said.to_x - said.from_x AS dx, said.to_y - said.from_y AS dy,
               (found.from_x + found.to_x) / 2.0 - said.from_x AS mx, (found.from_y + found.to_y) / 2.0 - said.from_y AS my,
               found.to_x - found.from_x AS ex, found.to_y - found.from_y AS ey, ifnull(frame.width_px, 4000) * 1.0 AS px
        FROM stated_trail AS said JOIN written_frame AS frame USING (frame_id) WHERE said.frame_id = found.frame_id
    )
    WHERE mx * dx + my * dy BETWEEN -0.25 * (dx * dx + dy * dy) AND 1.25 * (dx * dx + dy * dy)
      AND (mx * dy - my * dx) * (mx * dy - my * dx) < max(px * px, 0.01 * (dx * dx + dy * dy)) * (dx * dx + dy * dy)
      AND 1.0 * (dx * ey - dy * ex) * (dx * ey - dy * ex) < 0.1 * (dx * dx + dy * dy) * (ex * ex + ey * ey)
);

CREATE VIEW candidate AS
SELECT found.trail_id AS candidate, found.frame_id, frame.path, frame.file, frame.start_utc, frame.night, frame.session, frame.seq,
       found.from_x / 100.0 AS from_x_px, found.from_y / 100.0 AS from_y_px, found.to_x / 100.0 AS to_x_px,
       found.to_y / 100.0 AS to_y_px, found.class, found.score, found.peak_snr, found.line_snr, found.light
FROM found_trail AS found
LEFT JOIN frame ON frame.frame_id = found.frame_id;

CREATE UNIQUE INDEX stated_clock_fix_span
    ON stated_clock_fix (camera_id, reading, ifnull(from_local, ''), ifnull(until_local, ''), ifnull(frames, x''));

CREATE TABLE stated_fix_frame (
    frame_id     INTEGER NOT NULL REFERENCES written_frame,
    fix_id       INTEGER NOT NULL REFERENCES stated_clock_fix,
    PRIMARY KEY (frame_id, fix_id)
) STRICT, WITHOUT ROWID;

CREATE INDEX stated_fix_frame_fix ON stated_fix_frame (fix_id);

CREATE TABLE measured_proof (
    dump_id      INTEGER PRIMARY KEY REFERENCES written_dump ON DELETE CASCADE,
    oldest_ms    INTEGER,                     -- the oldest last check of its files that were the same then
    never        INTEGER NOT NULL             -- files that were never read back and compared, or differed
) STRICT;

CREATE TRIGGER measured_content_inserted AFTER INSERT ON measured_content BEGIN
    DELETE FROM measured_proof WHERE dump_id = new.dump_id;
END;

CREATE TRIGGER measured_content_updated AFTER UPDATE ON measured_content BEGIN
    DELETE FROM measured_proof WHERE dump_id IN (old.dump_id, new.dump_id);
END;

CREATE TRIGGER measured_content_deleted AFTER DELETE ON measured_content BEGIN
    DELETE FROM measured_proof WHERE dump_id = old.dump_id;
END;

CREATE TRIGGER written_file_inserted AFTER INSERT ON written_file WHEN EXISTS (SELECT 1 FROM measured_proof) BEGIN
    DELETE FROM measured_proof WHERE dump_id = (SELECT dump_id FROM written_folder WHERE folder_id = new.folder_id);
END;

CREATE TRIGGER written_file_updated AFTER UPDATE OF folder_id, name, bytes, modified_ns ON written_file
WHEN EXISTS (SELECT 1 FROM measured_proof) BEGIN
    DELETE FROM measured_proof
    WHERE dump_id IN (SELECT dump_id FROM written_folder WHERE folder_id IN (old.folder_id, new.folder_id));
END;

CREATE TRIGGER written_file_deleted AFTER DELETE ON written_file WHEN EXISTS (SELECT 1 FROM measured_proof) BEGIN
    DELETE FROM measured_proof WHERE dump_id = (SELECT dump_id FROM written_folder WHERE folder_id = old.folder_id);
END;

CREATE TRIGGER written_folder_updated AFTER UPDATE OF dump_id, path ON written_folder
WHEN EXISTS (SELECT 1 FROM measured_proof) BEGIN
    DELETE FROM measured_proof WHERE dump_id IN (old.dump_id, new.dump_id);
END;

CREATE TABLE measured_lone_image (
    frame_id     INTEGER NOT NULL,
    number       INTEGER NOT NULL,            -- from 1, the brightest
    x_px         REAL NOT NULL,               -- in pixels of the full picture as stored
    y_px         REAL NOT NULL,
    PRIMARY KEY (frame_id, number)
) STRICT, WITHOUT ROWID;
