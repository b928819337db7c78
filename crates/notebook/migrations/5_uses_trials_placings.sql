-- What pictures are for, picks made with the names hidden, how scans are laid over each other, and parts wished for.

-- What a use asks for, as text that the notebook does not understand.
CREATE TABLE uses (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    job          INTEGER NOT NULL REFERENCES jobs (id) ON DELETE CASCADE,
    title        TEXT NOT NULL CHECK (trim(title) <> ''),
    requirements TEXT NOT NULL,
    created      TEXT NOT NULL,
    UNIQUE (job, title)
) STRICT;

CREATE TABLE trials (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    job      INTEGER NOT NULL REFERENCES jobs (id) ON DELETE CASCADE,
    title    TEXT NOT NULL CHECK (trim(title) <> ''),
    -- What is compared, where, and in which order: written once, before the first pick.
    document TEXT NOT NULL,
    created  TEXT NOT NULL,
    -- When the names were shown; NULL while they are hidden.
    ended    TEXT
) STRICT;
CREATE INDEX trials_of_job ON trials (job);

-- Candidates are called by their numbers in the trial's document: a scan may go, the pick stays.
CREATE TABLE picks (
    trial      INTEGER NOT NULL REFERENCES trials (id) ON DELETE CASCADE,
    number     INTEGER NOT NULL CHECK (number BETWEEN 1 AND 4294967295),
    left_side  INTEGER NOT NULL CHECK (left_side BETWEEN 0 AND 4294967295),
    right_side INTEGER NOT NULL CHECK (right_side BETWEEN 0 AND 4294967295 AND right_side <> left_side),
    choice     TEXT NOT NULL CHECK (choice IN ('left', 'right', 'no difference')),
    created    TEXT NOT NULL,
    PRIMARY KEY (trial, number)
) STRICT;

-- Where the subject lies in a scan: picked points, the card, or what the picture itself said.
CREATE TABLE placings (
    scan     INTEGER PRIMARY KEY REFERENCES scans (id) ON DELETE CASCADE,
    document TEXT NOT NULL,
    created  TEXT NOT NULL
) STRICT;

-- Parts that are not owned. They lie beside the kit and not in it: nothing that the kit reaches may count on them.
CREATE TABLE wishes (
    place    INTEGER PRIMARY KEY AUTOINCREMENT,
    id       TEXT NOT NULL UNIQUE CHECK (trim(id) <> ''),
    kind     TEXT NOT NULL CHECK (trim(kind) <> ''),
    document TEXT NOT NULL
) STRICT;
