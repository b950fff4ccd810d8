-- Why: derived rows may be dropped and made again at any time. So it must be known at once which of them are missing or were
-- made by other formulas, and nothing may hang on them that was handed out to people or needs the files to be made again.
--
-- Three prefixes join written_, stated_ and derived_: measured_ is what the program itself measured on files, which may be away
-- later; given_ is what it handed out to people and keeps for ever; pending_ is work that is still to be done.

-- What pictures show. A row a frame would take fifteen bytes, and a column of another table's rows that is filled later splits
-- its pages; looks of frames whose numbers follow each other take six bytes each and a little.
CREATE TABLE measured_look (
    block        INTEGER PRIMARY KEY,         -- of frames: their numbers divided by 32
    looks        BLOB NOT NULL CHECK (length(looks) = 192)  -- six bytes a frame, highest first: 2^47 + its measures (0015), or 0
) STRICT;
WITH RECURSIVE place (nth) AS (VALUES (0) UNION ALL SELECT nth + 1 FROM place WHERE nth < 31)
INSERT INTO measured_look (block, looks)
SELECT block, unhex(group_concat(printf('%012X', ifnull(time.look | (1 << 47), 0)), '' ORDER BY nth))
FROM (SELECT DISTINCT frame_id / 32 AS block FROM derived_time WHERE look IS NOT NULL)
CROSS JOIN place LEFT JOIN derived_time AS time ON time.frame_id = block * 32 + nth
GROUP BY block;
ALTER TABLE derived_time DROP COLUMN look;

-- Who made derived rows, and of how many frames: the count shows without a look at the frames whether a maker's rows are in use.
CREATE TABLE derived_maker_counted (
    maker_id       INTEGER PRIMARY KEY,
    program        TEXT NOT NULL,             -- 'framefall 0.1.0'
    formulas       INTEGER NOT NULL DEFAULT 1, -- version of the formulas
    shower_table   TEXT NOT NULL,             -- edition of the shower table
    frames         INTEGER NOT NULL DEFAULT 0, -- rows of derived_time with the maker's number
    UNIQUE (program, formulas, shower_table)
) STRICT;
-- Formulas had no numbers yet. Where the catalogue's first maker has the shower table of 0016, its rows are those that the
-- formulas of number 2 give, but for two cases: two sites within 6 km, the later made from a frame's position, may have each
-- other's frames; and beyond 60 degrees of latitude a run over a dark noon may be of two nights. A later maker of that table
-- only computed the sky again, over times, places and kinds by earlier formulas.
INSERT INTO derived_maker_counted (maker_id, program, formulas, shower_table, frames)
SELECT maker_id, program,
       CASE WHEN maker_id = 1 AND shower_table = '2025-2' AND NOT EXISTS (
                SELECT 1 FROM stated_site AS later JOIN stated_site AS site ON site.site_id < later.site_id
                WHERE later.origin = 'exif' AND abs(later.lat_deg - site.lat_deg) < 0.06
                  AND abs(later.lon_deg - site.lon_deg) * (1 - abs(site.lat_deg) / 90) < 0.06)
              AND NOT EXISTS (SELECT 1 FROM stated_site WHERE abs(lat_deg) > 60)
            THEN 2 ELSE 1 END,
       shower_table, ifnull(counted.frames, 0)
FROM derived_maker LEFT JOIN (SELECT maker_id, count(*) AS frames FROM derived_time GROUP BY maker_id) AS counted USING (maker_id)
ORDER BY maker_id;
DROP TABLE derived_maker;
ALTER TABLE derived_maker_counted RENAME TO derived_maker;

-- Which frames bear a session number, or bore it last: by their members sessions are found again, and by them the number
-- above which new ones begin.
CREATE TABLE given_session (
    members      TEXT PRIMARY KEY,            -- first and last frame, count and hash of the members' numbers
    session_id   INTEGER NOT NULL,
    frames       TEXT                         -- the members themselves, '3..90 95..120/5', until another session has one of them
) STRICT, WITHOUT ROWID;
INSERT INTO given_session (members, session_id) SELECT members, session_id FROM derived_session_number ORDER BY members;
DROP TABLE derived_session_number;
CREATE INDEX given_session_number ON given_session (session_id);

WITH run AS (
    SELECT session_id, min(frame_id) AS first, max(frame_id) AS last, count(*) AS frames
    FROM (SELECT session_id, frame_id, frame_id - row_number() OVER (PARTITION BY session_id ORDER BY frame_id) AS run
          FROM derived_time WHERE session_id IS NOT NULL)
    GROUP BY session_id, run),
member AS (
    SELECT session_id, group_concat(CASE frames WHEN 1 THEN first ELSE first || '..' || last END, ' ') AS frames,
           min(first) || '-' || max(last) || '-' || sum(frames) || '-' AS ends
    FROM run GROUP BY session_id)
UPDATE given_session SET frames = member.frames FROM member
WHERE member.session_id = given_session.session_id
  AND member.ends = substr(given_session.members, 1, length(member.ends));

