"""A clinic file's shape. Add new migrations at the end; never change one that has been released.

Facts are append-only: triggers refuse to change or delete a check-in, a signal's events or an audit line.
The one exception is erasure of a person, which names the person in `erasing` inside its own transaction.
"""

from sqlite_utils import Database, Migrations

from plytide.storage import facts

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


@clinic_migrations()
def m010_the_rule_of_a_signal(db: Database) -> None:
    # Of the fixed safety rules, where one fired; rows from before name none and are taken up by their evidence.
    db.conn.execute("ALTER TABLE signal ADD COLUMN rule TEXT")


@clinic_migrations()
def m011_whom_to_call_and_who_agreed(db: Database) -> None:
    for statement in (
        "ALTER TABLE person ADD COLUMN heart_team_phone TEXT",
        "ALTER TABLE person ADD COLUMN kidney_team_phone TEXT",
        # The clinic's physician agreed to the safety rules, which are kept as they were: an update may change them.
        """CREATE TABLE rules_agreement (
            n INTEGER PRIMARY KEY AUTOINCREMENT, physician TEXT NOT NULL, version INTEGER NOT NULL,
            sha256 TEXT NOT NULL, rules TEXT NOT NULL CHECK (json_valid(rules)), by_staff TEXT NOT NULL,
            agreed_at TEXT NOT NULL) STRICT""",
        *append_only("rules_agreement"),
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m012_baseline_not_entered(db: Database) -> None:
    # An empty stack at fitting meant "no sock" and "not entered" alike. What was kept so stays so, and is marked.
    db.conn.execute(
        "ALTER TABLE socket ADD COLUMN baseline_unsure INTEGER NOT NULL DEFAULT 0 CHECK (baseline_unsure IN (0, 1))"
    )
    db.conn.execute("UPDATE socket SET baseline_unsure = 1 WHERE stack_at_fitting = '[]'")


@clinic_migrations()
def m013_generic_names(db: Database) -> None:
    # Two codes were makers' words. Frozen as they were that day: later renames get a migration of their own.
    for statement in (
        "UPDATE socket SET suspension = 'sealing_liner' WHERE suspension = 'seal_in'",
        "UPDATE socket SET material = 'composite' WHERE material = 'basalt'",
        "UPDATE suspension SET suspension = 'sealing_liner' WHERE suspension = 'seal_in'",
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m014_what_stood_against_a_socket(db: Database) -> None:
    for statement in (
        # A deep, drawn-in scar: 1 there, 0 none, NULL not entered.
        "ALTER TABLE limb ADD COLUMN deep_scar INTEGER CHECK (deep_scar IN (0, 1))",
        # What stood against a socket when it was entered or changed, and why staff went on.
        """CREATE TABLE socket_despite (
            n INTEGER PRIMARY KEY AUTOINCREMENT, socket_id TEXT NOT NULL REFERENCES socket(id),
            stood_against TEXT NOT NULL CHECK (json_valid(stood_against)), reason TEXT NOT NULL,
            by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX socket_despite_socket ON socket_despite (socket_id)",
        *append_only(
            "socket_despite",
            erasable="(SELECT person_id FROM limb JOIN socket ON socket.limb_id = limb.id"
            " WHERE socket.id = OLD.socket_id)",
        ),
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m015_any_language(db: Database) -> None:
    # Which languages there are is known by the phone's word files, and by no constraint.
    columns = "device_id, subscription, at, zone, quiet_from, quiet_to, paused_until, next_at, language"
    for statement in (
        """CREATE TABLE push_any_language (
            device_id TEXT PRIMARY KEY REFERENCES device(id), subscription TEXT NOT NULL
            CHECK (json_valid(subscription)), at TEXT NOT NULL CHECK (json_valid(at)), zone TEXT NOT NULL,
            quiet_from TEXT, quiet_to TEXT, paused_until TEXT, next_at TEXT, language TEXT NOT NULL DEFAULT 'en') STRICT""",
        f"INSERT INTO push_any_language ({columns}) SELECT {columns} FROM push",
        "DROP TABLE push",
        "ALTER TABLE push_any_language RENAME TO push",
        "CREATE INDEX push_next ON push (next_at) WHERE next_at IS NOT NULL",
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m016_assessments_whole(db: Database) -> None:
    # The whole assessment, chart and all, for the pages of one limb; by which engine, since an update may say
    # otherwise.
    db.conn.execute(
        """CREATE TABLE assessment_whole (
            limb_id TEXT PRIMARY KEY REFERENCES limb(id), assessed_on TEXT NOT NULL, engine TEXT NOT NULL,
            body TEXT NOT NULL) STRICT"""
    )


@clinic_migrations()
def m017_signal_sentences(db: Database) -> None:
    # What a signal's because is made of, code and values, so that it can be said again in another language. Null: kept
    # before there were codes, and only its English is known.
    db.conn.execute("ALTER TABLE signal ADD COLUMN sentences TEXT CHECK (sentences IS NULL OR json_valid(sentences))")


@clinic_migrations()
def m018_dangers_of_unkept_entries(db: Database) -> None:
    # What an entry that could not be kept said of danger: it stands until the entry is kept or says something else.
    for statement in (
        """CREATE TABLE unkept (
            n INTEGER PRIMARY KEY AUTOINCREMENT, entry_id TEXT NOT NULL, limb_id TEXT NOT NULL REFERENCES limb(id),
            device_id TEXT NOT NULL REFERENCES device(id), body TEXT NOT NULL CHECK (json_valid(body)),
            faults TEXT NOT NULL CHECK (json_valid(faults)), received_at TEXT NOT NULL, ended_at TEXT) STRICT""",
        "CREATE INDEX unkept_limb ON unkept (limb_id)",
        "CREATE INDEX unkept_entry ON unkept (entry_id) WHERE ended_at IS NULL",
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m019_calls_visits_and_messages(db: Database) -> None:
    for statement in (
        # Whom to call, and what the clinic's own papers call a person.
        "ALTER TABLE person ADD COLUMN telephones TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(telephones))",
        "ALTER TABLE person ADD COLUMN ask_for TEXT",
        "ALTER TABLE person ADD COLUMN language TEXT",
        "ALTER TABLE person ADD COLUMN record_number TEXT",
        "ALTER TABLE person ADD COLUMN referrer TEXT",
        "ALTER TABLE person ADD COLUMN physician TEXT",
        "ALTER TABLE person ADD COLUMN physician_phone TEXT",
        "CREATE INDEX person_record_number ON person (record_number) WHERE record_number IS NOT NULL",
        # A call that was tried, with what came of it.
        """CREATE TABLE contact (
            id TEXT PRIMARY KEY, person_id TEXT NOT NULL REFERENCES person(id), limb_id TEXT REFERENCES limb(id),
            signal_id TEXT, result TEXT NOT NULL, number TEXT, said TEXT, agreed TEXT, next_on TEXT,
            by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX contact_person ON contact (person_id, created_at)",
        *append_only("contact", erasable="OLD.person_id"),
        # How long, in which chair, by whom, what came of it; how often it was changed, for calendars elsewhere.
        "ALTER TABLE visit ADD COLUMN minutes INTEGER CHECK (minutes > 0)",
        "ALTER TABLE visit ADD COLUMN chair TEXT",
        "ALTER TABLE visit ADD COLUMN staff_id TEXT",
        "ALTER TABLE visit ADD COLUMN limb_id TEXT",
        "ALTER TABLE visit ADD COLUMN signal_id TEXT",
        "ALTER TABLE visit ADD COLUMN outcome TEXT CHECK (outcome IN ('done', 'missed'))",
        "ALTER TABLE visit ADD COLUMN sequence INTEGER NOT NULL DEFAULT 0",
        "ALTER TABLE visit ADD COLUMN changed_at TEXT",
        "CREATE INDEX visit_day ON visit (visit_on)",
        """CREATE TABLE visit_change (
            n INTEGER PRIMARY KEY AUTOINCREMENT, visit_id TEXT NOT NULL REFERENCES visit(id),
            before TEXT NOT NULL CHECK (json_valid(before)), after TEXT NOT NULL CHECK (json_valid(after)),
            by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX visit_change_visit ON visit_change (visit_id)",
        *append_only("visit_change", erasable="(SELECT person_id FROM visit WHERE visit.id = OLD.visit_id)"),
        # Addresses at which a calendar elsewhere reads the visits; the secret itself is in the registry, as a hash.
        """CREATE TABLE calendar_feed (
            id TEXT PRIMARY KEY, label TEXT NOT NULL, shows TEXT NOT NULL CHECK (shows IN ('times', 'initials', 'names')),
            by_staff TEXT NOT NULL, created_at TEXT NOT NULL, revoked_at TEXT, revoked_by TEXT, read_at TEXT) STRICT""",
        # Warranty or life of a part, by the date the clinic entered.
        """CREATE TABLE part (
            id TEXT PRIMARY KEY, limb_id TEXT NOT NULL REFERENCES limb(id), what TEXT NOT NULL, ends_on TEXT NOT NULL,
            by_staff TEXT NOT NULL, created_at TEXT NOT NULL, taken_out_at TEXT) STRICT""",
        "CREATE INDEX part_limb ON part (limb_id)",
        # What the clinic writes to a person's phones, and what became of it: both are only added to.
        """CREATE TABLE message (
            id TEXT PRIMARY KEY, person_id TEXT NOT NULL REFERENCES person(id), limb_id TEXT REFERENCES limb(id),
            kind TEXT NOT NULL, text TEXT, choices TEXT NOT NULL CHECK (json_valid(choices)), for_role TEXT,
            by_staff TEXT NOT NULL, created_at TEXT NOT NULL, brought_by TEXT) STRICT""",
        "CREATE INDEX message_person ON message (person_id, created_at)",
        *append_only("message", erasable="OLD.person_id"),
        """CREATE TABLE message_event (
            n INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, message_id TEXT NOT NULL REFERENCES message(id),
            event TEXT NOT NULL, body TEXT NOT NULL CHECK (json_valid(body)), device_id TEXT, by_staff TEXT,
            said_at TEXT, at TEXT NOT NULL) STRICT""",
        "CREATE INDEX message_event_message ON message_event (message_id, n)",
        *append_only("message_event", erasable="(SELECT person_id FROM message WHERE message.id = OLD.message_id)"),
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m020_what_fails_is_set_aside(db: Database) -> None:
    # What could not be worked on waits here for its next try, and holds up nothing else. No health data in `why`.
    db.conn.execute(
        """CREATE TABLE set_aside (
            what TEXT NOT NULL CHECK (what IN ('mail', 'reminder', 'limb')), subject TEXT NOT NULL,
            tries INTEGER NOT NULL, since TEXT NOT NULL, tried_at TEXT NOT NULL, again_at TEXT NOT NULL,
            why TEXT NOT NULL, PRIMARY KEY (what, subject)) STRICT, WITHOUT ROWID"""
    )


@clinic_migrations()
def m021_what_was_kept_is_proved(db: Database) -> None:
    for statement in (
        *facts.TABLES,
        # Where the chain of proofs stood; lines from before it keep the empty word, and with it the seal they had.
        "ALTER TABLE audit ADD COLUMN facts TEXT NOT NULL DEFAULT ''",
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m022_who_wrote_is_proved(db: Database) -> None:
    # With it the server proves to itself, after a restore, whose check-in a phone offers again. It goes with backups.
    db.conn.execute("ALTER TABLE clinic ADD COLUMN authorship BLOB")
    db.conn.execute("UPDATE clinic SET authorship = randomblob(32)")


@clinic_migrations()
def m023_what_was_written_for_oneself(db: Database) -> None:
    # Between which check-ins somebody wrote for themselves: what came then stays from caregivers' phones, also later.
    for statement in (
        """CREATE TABLE own_log_span (
            n INTEGER PRIMARY KEY, person_id TEXT NOT NULL REFERENCES person(id), from_seq INTEGER NOT NULL,
            to_seq INTEGER) STRICT""",
        "CREATE INDEX own_log_span_person ON own_log_span (person_id)",
        "INSERT INTO own_log_span (person_id, from_seq) SELECT id, 0 FROM person WHERE own_log",  # since when is not known
        """CREATE TRIGGER own_log_from_the_start AFTER INSERT ON person WHEN NEW.own_log
            BEGIN INSERT INTO own_log_span (person_id, from_seq) VALUES (NEW.id, 0); END""",
        """CREATE TRIGGER own_log_on AFTER UPDATE OF own_log ON person WHEN NEW.own_log AND NOT OLD.own_log
            BEGIN INSERT INTO own_log_span (person_id, from_seq) SELECT NEW.id, seq + 1 FROM clinic; END""",
        """CREATE TRIGGER own_log_off AFTER UPDATE OF own_log ON person WHEN OLD.own_log AND NOT NEW.own_log
            BEGIN UPDATE own_log_span SET to_seq = (SELECT seq FROM clinic)
                  WHERE person_id = NEW.id AND to_seq IS NULL; END""",
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m024_letters(db: Database) -> None:
    for statement in (
        # The clinic's own words for each kind of letter, the newest counts; without text, ours count again.
        """CREATE TABLE letter_template (
            n INTEGER PRIMARY KEY AUTOINCREMENT, kind TEXT NOT NULL, text TEXT, by_staff TEXT NOT NULL,
            created_at TEXT NOT NULL) STRICT""",
        *append_only("letter_template"),
        # A letter as it was sent: every word on the paper is in its content, so that no later change reaches it.
        """CREATE TABLE letter (
            id TEXT PRIMARY KEY, person_id TEXT NOT NULL REFERENCES person(id), limb_id TEXT NOT NULL REFERENCES limb(id),
            kind TEXT NOT NULL, content TEXT NOT NULL CHECK (json_valid(content)), replaces TEXT,
            by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX letter_person ON letter (person_id, created_at)",
        *append_only("letter", erasable="OLD.person_id"),
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m025_caseload(db: Database) -> None:
    for statement in (
        # A file of people the clinic brings: how its columns are read, how far it is, which rows stayed out.
        """CREATE TABLE caseload (
            id TEXT PRIMARY KEY, name TEXT NOT NULL, kind TEXT NOT NULL CHECK (kind IN ('csv', 'fhir')),
            size INTEGER NOT NULL, sha256 TEXT, choices TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(choices)),
            rows INTEGER, done_to INTEGER NOT NULL DEFAULT 0, faults TEXT NOT NULL DEFAULT '[]'
            CHECK (json_valid(faults)), by_staff TEXT NOT NULL, created_at TEXT NOT NULL, brought_at TEXT,
            undone_at TEXT) STRICT""",
        # The file itself, in the parts it came in; gone once it is brought, so that an erasure finds nobody in it.
        """CREATE TABLE caseload_part (
            caseload_id TEXT NOT NULL REFERENCES caseload(id), n INTEGER NOT NULL, body BLOB NOT NULL,
            PRIMARY KEY (caseload_id, n)) STRICT""",
        # What a row made: for the undo. `seq` as it was made: another one says that it was changed since.
        """CREATE TABLE caseload_made (
            n INTEGER PRIMARY KEY AUTOINCREMENT, caseload_id TEXT NOT NULL REFERENCES caseload(id),
            row_n INTEGER NOT NULL, kind TEXT NOT NULL, record_id TEXT NOT NULL,
            person_id TEXT NOT NULL REFERENCES person(id), seq INTEGER, source TEXT) STRICT""",
        "CREATE INDEX caseload_made_person ON caseload_made (person_id)",
        "CREATE INDEX caseload_made_caseload ON caseload_made (caseload_id, kind, n)",
        # How the clinic read a column of this heading last time.
        "CREATE TABLE caseload_column (heading TEXT PRIMARY KEY, match TEXT NOT NULL CHECK (json_valid(match))) STRICT",
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m026_stock(db: Database) -> None:
    for statement in (
        # What the clinic keeps, in its own words. Counted in pieces: a pair is two.
        """CREATE TABLE stock_item (
            id TEXT PRIMARY KEY, kind TEXT NOT NULL, name TEXT NOT NULL, size TEXT, maker TEXT, ply INTEGER,
            from_mm REAL, to_mm REAL, counted_in TEXT NOT NULL CHECK (counted_in IN ('unit', 'pair')),
            least INTEGER NOT NULL DEFAULT 0 CHECK (least >= 0), by_staff TEXT NOT NULL, created_at TEXT NOT NULL,
            closed_at TEXT) STRICT""",
        # A file of the clinic's own stock; its rows are movements that name it.
        """CREATE TABLE stock_import (
            id TEXT PRIMARY KEY, name TEXT NOT NULL, how TEXT NOT NULL CHECK (how IN ('add', 'count')),
            sha256 TEXT NOT NULL, rows INTEGER NOT NULL, faults TEXT NOT NULL CHECK (json_valid(faults)),
            by_staff TEXT NOT NULL, created_at TEXT NOT NULL, undone_at TEXT) STRICT""",
        # What is on hand is the sum of `hand`, what is under way the sum of `on_order`. For whom a piece was taken
        # stands in stock_use: an erasure takes that, and the count stays right.
        """CREATE TABLE stock_movement (
            n INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, item_id TEXT NOT NULL REFERENCES stock_item(id),
            deed TEXT NOT NULL, hand INTEGER NOT NULL, on_order INTEGER NOT NULL, lot TEXT NOT NULL, expires_on TEXT,
            reason TEXT, import_id TEXT, by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX stock_movement_item ON stock_movement (item_id, lot)",
        "CREATE INDEX stock_movement_import ON stock_movement (import_id) WHERE import_id IS NOT NULL",
        *append_only("stock_movement"),
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m027_making(db: Database) -> None:
    of_making = "(SELECT person_id FROM limb JOIN making ON making.limb_id = limb.id WHERE making.id = OLD.making_id)"
    for statement in (
        # A socket being made, with the list of steps as it was that day; what was ticked, stopped, finished and put
        # right is only added to.
        """CREATE TABLE making (
            id TEXT PRIMARY KEY, limb_id TEXT NOT NULL REFERENCES limb(id), made TEXT NOT NULL, begun_on TEXT NOT NULL,
            list TEXT NOT NULL CHECK (json_valid(list)), by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX making_limb ON making (limb_id)",
        *append_only("making", erasable="(SELECT person_id FROM limb WHERE limb.id = OLD.limb_id)"),
        """CREATE TABLE making_event (
            n INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, making_id TEXT NOT NULL REFERENCES making(id),
            what TEXT NOT NULL, step TEXT, body TEXT NOT NULL CHECK (json_valid(body)), by_staff TEXT NOT NULL,
            created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX making_event_making ON making_event (making_id, n)",
        *append_only("making_event", erasable=of_making),
        # The clinic's own steps for each kind of socket, the newest counts; without any, ours count again.
        """CREATE TABLE making_list (
            n INTEGER PRIMARY KEY AUTOINCREMENT, made TEXT NOT NULL, list TEXT CHECK (list IS NULL OR json_valid(list)),
            by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        *append_only("making_list"),
        # For whom pieces were taken from stock: from which lots, and whether they went back.
        """CREATE TABLE stock_use (
            id TEXT PRIMARY KEY, making_id TEXT NOT NULL REFERENCES making(id), item_id TEXT NOT NULL, pieces INTEGER NOT NULL,
            lots TEXT NOT NULL CHECK (json_valid(lots)), despite TEXT, by_staff TEXT NOT NULL, created_at TEXT NOT NULL,
            given_back_at TEXT) STRICT""",
        "CREATE INDEX stock_use_making ON stock_use (making_id)",
        # What a socket is made of, as the clinic writes it; its dates stand among the limb's parts, too.
        """CREATE TABLE component (
            id TEXT PRIMARY KEY, socket_id TEXT NOT NULL REFERENCES socket(id), what TEXT NOT NULL, maker TEXT, serial TEXT,
            weight_limit_kg REAL, warranty_until TEXT, life_until TEXT, fitted_on TEXT NOT NULL, retired_on TEXT,
            retired_why TEXT, by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX component_socket ON component (socket_id)",
        "ALTER TABLE part ADD COLUMN component_id TEXT",
        "ALTER TABLE socket ADD COLUMN liner_size TEXT",
        "ALTER TABLE socket ADD COLUMN liner_profile TEXT",
        "ALTER TABLE socket ADD COLUMN lock_or_valve TEXT",
        "ALTER TABLE socket ADD COLUMN retired_why TEXT",
        # What a suspension took the place of, and the liner worn with it from then on.
        "ALTER TABLE suspension ADD COLUMN was TEXT",
        "ALTER TABLE suspension ADD COLUMN liner TEXT",
        "ALTER TABLE pad ADD COLUMN length_mm REAL CHECK (length_mm > 0)",
        "ALTER TABLE pad ADD COLUMN width_mm REAL CHECK (width_mm > 0)",
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m028_what_was_known_when(db: Database) -> None:
    # By what a phone gave its advice: facts of a person, and the clinic's numbers and hours, as they were until an
    # instant. What was said on a day is read by what held on it. Of the time before this nothing else is known.
    for statement in (
        """CREATE TABLE profile_before (
            n INTEGER PRIMARY KEY AUTOINCREMENT, person_id TEXT NOT NULL REFERENCES person(id),
            tags TEXT NOT NULL CHECK (json_valid(tags)), born_on TEXT, until TEXT NOT NULL) STRICT""",
        "CREATE INDEX profile_before_person ON profile_before (person_id, n)",
        *append_only("profile_before", erasable="OLD.person_id"),
        """CREATE TABLE settings_before (
            n INTEGER PRIMARY KEY AUTOINCREMENT, settings TEXT NOT NULL CHECK (json_valid(settings)),
            until TEXT NOT NULL) STRICT""",
        *append_only("settings_before"),
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m029_limb_and_socket_as_they_were(db: Database) -> None:
    # What a reading takes from a limb and its sockets, as it stood until an instant: a replay knows what was known.
    of_limb = "(SELECT person_id FROM limb WHERE limb.id = OLD.limb_id)"
    of_socket = "(SELECT person_id FROM limb JOIN socket ON socket.limb_id = limb.id WHERE socket.id = OLD.socket_id)"
    for statement in (
        """CREATE TABLE limb_before (
            n INTEGER PRIMARY KEY AUTOINCREMENT, limb_id TEXT NOT NULL REFERENCES limb(id), side TEXT NOT NULL,
            level TEXT NOT NULL, amputated_on TEXT, shape TEXT, reference_circumference_mm REAL, deep_scar INTEGER,
            until TEXT NOT NULL) STRICT""",
        "CREATE INDEX limb_before_limb ON limb_before (limb_id, n)",
        *append_only("limb_before", erasable=of_limb),
        """CREATE TABLE socket_before (
            n INTEGER PRIMARY KEY AUTOINCREMENT, socket_id TEXT NOT NULL REFERENCES socket(id), fitted_on TEXT NOT NULL,
            retired_on TEXT, retired_why TEXT, purpose TEXT NOT NULL, made TEXT, material TEXT, suspension TEXT,
            liner_mm REAL, weight_limit_kg REAL, stack_at_fitting TEXT, baseline_unsure INTEGER NOT NULL, until TEXT NOT NULL) STRICT""",
        "CREATE INDEX socket_before_socket ON socket_before (socket_id, n)",
        *append_only("socket_before", erasable=of_socket),
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m030_what_was_said_is_kept(db: Database) -> None:
    # What was told of a limb, some days apart: held against what its log showed later. Of before nothing is kept.
    for statement in (
        """CREATE TABLE said (
            n INTEGER PRIMARY KEY AUTOINCREMENT, limb_id TEXT NOT NULL REFERENCES limb(id), said_on TEXT NOT NULL,
            state TEXT NOT NULL, margin_mm REAL NOT NULL, change_low REAL, change_high REAL, coming_low REAL,
            coming_high REAL) STRICT""",
        "CREATE INDEX said_limb ON said (limb_id, n)",
        *append_only("said", erasable="(SELECT person_id FROM limb WHERE limb.id = OLD.limb_id)"),
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m031_pocket_plan(db: Database) -> None:
    # What the prosthetist writes for a wearer's phone: each version whole, the newest counts; one without words takes
    # the plan back. `for_role` is null where who writes alone decides.
    of_limb = "(SELECT person_id FROM limb WHERE limb.id = OLD.limb_id)"
    for statement in (
        """CREATE TABLE pocket (
            n INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, limb_id TEXT NOT NULL REFERENCES limb(id),
            loose TEXT, tight TEXT, wear TEXT, care TEXT, bring TEXT, for_role TEXT, by_staff TEXT NOT NULL,
            created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX pocket_limb ON pocket (limb_id, n)",
        *append_only("pocket", erasable=of_limb),
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m032_healing(db: Database) -> None:
    # What the clinic wrote of a place of skin: its size, that it healed, that it was opened again, that a record was a
    # mistake (`of`). What was found there stands in the check-ins.
    of_limb = "(SELECT person_id FROM limb WHERE limb.id = OLD.limb_id)"
    for statement in (
        """CREATE TABLE healing (
            n INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, limb_id TEXT NOT NULL REFERENCES limb(id),
            place TEXT NOT NULL, what TEXT NOT NULL CHECK (what IN ('size', 'healed', 'open', 'void')), done_on TEXT NOT NULL,
            length_mm REAL CHECK (length_mm > 0), width_mm REAL CHECK (width_mm > 0), note TEXT, of TEXT,
            by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX healing_limb ON healing (limb_id, n)",
        *append_only("healing", erasable=of_limb),
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m033_when_a_log_was_read(db: Database) -> None:
    # The instant by which a limb's log was read: what came since is not in its assessment yet, and the list says so.
    db.conn.execute("ALTER TABLE assessment ADD COLUMN assessed_at TEXT")


@clinic_migrations()
def m034_why_in_sentences(db: Database) -> None:
    # What the reason of a row is made of, code and values, as `signal.sentences`. Null: kept before, English only.
    db.conn.execute(
        "ALTER TABLE assessment ADD COLUMN why_sentences TEXT CHECK (why_sentences IS NULL OR json_valid(why_sentences))"
    )


@clinic_migrations()
def m035_outcome_measures(db: Database) -> None:
    # How a person does with the limb, measured at the clinic; a mistake is a row of kind `void` that names it (`of`).
    for statement in (
        """CREATE TABLE outcome_measure (
            n INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, limb_id TEXT NOT NULL REFERENCES limb(id),
            kind TEXT NOT NULL, measured_on TEXT NOT NULL, value REAL, distance_m REAL CHECK (distance_m > 0), device TEXT,
            note TEXT, of TEXT, by_staff TEXT NOT NULL, created_at TEXT NOT NULL) STRICT""",
        "CREATE INDEX outcome_measure_limb ON outcome_measure (limb_id, measured_on)",
        *append_only("outcome_measure", erasable="(SELECT person_id FROM limb WHERE limb.id = OLD.limb_id)"),
    ):
        db.conn.execute(statement)


@clinic_migrations()
def m036_half_socks(db: Database) -> None:
    # A pad that is a half sock: how much of the limb it covers.
    db.conn.execute("ALTER TABLE pad ADD COLUMN half_sock_pct REAL CHECK (half_sock_pct BETWEEN 10 AND 90)")
