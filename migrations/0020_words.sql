-- Why: a word of a small list (a container, a state of health, how UTC was reached) stood in the schema, so that one more of them
-- meant a table made anew; nights and instants were numbers in one table and text in the next; values that meant "none" stood
-- where NULL belongs; and at an SQL prompt the answers to simple questions took six joins.

-- A list of words each: the program fills them when it opens the catalogue, and numbers a new word behind the others.
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

-- Made again at the end.
DROP VIEW frame_sky;
DROP VIEW frame_time;
DROP TRIGGER derived_time_deleted;
DROP TRIGGER derived_time_inserted;
DROP TRIGGER derived_time_made;
DROP TRIGGER derived_sky_deleted;
DROP TRIGGER derived_radiant_deleted;
DROP TRIGGER derived_finding_deleted;
DROP TRIGGER derived_session_deleted;
DROP TRIGGER derived_maker_deleted;
DROP TRIGGER derived_shower_deleted;
DROP TRIGGER derived_active_deleted;
DROP TRIGGER derived_evidence_deleted;
DROP TRIGGER derived_day_deleted;

CREATE TABLE dump_by_place (
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
INSERT INTO dump_by_place (dump_id, label, root, root_bytes, left_root, left_root_bytes, first_seen_ms, last_seen_ms, volume_id,
                           volume_label, volume_path)
SELECT dump_id, label, iif(left_root IS NULL, root, NULL), iif(left_root IS NULL, root_bytes, NULL), left_root, left_root_bytes,
       CAST(round(unixepoch(first_seen_utc, 'subsec') * 1000) AS INTEGER),
       CAST(round(unixepoch(last_seen_utc, 'subsec') * 1000) AS INTEGER), volume_id, volume_label, volume_path
FROM written_dump ORDER BY dump_id;
DROP TABLE written_dump;
ALTER TABLE dump_by_place RENAME TO written_dump;

ALTER TABLE written_frame DROP COLUMN clock_source;

CREATE TABLE file_by_word (
    file_id     INTEGER PRIMARY KEY,
    folder_id   INTEGER NOT NULL REFERENCES written_folder,
    name        TEXT NOT NULL,
    name_bytes  BLOB,                         -- byte for byte, where it is not UTF-8
    frame_id    INTEGER NOT NULL REFERENCES written_frame,
    copy_of     INTEGER,                      -- the file_id of the one whose contents it repeats
    format_no   INTEGER NOT NULL REFERENCES word_format,
    bytes       INTEGER NOT NULL,
    modified_ns INTEGER NOT NULL,             -- the file system's time stamp, nanoseconds since 1970; only to see a change
    fingerprint INTEGER,                      -- six bytes of a hash over length and samples; NULL where they could not
                                              -- tell files apart. Copies share it, their size and their clock's second
    undated     INTEGER NOT NULL,             -- 1 where the file tells no clock reading by which it could be found
    health_no   INTEGER NOT NULL REFERENCES word_health,
    thumbnail_offset INTEGER,                 -- the smallest embedded JPEG
    thumbnail_bytes  INTEGER,
    preview_offset   INTEGER,                 -- the largest embedded JPEG
    preview_bytes    INTEGER
) STRICT;
INSERT INTO file_by_word (file_id, folder_id, name, name_bytes, frame_id, copy_of, format_no, bytes, modified_ns, fingerprint,
                          undated, health_no, thumbnail_offset, thumbnail_bytes, preview_offset, preview_bytes)
SELECT file_id, folder_id, name, name_bytes, frame_id, copy_of, format_no, bytes, modified_ns, fingerprint,
       undated, health_no, thumbnail_offset, thumbnail_bytes, preview_offset, preview_bytes
FROM written_file ORDER BY file_id;
DROP TABLE written_file;
ALTER TABLE file_by_word RENAME TO written_file;
CREATE INDEX written_file_folder ON written_file (folder_id);
CREATE INDEX written_file_further ON written_file (frame_id) WHERE frame_id <> file_id;
CREATE INDEX written_file_copies ON written_file (copy_of) WHERE copy_of IS NOT NULL;
CREATE INDEX written_file_undated ON written_file (fingerprint) WHERE undated = 1;

-- What framefall itself took from files bears its voice.
CREATE TABLE measured_content (
    file_id     INTEGER PRIMARY KEY REFERENCES written_file ON DELETE CASCADE,
    bytes       INTEGER NOT NULL,             -- the file's size and time stamp when the hash was taken: it speaks for that
    modified_ns INTEGER NOT NULL,             -- state of the file alone
    blake3      BLOB NOT NULL CHECK (length(blake3) = 32),
    taken_ms    INTEGER                       -- when, UTC
) STRICT;
INSERT INTO measured_content (file_id, bytes, modified_ns, blake3, taken_ms)
SELECT file_id, bytes, modified_ns, blake3, CAST(round(unixepoch(taken_utc, 'subsec') * 1000) AS INTEGER)
FROM written_content ORDER BY file_id;
DROP TABLE written_content;

CREATE TABLE track_by_instant (
    track_id     INTEGER PRIMARY KEY AUTOINCREMENT,
    name         TEXT NOT NULL UNIQUE,        -- the file's own name
    first_ms     INTEGER NOT NULL,            -- its first point and its last, UTC
    last_ms      INTEGER NOT NULL,
    points       INTEGER NOT NULL
) STRICT;
INSERT INTO track_by_instant (track_id, name, first_ms, last_ms, points)
SELECT track_id, name, CAST(round(unixepoch(first_utc, 'subsec') * 1000) AS INTEGER),
       CAST(round(unixepoch(last_utc, 'subsec') * 1000) AS INTEGER), points
FROM stated_track ORDER BY track_id;
DELETE FROM sqlite_sequence WHERE name = 'track_by_instant';
INSERT INTO sqlite_sequence (name, seq) SELECT 'track_by_instant', seq FROM sqlite_sequence WHERE name = 'stated_track';
CREATE TABLE track_point_by_instant (
    track_id     INTEGER NOT NULL REFERENCES stated_track ON DELETE CASCADE,
    at_ms        INTEGER NOT NULL,            -- UTC
    segment      INTEGER NOT NULL,            -- the receiver was off between two segments
    lat_deg      REAL NOT NULL CHECK (lat_deg BETWEEN -90 AND 90),
    lon_deg      REAL NOT NULL CHECK (lon_deg BETWEEN -180 AND 180),
    elev_m       REAL,
    PRIMARY KEY (track_id, at_ms)
) STRICT, WITHOUT ROWID;
INSERT INTO track_point_by_instant (track_id, at_ms, segment, lat_deg, lon_deg, elev_m)
SELECT track_id, CAST(round(unixepoch(at_utc, 'subsec') * 1000) AS INTEGER), segment, lat_deg, lon_deg, elev_m
FROM stated_track_point;
DROP TABLE stated_track_point;
DROP TABLE stated_track;
ALTER TABLE track_by_instant RENAME TO stated_track;
ALTER TABLE track_point_by_instant RENAME TO stated_track_point;

CREATE TABLE query_by_instant (
    name        TEXT PRIMARY KEY COLLATE NOCASE,
    query       TEXT NOT NULL,                -- whole: the names it was made of are written out
    saved_ms    INTEGER                       -- when, UTC
) STRICT, WITHOUT ROWID;
INSERT INTO query_by_instant (name, query, saved_ms)
SELECT name, query, CAST(round(unixepoch(saved_utc, 'subsec') * 1000) AS INTEGER) FROM stated_query;
DROP TABLE stated_query;
ALTER TABLE query_by_instant RENAME TO stated_query;

CREATE TABLE fix_by_instant (
    fix_id       INTEGER PRIMARY KEY AUTOINCREMENT,  -- a number is never given twice
    camera_id    INTEGER NOT NULL REFERENCES written_camera,
    reading      TEXT NOT NULL,               -- what the clock showed, ISO 8601 without zone
    true_ms      INTEGER NOT NULL,            -- the instant it was then, UTC
    reset_before INTEGER NOT NULL CHECK (reset_before IN (0, 1)),  -- 1: the clock was reset since the fix before
    from_local   TEXT,                        -- the first reading it is limited to; NULL: no first one
    until_local  TEXT                         -- the first reading after those it is limited to; NULL: no last one
) STRICT;
INSERT INTO fix_by_instant (fix_id, camera_id, reading, true_ms, reset_before, from_local, until_local)
SELECT fix_id, camera_id, reading, CAST(round(unixepoch(true_utc, 'subsec') * 1000) AS INTEGER), reset_before, from_local,
       until_local
FROM stated_clock_fix ORDER BY fix_id;
DELETE FROM sqlite_sequence WHERE name = 'fix_by_instant';
INSERT INTO sqlite_sequence (name, seq) SELECT 'fix_by_instant', seq FROM sqlite_sequence WHERE name = 'stated_clock_fix';
DROP TABLE stated_clock_fix;
ALTER TABLE fix_by_instant RENAME TO stated_clock_fix;
CREATE UNIQUE INDEX stated_clock_fix_span
    ON stated_clock_fix (camera_id, reading, ifnull(from_local, ''), ifnull(until_local, ''));

CREATE TABLE time_by_word (
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
) STRICT;
INSERT INTO time_by_word (frame_id, start_ms, time_basis_no, time_error_ms, site_id, lat_deg, lon_deg, elev_m, place_basis_no,
                          night_day, session_id, seq, kind_no, maker_id, evidence_id, turn)
SELECT frame_id, start_ms, time_basis_no, time_error_ms, site_id, lat_deg, lon_deg, elev_m, place_basis_no,
       night_day, session_id, seq, kind_no, nullif(maker_id, 0), evidence_id, turn
FROM derived_time ORDER BY frame_id;
DROP TABLE derived_time;
ALTER TABLE time_by_word RENAME TO derived_time;
CREATE INDEX derived_time_night ON derived_time (night_day, session_id, seq) WHERE night_day IS NOT NULL;
CREATE INDEX derived_time_start ON derived_time (start_ms) WHERE start_ms IS NOT NULL;
CREATE INDEX derived_time_calibration ON derived_time (kind_no) WHERE kind_no IN (1, 2, 3);

CREATE TABLE session_by_day (
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
INSERT INTO session_by_day (session_id, camera_id, site_id, night_day, focal_mm, start_ms, end_ms, start_local, end_local,
                            cadence_s, frames, missing)
SELECT session_id, camera_id, site_id, night_day, focal_mm,
       CAST(round(unixepoch(start_utc, 'subsec') * 1000) AS INTEGER),
       CAST(round(unixepoch(end_utc, 'subsec') * 1000) AS INTEGER), start_local, end_local, cadence_s, frames, missing
FROM derived_session WHERE night_day IS NOT NULL ORDER BY session_id;
DELETE FROM sqlite_sequence WHERE name = 'session_by_day';
INSERT INTO sqlite_sequence (name, seq) SELECT 'session_by_day', seq FROM sqlite_sequence WHERE name = 'derived_session';
DROP TABLE derived_session;
ALTER TABLE session_by_day RENAME TO derived_session;
CREATE INDEX derived_session_night ON derived_session (night_day, camera_id);

CREATE TABLE pending_body_night (
    night_day   INTEGER NOT NULL,
    camera_id   INTEGER                       -- NULL for frames whose body is not known
) STRICT;
INSERT INTO pending_body_night (night_day, camera_id)
SELECT unixepoch(night) / 86400, nullif(camera_id, 0) FROM pending_night WHERE unixepoch(night) IS NOT NULL;
DROP TABLE pending_night;
ALTER TABLE pending_body_night RENAME TO pending_night;
CREATE UNIQUE INDEX pending_night_body ON pending_night (night_day, ifnull(camera_id, 0));

-- For the SQL prompt: docs/sql.md asks these views.
CREATE VIEW frame AS
SELECT frame.frame_id,
       dump.root_shown || '/' || iif(folder.path = '', '', folder.path || '/') || file.name AS path,
       file.name AS file, dump.label AS dump, camera.name AS camera, lens.name AS lens,
       strftime('%Y-%m-%dT%H:%M:%S', frame.clock_s, 'unixepoch') || ifnull('.' || frame.clock_fraction, '')
           AS clock_local,
       strftime('%Y-%m-%dT%H:%M:%fZ', time.start_ms / 1000.0, 'unixepoch') AS start_utc,
       strftime('%Y-%m-%dT%H:%M:%fZ', (time.start_ms + round(ifnull(frame.exposure_s, 0) * 500)) / 1000.0, 'unixepoch')
           AS mid_utc,
       strftime('%Y-%m-%dT%H:%M:%fZ', (time.start_ms + round(ifnull(frame.exposure_s, 0) * 1000)) / 1000.0, 'unixepoch')
           AS end_utc,
       time_basis.time_basis, time.time_error_s, date(time.night_day * 86400, 'unixepoch') AS night, site.name AS site,
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
SELECT frame.frame_id, frame.file, frame.camera, frame.start_utc, frame.night, frame.site, frame.session, frame.seq,
       frame.kind, frame.exposure_s, frame.f_number, frame.iso, frame.focal_mm,
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
       camera.name AS camera, session.focal_mm,
       strftime('%Y-%m-%dT%H:%M:%fZ', session.start_ms / 1000.0, 'unixepoch') AS start_utc,
       strftime('%Y-%m-%dT%H:%M:%fZ', session.end_ms / 1000.0, 'unixepoch') AS end_utc,
       session.start_local AS start_clock, session.end_local AS end_clock, session.cadence_s, session.frames,
       session.missing
FROM derived_session AS session
LEFT JOIN stated_site    AS site   ON site.site_id = session.site_id
LEFT JOIN written_camera AS camera ON camera.camera_id = session.camera_id;

-- As in 0019: what somebody deletes at an SQL prompt is noted.
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
-- A number that becomes free is given to another row some day: whatever pointed at it must not.
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
