"""The story of a limb on one page, today or replayed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from functools import partial
from typing import Any

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import not_found
from plytide.auth.guards import STAFF
from plytide.engine import dangers
from plytide.engine.core.thickness import stack_thickness
from plytide.engine.facts import weighed_elsewhere
from plytide.engine.series import replaced
from plytide.engine.thresholds import Thresholds
from plytide.http.asked import asked_day
from plytide.http.assessment import assessed, known_by
from plytide.http.audit import record_read
from plytide.http.body import answer
from plytide.http.decisions import decisions_of
from plytide.http.language import said_assessment, said_signal
from plytide.http.limb import seen_limb
from plytide.http.making import in_short
from plytide.http.measurement import measured, tape_to_json
from plytide.http.person import contacts_of, visits_of
from plytide.http.route import DAY, Routes
from plytide.model import LimbHistory
from plytide.storage import assessment as assessments
from plytide.storage import checkin as checkins
from plytide.storage import component, corrections, despite, part, photos, records, signals
from plytide.storage import device as devices
from plytide.storage import intervention as interventions
from plytide.storage import measurement as measurements
from plytide.storage import note as notes
from plytide.storage import pad as pads
from plytide.storage import person as people
from plytide.storage import socket as sockets
from plytide.storage.rows import Row, as_known
from plytide.wire import nouns
from plytide.wire.checkin import noun
from plytide.work import healing, making_state, message, outcome_measure, pocket, reassess, signal_life
from plytide.work.corrections import can_come_back

route = Routes("story", "/api/clinic", called="clinic")


def days_of(
    history: LimbHistory, until: str | None, as_of: date | None, thresholds: Thresholds
) -> list[dict[str, Any]]:
    """The log by calendar date, newest first; each check-in says which one took its place, and what the phone advised.

    The advice is by the profile and the clinic's limit that held when the entry was written, and by the rules as they
    are now; what a caregiver's phone said, in its words.
    """
    limb = history.limb
    db = clinic_db()
    writers = devices.writers(db, (limb.person_id,))
    rows = checkins.of_limb(db, limb.id, until)
    nouns_by_id = {row.id: noun(*row[:4], row.received_at) for row in rows}
    replaced_by = replaced(nouns_by_id.values())
    beside = [*weighed_elsewhere(history), *(one.checkin for one in history.unkept)]
    advice = dangers.told(
        list(nouns_by_id.values()), replaced_by, limb, thresholds.redness_minutes, beside, dict(history.named)
    )
    by_day: dict[str, list[dict[str, Any]]] = {}
    for entry, row in zip(with_own_photos(limb.id, rows, writers, replaced_by), rows, strict=True):
        if as_of and entry["date"] > as_of.isoformat():
            continue
        socks = nouns_by_id[row.id].stack
        entry |= {"replaced_by": replaced_by.get(row.id), "stack_mm": round(stack_thickness(socks)[0], 2)}
        entry["advice"] = [asdict(one) for one in advice.get(row.id, ())]
        by_day.setdefault(entry["date"], []).append(entry)
    return [{"date": day, "checkins": by_day[day]} for day in sorted(by_day, reverse=True)]


def with_own_photos(
    limb_id: str, rows: Sequence[checkins.CheckInRow], writers: dict[str, Row], replaced_by: Mapping[str, str]
) -> list[dict[str, Any]]:
    """The check-ins of a limb, each with those of its photos that came for this limb, and for it or what it corrects.

    An entry may name any id: a photo of another limb or person is not shown as this one's.
    """
    filed = {one["id"]: one["checkin_id"] for one in photos.of_limb(clinic_db(), limb_id)}
    known = checkins.already(clinic_db(), list(set(filed.values())))

    def own(photo_id: str, entry_id: str) -> bool:
        if photo_id not in filed:
            return False
        to = filed[photo_id]
        here = replaced_by.get(to, to) == replaced_by.get(entry_id, entry_id)
        return here or to not in known  # one whose entry never came is at least of this limb

    entries = [nouns.checkin(row, writers) for row in rows]
    return [one | {"photos": [each for each in one["photos"] if own(each, one["id"])]} for one in entries]


TO_JSON = {"pad": nouns.pad, "measurement": measured, "intervention": nouns.intervention}


def corrected(limb_id: str, until: str | None) -> list[dict[str, Any]]:
    """What became of pads, measurements and interventions, newest first, each with the record as it was entered."""
    db = clinic_db()
    lines = corrections.of_limb(db, limb_id, until)
    last: dict[str, dict[str, Any]] = {}
    for line in lines:
        last.setdefault(line["record_id"], line)

    return [
        {
            "kind": line["kind"],
            "deed": line["deed"],
            "reason": line["reason"],
            "by_staff": line["by_staff"],
            "at": line["created_at"],
            "replaced_by": line["replaced_by"],
            "can_come_back": until is None and can_come_back(db, line, last),
            "record": TO_JSON[line["kind"]](records.one(db, line["kind"], line["record_id"]) or {}),
        }
        for line in lines
    ]


def signals_of(limb_id: str, until: str | None) -> list[dict[str, Any]]:
    """The signals of a limb with their lives; in a replay as they stood then, with entries that had come by then."""
    db = clinic_db()
    if until is None:
        lives = [one | {"events": signals.events_of(db, one["id"])} for one in signals.of_limb(db, limb_id)]
        return [said_signal(one) for one in lives]
    come = {row.id for row in checkins.of_limb(db, limb_id, until)}
    return [
        said_signal(one | {"evidence": [id_ for id_ in one["evidence"] if id_ in come]})
        for one in signal_life.as_they_stood(db, limb_id, until)
    ]


FOREVER = "9999-12-31"


def not_ended_after(last: str, row: Row) -> Row:
    """A socket or a part of it as it was on the day of the story: what ended later had no end, and no reason."""
    later = row["retired_on"] and row["retired_on"] > last
    return row | {"retired_on": None, "retired_why": None} if later else row


def not_known_then(limb_id: str, person_id: str, until: str, last: str) -> dict[str, Any]:
    """Entries about the days up to `last` that came after it, and signals since then that were entry later."""
    db = clinic_db()
    come = {row.id for row in checkins.of_limb(db, limb_id, until)}
    writers, rows = devices.writers(db, (person_id,)), checkins.of_limb(db, limb_id)
    line = replaced(noun(*row[:4], row.received_at) for row in rows)
    late = [one for one in with_own_photos(limb_id, rows, writers, line) if one["id"] not in come]
    later = [
        {name: one[name] for name in ("id", "kind", "level", "since", "because", "opened_at")}
        for one in map(said_signal, signals.of_limb(db, limb_id))
        if one["since"] <= last and one["opened_at"] >= until
    ]
    return {"checkins": [one for one in late if one["date"] <= last], "signals": later}


@route("GET", "/limbs/<limb_id>", STAFF, query={"as_of": DAY})
def limb(limb_id: str) -> Response:
    """The story of a limb; `as_of` replays what was known then."""
    db, row, as_of = clinic_db(), seen_limb(limb_id), asked_day("as_of")
    history, found = assessed(limb_id, as_of)
    person = people.one(db, row["person_id"])
    if person is None:
        raise not_found()
    last = (as_of or settings().now().date()).isoformat()
    until = known_by(as_of)
    thresholds = reassess.thresholds_at(db, until)
    then, row = as_known(db, "person", person, until), as_known(db, "limb", row, until)
    tapes = {tape.measurement_id: tape_to_json(tape) for tape in found.tapes}
    switched = [one for one in sockets.suspensions_of(db, limb_id) if one["changed_on"] <= last]
    gone_on = despite.of_limb(db, limb_id, until)
    as_it_was = partial(not_ended_after, last if until else FOREVER)
    components = [as_it_was(one) for one in component.of_limb(db, limb_id) if one["fitted_on"] <= last]
    record_read("limb.read", f"limb:{limb_id}")
    return answer(
        {
            "as_of": last,
            "person": nouns.person(then)
            | {"clinician_id": person["clinician_id"], "own_log": bool(person["own_log"])}
            | nouns.reach(person),
            "limb": nouns.limb(row),
            "reading_tags": list(found.reading_tags),
            "assessment": said_assessment(found),
            "band": [
                {"date": day.isoformat(), "pct": level.value, "low": level.low, "high": level.high}
                | {"limb_pct": limb.value, "limb_low": limb.low, "limb_high": limb.high}
                for (day, level), (_, limb) in zip(found.band, found.limb_band, strict=True)
            ],
            "days": days_of(history, until, as_of, thresholds),
            "sockets": [
                nouns.socket(one)
                | {"retired_why": one["retired_why"]}
                | {"components": [each for each in components if each["socket_id"] == one["id"]]}
                | {"suspensions": [nouns.suspension(each) for each in switched if each["socket_id"] == one["id"]]}
                | {"despite": [each for each in gone_on if each["socket_id"] == one["id"]]}
                for one in map(as_it_was, sockets.of_limb(db, limb_id, until))
                if one["fitted_on"] <= last
            ],
            "thresholds": asdict(thresholds),
            "pads": [nouns.pad(one) for one in pads.of_limb(db, limb_id, until) if one["fitted_on"] <= last],
            "measurements": [
                measured(one) | {"tape": tapes.get(one["id"])}
                for one in measurements.of_limb(db, limb_id, until)
                if one["measured_on"] <= last
            ],
            "interventions": [
                nouns.intervention(one) for one in interventions.of_limb(db, limb_id, until) if one["done_on"] <= last
            ],
            "corrected": corrected(limb_id, until),
            "decisions": decisions_of(limb_id, until),
            "notes": [one for one in notes.of_limb(db, limb_id) if until is None or one["created_at"] < until],
            "visits": visits_of(person["id"], until),
            "contacts": contacts_of(person["id"], until),
            "parts": part.of_limb(db, limb_id, until),
            "makings": [in_short(one) for one in making_state.of_limb(db, limb_id, until)],
            "messages": message.for_staff(db, person["id"], until),
            "pocket": pocket.for_staff(db, limb_id, until),
            "outcome_measures": [one for one in outcome_measure.for_staff(db, limb_id, until) if one["on"] <= last],
            "healing": [one for one in healing.for_staff(db, limb_id, until) if one["on"] <= last],
            "signals": signals_of(limb_id, until),
            "not_known_then": not_known_then(limb_id, person["id"], until, last) if until else None,
            "assessed_on": (assessments.of_limb(db, limb_id) or {}).get("as_of"),
        }
    )
