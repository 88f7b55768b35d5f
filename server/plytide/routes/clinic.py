"""What the clinic reads: worklist, limb story, assessment."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from datetime import date, datetime, time, timedelta
from typing import Any

from flask import Blueprint, Response, request

from plytide import access, review, rounds
from plytide.access import Denied, clinic_db, not_found, settings, who
from plytide.core.limb_volume import tape_volume
from plytide.core.thickness import stack_thickness
from plytide.model import LEVELS, STATES, Assessment, LimbHistory
from plytide.routes.body import answer, json_object
from plytide.series import replaced
from plytide.store import (
    assessments,
    audit,
    checkins,
    clinics,
    corrections,
    decisions,
    devices,
    histories,
    people,
    signals,
    staff,
    worklist,
)
from plytide.store.sqlite import write
from plytide.wire import nouns
from plytide.wire.checkin import noun
from plytide.wire.clinic import SHOWS, WorklistSearchSchema, read
from plytide.wire.fields import DATE, FIRST_YEAR, LAST_YEAR, Strict
from plytide.wire.history import assessment_to_json

bp = Blueprint("clinic", __name__, url_prefix="/api/clinic")


def record_read(what: str, subject: str) -> None:
    with write(clinic_db()) as db:
        audit.record(db, settings().now(), f"staff:{who().id}", what, subject)


Asked = Mapping[str, str]


def asked_choice(name: str, choices: tuple[str, ...], said: Asked | None = None) -> str | None:
    value = (request.args if said is None else said).get(name)
    if value and value not in choices:
        raise Denied(422, "invalid", "This can't be read.", fields={name: [f"One of: {', '.join(choices)}."]})
    return value or None


def asked_day(name: str) -> date | None:
    """A date from the address, or None. Raises Denied 422."""
    value = request.args.get(name)
    if not value:
        return None
    try:
        day = date.fromisoformat(value)
        if not DATE.fullmatch(value) or not FIRST_YEAR <= day.year <= LAST_YEAR:
            raise ValueError
        return day
    except ValueError:
        words = "This must be a date such as 2026-05-31."
        raise Denied(422, "invalid", words, fields={name: [words]}) from None


def asked_limit(said: Asked | None = None) -> int:
    value = (request.args if said is None else said).get("limit", "50")
    if not value.isascii() or not value.isdigit() or not 1 <= int(value[:6]) <= 200:
        words = "This must be a whole number from 1 to 200."
        raise Denied(422, "invalid", words, fields={"limit": [words]})
    return int(value)


def asked_in_body(schema: Strict) -> Asked:
    """What a search asks for, in the body: a name that is searched for never stands in an address, nor in a log."""
    return {name: str(value) for name, value in read(schema, json_object()).items() if value is not None}


def age(born_on: str | None, today: date) -> int | None:
    if not born_on:
        return None
    born = date.fromisoformat(born_on)
    return today.year - born.year - ((today.month, today.day) < (born.month, born.day))


@bp.get("/worklist")
@access.clinic()
def worklist_() -> Response:
    """Who needs what today and why, most urgent first."""
    return worklist_page(request.args)


@bp.post("/worklist/search")
@access.clinic()
def search_worklist() -> Response:
    """The worklist, with what is asked for in the body instead of in the address."""
    return worklist_page(asked_in_body(WorklistSearchSchema()))


def worklist_page(said: Asked) -> Response:
    db, now = clinic_db(), settings().now()
    rounds.go(db, now, days_too=False)  # news that came since the last round; nothing else is computed on view
    after = said.get("next") or None
    try:
        rows, onward = worklist.page(
            db,
            now.date().isoformat(),
            limit=asked_limit(said),
            after=after,
            state=asked_choice("state", STATES, said),
            level=asked_choice("level", LEVELS, said),
            clinician_id=said.get("clinician") or None,
            search=said.get("q") or None,
            show=asked_choice("show", SHOWS, said),
        )
    except (ValueError, TypeError):
        words = "This page mark is not one of ours."
        raise Denied(422, "invalid", words, fields={"next": [words]}) from None
    for row in rows:
        row["person"]["age"] = age(row["person"]["born_on"], now.date())
        last = row["last_checkin"]
        row["silent_days"] = (now.date() - date.fromisoformat(last)).days if last else None
        row.pop("sort_since")
    record_read("worklist.read", f"{len(rows)} limbs")
    return answer({"as_of": now.date().isoformat(), "limbs": rows, "next": onward, "counts": worklist.counts(db)})


def seen_limb(limb_id: str) -> people.Row:
    """A limb of the caller's own clinic. Raises 404."""
    limb = people.limb(clinic_db(), limb_id)
    if limb is None:
        raise not_found()
    return limb


