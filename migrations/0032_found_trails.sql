-- Why: which frames hold a trail, and what state the sky was in, were not known. Both are measured on pictures, each against its
-- neighbours, so they are kept beside what else was measured in pictures.

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
) STRICT;
CREATE INDEX measured_trail_frame ON measured_trail (frame_id);

-- Found trails that no stated trail lies on: the middle of the found one within a hundredth of the picture's width of the stated line,
-- or a tenth of its length, not far beyond its ends, and the two within 18 degrees of the same direction.
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
