"""Rows ↔ what the clinic's own record is counted from. Reads only."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime
from typing import NamedTuple

from sqlite_utils import Database

from plytide.model import LimbHistory, Said
from plytide.storage import history, said


class Told(NamedTuple):
    person_id: str
    kind: str
    opened_at: datetime
    first_deed_at: datetime | None


def limbs(db: Database, today: date) -> Iterator[tuple[str, str, LimbHistory, tuple[Said, ...]]]:
    """(person, level, history, what was said) of every limb that is kept, with the sockets fitted by `today`."""
    for limb_id, person_id, level in db.conn.execute("SELECT id, person_id, level FROM limb ORDER BY id").fetchall():
        known = history.history(db, limb_id)
        if known is not None:
            fitted = tuple(one for one in known.sockets if one.fitted_on <= today)
            yield person_id, level, replace(known, sockets=fitted), tuple(said.of_limb(db, limb_id))


def told(db: Database) -> list[Told]:
    """Every signal, and the first thing somebody of the staff did about it."""
    rows = db.conn.execute(
        "SELECT limb.person_id, kind, opened_at, (SELECT MIN(at) FROM signal_event WHERE signal_id = signal.id"
        " AND by_staff IS NOT NULL) FROM signal JOIN limb ON limb.id = limb_id ORDER BY signal.id"
    )
    moment = datetime.fromisoformat
    return [Told(row[0], row[1], moment(row[2]), moment(row[3]) if row[3] else None) for row in rows]
