"""The registry: which clinic a sign-in name, a session, a code or a phone's token belongs to.

Holds only hashes of secrets, and no health data.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from sqlite_utils import Database

from plytide.store.ids import code_digest, digest, new_id, new_secret
from plytide.store.registry_migrations import registry_migrations
from plytide.store.sqlite import IntegrityError, connect, prepare, write

FREE_TRIES = 5
LONGEST_WAIT = timedelta(minutes=15)


@dataclass(frozen=True, slots=True)
class Session:
    clinic_id: str
    staff_id: str
    csrf: str


def _public(token_hash: bytes) -> str:
    """What a session is called in a list: tells two apart, and leads back to neither secret nor hash."""
    return hashlib.sha256(b"session" + token_hash).hexdigest()[:16]


def session_name(token: str) -> str:
    return _public(digest(token))


class LoginTaken(Exception):
    """registry: this sign-in name is already somebody's."""


def registry_path(data_dir: Path) -> Path:
    return data_dir / "registry.db"


def prepare_registry(data_dir: Path) -> None:
    prepare(registry_path(data_dir), registry_migrations)


class Registry:
    """The registry over one connection: its own, or one that is lent."""

    def __init__(self, data_dir: Path, db: Database | None = None) -> None:
        self.db: Database = db or connect(registry_path(data_dir))

    def close(self) -> None:
        self.db.close()

    # Clinics

    def add_clinic(self, clinic_id: str, name: str, file: str, now: datetime) -> None:
        with write(self.db) as db:
            db.conn.execute(
                "INSERT INTO clinic VALUES (?, ?, ?, ?)", (clinic_id, name, file, now.isoformat())
            )

    def clinic_files(self) -> list[tuple[str, str]]:
        """(clinic id, file name) of every clinic. Reads only."""
        return list(self.db.conn.execute("SELECT id, file FROM clinic ORDER BY created_at, id"))

    def clinic_file(self, clinic_id: str) -> str | None:
        row = self.db.conn.execute("SELECT file FROM clinic WHERE id = ?", (clinic_id,)).fetchone()
        return row[0] if row else None

    # Staff

    def add_login(self, login: str, clinic_id: str, staff_id: str) -> None:
        try:
            with write(self.db) as db:
                db.conn.execute("INSERT INTO login VALUES (?, ?, ?)", (login, clinic_id, staff_id))
        except IntegrityError as error:
            raise LoginTaken(login) from error

    def whose_login(self, login: str) -> tuple[str, str] | None:
        """(clinic id, staff id), or None. Reads only."""
        row = self.db.conn.execute(
            "SELECT clinic_id, staff_id FROM login WHERE login = ?", (login,)
        ).fetchone()
        return (row[0], row[1]) if row else None

    # Sessions

    def open_session(
        self, clinic_id: str, staff_id: str, agent: str, now: datetime, lasts: timedelta
    ) -> tuple[str, Session]:
        """A new session: (the secret for the cookie, the session)."""
        token, session = new_secret(), Session(clinic_id, staff_id, new_secret())
        with write(self.db) as db:
            db.conn.execute("DELETE FROM session WHERE expires_at < ?", (now.isoformat(),))
            db.conn.execute(
                "INSERT INTO session VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                (digest(token), clinic_id, staff_id, session.csrf, agent[:200], now.isoformat(), now.isoformat(),
                 (now + lasts).isoformat()),
            )  # fmt: skip
        return token, session

    def session(self, token: str, now: datetime, idle: timedelta) -> Session | None:
        """The live session of a cookie; touches it at most once a minute."""
        row = self.db.conn.execute(
            "SELECT clinic_id, staff_id, csrf, seen_at FROM session WHERE token_hash = ? AND expires_at > ?",
            (digest(token), now.isoformat()),
        ).fetchone()
        if row is None or now - datetime.fromisoformat(row[3]) > idle:
            return None
        if now - datetime.fromisoformat(row[3]) > timedelta(minutes=1):
            with write(self.db) as db:
                db.conn.execute(
                    "UPDATE session SET seen_at = ? WHERE token_hash = ?", (now.isoformat(), digest(token))
                )
        return Session(row[0], row[1], row[2])

    def sessions(self, clinic_id: str, staff_id: str, now: datetime, idle: timedelta) -> list[dict[str, str]]:
        """The live sessions of a member of staff, newest first, by a name that opens nothing. Reads only."""
        rows = self.db.conn.execute(
            "SELECT token_hash, agent, created_at, seen_at, expires_at FROM session WHERE clinic_id = ? AND staff_id = ?"
            " AND expires_at > ? AND seen_at > ? ORDER BY created_at DESC",
            (clinic_id, staff_id, now.isoformat(), (now - idle).isoformat()),
        )
        return [
            {"id": _public(row[0]), "agent": row[1], "created_at": row[2], "seen_at": row[3], "expires_at": row[4]}
            for row in rows
        ]

    def end_sessions(self, clinic_id: str, staff_id: str, *, only: str | None = None, keep: str | None = None) -> int:
        """End the sessions of a member of staff: the one named `only`, or all but the one of the secret `keep`."""
        with write(self.db) as db:
            rows = db.conn.execute(
                "SELECT token_hash FROM session WHERE clinic_id = ? AND staff_id = ?", (clinic_id, staff_id)
            ).fetchall()
            ended = [
                row
                for row in rows
                if (only is None or _public(row[0]) == only) and (keep is None or row[0] != digest(keep))
            ]
            db.conn.executemany("DELETE FROM session WHERE token_hash = ?", ended)
        return len(ended)

    def end_session(self, token: str) -> None:
        with write(self.db) as db:
            db.conn.execute("DELETE FROM session WHERE token_hash = ?", (digest(token),))

    def end_all_ways_in(self) -> None:
        """After a restore: a copy may hold sessions that were signed out since, and links and codes that were used."""
        with write(self.db) as db:
            db.conn.execute("UPDATE enrolment SET expires_at = '' WHERE used_at IS NULL")
            for table in ("session", "challenge", "password_code", "password_mail"):
                db.conn.execute(f"DELETE FROM {table}")

    # Enrolment and phones

    def add_code(self, code: str, clinic_id: str, enrolment_id: str, expires_at: datetime) -> None:
        with write(self.db) as db:
            db.conn.execute(
                "INSERT INTO enrolment VALUES (?, ?, ?, ?, NULL)",
                (code_digest(code), clinic_id, enrolment_id, expires_at.isoformat()),
            )

    def drop_codes(self, clinic_id: str, enrolment_ids: list[str]) -> None:
        with write(self.db) as db:
            db.conn.executemany(
                "DELETE FROM enrolment WHERE clinic_id = ? AND enrolment_id = ?",
                [(clinic_id, enrolment_id) for enrolment_id in enrolment_ids],
            )

    def use_code(self, code: str, now: datetime) -> tuple[str, str, str, str] | str:
        """Claim a code: (token, device id, clinic id, enrolment id), or why not: "unknown", "used", "expired"."""
        hashed = code_digest(code)
        with write(self.db) as db:
            row = db.conn.execute(
                "SELECT clinic_id, enrolment_id, expires_at, used_at FROM enrolment WHERE code_hash = ?",
                (hashed,),
            ).fetchone()
            if row is None:
                return "unknown"
            if row[3] is not None:
                return "used"
            if row[2] <= now.isoformat():
                return "expired"
            token, device_id = new_secret(), new_id()
            db.conn.execute("UPDATE enrolment SET used_at = ? WHERE code_hash = ?", (now.isoformat(), hashed))
            db.conn.execute("INSERT INTO token VALUES (?, ?, ?)", (digest(token), row[0], device_id))
        return token, device_id, row[0], row[1]

    def whose_token(self, token: str) -> tuple[str, str] | None:
        """(clinic id, device id) of a phone's token, or None. Reads only."""
        row = self.db.conn.execute(
            "SELECT clinic_id, device_id FROM token WHERE token_hash = ?", (digest(token),)
        ).fetchone()
        return (row[0], row[1]) if row else None

    def drop_tokens(self, clinic_id: str, device_id: str) -> None:
        with write(self.db) as db:
            db.conn.execute("DELETE FROM token WHERE clinic_id = ? AND device_id = ?", (clinic_id, device_id))

    # Guessing: after a few free tries each failure doubles the wait. Kept here so that all workers share it.

    def wait_seconds(self, what: str, who: str, now: datetime) -> int:
        """Seconds until `who` may try `what` again; 0 when free. Reads only."""
        row = self.db.conn.execute(
            "SELECT until FROM attempt WHERE what = ? AND who = ?", (what, who)
        ).fetchone()
        if row is None:
            return 0
        return max(0, int((datetime.fromisoformat(row[0]) - now).total_seconds() + 0.999))

    def failed(self, what: str, who: str, now: datetime, free: int = FREE_TRIES) -> None:
        with write(self.db) as db:
            db.conn.execute(
                "DELETE FROM attempt WHERE seen_at < ?", ((now - timedelta(hours=24)).isoformat(),)
            )
            row = db.conn.execute(
                "SELECT failures FROM attempt WHERE what = ? AND who = ?", (what, who)
            ).fetchone()
            failures = (row[0] if row else 0) + 1
            wait = timedelta(0)
            if failures >= free:
                wait = min(LONGEST_WAIT, timedelta(seconds=2 ** min(failures - free, 20)))
            db.conn.execute(
                "INSERT INTO attempt VALUES (?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET"
                " failures = excluded.failures, until = excluded.until, seen_at = excluded.seen_at",
                (what, who, failures, (now + wait).isoformat(), now.isoformat()),
            )

    def succeeded(self, what: str, who: str) -> None:
        if self.db.conn.execute("SELECT 1 FROM attempt WHERE what = ? AND who = ?", (what, who)).fetchone():
            with write(self.db) as db:
                db.conn.execute("DELETE FROM attempt WHERE what = ? AND who = ?", (what, who))