-- Nights whose sessions are to be grouped: those of a run that was killed, and of sessions older than the numbers' memory.
ALTER TABLE derived_pending RENAME TO pending_night;
INSERT OR IGNORE INTO pending_night (night, camera_id)
SELECT night, ifnull(camera_id, 0) FROM derived_session
WHERE session_id NOT IN (SELECT session_id FROM given_session WHERE frames IS NOT NULL);

-- Frames whose derived rows are missing, or were deleted in part.
CREATE TABLE pending_frame (
    frame_id     INTEGER PRIMARY KEY
) STRICT;
INSERT INTO pending_frame (frame_id)
SELECT frame_id FROM written_frame WHERE frame_id NOT IN (SELECT frame_id FROM derived_time);
INSERT OR IGNORE INTO pending_frame (frame_id)
SELECT frame_id FROM derived_time AS time
WHERE start_ms IS NOT NULL AND NOT EXISTS (SELECT 1 FROM derived_sky AS sky WHERE sky.frame_id = time.frame_id)
  AND NOT EXISTS (SELECT 1 FROM derived_finding AS finding
                  WHERE finding.frame_id = time.frame_id AND finding.code = 'year-outside');

-- A rebuild of every frame that has not come to its end: frames up to this one are done. One row, or none.
CREATE TABLE pending_rebuild (
    only_row     INTEGER PRIMARY KEY CHECK (only_row = 1),
    after_frame  INTEGER NOT NULL
) STRICT;

-- What somebody deletes at an SQL prompt is noted here. The program itself puts in what follows from its changes, and works
-- with triggers switched off.
CREATE TRIGGER derived_time_deleted AFTER DELETE ON derived_time BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) VALUES (old.frame_id);
    INSERT OR IGNORE INTO pending_night (night, camera_id)
    SELECT date(old.night_day * 86400, 'unixepoch'), ifnull(camera_id, 0) FROM written_frame
    WHERE frame_id = old.frame_id AND old.night_day IS NOT NULL;
    UPDATE derived_maker SET frames = frames - 1 WHERE maker_id = old.maker_id;
END;
CREATE TRIGGER derived_time_inserted AFTER INSERT ON derived_time BEGIN
    UPDATE derived_maker SET frames = frames + 1 WHERE maker_id = new.maker_id;
END;
CREATE TRIGGER derived_time_made AFTER UPDATE OF maker_id ON derived_time BEGIN
    UPDATE derived_maker SET frames = frames - 1 WHERE maker_id = old.maker_id;
    UPDATE derived_maker SET frames = frames + 1 WHERE maker_id = new.maker_id;
END;
CREATE TRIGGER derived_sky_deleted AFTER DELETE ON derived_sky BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) VALUES (old.frame_id);
END;
CREATE TRIGGER derived_radiant_deleted AFTER DELETE ON derived_radiant BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) VALUES (old.frame_id);
END;
CREATE TRIGGER derived_finding_deleted AFTER DELETE ON derived_finding BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) VALUES (old.frame_id);
END;
CREATE TRIGGER derived_session_deleted AFTER DELETE ON derived_session BEGIN
    INSERT OR IGNORE INTO pending_night (night, camera_id) VALUES (old.night, ifnull(old.camera_id, 0));
END;
-- A number that becomes free is given to another row some day: whatever pointed at it must not.
CREATE TRIGGER derived_maker_deleted AFTER DELETE ON derived_maker BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) SELECT frame_id FROM derived_time WHERE maker_id = old.maker_id;
    UPDATE derived_time SET maker_id = 0 WHERE maker_id = old.maker_id;
END;
CREATE TRIGGER derived_shower_deleted AFTER DELETE ON derived_shower BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) SELECT frame_id FROM derived_sky
    WHERE old.shower_id IN (shower_id, main_shower_id);
    DELETE FROM derived_radiant WHERE shower_id = old.shower_id;
END;
CREATE TRIGGER derived_active_deleted AFTER DELETE ON derived_active BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id) SELECT frame_id FROM derived_sky WHERE active_id = old.active_id;
END;
CREATE TRIGGER derived_evidence_deleted AFTER DELETE ON derived_evidence BEGIN
    INSERT OR IGNORE INTO pending_night (night, camera_id)
    SELECT DISTINCT date(night_day * 86400, 'unixepoch'), ifnull(camera_id, 0)
    FROM derived_time JOIN written_frame USING (frame_id)
    WHERE evidence_id = old.evidence_id AND night_day IS NOT NULL;
    UPDATE derived_time SET evidence_id = NULL WHERE evidence_id = old.evidence_id;
END;
CREATE TRIGGER derived_day_deleted AFTER DELETE ON derived_day BEGIN
    INSERT OR IGNORE INTO pending_frame (frame_id)
    SELECT frame_id FROM derived_time JOIN derived_sky USING (frame_id)
    WHERE start_ms BETWEEN old.day * 86400000 AND old.day * 86400000 + 86399999 AND active_id = old.active_id;
END;
