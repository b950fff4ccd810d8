-- Stated: what the photographer said on looking at frames. It follows from the log of statements.

CREATE TABLE stated_look (
    frame_id    INTEGER PRIMARY KEY REFERENCES written_frame,
    looked      INTEGER CHECK (looked IN (0, 1)),     -- 1: looked at; NULL where nothing was said
    chosen      INTEGER CHECK (chosen IN (0, 1)),     -- 1: wanted in the picture
    note        TEXT
) STRICT;

CREATE VIEW frame_look AS
SELECT frame.frame_id, frame.path, frame.file, frame.camera, frame.start_utc, frame.night, frame.site, frame.session,
       frame.seq, frame.kind, iif(look.looked = 1, 'yes', 'no') AS looked,
       CASE look.chosen WHEN 1 THEN 'yes' WHEN 0 THEN 'no' END AS chosen, look.note
FROM frame
LEFT JOIN stated_look AS look ON look.frame_id = frame.frame_id;
