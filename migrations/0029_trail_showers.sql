-- Derived: which showers a stated meteor can belong to, by its great circle. It follows from the trail, from where the camera
-- pointed, and from the frame's time and place.

CREATE TABLE derived_trail (
    trail_id     INTEGER PRIMARY KEY,
    frame_id     INTEGER NOT NULL,
    shower       TEXT NOT NULL                -- 'GEM'; 'GEM/MON', either of two; 'sporadic'
) STRICT;

CREATE INDEX derived_trail_frame ON derived_trail (frame_id);

CREATE TRIGGER derived_trail_deleted AFTER DELETE ON derived_trail BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) VALUES (old.frame_id);
END;
