"""Rows → the history of a limb, the noun the engine reads. Reads only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from sqlite_utils import Database

from plytide import model
from plytide.storage import checkin as checkins
from plytide.storage import clinics, decisions, making, profile, signals, unkept
from plytide.storage import device as devices
from plytide.storage import limb as limbs
from plytide.storage import measurement as measurements
from plytide.storage import pad as pads
from plytide.storage import person as people
from plytide.storage import socket as sockets
from plytide.storage import visit as visits
from plytide.storage.rows import Row, as_known
from plytide.wire import unkept as wire_unkept
from plytide.wire.checkin import noun
from plytide.wire.limb import noun as limb_noun
from plytide.wire.measurement import noun as measurement_noun
from plytide.wire.pad import noun as pad_noun
from plytide.wire.socket import noun as socket_noun

OF_LATE = 200  # entries of a limb that a call looks at; the rounds look at all: judgement


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _dated(row: Row, column: str) -> Row:
    """A row under its wire name for the day it speaks of."""
    return {**row, "on": row[column]}


def limb_of(db: Database, limb_id: str) -> model.Limb | None:
    """A limb with its person's profile, now and as it was; None for no such limb."""
    limb = limbs.one(db, limb_id)
    person = people.one(db, limb["person_id"]) if limb else None
    if limb is None or person is None:
        return None
    past = profile.past(db, person, clinics.clinic_row(db)["settings"])
    return replace(limb_noun({**limb, "born_on": person["born_on"], "tags": person["tags"]}), past=past)


def named(db: Database, limb_id: str, ids: Sequence[str]) -> dict[str, str]:
    """The name a caregiver's phone said, by id of those of these entries that a caregiver wrote. Reads only."""
    limb = limbs.one(db, limb_id)
    caregivers = devices.caregivers(db, limb["person_id"]) if limb else frozenset()
    person = people.one(db, limb["person_id"]) if limb and caregivers else None
    if person is None:
        return {}
    wrote = [(row.id, row.written_by) for row in checkins.lines(db, ids, 0)] + unkept.writers(db, limb_id)
    return {id_: person["name"].split()[0] for id_, by in wrote if by in caregivers}


def history(
    db: Database, limb_id: str, until: str | None = None, newest: int | None = None
) -> model.LimbHistory | None:
    """All that was known of a limb by `until` (an ISO instant; None: now), or None for no such limb. With `newest`, of
    its log only so many of the last entries.
    """
    limb = limbs.one(db, limb_id)
    person = people.one(db, limb["person_id"]) if limb else None
    if limb is None or person is None:
        return None
    known, limb = as_known(db, "person", person, until), as_known(db, "limb", limb, until)
    past = profile.past(db, person, clinics.clinic_row(db)["settings"], until)
    rows = checkins.of_limb(db, limb_id, until, newest)
    caregivers = devices.caregivers(db, person["id"])
    wrote = [(row.id, row.written_by) for row in rows] + (unkept.writers(db, limb_id) if caregivers else [])
    entries = tuple(noun(row.seq, row.id, row.limb_id, row.body, row.received_at) for row in rows)
    lost = unkept.of_limb(db, limb_id, until)
    seen = signals.looks(db, limb_id, until)
    mistaken = making.mistaken(db, limb_id, until)
    fitted = sockets.of_limb(db, limb_id, until)
    told = [row.received_at for row, one in zip(rows, entries, strict=True) if one.skin or one.signs]
    told += [row.received_at for row in lost]
    return model.LimbHistory(
        limb=replace(limb_noun({**limb, "born_on": known["born_on"], "tags": known["tags"]}), past=past),
        sockets=tuple(socket_noun(row, limb_id) for row in fitted if row["id"] not in mistaken),
        pads=tuple(pad_noun(_dated(row, "fitted_on")) for row in pads.of_limb(db, limb_id, until)),
        measurements=tuple(
            measurement_noun(_dated(row, "measured_on")) for row in measurements.of_limb(db, limb_id, until)
        ),
        checkins=entries,
        watched_since=_day(devices.first_joined(db, person["id"])),
        clinic_looks=clinic_looks([at for at, *_ in seen], told),
        looks_at=looks_at(seen, told),
        decisions=tuple(
            model.Decision(date.fromisoformat(on), choice, _day(planned_on))
            for on, choice, planned_on in decisions.standing_of(db, limb_id, until)
        ),
        visits=tuple(date.fromisoformat(on) for on in visits.booked(db, person["id"], until)),
        weights_elsewhere=_weights_elsewhere(db, limb, until),
        unkept=tuple(
            wire_unkept.noun(row.entry_id, row.limb_id, row.body, row.faults, row.received_at) for row in lost
        ),
        named=tuple((id_, person["name"].split()[0]) for id_, by in wrote if by in caregivers),
    )


def looks_at(seen: Sequence[tuple[str, str, str | None, bool]], told: Sequence[str]) -> tuple[model.Look, ...]:
    """The looks at each kind and rule, as `clinic_looks` counts them; `seen` as `signals.looks` gives it."""
    return tuple(
        model.Look(day, *of)
        for of in dict.fromkeys(look[1:] for look in seen)
        for day in clinic_looks([look[0] for look in seen if look[1:] == of], told)
    )


def _weights_elsewhere(db: Database, limb: Row, until: str | None) -> tuple[tuple[date, float], ...]:
    """(day, kg) of what stands in the logs and measurements of the person's other limbs, oldest first."""
    found = []
    for other in limbs.of_person(db, limb["person_id"]):
        if other["id"] == limb["id"]:
            continue
        rows = checkins.of_limb(db, other["id"], until)
        entries = [noun(row.seq, row.id, row.limb_id, row.body, row.received_at) for row in rows]
        gone = {one.replaces for one in entries}
        found += [
            (one.date, one.weight_kg) for one in entries if one.weight_kg and one.id not in gone and not one.withdrawn
        ]
        lost = unkept.of_limb(db, other["id"], until)
        heard = [wire_unkept.noun(one.entry_id, one.limb_id, one.body, one.faults, one.received_at) for one in lost]
        found += [(one.checkin.date, one.checkin.weight_kg) for one in heard if one.checkin.weight_kg]
        found += [
            (date.fromisoformat(row["measured_on"]), row["weight_kg"])
            for row in measurements.of_limb(db, other["id"], until)
            if row["weight_kg"]
        ]
    return tuple(sorted(found))


def clinic_looks(looks: Sequence[str], told: Sequence[str]) -> tuple[date, ...]:
    """Days (UTC) of the instants at which the clinic looked, oldest first.

    A day counts unless something about the skin, or a sign, was `told` later on that day: nobody has seen that.
    """
    last_of_day = {at[:10]: at for at in looks}
    return tuple(
        date.fromisoformat(day)
        for day, at in last_of_day.items()
        if not any(came[:10] == day and came > at for came in told)
    )