def known_by(as_of: date | None) -> str | None:
    """The end of a day in UTC, as the instant by which a check-in must have arrived; None for now."""
    return datetime.combine(as_of + timedelta(days=1), time.min).isoformat() if as_of else None


def assessed(limb_id: str, as_of: date | None) -> tuple[LimbHistory, Assessment]:
    db, today = clinic_db(), settings().now().date()
    history = histories.history(db, limb_id, known_by(as_of))
    if history is None:
        raise not_found()
    thresholds = rounds.thresholds_of(clinics.clinic_row(db)["settings"])
    return history, review.assess(history, [as_of or today], thresholds)[0]


@bp.get("/limbs/<limb_id>/assessment")
@access.clinic()
def assessment(limb_id: str) -> Response:
    """The assessment of a limb, today or as it would have been on `as_of`."""
    seen_limb(limb_id)
    as_of = asked_day("as_of")
    _, found = assessed(limb_id, as_of)
    record_read("assessment.read", f"limb:{limb_id}")
    return answer(assessment_to_json(found))


def days_of(limb_id: str, person_id: str, until: str | None, as_of: date | None) -> list[dict[str, Any]]:
    """The log by calendar date, newest first; each check-in says which one took its place."""
    db = clinic_db()
    writers = devices.writers(db, (person_id,))
    rows = checkins.of_limb(db, limb_id, until)
    said_by = {row.id: noun(*row[:4], row.received_at) for row in rows}
    replaced_by = replaced(said_by.values())
    by_day: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        said = nouns.checkin(row, writers)
        if as_of and said["date"] > as_of.isoformat():
            continue
        socks = said_by[row.id].stack
        said |= {"replaced_by": replaced_by.get(row.id), "stack_mm": round(stack_thickness(socks)[0], 2)}
        by_day.setdefault(said["date"], []).append(said)
    return [{"date": day, "checkins": by_day[day]} for day in sorted(by_day, reverse=True)]


def measured(row: people.Row) -> dict[str, Any]:
    """A measurement with its truncated-cone volume and the tape's own error, where there are levels enough."""
    said = nouns.measurement(row)
    levels = [(level["from_end_mm"], level["circumference_mm"]) for level in row["levels"]]
    volume = tape_volume(levels) if len(levels) > 1 else None
    return said | {
        "volume_ml": round(volume.ml, 1) if volume else None,
        "volume_error_ml": round(volume.error_ml, 1) if volume else None,
    }


SAID = {"pad": nouns.pad, "measurement": measured, "intervention": nouns.intervention}


def corrected(limb_id: str, until: str | None) -> list[dict[str, Any]]:
    """What became of pads, measurements and interventions, newest first, each with the record as it was entered."""
    db = clinic_db()
    lines = corrections.of_limb(db, limb_id, until)
    last: dict[str, dict[str, Any]] = {}
    for line in lines:
        last.setdefault(line["record_id"], line)

    def can_come_back(line: dict[str, Any]) -> bool:
        """Only the last line about a record, and only while nothing else stands in its place."""
        record_id, heir = line["record_id"], line["replaced_by"]
        if line is not last[record_id] or line["deed"] == "restore" or until is not None:
            return False
        return corrections.standing_kin(db, record_id) <= {heir} and not (
            heir in last and last[heir]["deed"] == "replace"
        )

    return [
        {
            "kind": line["kind"],
            "deed": line["deed"],
            "reason": line["reason"],
            "by_staff": line["by_staff"],
            "at": line["created_at"],
            "replaced_by": line["replaced_by"],
            "can_come_back": can_come_back(line),
            "record": SAID[line["kind"]](people.record(db, line["kind"], line["record_id"]) or {}),
        }
        for line in lines
    ]


