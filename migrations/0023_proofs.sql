-- Why: a copy is proved by reading it back, and a disk that fails silently is found by reading it again. What was measured on
-- each file of a dump is kept: its hashes, when it was last read and compared, how, and on which device. Films and sidecars are
-- no frames but are copied too, so a row is known by its path below the dump's root.

ALTER TABLE measured_content RENAME TO earlier_content;

-- The devices that files were on when they were read.
CREATE TABLE measured_device (
    device_id    INTEGER PRIMARY KEY,
    number       INTEGER NOT NULL,            -- by which the system told it from others then
    volume_id    TEXT,                        -- the volume's own number and name, where they were known
    volume_label TEXT
) STRICT;

CREATE UNIQUE INDEX measured_device_known ON measured_device (number, ifnull(volume_id, ''), ifnull(volume_label, ''));

CREATE TABLE measured_content (
    dump_id      INTEGER NOT NULL REFERENCES written_dump ON DELETE CASCADE,
    path         TEXT NOT NULL,               -- below the root: written_folder.path and written_file.name, '/' between them
    bytes        INTEGER NOT NULL,            -- the file's size and time stamp when the hashes were taken: they are for that
    modified_ns  INTEGER NOT NULL,            -- state of the file alone
    blake3       BLOB NOT NULL CHECK (length(blake3) = 32),
    sha256       BLOB CHECK (length(sha256) = 32),
    taken_ms     INTEGER,                     -- when the hashes were taken, UTC
    checked_ms   INTEGER,                     -- when the file was last read whole and compared with them, UTC
    way          TEXT,                        -- how it was read then: 'direct' past the cache, 'dropped' after its pages were
                                              -- dropped from it, 'cached' where the device cannot be asked
    result       TEXT,                        -- 'same', 'differs', 'unreadable'
    device_id    INTEGER REFERENCES measured_device,
    PRIMARY KEY (dump_id, path)
) STRICT, WITHOUT ROWID;

INSERT INTO measured_content (dump_id, path, bytes, modified_ns, blake3, taken_ms)
SELECT folder.dump_id, iif(folder.path = '', '', folder.path || '/') || file.name, content.bytes, content.modified_ns,
       content.blake3, content.taken_ms
FROM earlier_content AS content JOIN written_file AS file USING (file_id) JOIN written_folder AS folder USING (folder_id);

DROP TABLE earlier_content;

-- The cards that a dump was copied from.
CREATE TABLE measured_card (
    dump_id      INTEGER NOT NULL REFERENCES written_dump ON DELETE CASCADE,
    root         TEXT NOT NULL,               -- the folder that was copied, as written_dump.root
    copied_ms    INTEGER NOT NULL,            -- when it was last copied, UTC
    PRIMARY KEY (dump_id, root)
) STRICT, WITHOUT ROWID;
