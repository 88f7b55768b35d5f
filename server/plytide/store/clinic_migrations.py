"""A clinic file's shape. Add new migrations at the end; never change one that has been released.

Facts are append-only: triggers refuse to change or delete a check-in, a signal's events or an audit line.
The one exception is erasure of a person, which names the person in `erasing` inside its own transaction.
"""

from sqlite_utils import Database, Migrations

clinic_migrations = Migrations("plytide-clinic")


def append_only(table: str, *, erasable: str | None = None) -> tuple[str, str]:
    """Triggers that refuse UPDATE and DELETE; `erasable` is the SQL for the row's person id."""
    unless = f"WHEN NOT EXISTS (SELECT 1 FROM erasing WHERE person_id = {erasable})" if erasable else ""
    return (
        f"""CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table}
            BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END""",
        f"""CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} {unless}
            BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END""",
    )


@clinic_migrations()
def m001_clinic(db: Database) -> None:
    for statement in (
        # One row: the clinic, its words and limits, the feed's epoch and last sequence number.
        """CREATE TABLE clinic (
            id TEXT PRIMARY KEY, name TEXT NOT NULL, settings TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(settings)),
            epoch TEXT NOT NULL, seq INTEGER NOT NULL DEFAULT 0) STRICT""",
        """CREATE TABLE staff (
            id TEXT PRIMARY KEY, login TEXT NOT NULL UNIQUE COLLATE NOCASE, name TEXT NOT NULL,
            role TEXT NOT NULL CHECK (role IN ('prosthetist', 'assistant', 'manager')),
            password_hash TEXT NOT NULL, mail TEXT, created_at TEXT NOT NULL, left_at TEXT) STRICT""",
        """CREATE TABLE erasing (person_id TEXT PRIMARY KEY) STRICT""",
        """CREATE TABLE person (
            id TEXT PRIMARY KEY, name TEXT NOT NULL, born_on TEXT, tags TEXT NOT NULL CHECK (json_valid(tags)),
            clinician_id TEXT REFERENCES staff(id), created_at TEXT NOT NULL, seq INTEGER NOT NULL) STRICT""",
        "CREATE INDEX person_seq ON person (seq)",
        """CREATE TABLE limb (
            id TEXT PRIMARY KEY, person_id TEXT NOT NULL REFERENCES person(id),
            side TEXT NOT NULL CHECK (side IN ('left', 'right')), level TEXT NOT NULL, amputated_on TEXT,
            shape TEXT, reference_circumference_mm REAL CHECK (reference_circumference_mm > 0),
            created_at TEXT NOT NULL, seq INTEGER NOT NULL) STRICT""",
        "CREATE INDEX limb_person ON limb (person_id)",
        """CREATE TABLE socket (
            id TEXT PRIMARY KEY, limb_id TEXT NOT NULL REFERENCES limb(id), fitted_on TEXT NOT NULL,
            retired_on TEXT, purpose TEXT NOT NULL, made TEXT, material TEXT, suspension TEXT, liner_mm REAL,
            weight_limit_kg REAL, stack_at_fitting TEXT NOT NULL CHECK (json_valid(stack_at_fitting)), note TEXT,
            wear_schedule TEXT CHECK (wear_schedule IS NULL OR json_valid(wear_schedule)),
            created_at TEXT NOT NULL, seq INTEGER NOT NULL) STRICT""",
        "CREATE INDEX socket_limb ON socket (limb_id)",
        """CREATE TABLE pad (
            id TEXT PRIMARY KEY, socket_id TEXT NOT NULL REFERENCES socket(id), fitted_on TEXT NOT NULL,
            thickness_mm REAL NOT NULL, place TEXT, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX pad_socket ON pad (socket_id)",
        """CREATE TABLE measurement (
            id TEXT PRIMARY KEY, limb_id TEXT NOT NULL REFERENCES limb(id), measured_on TEXT NOT NULL,
            levels TEXT NOT NULL CHECK (json_valid(levels)), minutes_since_doffing REAL, weight_kg REAL,
            measured_by TEXT, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX measurement_limb ON measurement (limb_id)",
        """CREATE TABLE intervention (
            id TEXT PRIMARY KEY, limb_id TEXT NOT NULL REFERENCES limb(id), done_on TEXT NOT NULL,
            kind TEXT NOT NULL, note TEXT, by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX intervention_limb ON intervention (limb_id)",
        """CREATE TABLE note (
            id TEXT PRIMARY KEY, limb_id TEXT NOT NULL REFERENCES limb(id), text TEXT NOT NULL,
            by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX note_limb ON note (limb_id)",
        """CREATE TABLE visit (
            id TEXT PRIMARY KEY, person_id TEXT NOT NULL REFERENCES person(id), visit_on TEXT NOT NULL,
            visit_time TEXT, what TEXT, cancelled INTEGER NOT NULL DEFAULT 0, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX visit_person ON visit (person_id, visit_on)",
        """CREATE TABLE enrolment (
            id TEXT PRIMARY KEY, role TEXT NOT NULL CHECK (role IN ('wearer', 'caregiver')),
            people TEXT NOT NULL CHECK (json_valid(people)), by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        """CREATE TABLE device (
            id TEXT PRIMARY KEY, role TEXT NOT NULL CHECK (role IN ('wearer', 'caregiver')), label TEXT NOT NULL,
            enrolled_at TEXT NOT NULL, seen_at TEXT, skew_seconds INTEGER, revoked_at TEXT) STRICT""",
        """CREATE TABLE device_person (
            device_id TEXT NOT NULL REFERENCES device(id), person_id TEXT NOT NULL REFERENCES person(id),
            PRIMARY KEY (device_id, person_id)) STRICT, WITHOUT ROWID""",
        "CREATE INDEX device_of_person ON device_person (person_id)",
        # seq is given inside BEGIN IMMEDIATE, so commit order is seq order and no reader skips a late commit.
        """CREATE TABLE checkin (
            seq INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, limb_id TEXT NOT NULL REFERENCES limb(id),
            body TEXT NOT NULL, written_by TEXT, received_from TEXT NOT NULL, received_at TEXT NOT NULL,
            doubt TEXT) STRICT""",
        "CREATE INDEX checkin_limb ON checkin (limb_id, seq)",
        *append_only("checkin", erasable="(SELECT person_id FROM limb WHERE limb.id = OLD.limb_id)"),
        """CREATE TABLE stale (limb_id TEXT PRIMARY KEY, since TEXT NOT NULL) STRICT, WITHOUT ROWID""",
        """CREATE TABLE assessment (
            limb_id TEXT PRIMARY KEY REFERENCES limb(id), assessed_on TEXT NOT NULL, state TEXT NOT NULL,
            state_since TEXT, urgency INTEGER NOT NULL, sort_since TEXT NOT NULL, why TEXT NOT NULL,
            spark TEXT NOT NULL, last_checkin TEXT, body TEXT NOT NULL) STRICT""",
        "CREATE INDEX assessment_order ON assessment (urgency DESC, sort_since, limb_id)",
        "CREATE INDEX assessment_day ON assessment (assessed_on)",
        """CREATE TABLE signal (
            id TEXT PRIMARY KEY, limb_id TEXT NOT NULL REFERENCES limb(id), kind TEXT NOT NULL,
            level TEXT NOT NULL CHECK (level IN ('note', 'call', 'urgent')), since TEXT NOT NULL,
            because TEXT NOT NULL, evidence TEXT NOT NULL, holds INTEGER NOT NULL, status TEXT NOT NULL
            CHECK (status IN ('open', 'acknowledged', 'snoozed', 'closed')), assigned_to TEXT,
            snoozed_until TEXT, opened_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX signal_limb ON signal (limb_id, kind)",
        """CREATE TABLE signal_event (
            n INTEGER PRIMARY KEY AUTOINCREMENT, signal_id TEXT NOT NULL REFERENCES signal(id), at TEXT NOT NULL,
            event TEXT NOT NULL, by_staff TEXT, detail TEXT NOT NULL CHECK (json_valid(detail))) STRICT""",
        "CREATE INDEX signal_event_signal ON signal_event (signal_id, n)",
        *append_only(
            "signal_event",
            erasable="(SELECT person_id FROM limb JOIN signal ON signal.limb_id = limb.id"
            " WHERE signal.id = OLD.signal_id)",
        ),
        """CREATE TABLE audit (
            n INTEGER PRIMARY KEY, at TEXT NOT NULL, who TEXT NOT NULL, what TEXT NOT NULL, subject TEXT NOT NULL,
            detail TEXT NOT NULL, feed_seq INTEGER, hash BLOB NOT NULL) STRICT""",
        "CREATE INDEX audit_feed ON audit (feed_seq) WHERE feed_seq IS NOT NULL",
        *append_only("audit"),
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m002_decisions(db: Database) -> None:
    for statement in (
        """CREATE TABLE decision (
            id TEXT PRIMARY KEY, limb_id TEXT NOT NULL REFERENCES limb(id), decided_on TEXT NOT NULL,
            choice TEXT NOT NULL, planned_on TEXT, reasons TEXT NOT NULL CHECK (json_valid(reasons)), note TEXT,
            assessment TEXT NOT NULL CHECK (json_valid(assessment)), by_staff TEXT NOT NULL,
            taken_back_at TEXT, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX decision_limb ON decision (limb_id)",
        "CREATE INDEX decision_planned ON decision (planned_on) WHERE planned_on IS NOT NULL AND taken_back_at IS NULL",
        # A suspension switched on the same socket: the socket row holds the newest, this its history.
        """CREATE TABLE suspension (
            id TEXT PRIMARY KEY, socket_id TEXT NOT NULL REFERENCES socket(id), changed_on TEXT NOT NULL,
            suspension TEXT NOT NULL, by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX suspension_socket ON suspension (socket_id)",
        "ALTER TABLE socket ADD COLUMN trim_lines TEXT",
        "ALTER TABLE measurement ADD COLUMN height_cm REAL CHECK (height_cm > 0)",
        # Mail to be sent, written with the signals it tells of; says nothing about anybody's health.
        """CREATE TABLE mail (
            id TEXT PRIMARY KEY, kind TEXT NOT NULL CHECK (kind IN ('urgent', 'digest')), to_address TEXT NOT NULL,
            subject TEXT NOT NULL, body TEXT NOT NULL, due_at TEXT NOT NULL, sent_at TEXT, tries INTEGER NOT NULL
            DEFAULT 0, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX mail_waiting ON mail (due_at) WHERE sent_at IS NULL",
        "CREATE INDEX assessment_state ON assessment (state)",
        "CREATE INDEX signal_snoozed ON signal (snoozed_until) WHERE status = 'snoozed'",
        "CREATE INDEX signal_unclosed ON signal (limb_id) WHERE status != 'closed'",
        "CREATE INDEX person_clinician ON person (clinician_id) WHERE clinician_id IS NOT NULL",
        # How many limbs stand at each urgency, kept as rows move: counting 100,000 at each look is too slow.
        "CREATE TABLE urgency_count (urgency INTEGER PRIMARY KEY, limbs INTEGER NOT NULL) STRICT",
        "INSERT INTO urgency_count SELECT value, 0 FROM json_each('[0, 1, 2, 3]')",
        """CREATE TRIGGER assessment_counted AFTER INSERT ON assessment
            BEGIN UPDATE urgency_count SET limbs = limbs + 1 WHERE urgency = NEW.urgency; END""",
        """CREATE TRIGGER assessment_uncounted AFTER DELETE ON assessment
            BEGIN UPDATE urgency_count SET limbs = limbs - 1 WHERE urgency = OLD.urgency; END""",
        """CREATE TRIGGER assessment_recounted AFTER UPDATE OF urgency ON assessment WHEN OLD.urgency != NEW.urgency
            BEGIN UPDATE urgency_count SET limbs = limbs - 1 WHERE urgency = OLD.urgency;
                  UPDATE urgency_count SET limbs = limbs + 1 WHERE urgency = NEW.urgency; END""",
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m003_photos(db: Database) -> None:
    for statement in (
        # Kept in the clinic's file: a backup holds them, and erasing a person erases them.
        """CREATE TABLE photo (
            id TEXT PRIMARY KEY, limb_id TEXT NOT NULL REFERENCES limb(id), checkin_id TEXT NOT NULL,
            sent_sha256 BLOB NOT NULL, jpeg BLOB NOT NULL, width INTEGER NOT NULL, height INTEGER NOT NULL,
            received_from TEXT NOT NULL, received_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX photo_limb ON photo (limb_id)",
        """CREATE TABLE consent (
            n INTEGER PRIMARY KEY AUTOINCREMENT, person_id TEXT NOT NULL REFERENCES person(id),
            device_id TEXT NOT NULL, words TEXT NOT NULL, agreed INTEGER NOT NULL, said_at TEXT NOT NULL,
            received_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX consent_person ON consent (person_id)",
        *append_only("consent", erasable="OLD.person_id"),
        # One a phone: where its reminders go, and when, by its own clock.
        """CREATE TABLE push (
            device_id TEXT PRIMARY KEY REFERENCES device(id), subscription TEXT NOT NULL
            CHECK (json_valid(subscription)), at TEXT NOT NULL CHECK (json_valid(at)), zone TEXT NOT NULL,
            quiet_from TEXT, quiet_to TEXT, paused_until TEXT, next_at TEXT) STRICT""",
        "CREATE INDEX push_next ON push (next_at) WHERE next_at IS NOT NULL",
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m004_audit_head_and_erasure(db: Database) -> None:
    for statement in (
        # How long the chain is and where it ends, moved by every line: lines cut off at the end are missed.
        """CREATE TABLE audit_head (
            one INTEGER PRIMARY KEY CHECK (one = 1), n INTEGER NOT NULL, hash BLOB NOT NULL) STRICT""",
        "INSERT INTO audit_head SELECT 1, n, hash FROM audit ORDER BY n DESC LIMIT 1",
        """CREATE TRIGGER audit_head_moves AFTER INSERT ON audit
            BEGIN INSERT INTO audit_head VALUES (1, NEW.n, NEW.hash)
                  ON CONFLICT DO UPDATE SET n = excluded.n, hash = excluded.hash; END""",
        # Asked for by one, done by another.
        """CREATE TABLE erasure (
            person_id TEXT PRIMARY KEY REFERENCES person(id), reason TEXT, asked_by TEXT NOT NULL,
            asked_at TEXT NOT NULL) STRICT""",
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m005_own_log(db: Database) -> None:
    # A teenager who writes for themselves: caregivers' phones then get what they wrote, and the trend in words.
    db.conn.execute("ALTER TABLE person ADD COLUMN own_log INTEGER NOT NULL DEFAULT 0 CHECK (own_log IN (0, 1))")


@clinic_migrations()
def m006_reminders_in_the_phones_language(db: Database) -> None:
    db.conn.execute(
        "ALTER TABLE push ADD COLUMN language TEXT NOT NULL DEFAULT 'en' CHECK (language IN ('en', 'es', 'de', 'ar'))"
    )


@clinic_migrations()
def m007_corrections_and_paper_consents(db: Database) -> None:
    for statement in (
        # What became of a pad, a measurement or an intervention: the last line about a record says whether it counts.
        """CREATE TABLE correction (
            n INTEGER PRIMARY KEY AUTOINCREMENT, limb_id TEXT NOT NULL REFERENCES limb(id),
            kind TEXT NOT NULL CHECK (kind IN ('pad', 'measurement', 'intervention')), record_id TEXT NOT NULL,
            deed TEXT NOT NULL CHECK (deed IN ('replace', 'void', 'restore')), replaced_by TEXT, reason TEXT,
            by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX correction_limb ON correction (limb_id)",
        "CREATE INDEX correction_record ON correction (record_id, n)",
        "CREATE INDEX correction_replacing ON correction (replaced_by) WHERE replaced_by IS NOT NULL",
        *append_only("correction", erasable="(SELECT person_id FROM limb WHERE limb.id = OLD.limb_id)"),
        *append_only("measurement", erasable="(SELECT person_id FROM limb WHERE limb.id = OLD.limb_id)"),
        *append_only("intervention", erasable="(SELECT person_id FROM limb WHERE limb.id = OLD.limb_id)"),
        *append_only(
            "pad",
            erasable="(SELECT person_id FROM limb JOIN socket ON socket.limb_id = limb.id"
            " WHERE socket.id = OLD.socket_id)",
        ),
        # A consent said or taken back on paper, as staff read it there.
        """CREATE TABLE paper_consent (
            n INTEGER PRIMARY KEY AUTOINCREMENT, person_id TEXT NOT NULL REFERENCES person(id),
            given INTEGER NOT NULL CHECK (given IN (0, 1)), said_on TEXT NOT NULL, said_by TEXT NOT NULL,
            what_for TEXT NOT NULL, by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX paper_consent_person ON paper_consent (person_id)",
        *append_only("paper_consent", erasable="OLD.person_id"),
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m008_from_which_browser(db: Database) -> None:
    # Lines from before it was told keep the empty word, and with it the seal they had.
    db.conn.execute("ALTER TABLE audit ADD COLUMN device TEXT NOT NULL DEFAULT ''")


@clinic_migrations()
def m009_mail_about_the_way_in(db: Database) -> None:
    for statement in (
        """CREATE TABLE mail_wider (
            id TEXT PRIMARY KEY, kind TEXT NOT NULL CHECK (kind IN ('urgent', 'digest', 'password', 'address')),
            to_address TEXT NOT NULL, subject TEXT NOT NULL, body TEXT NOT NULL, due_at TEXT NOT NULL, sent_at TEXT,
            tries INTEGER NOT NULL DEFAULT 0, created_at TEXT NOT NULL) STRICT""",
        "INSERT INTO mail_wider SELECT id, kind, to_address, subject, body, due_at, sent_at, tries, created_at FROM mail",
        "DROP TABLE mail",
        "ALTER TABLE mail_wider RENAME TO mail",
        "CREATE INDEX mail_waiting ON mail (due_at) WHERE sent_at IS NULL",
    ):
        db.conn.execute(statement)
