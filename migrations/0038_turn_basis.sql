-- Why: how far the sky turned before a camera is known by the stars of its pictures where these were matched, and by the clock
-- elsewhere; a mount that follows the stars does not turn.

ALTER TABLE derived_time ADD COLUMN turn_basis TEXT CHECK (turn_basis IN ('stars', 'mount'));  -- NULL: by the clock

-- Nights with matched stars are grouped again.
INSERT OR IGNORE INTO pending_night (night_day, camera_id)
SELECT DISTINCT time.night_day, frame.camera_id
FROM (SELECT frame_id FROM measured_pointing UNION SELECT frame_id FROM stated_pointing_frame)
JOIN derived_time AS time USING (frame_id) JOIN written_frame AS frame USING (frame_id)
WHERE time.night_day IS NOT NULL;
