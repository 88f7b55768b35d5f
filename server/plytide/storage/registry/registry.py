"""The registry: which clinic a sign-in name, a session, a code or a phone's token belongs to.

Holds only hashes of secrets, and no health data.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from sqlite_utils import Database

from plytide.storage.ids import code_digest, digest, new_id, new_secret
from plytide.storage.registry.migrations import registry_migrations
from plytide.storage.sqlite import IntegrityError, connect, prepare, write

FREE_TRIES = 5
LONGEST_WAIT = timedelta(minutes=15)
CLOCK_SET_BACK = timedelta(days=1)  # at most, for a session to go on; judgement


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
            db.conn.execute("INSERT INTO clinic VALUES (?, ?, ?, ?)", (clinic_id, name, file, now.isoformat()))

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
        row = self.db.conn.execute("SELECT clinic_id, staff_id FROM login WHERE login = ?", (login,)).fetchone()
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
        # Seen long before now it was idle. Seen after now, the clock was set back: by a little, it is idle from now on;
        # by more than a day, nobody knows how long it lasts.
        if row is None or not -CLOCK_SET_BACK <= now - datetime.fromisoformat(row[3]) <= idle:
            return None
        if abs(now - datetime.fromisoformat(row[3])) > timedelta(minutes=1):
            with write(self.db) as db:
                db.conn.execute("UPDATE session SET seen_at = ? WHERE token_hash = ?", (now.isoformat(), digest(token)))
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
            db.conn.execute("UPDATE enrolment SET expires_at = '' WHERE used_at IS NULL OR attempt_hash IS NOT NULL")
            for table in ("session", "challenge", "password_code", "password_mail", "calendar_feed"):
                db.conn.execute(f"DELETE FROM {table}")

    # Enrolment and phones

    def add_code(self, code: str, clinic_id: str, enrolment_id: str, expires_at: datetime) -> None:
        with write(self.db) as db:
            db.conn.execute(
                "INSERT INTO enrolment (code_hash, clinic_id, enrolment_id, expires_at) VALUES (?, ?, ?, ?)",
                (code_digest(code), clinic_id, enrolment_id, expires_at.isoformat()),
            )

    def drop_codes(self, clinic_id: str, enrolment_ids: list[str]) -> None:
        with write(self.db) as db:
            db.conn.executemany(
                "DELETE FROM enrolment WHERE clinic_id = ? AND enrolment_id = ?",
                [(clinic_id, enrolment_id) for enrolment_id in enrolment_ids],
            )

    def claim_code(self, code: str, now: datetime, attempt: str | None = None) -> tuple[str, str, str] | str:
        """What a code is for, (device id, clinic id, enrolment id), or why not: "unknown", "used", "expired".

        It is not used up yet: until `use_code`, another try gets the same phone. After it, and until the code would
        have expired, only the phone that names the same `attempt` does: the answer may have been lost.
        """
        hashed, named = code_digest(code), digest(attempt) if attempt else None
        with write(self.db) as db:
            row = db.conn.execute(
                "SELECT clinic_id, enrolment_id, expires_at, used_at, device_id, attempt_hash FROM enrolment"
                " WHERE code_hash = ?",
                (hashed,),
            ).fetchone()
            if row is None:
                return "unknown"
            if row[3] is not None and (named is None or row[5] != named or row[2] <= now.isoformat()):
                return "used"
            if row[2] <= now.isoformat():
                return "expired"
            device_id = row[4] or new_id()
            db.conn.execute("UPDATE enrolment SET device_id = ? WHERE code_hash = ?", (device_id, hashed))
        return device_id, row[0], row[1]

    def use_code(self, code: str, now: datetime, attempt: str | None = None) -> str | None:
        """The token of the phone a claimed code is for; None when another try was quicker.

        Works once; for the same `attempt` again, and then the token before is void.
        """
        hashed, token, named = code_digest(code), new_secret(), digest(attempt) if attempt else None
        with write(self.db) as db:
            row = db.conn.execute(
                "UPDATE enrolment SET used_at = ?1, attempt_hash = ?3 WHERE code_hash = ?2"
                " AND (used_at IS NULL OR attempt_hash = ?3) RETURNING clinic_id, device_id",
                (now.isoformat(), hashed, named),
            ).fetchone()
            if row is None:
                return None
            db.conn.execute("DELETE FROM token WHERE clinic_id = ? AND device_id = ?", tuple(row))
            db.conn.execute(
                "INSERT INTO token (token_hash, clinic_id, device_id) VALUES (?, ?, ?)", (digest(token), *row)
            )
        return token

    def whose_token(self, token: str) -> tuple[str, str] | None:
        """(clinic id, device id) of a phone's token, or None; also None once it is shut out. Reads only."""
        row = self.db.conn.execute(
            "SELECT clinic_id, device_id FROM token WHERE token_hash = ? AND revoked_at IS NULL", (digest(token),)
        ).fetchone()
        return (row[0], row[1]) if row else None

    def shut_out(self, clinic_id: str, device_id: str, now: datetime) -> None:
        """A phone's token opens nothing more; that it did is kept, to tell the phone."""
        with write(self.db) as db:
            db.conn.execute(
                "UPDATE token SET revoked_at = coalesce(revoked_at, ?) WHERE clinic_id = ? AND device_id = ?",
                (now.isoformat(), clinic_id, device_id),
            )

    def shut_out_phone(self, token: str) -> str | None:
        """The phone whose token was shut out, or None for one that is live or unknown. Reads only."""
        row = self.db.conn.execute(
            "SELECT device_id FROM token WHERE token_hash = ? AND revoked_at IS NOT NULL", (digest(token),)
        ).fetchone()
        return row[0] if row else None

    # Calendars elsewhere that read a clinic's visits

    def add_calendar_feed(self, secret: str, clinic_id: str, feed_id: str) -> None:
        with write(self.db) as db:
            db.conn.execute("INSERT INTO calendar_feed VALUES (?, ?, ?)", (digest(secret), clinic_id, feed_id))

    def whose_calendar_feed(self, secret: str) -> tuple[str, str] | None:
        """(clinic id, feed id) of a secret address, or None. Reads only."""
        row = self.db.conn.execute(
            "SELECT clinic_id, feed_id FROM calendar_feed WHERE secret_hash = ?", (digest(secret),)
        ).fetchone()
        return (row[0], row[1]) if row else None

    def calendar_feeds(self, clinic_id: str) -> set[str]:
        """Ids of a clinic's feeds that still open. Reads only."""
        rows = self.db.conn.execute("SELECT feed_id FROM calendar_feed WHERE clinic_id = ?", (clinic_id,))
        return {row[0] for row in rows}

    def drop_calendar_feed(self, clinic_id: str, feed_id: str) -> None:
        with write(self.db) as db:
            db.conn.execute("DELETE FROM calendar_feed WHERE clinic_id = ? AND feed_id = ?", (clinic_id, feed_id))

    # Guessing: after a few free tries each failure doubles the wait. Kept here so that all workers share it.

    def claim(self, tries: Sequence[tuple[str, str, int]], now: datetime) -> int:
        """Count one more try of each (what, who, free tries), as if it were wrong; 0. Or seconds to wait, nothing
        counted.

        In one transaction, so that of tries that come together each sees those before it.
        """
        with write(self.db) as db:
            db.conn.execute("DELETE FROM attempt WHERE seen_at < ?", ((now - timedelta(hours=24)).isoformat(),))
            known = {(what, who): self._attempt(what, who, now) for what, who, _ in tries}
            wait = max((seconds for _, seconds in known.values()), default=0)
            if wait:
                return wait
            for what, who, free in tries:
                failures = known[what, who][0] + 1
                pause = timedelta(0)
                if failures >= free:
                    pause = min(LONGEST_WAIT, timedelta(seconds=2 ** min(failures - free, 20)))
                db.conn.execute(
                    "INSERT INTO attempt VALUES (?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET"
                    " failures = excluded.failures, until = excluded.until, seen_at = excluded.seen_at",
                    (what, who, failures, (now + pause).isoformat(), now.isoformat()),
                )
        return 0

    def _attempt(self, what: str, who: str, now: datetime) -> tuple[int, int]:
        """(failures, seconds until the next try). No wait is longer than the longest: else the clock was set back."""
        row = self.db.conn.execute(
            "SELECT failures, until FROM attempt WHERE what = ? AND who = ?", (what, who)
        ).fetchone()
        if row is None:
            return 0, 0
        left = datetime.fromisoformat(row[1]) - now
        return row[0], 0 if left > LONGEST_WAIT else max(0, int(left.total_seconds() + 0.999))

    def take_back(self, tries: Sequence[tuple[str, str, int]], now: datetime) -> None:
        """One try of each was no wrong one: it leaves no trace, and no wait."""
        with write(self.db) as db:
            for what, who, _ in tries:
                db.conn.execute(
                    "UPDATE attempt SET failures = max(failures - 1, 0), until = ? WHERE what = ? AND who = ?",
                    (now.isoformat(), what, who),
                )

    def succeeded(self, what: str, who: str) -> None:
        if self.db.conn.execute("SELECT 1 FROM attempt WHERE what = ? AND who = ?", (what, who)).fetchone():
            with write(self.db) as db:
                db.conn.execute("DELETE FROM attempt WHERE what = ? AND who = ?", (what, who))
