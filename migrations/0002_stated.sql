-- Why: what the photographer stated. Kept for ever; no ingest changes it.

-- The site book.
CREATE TABLE stated_site (
    site_id     INTEGER PRIMARY KEY,
    name        TEXT NOT NULL UNIQUE COLLATE NOCASE,
    lat_deg     REAL NOT NULL CHECK (lat_deg BETWEEN -90 AND 90),      -- north positive
    lon_deg     REAL NOT NULL CHECK (lon_deg BETWEEN -180 AND 180),    -- east positive
    elev_m      REAL NOT NULL,
    zone        TEXT,                         -- IANA name: 'Europe/Rome'
    origin      TEXT NOT NULL
        CHECK (origin = 'stated' OR origin = 'exif')  -- 'exif': made from a frame's GPS position
) STRICT;

-- Where the photographer says a frame was taken: by 'ingest --site' or 'site assign'.
CREATE TABLE stated_place (
    frame_id    INTEGER PRIMARY KEY REFERENCES written_frame,
    site_id     INTEGER NOT NULL REFERENCES stated_site
) STRICT;
CREATE INDEX stated_place_site ON stated_place (site_id);
