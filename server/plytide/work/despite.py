"""What stands against a socket that is entered or changed is asked about; staff go on with a reason, which is kept."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from sqlite_utils import Database

from plytide.engine.against import ABOUT, ALL_ABOUT, stands_against
from plytide.engine.facts import Facts
from plytide.storage import audit, clinics, despite
from plytide.storage import history as histories
from plytide.storage import socket as sockets
from plytide.storage.rows import Row
from plytide.wire.history import reason as reason_to_json
from plytide.wire.socket import noun as socket_noun
from plytide.work import reassess
from plytide.work.refusal import Missing, go_on

Against = list[dict[str, str]]
Why = dict[str, Any] | None


def about(row: Row, values: Row) -> frozenset[str]:
    """What a change asks to be looked at again: only for values that are new."""
    codes = [ABOUT[name] for name in ABOUT if name in values and values[name] != row[name]]
    return frozenset().union(*codes)


def ask(
    db: Database, limb_id: str, row: Row, why: Why, today: date, codes: Iterable[str] = ALL_ABOUT
) -> tuple[Against, str | None]:
    """(what stands against the socket as it would be, the reason given); `row`: its columns.

    Raises StandsAgainst without a reason for all of it.
    """
    against = found(db, limb_id, row, today, codes)
    return against, go_on(against, why)


def found(db: Database, limb_id: str, row: Row, today: date, codes: Iterable[str] = ALL_ABOUT) -> Against:
    """What stands against a socket, asked or not. One that is no longer worn is history, and nothing does."""
    if row.get("retired_on") and row["retired_on"] <= today.isoformat():
        return []
    history = histories.history(db, limb_id)
    if history is None:
        raise Missing(limb_id)
    socket = socket_noun({**dict.fromkeys(sockets.COLUMNS), "id": "", **row}, limb_id)
    thresholds = reassess.thresholds_of(clinics.clinic_row(db)["settings"])
    return [
        reason_to_json(one) for one in stands_against(Facts.of(history), socket, today, thresholds, frozenset(codes))
    ]


def keep(db: Database, socket_id: str, against: Against, reason: str | None, staff_id: str, now: datetime) -> None:
    """Keep the reason with the socket, and what stood against it. Only inside a write transaction."""
    if reason is not None:
        despite.add(db, socket_id, against, reason, staff_id, now)
        codes = ",".join(one["code"] for one in against)
        audit.record(db, now, f"staff:{staff_id}", "socket.despite", f"socket:{socket_id}", codes)


def why_of(values: dict[str, Any]) -> Why:
    """Take why staff go on out of a body's values."""
    given: Why = values.pop("despite", None)
    return given
