-- The record, as SQLite keeps it. The triggers stop accidents by any program that opens the
-- file; what somebody does on purpose only the tree makes evident.

CREATE TABLE events (
    seq             INTEGER PRIMARY KEY CHECK (seq >= 0),
    recorded_at     TEXT    NOT NULL,
    id              TEXT    NOT NULL UNIQUE,
    kind            TEXT    NOT NULL,
    subject         TEXT    NOT NULL,
    subject_version INTEGER NOT NULL CHECK (subject_version >= 1),
    body_sha256     BLOB    NOT NULL CHECK (length(body_sha256) = 32),
    withholds       INTEGER CHECK (withholds < seq),
    UNIQUE (subject, subject_version)
) STRICT;

-- Bodies stand apart, so that one can be withheld and every proof still holds (F23).
CREATE TABLE bodies (
    seq  INTEGER PRIMARY KEY,
    body BLOB NOT NULL CHECK (length(body) <= {EVENT_BYTES_MAX})
) STRICT;

CREATE TABLE leaves (
    seq  INTEGER PRIMARY KEY,
    leaf TEXT NOT NULL
) STRICT;

-- What each group that was staged reached.
CREATE TABLE stages (
    size INTEGER PRIMARY KEY,
    root BLOB NOT NULL CHECK (length(root) = 32)
) STRICT;

-- What was signed and published.
CREATE TABLE checkpoints (
    size INTEGER PRIMARY KEY,
    root BLOB NOT NULL CHECK (length(root) = 32),
    note TEXT NOT NULL
) STRICT;

CREATE INDEX events_withholds ON events (withholds) WHERE withholds IS NOT NULL;

CREATE TRIGGER events_grow_by_one BEFORE INSERT ON events
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), -1) + 1 FROM events)
BEGIN SELECT RAISE(ABORT, 'the record is append-only: not the next seq'); END;

-- Said here too, for an INSERT OR REPLACE does not ask the UNIQUE constraint.
CREATE TRIGGER events_have_new_ids BEFORE INSERT ON events
WHEN EXISTS (SELECT 1 FROM events WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'the record is append-only: this id is taken'); END;

CREATE TRIGGER events_have_the_next_version BEFORE INSERT ON events
WHEN NEW.subject_version IS NOT (SELECT coalesce(max(subject_version), 0) + 1 FROM events WHERE subject = NEW.subject)
BEGIN SELECT RAISE(ABORT, 'the record is append-only: not the next version of its subject'); END;

CREATE TRIGGER bodies_belong_to_the_newest_event BEFORE INSERT ON bodies
WHEN NEW.seq IS NOT (SELECT max(seq) FROM events) OR EXISTS (SELECT 1 FROM bodies WHERE seq = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'the record is append-only: a body comes with its event'); END;

CREATE TRIGGER leaves_belong_to_the_newest_event BEFORE INSERT ON leaves
WHEN NEW.seq IS NOT (SELECT max(seq) FROM events) OR EXISTS (SELECT 1 FROM leaves WHERE seq = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'the record is append-only: a leaf comes with its event'); END;

CREATE TRIGGER stages_grow BEFORE INSERT ON stages
WHEN NEW.size IS NOT (SELECT coalesce(max(seq), -1) + 1 FROM events) OR NEW.size <= (SELECT coalesce(max(size), 0) FROM stages)
BEGIN SELECT RAISE(ABORT, 'the record is append-only: a stage ends at the newest event'); END;

CREATE TRIGGER checkpoints_grow BEFORE INSERT ON checkpoints
WHEN NEW.size <= (SELECT coalesce(max(size), 0) FROM checkpoints)
  OR NOT EXISTS (SELECT 1 FROM stages WHERE size = NEW.size AND root = NEW.root)
BEGIN SELECT RAISE(ABORT, 'the record is append-only: a checkpoint grows and is over what was staged'); END;

CREATE TRIGGER events_are_never_updated BEFORE UPDATE ON events
BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
CREATE TRIGGER events_are_never_deleted BEFORE DELETE ON events
BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;

CREATE TRIGGER leaves_are_never_updated BEFORE UPDATE ON leaves
BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
CREATE TRIGGER leaves_are_never_deleted BEFORE DELETE ON leaves
BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;

CREATE TRIGGER stages_are_never_updated BEFORE UPDATE ON stages
BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
CREATE TRIGGER stages_are_never_deleted BEFORE DELETE ON stages
BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;

CREATE TRIGGER checkpoints_are_never_updated BEFORE UPDATE ON checkpoints
BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
CREATE TRIGGER checkpoints_are_never_deleted BEFORE DELETE ON checkpoints
BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;

CREATE TRIGGER bodies_are_never_updated BEFORE UPDATE ON bodies
BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;

-- A body goes only while the event that withholds it is the newest one and not yet published:
-- in the transaction that records it. From then on nothing can take another body away.
CREATE TRIGGER bodies_are_only_withheld BEFORE DELETE ON bodies
WHEN NOT EXISTS (
    SELECT 1 FROM events
    WHERE withholds = OLD.seq
      AND seq = (SELECT max(seq) FROM events)
      AND seq >= (SELECT coalesce(max(size), 0) FROM checkpoints)
)
BEGIN SELECT RAISE(ABORT, 'the record is append-only: only a body.withheld takes a body away'); END;

CREATE TRIGGER bodies_go_with_the_event_that_withholds_them AFTER INSERT ON events
WHEN NEW.withholds IS NOT NULL
BEGIN DELETE FROM bodies WHERE seq = NEW.withholds; END;