def said_decision(row: dict[str, Any], names: dict[str, str], until: str | None) -> dict[str, Any]:
    back = row["taken_back_at"]
    return {
        "id": row["id"],
        "on": row["decided_on"],
        "choice": row["choice"],
        "planned_on": row["planned_on"],
        "reasons": row["reasons"],
        "note": row["note"],
        "by": names.get(row["by_staff"], row["by_staff"]),
        "at": row["created_at"],
        "taken_back_at": back if back and (until is None or back < until) else None,
        "state_then": row["assessment"]["readiness"]["state"],
    }


def decisions_of(limb_id: str, until: str | None = None) -> list[dict[str, Any]]:
    """Decisions on a recast, newest first; `until` as in a replay."""
    names = staff.names(clinic_db())
    rows = decisions.of_limb(clinic_db(), limb_id)
    return [said_decision(row, names, until) for row in rows if until is None or row["created_at"] < until]


@bp.get("/limbs/<limb_id>")
@access.clinic()
def limb(limb_id: str) -> Response:
    """The story of a limb; `as_of` replays what was known then."""
    db, row, as_of = clinic_db(), seen_limb(limb_id), asked_day("as_of")
    history, found = assessed(limb_id, as_of)
    person = people.person(db, row["person_id"])
    if person is None:
        raise not_found()
    last = (as_of or settings().now().date()).isoformat()
    until = known_by(as_of)
    switched = [one for one in people.suspensions_of(db, limb_id) if one["changed_on"] <= last]
    record_read("limb.read", f"limb:{limb_id}")
    return answer(
        {
            "as_of": last,
            "person": nouns.person(person) | {"clinician_id": person["clinician_id"], "own_log": bool(person["own_log"])},
            "limb": nouns.limb(row),
            "assessment": assessment_to_json(found),
            "band": [
                {"date": day.isoformat(), "pct": level.value, "low": level.low, "high": level.high}
                for day, level in found.band
            ],
            "days": days_of(limb_id, person["id"], until, as_of),
            "sockets": [
                nouns.socket(one)
                | {"suspensions": [nouns.suspension(each) for each in switched if each["socket_id"] == one["id"]]}
                for one in people.sockets_of(db, limb_id)
                if one["fitted_on"] <= last
            ],
            "thresholds": asdict(rounds.thresholds_of(clinics.clinic_row(db)["settings"])),
            "pads": [nouns.pad(one) for one in people.pads_of(db, limb_id, until) if one["fitted_on"] <= last],
            "measurements": [
                measured(one)
                for one in people.measurements_of(db, limb_id, until)
                if one["measured_on"] <= last
            ],
            "interventions": [
                nouns.intervention(one)
                for one in people.interventions_of(db, limb_id, until)
                if one["done_on"] <= last
            ],
            "corrected": corrected(limb_id, until),
            "decisions": decisions_of(limb_id, until),
            "notes": [one for one in people.notes_of(db, limb_id) if until is None or one["created_at"] < until],
            "visits": [nouns.visit(one) for one in people.visits_of(db, person["id"])],
            "signals": [
                one | {"events": signals.events_of(db, one["id"])}
                for one in signals.of_limb(db, limb_id)
                if until is None or one["opened_at"] < until
            ],
            "assessed_on": (assessments.of_limb(db, limb_id) or {}).get("as_of"),
        }
    )
