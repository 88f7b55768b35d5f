"""Photos of skin and consents ↔ rows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database


def sent_before(db: Database, photo_id: str) -> tuple[str, bytes] | None:
    """(limb id, SHA-256 of what was sent) of a photo that is kept, or None. Reads only."""
    row = db.conn.execute("SELECT limb_id, sent_sha256 FROM photo WHERE id = ?", (photo_id,)).fetchone()
    return (row[0], row[1]) if row else None


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo of a check-in as it is kept, with the SHA-256 of what was sent."""

    id: str
    limb_id: str
    checkin_id: str
    sent_sha256: bytes
    jpeg: bytes
    size: tuple[int, int]


def keep(db: Database, photo: Photo, device_id: str, now: datetime) -> None:
    """Only inside a write transaction."""
    values = (photo.id, photo.limb_id, photo.checkin_id, photo.sent_sha256, photo.jpeg, *photo.size)
    db.conn.execute(
        "INSERT INTO photo VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (*values, device_id, now.isoformat()),
    )


def one(db: Database, photo_id: str) -> tuple[str, bytes, str, str] | None:
    """(limb id, JPEG, the phone it came from, its check-in) or None. Reads only."""
    row = db.conn.execute(
        "SELECT limb_id, jpeg, received_from, checkin_id FROM photo WHERE id = ?", (photo_id,)
    ).fetchone()
    return (row[0], row[1], row[2], row[3]) if row else None


def bytes_of_person(db: Database, limb_id: str) -> int:
    """How much all photos of a limb's person take. Reads only."""
    row = db.conn.execute(
        "SELECT coalesce(sum(length(jpeg)), 0) FROM photo WHERE limb_id IN (SELECT id FROM limb WHERE person_id ="
        " (SELECT person_id FROM limb WHERE id = ?))",
        (limb_id,),
    ).fetchone()
    return int(row[0])


def of_limb(db: Database, limb_id: str) -> list[dict[str, Any]]:
    """What photos there are, newest first, without the pictures. Reads only."""
    rows = db.conn.execute(
        "SELECT id, checkin_id, width, height, received_at FROM photo WHERE limb_id = ? ORDER BY received_at DESC",
        (limb_id,),
    )
    names = ("id", "checkin_id", "width", "height", "received_at")
    return [dict(zip(names, row, strict=True)) for row in rows]


def add_consent(
    db: Database, person_id: str, device_id: str, words: str, agreed: bool, said_at: str, now: datetime
) -> None:
    """What a person agreed to, or took back. Only inside a write transaction."""
    db.conn.execute(
        "INSERT INTO consent (person_id, device_id, words, agreed, said_at, received_at) VALUES (?, ?, ?, ?, ?, ?)",
        (person_id, device_id, words, int(agreed), said_at, now.isoformat()),
    )


def consents_of(db: Database, person_id: str) -> list[dict[str, Any]]:
    """Consent history of a person, newest first. Reads only."""
    rows = db.conn.execute(
        "SELECT device_id, words, agreed, said_at, received_at FROM consent WHERE person_id = ? ORDER BY n DESC",
        (person_id,),
    )
    names = ("device_id", "words", "agreed", "said_at", "received_at")
    return [dict(zip(names, row, strict=True)) | {"agreed": bool(row[2])} for row in rows]


def add_paper_consent(db: Database, person_id: str, consent: dict[str, Any], staff_id: str, now: datetime) -> None:
    """A consent said on paper: `given`, `on`, `by`, `what_for`. Only inside a write transaction."""
    db.conn.execute(
        "INSERT INTO paper_consent (person_id, given, said_on, said_by, what_for, by_staff, created_at)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        (
            person_id,
            int(consent["given"]),
            consent["on"],
            consent["by"],
            consent["what_for"],
            staff_id,
            now.isoformat(),
        ),
    )


def paper_consents_of(db: Database, person_id: str) -> list[dict[str, Any]]:
    """Newest first: by the day that stands on the paper, then by when it was entered. Reads only."""
    rows = db.conn.execute(
        "SELECT given, said_on, said_by, what_for, by_staff, created_at FROM paper_consent WHERE person_id = ?"
        " ORDER BY said_on DESC, n DESC",
        (person_id,),
    )
    names = ("given", "on", "by", "what_for", "by_staff", "entered_at")
    return [dict(zip(names, row, strict=True)) | {"given": bool(row[0])} for row in rows]
