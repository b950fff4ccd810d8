-- Why: an archive grows to millions of frames. An index that no question needs costs each of them bytes; a question that
-- no index serves costs a walk through all of them.

-- Frames without a place have no radiants: what tells of their showers is the strongest alone. Placed frames are found
-- under their radiants and take no room here.
CREATE INDEX derived_sky_unplaced ON derived_sky (shower) WHERE active_id IS NULL;

-- Only moving or removing a site asks which frames were stated to be there: a walk then, instead of ten bytes a frame.
DROP INDEX stated_place_site;
