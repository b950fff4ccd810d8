-- Written: fingerprints of 16 bytes, by which two catalogues agree on a frame. Of files that earlier versions took in, the six
-- bytes that they kept stay, until an ingest reads the file again.

DROP INDEX written_file_undated;

ALTER TABLE written_file RENAME COLUMN fingerprint TO short_fingerprint;

ALTER TABLE written_file ADD COLUMN fingerprint BLOB CHECK (length(fingerprint) = 16 OR length(fingerprint) = 6);

UPDATE written_file SET fingerprint = unhex(printf('%012x', short_fingerprint & 0xffffffffffff))
WHERE short_fingerprint IS NOT NULL;

ALTER TABLE written_file DROP COLUMN short_fingerprint;

CREATE INDEX written_file_undated ON written_file (fingerprint) WHERE undated = 1;
