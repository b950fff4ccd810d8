-- Why: a blinking light draws several lines in one frame and more in the next, and how bright a trail is along its way was measured and
-- forgotten. Searches of an earlier edition are made again, so the defaults are not read for long.

ALTER TABLE measured_trail ADD COLUMN dashes REAL NOT NULL DEFAULT 1;       -- of how many dashes in a row it consists
ALTER TABLE measured_trail ADD COLUMN chain REAL NOT NULL DEFAULT 1;        -- how many lines in all frames the same moving light drew
ALTER TABLE measured_trail ADD COLUMN light_curve TEXT NOT NULL DEFAULT ''; -- light in equal parts from the first end, in noise of a pixel
