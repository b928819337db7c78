-- A whole frame counts as a measurement too, and every measurement says with which settings and by which version it was
-- made, so that it can be made again. SQLite cannot change a CHECK: the table is written anew.
CREATE TABLE measurements_new (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    scan     INTEGER NOT NULL REFERENCES scans (id) ON DELETE CASCADE,
    kind     TEXT NOT NULL CHECK (kind IN ('edge', 'scale', 'frame')),
    label    TEXT NOT NULL,
    place    TEXT NOT NULL,
    result   TEXT NOT NULL,
    settings TEXT NOT NULL DEFAULT '',
    made_by  TEXT NOT NULL DEFAULT '',
    created  TEXT NOT NULL
) STRICT;
INSERT INTO measurements_new (id, scan, kind, label, place, result, created)
    SELECT id, scan, kind, label, place, result, created FROM measurements;
-- Numbers of deleted measurements stay unused.
DELETE FROM sqlite_sequence WHERE name = 'measurements_new';
INSERT INTO sqlite_sequence (name, seq)
    SELECT 'measurements_new', seq FROM sqlite_sequence WHERE name = 'measurements';
DROP TABLE measurements;
ALTER TABLE measurements_new RENAME TO measurements;
CREATE INDEX measurements_of_scan ON measurements (scan);

-- What a scanner at one setting does to an edge, or a film by its data sheet: divided out of later measurements.
CREATE TABLE responses (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    name     TEXT NOT NULL UNIQUE CHECK (trim(name) <> ''),
    kind     TEXT NOT NULL CHECK (kind IN ('scanner', 'film')),
    source   TEXT NOT NULL,
    document TEXT NOT NULL,
    created  TEXT NOT NULL
) STRICT;
