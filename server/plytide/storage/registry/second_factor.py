"""Second factors of staff ↔ the registry's rows: app codes, recovery codes, passkeys, and challenges that work once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlite_utils import Database

from plytide.storage.ids import code_digest, digest, new_id, new_secret
from plytide.storage.sqlite import IntegrityError, write

Whose = tuple[str, str]  # (clinic id, staff id)


@dataclass(frozen=True, slots=True)
class Passkey:
    id: str
    clinic_id: str
    staff_id: str
    credential_id: bytes
    public_key: bytes
    sign_count: int


class KnownKey(Exception):
    """store: this passkey is here already."""


# App codes


def set_seed(db: Database, whose: Whose, sealed: bytes) -> None:
    """A seed that waits for its first code. One that is confirmed stays until it is removed."""
    with write(db):
        db.conn.execute(
            "INSERT INTO totp (clinic_id, staff_id, seed) VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET"
            " seed = excluded.seed, last_step = 0 WHERE confirmed_at IS NULL",
            (*whose, sealed),
        )


def seed(db: Database, whose: Whose) -> tuple[bytes, bool] | None:
    """(sealed seed, whether it is confirmed), or None. Reads only."""
    row = db.conn.execute("SELECT seed, confirmed_at FROM totp WHERE clinic_id = ? AND staff_id = ?", whose).fetchone()
    return (row[0], row[1] is not None) if row else None


def use_step(db: Database, whose: Whose, step: int, now: datetime) -> bool:
    """Take a time step, and confirm the seed with it; False when it or a later one was taken: no code works twice."""
    with write(db):
        return bool(
            db.conn.execute(
                "UPDATE totp SET last_step = ?, confirmed_at = coalesce(confirmed_at, ?)"
                " WHERE clinic_id = ? AND staff_id = ? AND last_step < ?",
                (step, now.isoformat(), *whose, step),
            ).rowcount
        )


def drop_seed(db: Database, whose: Whose) -> None:
    with write(db):
        db.conn.execute("DELETE FROM totp WHERE clinic_id = ? AND staff_id = ?", whose)


# Recovery codes


def set_recovery(db: Database, whose: Whose, codes: Iterable[str]) -> None:
    """New recovery codes; the earlier ones stop working. Only hashes are kept."""
    with write(db):
        db.conn.execute("DELETE FROM recovery WHERE clinic_id = ? AND staff_id = ?", whose)
        db.conn.executemany(
            "INSERT INTO recovery VALUES (?, ?, ?, NULL)", [(code_digest(code), *whose) for code in codes]
        )


def use_recovery(db: Database, whose: Whose, code: str, now: datetime) -> bool:
    with write(db):
        return bool(
            db.conn.execute(
                "UPDATE recovery SET used_at = ? WHERE code_hash = ? AND clinic_id = ? AND staff_id = ? AND used_at IS NULL",
                (now.isoformat(), code_digest(code), *whose),
            ).rowcount
        )


def recovery_left(db: Database, whose: Whose) -> int:
    row = db.conn.execute(
        "SELECT count(*) FROM recovery WHERE clinic_id = ? AND staff_id = ? AND used_at IS NULL", whose
    ).fetchone()
    return int(row[0])


# Passkeys


def add_passkey(
    db: Database, whose: Whose, credential_id: bytes, public_key: bytes, sign_count: int, label: str, now: datetime
) -> str:
    """Raises KnownKey."""
    passkey_id = new_id()
    try:
        with write(db):
            db.conn.execute(
                "INSERT INTO passkey VALUES (?, ?, ?, ?, ?, ?, ?, ?, NULL)",
                (passkey_id, credential_id, *whose, public_key, sign_count, label, now.isoformat()),
            )
    except IntegrityError as error:
        raise KnownKey from error
    return passkey_id


def passkey(db: Database, credential_id: bytes) -> Passkey | None:
    """Reads only."""
    row = db.conn.execute(
        "SELECT id, clinic_id, staff_id, credential_id, public_key, sign_count FROM passkey WHERE credential_id = ?",
        (credential_id,),
    ).fetchone()
    return Passkey(*row) if row else None


def passkeys(db: Database, whose: Whose) -> list[dict[str, Any]]:
    """Reads only."""
    columns = ("id", "label", "created_at", "used_at")
    rows = db.conn.execute(
        f"SELECT {', '.join(columns)} FROM passkey WHERE clinic_id = ? AND staff_id = ? ORDER BY created_at", whose
    )
    return [dict(zip(columns, row, strict=True)) for row in rows]


def credential_ids(db: Database, whose: Whose) -> list[bytes]:
    """Reads only."""
    rows = db.conn.execute("SELECT credential_id FROM passkey WHERE clinic_id = ? AND staff_id = ?", whose)
    return [row[0] for row in rows]


def passkey_used(db: Database, passkey_id: str, sign_count: int, now: datetime) -> None:
    with write(db):
        db.conn.execute(
            "UPDATE passkey SET sign_count = ?, used_at = ? WHERE id = ?", (sign_count, now.isoformat(), passkey_id)
        )


def drop_passkey(db: Database, whose: Whose, passkey_id: str) -> bool:
    with write(db):
        return bool(
            db.conn.execute(
                "DELETE FROM passkey WHERE id = ? AND clinic_id = ? AND staff_id = ?", (passkey_id, *whose)
            ).rowcount
        )


def drop_all(db: Database, whose: Whose) -> None:
    """Everything but the password: what a manager or the operator does for somebody who lost it all."""
    with write(db):
        for table in ("totp", "recovery", "passkey"):
            db.conn.execute(f"DELETE FROM {table} WHERE clinic_id = ? AND staff_id = ?", whose)


# Challenges


def add_challenge(db: Database, what: str, staff_id: str | None, value: bytes, now: datetime, lasts: timedelta) -> str:
    """A challenge that can be answered once; its id."""
    challenge_id = new_secret()
    with write(db):
        db.conn.execute("DELETE FROM challenge WHERE expires_at < ?", (now.isoformat(),))
        db.conn.execute(
            "INSERT INTO challenge VALUES (?, ?, ?, ?, ?)",
            (digest(challenge_id), what, staff_id, value, (now + lasts).isoformat()),
        )
    return challenge_id


def take_challenge(db: Database, what: str, staff_id: str | None, challenge_id: str, now: datetime) -> bytes | None:
    """The value of a challenge, which is thereby used up; None for one that is unknown, used or too old."""
    with write(db):
        row = db.conn.execute(
            "DELETE FROM challenge WHERE id_hash = ? AND what = ? AND staff_id IS ? RETURNING value, expires_at",
            (digest(challenge_id), what, staff_id),
        ).fetchone()
    return row[0] if row and row[1] > now.isoformat() else None


# Ways to a new password


def add_password_code(
    db: Database, whose: Whose, now: datetime, lasts: timedelta, *, beside_others: bool = False
) -> str:
    """A secret that lets its holder choose this person's password once; one given before stops working, unless
    `beside_others`: what anybody may ask for must not undo what a manager gave.
    """
    secret = new_secret()
    with write(db):
        db.conn.execute("DELETE FROM password_code WHERE expires_at < ?", (now.isoformat(),))
        if not beside_others:
            db.conn.execute("DELETE FROM password_code WHERE clinic_id = ? AND staff_id = ?", whose)
        db.conn.execute(
            "INSERT INTO password_code VALUES (?, ?, ?, ?)", (digest(secret), *whose, (now + lasts).isoformat())
        )
    return secret


def whose_password_code(db: Database, secret: str, now: datetime) -> Whose | None:
    """Reads only; the secret still works afterwards."""
    row = db.conn.execute(
        "SELECT clinic_id, staff_id FROM password_code WHERE code_hash = ? AND expires_at > ?",
        (digest(secret), now.isoformat()),
    ).fetchone()
    return (row[0], row[1]) if row else None


def take_password_code(db: Database, secret: str, now: datetime) -> bool:
    """True for the one caller who uses it up."""
    with write(db):
        gone = db.conn.execute(
            "DELETE FROM password_code WHERE code_hash = ? AND expires_at > ?", (digest(secret), now.isoformat())
        )
    return bool(gone.rowcount)


def drop_password_codes(db: Database, whose: Whose) -> None:
    with write(db):
        db.conn.execute("DELETE FROM password_code WHERE clinic_id = ? AND staff_id = ?", whose)


def password_is_first(db: Database, whose: Whose, expires_at: datetime) -> None:
    with write(db):
        db.conn.execute("INSERT OR REPLACE INTO first_password VALUES (?, ?, ?)", (*whose, expires_at.isoformat()))


def first_password(db: Database, whose: Whose) -> str | None:
    """Until when a password somebody else thought of opens; None for one's own. Reads only."""
    row = db.conn.execute(
        "SELECT expires_at FROM first_password WHERE clinic_id = ? AND staff_id = ?", whose
    ).fetchone()
    return row[0] if row else None


def password_is_own(db: Database, whose: Whose) -> None:
    """They chose it themselves: no link given before opens anything, and nothing need be changed."""
    with write(db):
        for table in ("first_password", "password_code"):
            db.conn.execute(f"DELETE FROM {table} WHERE clinic_id = ? AND staff_id = ?", whose)
