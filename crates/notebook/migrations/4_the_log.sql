-- What a planned frame is for, how many frames a roll holds, and what was logged at the camera.

ALTER TABLE frames ADD COLUMN purpose TEXT NOT NULL DEFAULT '';
ALTER TABLE frames ADD COLUMN slot TEXT NOT NULL DEFAULT '';
ALTER TABLE frames ADD COLUMN focus_offset_mm REAL CHECK (focus_offset_mm > -9e999 AND focus_offset_mm < 9e999);
ALTER TABLE frames ADD COLUMN exposure_note TEXT NOT NULL DEFAULT '';
-- A third state beside planned and shot. SQLite cannot change a CHECK, and writing the table anew would have every scan
-- let go of its frame: so it is a column beside the state.
ALTER TABLE frames ADD COLUMN left_out INTEGER NOT NULL DEFAULT 0 CHECK (left_out = 0 OR (left_out = 1 AND state = 'planned'));
-- What was planned, where what was taken differs; without a difference all of these are NULL.
ALTER TABLE frames ADD COLUMN planned_parts TEXT CHECK (json_valid(planned_parts) AND json_type(planned_parts) = 'array');
ALTER TABLE frames ADD COLUMN planned_focus TEXT CHECK ((planned_focus IS NULL) = (planned_parts IS NULL));
ALTER TABLE frames ADD COLUMN planned_f_number REAL CHECK (planned_f_number > 0 AND planned_f_number < 9e999);
ALTER TABLE frames ADD COLUMN planned_shutter_s REAL CHECK (planned_shutter_s > 0 AND planned_shutter_s < 9e999);
ALTER TABLE frames ADD COLUMN planned_metered_s REAL CHECK (planned_metered_s > 0 AND planned_metered_s < 9e999);

ALTER TABLE rolls ADD COLUMN frames INTEGER CHECK (frames BETWEEN 1 AND 4294967295);
ALTER TABLE rolls ADD COLUMN plan TEXT NOT NULL DEFAULT '';
-- Whether paired phones may see the roll and log on it.
ALTER TABLE rolls ADD COLUMN at_camera INTEGER NOT NULL DEFAULT 0 CHECK (at_camera IN (0, 1));

ALTER TABLE scans ADD COLUMN matched_by TEXT NOT NULL DEFAULT ''
    CHECK (matched_by IN ('', 'hand', 'order', 'name', 'picture', 'code'));

-- Phones that were paired. A row stays when the phone is turned away: entries name it.
CREATE TABLE devices (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    name       TEXT NOT NULL CHECK (trim(name) <> ''),
    token_hash TEXT NOT NULL UNIQUE CHECK (trim(token_hash) <> ''),
    paired     TEXT NOT NULL,
    seen       TEXT NOT NULL,
    revoked    TEXT
) STRICT;

-- What was said at the camera, in the order of arrival. Entries are never changed, and they outlive frame and roll.
CREATE TABLE log_entries (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    -- Made where the entry was made: a second arrival of the same entry is known by it.
    uid        TEXT NOT NULL UNIQUE CHECK (length(uid) = 36),
    roll       INTEGER REFERENCES rolls (id) ON DELETE SET NULL,
    frame      INTEGER REFERENCES frames (id) ON DELETE SET NULL,
    -- The frame's number on the film as it was known at the camera.
    number     INTEGER CHECK (number BETWEEN 0 AND 4294967295),
    -- NULL: at the computer.
    device     INTEGER REFERENCES devices (id),
    sequence   INTEGER NOT NULL CHECK (sequence >= 0),
    kind       TEXT NOT NULL CHECK (kind IN ('taken', 'changed', 'extra', 'left out', 'note', 'put back')),
    parts      TEXT CHECK (json_valid(parts) AND json_type(parts) = 'array'),
    focus      TEXT,
    f_number   REAL CHECK (f_number > 0 AND f_number < 9e999),
    shutter_s  REAL CHECK (shutter_s > 0 AND shutter_s < 9e999),
    metered_s  REAL CHECK (metered_s > 0 AND metered_s < 9e999),
    meter      TEXT NOT NULL,
    note       TEXT NOT NULL,
    -- By the phone's clock, and by the computer's when it arrived.
    said_at    TEXT NOT NULL,
    arrived    TEXT NOT NULL,
    -- Why the entry did not change its frame, in words; empty when it did or had none to change.
    remark     TEXT NOT NULL
) STRICT;
CREATE INDEX log_entries_of_roll ON log_entries (roll);
CREATE INDEX log_entries_of_frame ON log_entries (frame);

-- Pictures of the set-up. The files lie in a folder beside the notebook, under names of the program's own.
CREATE TABLE photos (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    uid      TEXT NOT NULL UNIQUE CHECK (length(uid) = 36),
    roll     INTEGER REFERENCES rolls (id) ON DELETE SET NULL,
    frame    INTEGER REFERENCES frames (id) ON DELETE SET NULL,
    number   INTEGER CHECK (number BETWEEN 0 AND 4294967295),
    device   INTEGER REFERENCES devices (id),
    bytes    INTEGER NOT NULL CHECK (bytes > 0),
    said_at  TEXT NOT NULL,
    arrived  TEXT NOT NULL,
    -- The name in the folder once the whole picture is there; NULL while it is arriving.
    stored   TEXT UNIQUE CHECK (trim(stored) <> '')
) STRICT;
CREATE INDEX photos_of_roll ON photos (roll);
CREATE INDEX photos_of_frame ON photos (frame);

-- A person's own test results of a film, as text that the notebook does not understand.
CREATE TABLE films (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    name     TEXT NOT NULL UNIQUE CHECK (trim(name) <> ''),
    document TEXT NOT NULL,
    created  TEXT NOT NULL
) STRICT;
