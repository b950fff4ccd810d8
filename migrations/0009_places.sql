-- Why: disks and cards are mounted at one path in turn. A root names one dump at a time; who lay there before is away, and
-- its files must not be taken for the newcomer's.

-- Where a dump lay until another dump took that place; NULL while root is where it lies, or last lay. Where it is set, root
-- is that path with a word behind it and leads nowhere.
ALTER TABLE written_dump ADD COLUMN left_root TEXT;
ALTER TABLE written_dump ADD COLUMN left_root_bytes BLOB;  -- byte for byte, where it is not UTF-8
