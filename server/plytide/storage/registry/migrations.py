"""The registry's shape: which clinics there are, and whose sign-in name, code or token belongs to which."""

from sqlite_utils import Database, Migrations

registry_migrations = Migrations("plytide-registry")


@registry_migrations()
def m001_registry(db: Database) -> None:
    for statement in (
        """CREATE TABLE clinic (
            id TEXT PRIMARY KEY, name TEXT NOT NULL, file TEXT NOT NULL UNIQUE, created_at TEXT NOT NULL) STRICT""",
        """CREATE TABLE login (
            login TEXT PRIMARY KEY COLLATE NOCASE, clinic_id TEXT NOT NULL REFERENCES clinic(id),
            staff_id TEXT NOT NULL) STRICT""",
        """CREATE TABLE session (
            token_hash BLOB PRIMARY KEY, clinic_id TEXT NOT NULL REFERENCES clinic(id), staff_id TEXT NOT NULL,
            csrf TEXT NOT NULL, agent TEXT, created_at TEXT NOT NULL, seen_at TEXT NOT NULL,
            expires_at TEXT NOT NULL) STRICT, WITHOUT ROWID""",
        "CREATE INDEX session_staff ON session (clinic_id, staff_id)",
        """CREATE TABLE enrolment (
            code_hash BLOB PRIMARY KEY, clinic_id TEXT NOT NULL REFERENCES clinic(id), enrolment_id TEXT NOT NULL,
            expires_at TEXT NOT NULL, used_at TEXT) STRICT, WITHOUT ROWID""",
        """CREATE TABLE token (
            token_hash BLOB PRIMARY KEY, clinic_id TEXT NOT NULL REFERENCES clinic(id),
            device_id TEXT NOT NULL) STRICT, WITHOUT ROWID""",
        "CREATE INDEX token_device ON token (clinic_id, device_id)",
        """CREATE TABLE attempt (
            what TEXT NOT NULL, who TEXT NOT NULL, failures INTEGER NOT NULL, until TEXT NOT NULL,
            seen_at TEXT NOT NULL, PRIMARY KEY (what, who)) STRICT, WITHOUT ROWID""",
    ):
        db.conn.execute(statement)


@registry_migrations()
def m002_second_factor_and_witnesses(db: Database) -> None:
    for statement in (
        # The seed is sealed with the server's key file: a stolen copy of this database opens nothing.
        """CREATE TABLE totp (
            clinic_id TEXT NOT NULL REFERENCES clinic(id), staff_id TEXT NOT NULL, seed BLOB NOT NULL,
            confirmed_at TEXT, last_step INTEGER NOT NULL DEFAULT 0,
            PRIMARY KEY (clinic_id, staff_id)) STRICT, WITHOUT ROWID""",
        """CREATE TABLE recovery (
            code_hash BLOB PRIMARY KEY, clinic_id TEXT NOT NULL REFERENCES clinic(id), staff_id TEXT NOT NULL,
            used_at TEXT) STRICT, WITHOUT ROWID""",
        "CREATE INDEX recovery_staff ON recovery (clinic_id, staff_id)",
        """CREATE TABLE passkey (
            id TEXT PRIMARY KEY, credential_id BLOB NOT NULL UNIQUE, clinic_id TEXT NOT NULL REFERENCES clinic(id),
            staff_id TEXT NOT NULL, public_key BLOB NOT NULL, sign_count INTEGER NOT NULL, label TEXT NOT NULL,
            created_at TEXT NOT NULL, used_at TEXT) STRICT""",
        "CREATE INDEX passkey_staff ON passkey (clinic_id, staff_id)",
        """CREATE TABLE challenge (
            id_hash BLOB PRIMARY KEY, what TEXT NOT NULL, staff_id TEXT, value BLOB NOT NULL,
            expires_at TEXT NOT NULL) STRICT, WITHOUT ROWID""",
        # What another file has seen of each clinic's audit chain: lines cut off at its end are missed here.
        """CREATE TABLE witness (
            clinic_id TEXT NOT NULL REFERENCES clinic(id), n INTEGER NOT NULL, hash BLOB NOT NULL,
            at TEXT NOT NULL, PRIMARY KEY (clinic_id, n)) STRICT, WITHOUT ROWID""",
    ):
        db.conn.execute(statement)


@registry_migrations()
def m003_ways_to_a_new_password(db: Database) -> None:
    for statement in (
        # Whoever holds the secret may choose a new password, once.
        """CREATE TABLE password_code (
            code_hash BLOB PRIMARY KEY, clinic_id TEXT NOT NULL REFERENCES clinic(id), staff_id TEXT NOT NULL,
            expires_at TEXT NOT NULL) STRICT, WITHOUT ROWID""",
        "CREATE INDEX password_code_staff ON password_code (clinic_id, staff_id)",
        # Who still has a password that somebody else thought of.
        """CREATE TABLE first_password (
            clinic_id TEXT NOT NULL REFERENCES clinic(id), staff_id TEXT NOT NULL, expires_at TEXT NOT NULL,
            PRIMARY KEY (clinic_id, staff_id)) STRICT, WITHOUT ROWID""",
    ):
        db.conn.execute(statement)


@registry_migrations()
def m004_links_by_mail(db: Database) -> None:
    for statement in (
        # A name somebody typed, known here or not: whose it is, is looked up when the mail is sent, and the secret
        # is made only then.
        """CREATE TABLE password_mail (
            id TEXT PRIMARY KEY, login TEXT NOT NULL, device TEXT NOT NULL, asked_at TEXT NOT NULL,
            due_at TEXT NOT NULL, tries INTEGER NOT NULL DEFAULT 0) STRICT""",
        # Who was sent a link, and when: for the most in an hour.
        """CREATE TABLE password_mailed (
            clinic_id TEXT NOT NULL REFERENCES clinic(id), staff_id TEXT NOT NULL, at TEXT NOT NULL) STRICT""",
        "CREATE INDEX password_mailed_staff ON password_mailed (clinic_id, staff_id)",
    ):
        db.conn.execute(statement)


@registry_migrations()
def m005_calendars_elsewhere(db: Database) -> None:
    for statement in (
        # Whoever holds the secret reads the clinic's visits, until it is revoked or a copy is restored.
        """CREATE TABLE calendar_feed (
            secret_hash BLOB PRIMARY KEY, clinic_id TEXT NOT NULL REFERENCES clinic(id), feed_id TEXT NOT NULL)
            STRICT, WITHOUT ROWID""",
        "CREATE INDEX calendar_feed_clinic ON calendar_feed (clinic_id)",
    ):
        db.conn.execute(statement)


@registry_migrations()
def m006_phones_shut_out(db: Database) -> None:
    # Kept, not deleted: only so can a phone be told that it was shut out, and not that nobody knows it just now.
    db.conn.execute("ALTER TABLE token ADD COLUMN revoked_at TEXT")


@registry_migrations()
def m007_codes_are_claimed_then_used(db: Database) -> None:
    # The phone a code will be of, from the first try on: a server that dies in between leaves the code as good as it
    # was.
    db.conn.execute("ALTER TABLE enrolment ADD COLUMN device_id TEXT")


@registry_migrations()
def m008_a_code_works_again_for_its_own_phone(db: Database) -> None:
    # What the phone called its attempt, as a hash: an answer that was lost costs the wearer no new code.
    db.conn.execute("ALTER TABLE enrolment ADD COLUMN attempt_hash BLOB")
