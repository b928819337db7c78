-- Version 1. A step that was once released is never edited: what changes comes as a further step.
--
-- `x < 9e999` says that a number is finite (9e999 reads as infinity; NaN is stored as NULL).
-- AUTOINCREMENT keeps the number of a deleted entry from being given out again: addresses of pages and names of files
-- made for a scan must never come to mean another one.

-- The kit, in the order in which the parts were entered.
CREATE TABLE parts (
    place    INTEGER PRIMARY KEY AUTOINCREMENT,
    id       TEXT NOT NULL UNIQUE CHECK (trim(id) <> ''),
    kind     TEXT NOT NULL CHECK (trim(kind) <> ''),
    document TEXT NOT NULL
) STRICT;

CREATE TABLE jobs (
    id                        INTEGER PRIMARY KEY AUTOINCREMENT,
    title                     TEXT NOT NULL CHECK (trim(title) <> ''),
    subject                   TEXT NOT NULL,
    subject_mm                REAL NOT NULL CHECK (subject_mm > 0 AND subject_mm < 9e999),
    subject_depth_mm          REAL CHECK (subject_depth_mm >= 0 AND subject_depth_mm < 9e999),
    fill                      REAL NOT NULL CHECK (fill > 0 AND fill <= 1),
    body                      TEXT,
    print_mm                  REAL NOT NULL CHECK (print_mm > 0 AND print_mm < 9e999),
    criterion_lp_mm           REAL NOT NULL CHECK (criterion_lp_mm > 0 AND criterion_lp_mm < 9e999),
    contrast_needed           REAL NOT NULL CHECK (contrast_needed > 0 AND contrast_needed <= 1),
    least_working_distance_mm REAL CHECK (least_working_distance_mm >= 0 AND least_working_distance_mm < 9e999),
    notes                     TEXT NOT NULL,
    demo                      INTEGER NOT NULL CHECK (demo IN (0, 1)),
    created                   TEXT NOT NULL
) STRICT;

CREATE TABLE rolls (
    id    INTEGER PRIMARY KEY AUTOINCREMENT,
    job   INTEGER NOT NULL REFERENCES jobs (id) ON DELETE CASCADE,
    title TEXT NOT NULL,
    film  TEXT NOT NULL,
    iso   REAL CHECK (iso > 0 AND iso < 9e999),
    notes TEXT NOT NULL
) STRICT;
CREATE INDEX rolls_of_job ON rolls (job);

CREATE TABLE frames (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    roll      INTEGER NOT NULL REFERENCES rolls (id) ON DELETE CASCADE,
    number    INTEGER NOT NULL CHECK (number BETWEEN 0 AND 4294967295),
    label     TEXT NOT NULL,
    -- A JSON array of texts.
    parts     TEXT NOT NULL CHECK (json_valid(parts) AND json_type(parts) = 'array'),
    focus     TEXT NOT NULL,
    f_number  REAL CHECK (f_number > 0 AND f_number < 9e999),
    shutter_s REAL CHECK (shutter_s > 0 AND shutter_s < 9e999),
    metered_s REAL CHECK (metered_s > 0 AND metered_s < 9e999),
    note      TEXT NOT NULL,
    state     TEXT NOT NULL CHECK (state IN ('planned', 'shot')),
    UNIQUE (roll, number)
) STRICT;

CREATE TABLE scans (
    id                       INTEGER PRIMARY KEY AUTOINCREMENT,
    -- A scan outlives its job and its frame: the file on the disk is the visitor's work.
    job                      INTEGER REFERENCES jobs (id) ON DELETE SET NULL,
    frame                    INTEGER REFERENCES frames (id) ON DELETE SET NULL,
    file_name                TEXT NOT NULL,
    stored                   TEXT NOT NULL UNIQUE CHECK (trim(stored) <> ''),
    bytes                    INTEGER NOT NULL CHECK (bytes >= 0),
    width                    INTEGER CHECK (width BETWEEN 1 AND 4294967295),
    height                   INTEGER CHECK (height BETWEEN 1 AND 4294967295),
    bits                     INTEGER CHECK (bits BETWEEN 1 AND 255),
    pitch_um                 REAL CHECK (pitch_um > 0 AND pitch_um < 9e999),
    pitch_from               TEXT NOT NULL DEFAULT '',
    transfer                 TEXT NOT NULL DEFAULT '',
    about                    TEXT NOT NULL DEFAULT '',
    magnification            REAL CHECK (magnification > 0 AND magnification < 9e999),
    magnification_plus_minus REAL CHECK (magnification_plus_minus >= 0 AND magnification_plus_minus < 9e999),
    magnification_from       TEXT CHECK (magnification_from IN ('ruler', 'set-up', 'entered')),
    state                    TEXT NOT NULL CHECK (state IN ('arriving', 'preparing', 'ready', 'failed')),
    share                    REAL CHECK (share BETWEEN 0 AND 1),
    why                      TEXT,
    created                  TEXT NOT NULL,
    CHECK ((magnification IS NULL) = (magnification_from IS NULL)),
    CHECK (magnification IS NOT NULL OR magnification_plus_minus IS NULL),
    CHECK ((state = 'preparing') = (share IS NOT NULL)),
    CHECK ((state = 'failed') = (why IS NOT NULL))
) STRICT;
CREATE INDEX scans_of_job ON scans (job);
CREATE INDEX scans_of_frame ON scans (frame);

CREATE TABLE measurements (
    id      INTEGER PRIMARY KEY AUTOINCREMENT,
    scan    INTEGER NOT NULL REFERENCES scans (id) ON DELETE CASCADE,
    kind    TEXT NOT NULL CHECK (kind IN ('edge', 'scale')),
    label   TEXT NOT NULL,
    place   TEXT NOT NULL,
    result  TEXT NOT NULL,
    created TEXT NOT NULL
) STRICT;
CREATE INDEX measurements_of_scan ON measurements (scan);

CREATE TABLE decisions (
    id      INTEGER PRIMARY KEY AUTOINCREMENT,
    job     INTEGER NOT NULL REFERENCES jobs (id) ON DELETE CASCADE,
    text    TEXT NOT NULL,
    created TEXT NOT NULL
) STRICT;
CREATE INDEX decisions_of_job ON decisions (job);

CREATE TABLE settings (
    key   TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;
