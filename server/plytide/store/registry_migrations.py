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
