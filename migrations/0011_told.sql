-- Why: that a frame has no place or was read by no zone stands in its row of derived_time. Kept as findings besides, it
-- took more room than the frame, for every frame of a card whose site is not stated yet.

DELETE FROM derived_finding WHERE code IN ('no-place', 'no-zone');
