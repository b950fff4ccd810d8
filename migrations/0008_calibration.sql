-- Why: darks, flats and bias frames are few among a million lights, and an export looks for them in all of the archive.

CREATE INDEX derived_time_calibration ON derived_time (kind_no) WHERE kind_no IN (1, 2, 3);
