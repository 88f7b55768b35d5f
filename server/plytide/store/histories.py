"""Rows → the history of a limb, the noun the engine reads. Reads only."""

from __future__ import annotations

from datetime import date
from typing import Any

from sqlite_utils import Database

from plytide import model
from plytide.store import checkins, devices, people
from plytide.wire.checkin import noun


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _socks(stack: list[dict[str, Any]]) -> tuple[model.Sock, ...]:
    return tuple(model.Sock(sock["ply"], sock.get("make", "unknown")) for sock in stack)


def limb_noun(limb: people.Row, person: people.Row) -> model.Limb:
    return model.Limb(
        id=limb["id"],
        side=limb["side"],
        level=limb["level"],
        amputated_on=_day(limb["amputated_on"]),
        reference_circumference_mm=limb["reference_circumference_mm"],
        shape=limb["shape"],
        born_on=_day(person["born_on"]),
        tags=tuple(person["tags"]),
        person_id=person["id"],
    )


def socket_noun(row: people.Row) -> model.Socket:
    return model.Socket(
        id=row["id"],
        fitted_on=date.fromisoformat(row["fitted_on"]),
        retired_on=_day(row["retired_on"]),
        purpose=row["purpose"],
        stack_at_fitting=_socks(row["stack_at_fitting"]),
        weight_limit_kg=row["weight_limit_kg"],
        made=row["made"],
        material=row["material"],
        suspension=row["suspension"],
        liner_mm=row["liner_mm"],
        note=row["note"],
        limb_id=row["limb_id"],
    )


def measurement_noun(row: people.Row) -> model.Measurement:
    levels = tuple(
        model.TapeLevel(level["from_end_mm"], level["circumference_mm"], level.get("name"))
        for level in row["levels"]
    )
    return model.Measurement(
        date.fromisoformat(row["measured_on"]),
        levels,
        row["minutes_since_doffing"],
        row["weight_kg"],
        row["measured_by"],
        row["id"],
    )


def history(db: Database, limb_id: str, until: str | None = None) -> model.LimbHistory | None:
    """All that was known of a limb by `until` (an ISO instant; None: now), or None for no such limb."""
    limb = people.limb(db, limb_id)
    person = people.person(db, limb["person_id"]) if limb else None
    if limb is None or person is None:
        return None
    return model.LimbHistory(
        limb=limb_noun(limb, person),
        sockets=tuple(socket_noun(row) for row in people.sockets_of(db, limb_id)),
        pads=tuple(
            model.Pad(
                row["socket_id"],
                date.fromisoformat(row["fitted_on"]),
                row["thickness_mm"],
                row["place"],
                row["id"],
            )
            for row in people.pads_of(db, limb_id, until)
        ),
        measurements=tuple(measurement_noun(row) for row in people.measurements_of(db, limb_id, until)),
        checkins=tuple(
            noun(row.seq, row.id, row.limb_id, row.body, row.received_at)
            for row in checkins.of_limb(db, limb_id, until)
        ),
        watched_since=_day(devices.first_joined(db, person["id"])),
    )
