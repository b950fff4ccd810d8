-- Why: what the cameras wrote, word for word, and which files hold it. These rows are evidence.
-- They are added to and never recalculated; everything under derived_ can be dropped and built again from them.
--
-- Conventions of all tables: _deg degrees, _s seconds, _mm millimetres, _m metres, _px pixels;
-- _utc text 'YYYY-MM-DDThh:mm:ss.sssZ', which sorts as text; NULL means not known.
-- An archive grows to millions of frames, so tables with a row a frame keep whole numbers where they can: _ms
-- milliseconds, _day days, both from 1970-01-01; _no the place of a word in its list, which the generated column beside it
-- writes out. People at a prompt read the views frame_time and frame_sky.

-- A card dump: a folder tree copied off a memory card. Only ever read.
CREATE TABLE written_dump (
    dump_id     INTEGER PRIMARY KEY,
    label       TEXT NOT NULL UNIQUE,         -- the name shown: the root folder's own name
    root        TEXT NOT NULL UNIQUE,         -- absolute path, no slash at the end
    root_bytes  BLOB,                         -- the path byte for byte, where it is not UTF-8
    first_seen_utc TEXT NOT NULL,             -- first and latest ingest
    last_seen_utc  TEXT NOT NULL
) STRICT;

-- A folder of a dump that holds files.
CREATE TABLE written_folder (
    folder_id   INTEGER PRIMARY KEY,
    dump_id     INTEGER NOT NULL REFERENCES written_dump,
    path        TEXT NOT NULL,                -- below the root, '/' between names; '' is the root itself
    path_bytes  BLOB,                         -- byte for byte, where it is not UTF-8
    UNIQUE (dump_id, path)
) STRICT;

-- One body. Two bodies of one model are two cameras, with two clocks.
CREATE TABLE written_camera (
    camera_id   INTEGER PRIMARY KEY,
    make        TEXT,
    model       TEXT,
    serial      TEXT,
    name        TEXT NOT NULL                 -- model and serial in one, as shown
) STRICT;
CREATE UNIQUE INDEX written_camera_body
    ON written_camera (ifnull(make, ''), ifnull(model, ''), ifnull(serial, ''));

-- Lenses, as bodies name them.
CREATE TABLE written_lens (
    lens_id     INTEGER PRIMARY KEY,
    name        TEXT NOT NULL UNIQUE
) STRICT;

-- One exposure of one body. A raw file and the JPEG of the same press of the shutter are one frame.
CREATE TABLE written_frame (
    frame_id      INTEGER PRIMARY KEY,         -- the file_id of the file it began with
    camera_id     INTEGER REFERENCES written_camera,
    first_file_id INTEGER NOT NULL,           -- the file shown for it: raw before JPEG. The two tables point at each
                                              -- other; the foreign key is on the file's side
    clock_s       INTEGER,                    -- what the clock showed: seconds from its 1970-01-01T00:00:00, no zone
    clock_fraction TEXT,                      -- and the digits of the second's fraction, as written: '25' is 0.25 s
    clock_source_no INTEGER,
    clock_source  TEXT AS (CASE clock_source_no WHEN 0 THEN 'original' WHEN 1 THEN 'digitised' WHEN 2 THEN 'file' END),
    utc_offset    TEXT,                       -- what the body wrote beside it: '+01:00'
    body_zone_s   INTEGER,                    -- the body's zone setting from its maker note, seconds east
    exposure_s    REAL,
    f_number      REAL,
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
-- One second of a clock: how a JPEG finds its raw file, and a copy its original.
CREATE INDEX written_frame_clock ON written_frame (clock_s) WHERE clock_s IS NOT NULL;

-- One file on a dump.
CREATE TABLE written_file (
    file_id     INTEGER PRIMARY KEY,
    folder_id   INTEGER NOT NULL REFERENCES written_folder,
    name        TEXT NOT NULL,
    name_bytes  BLOB,                         -- byte for byte, where it is not UTF-8
    frame_id    INTEGER NOT NULL REFERENCES written_frame,
    copy_of     INTEGER,                      -- the file_id of the one whose contents it repeats
    format      TEXT NOT NULL,                -- the container, told by its contents: 'nef', 'jpeg', ...
    bytes       INTEGER NOT NULL,
    modified_ns INTEGER NOT NULL,             -- the file system's time stamp, nanoseconds since 1970; only to see a change
    fingerprint INTEGER,                      -- eight bytes of a hash over length and samples; NULL where they could not
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
CREATE INDEX written_file_folder ON written_file (folder_id);
-- The files of a frame: the one it began with has its number, the others stand here.
CREATE INDEX written_file_further ON written_file (frame_id) WHERE frame_id <> file_id;
CREATE INDEX written_file_copies ON written_file (copy_of) WHERE copy_of IS NOT NULL;
CREATE INDEX written_file_undated ON written_file (fingerprint) WHERE undated = 1;

-- What was odd about a file when it was read. Codes: framefall audit --codes.
CREATE TABLE written_finding (
    file_id     INTEGER NOT NULL REFERENCES written_file ON DELETE CASCADE,
    code        TEXT NOT NULL,
    saw         TEXT NOT NULL,
    did         TEXT NOT NULL
) STRICT;
CREATE INDEX written_finding_file ON written_finding (file_id);
