-- Numbers of frames whose dump was removed, by what these frames are known by. Ingested again, a frame gets its number back, and by
-- it the number of its session; no other frame gets it meanwhile.

CREATE TABLE given_frame (
    frame_id     INTEGER NOT NULL,
    clock_s      INTEGER,                     -- the second that the clock showed
    mark         BLOB NOT NULL                -- one of its files, packed alone as in pending_statement
) STRICT;

CREATE INDEX given_frame_clock ON given_frame (clock_s);
CREATE INDEX given_frame_number ON given_frame (frame_id);
