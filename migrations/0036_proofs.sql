-- What is proved of a dump as a whole, computed when files are read back or ingested. A change of what it rests on deletes the row;
-- then it is computed when it is asked for.

CREATE TABLE measured_proof (
    dump_id      INTEGER PRIMARY KEY REFERENCES written_dump ON DELETE CASCADE,
    oldest_ms    INTEGER,                     -- the oldest last check of its files that were the same then
    never        INTEGER NOT NULL             -- files that were never read back and compared, or differed
) STRICT;

CREATE TRIGGER measured_content_inserted AFTER INSERT ON measured_content BEGIN
    DELETE FROM measured_proof WHERE dump_id = new.dump_id;
END;

CREATE TRIGGER measured_content_updated AFTER UPDATE ON measured_content BEGIN
    DELETE FROM measured_proof WHERE dump_id IN (old.dump_id, new.dump_id);
END;

CREATE TRIGGER measured_content_deleted AFTER DELETE ON measured_content BEGIN
    DELETE FROM measured_proof WHERE dump_id = old.dump_id;
END;

CREATE TRIGGER written_file_inserted AFTER INSERT ON written_file WHEN EXISTS (SELECT 1 FROM measured_proof) BEGIN
    DELETE FROM measured_proof WHERE dump_id = (SELECT dump_id FROM written_folder WHERE folder_id = new.folder_id);
END;

CREATE TRIGGER written_file_updated AFTER UPDATE OF folder_id, name, bytes, modified_ns ON written_file
WHEN EXISTS (SELECT 1 FROM measured_proof) BEGIN
    DELETE FROM measured_proof
    WHERE dump_id IN (SELECT dump_id FROM written_folder WHERE folder_id IN (old.folder_id, new.folder_id));
END;

CREATE TRIGGER written_file_deleted AFTER DELETE ON written_file WHEN EXISTS (SELECT 1 FROM measured_proof) BEGIN
    DELETE FROM measured_proof WHERE dump_id = (SELECT dump_id FROM written_folder WHERE folder_id = old.folder_id);
END;

CREATE TRIGGER written_folder_updated AFTER UPDATE OF dump_id, path ON written_folder
WHEN EXISTS (SELECT 1 FROM measured_proof) BEGIN
    DELETE FROM measured_proof WHERE dump_id IN (old.dump_id, new.dump_id);
END;
