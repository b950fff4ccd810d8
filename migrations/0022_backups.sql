-- When the catalogue was last copied as a backup: the audit says when there was none for long. `framefall backup` notes it, here
-- and in the copy; a copy made by another program is not known.

CREATE TABLE catalogue_backup (
    only_row     INTEGER PRIMARY KEY CHECK (only_row = 1),
    made_ms      INTEGER NOT NULL             -- the latest one, UTC
) STRICT;
