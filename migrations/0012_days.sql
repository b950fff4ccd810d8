-- Why: the first frames under a shower's radiant are wanted before all of them are found and sorted. On which days a shower
-- was active over any frame tells where to begin.

-- The days, from midnight UTC, and the sets of showers active over frames begun on them. There may be more here than frames
-- bear out now: a frame that left its day takes nothing away.
CREATE TABLE derived_day (
    day          INTEGER NOT NULL,            -- since 1970-01-01
    active_id    INTEGER NOT NULL REFERENCES derived_active,
    PRIMARY KEY (day, active_id)
) STRICT, WITHOUT ROWID;

INSERT INTO derived_day (day, active_id)
SELECT DISTINCT (time.start_ms - (time.start_ms < 0) * 86399999) / 86400000, sky.active_id
FROM derived_time AS time CROSS JOIN derived_sky AS sky ON sky.frame_id = time.frame_id
WHERE time.start_ms IS NOT NULL AND sky.active_id IS NOT NULL;
