-- Why: a name with the byte FF and one with the four signs \xFF had the same text and were taken for each other. The backslash
-- of a literal \x is written \x5C from now on, and the name's bytes are kept beside it.

UPDATE written_file SET name_bytes = CAST(name AS BLOB), name = replace(name, '\x', '\x5Cx')
WHERE name_bytes IS NULL AND instr(name, '\x') > 0;

UPDATE written_folder SET path_bytes = CAST(path AS BLOB), path = replace(path, '\x', '\x5Cx')
WHERE path_bytes IS NULL AND instr(path, '\x') > 0;

-- Roots of Windows have other backslashes.
UPDATE written_dump SET root_bytes = CAST(root AS BLOB), root = replace(root, '\x', '\x5Cx')
WHERE root_bytes IS NULL AND root LIKE '/%' AND instr(root, '\x') > 0;

UPDATE written_dump SET left_root_bytes = CAST(left_root AS BLOB), left_root = replace(left_root, '\x', '\x5Cx')
WHERE left_root_bytes IS NULL AND left_root LIKE '/%' AND instr(left_root, '\x') > 0;

-- Why: a site that was made from a position on a track was called one of GPS. 1: of those whose origin is 'exif', one made so.
ALTER TABLE stated_site ADD COLUMN of_track INTEGER NOT NULL DEFAULT 0;

UPDATE stated_site SET of_track = 1
WHERE origin = 'exif'
  AND site_id IN (SELECT site_id FROM derived_time WHERE place_basis_no = 1)
  AND site_id NOT IN (SELECT site_id FROM derived_time WHERE place_basis_no = 0 AND site_id IS NOT NULL);
