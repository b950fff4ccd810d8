-- Why: every frame's small picture is looked at, not a few of each run: a row each in a table of its own would take fifteen
-- bytes and more. Seven measures in one number take six in the row that is there.

-- From the lowest bit: level (10 bits, of 1020), floor (6, of 255), square root of the count of stars (6, halves), square root
-- of the thousandths of edge pixels (4, halves), unevenness (6, of 48), fall-off plus 4 (6, of 8), tilt (5, of 8 stops).
ALTER TABLE derived_time ADD COLUMN look INTEGER;

-- Pictures of dumps that are away cannot be looked at again: what was measured of them is carried over, as far as it goes.
UPDATE derived_time SET look = (
    SELECT CAST(round(look.median * 1020) AS INTEGER)
           | (CAST(min(63, round(max(look.median - look.spread / 2, 0) * 255)) AS INTEGER) << 10)
           | (iif(look.glint > 0.0005, 8, 0) << 16)
           | (CAST(min(63, round(look.spread * 12)) AS INTEGER) << 26)
           | (32 << 32)
    FROM derived_look AS look WHERE look.frame_id = derived_time.frame_id)
WHERE frame_id IN (SELECT frame_id FROM derived_look);

DROP TABLE derived_look;
