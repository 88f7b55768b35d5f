"""Decisions on a recast: read, made, taken back."""

from __future__ import annotations

from typing import Any

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import Denied, not_found
from plytide.auth.guards import DECIDERS
from plytide.auth.session import who
from plytide.http.assessment import assessed
from plytide.http.body import answer
from plytide.http.limb import seen_limb
from plytide.http.route import Routes, checked_body
from plytide.storage import assessment as assessments
from plytide.storage import audit, decisions, staff
from plytide.storage.sqlite import write
from plytide.wire.decisions import DecisionSchema
from plytide.wire.history import assessment_to_json
from plytide.work import visit as visits

route = Routes("decisions", "/api/clinic", called="planner")


def decision_to_json(row: dict[str, Any], names: dict[str, str], until: str | None) -> dict[str, Any]:
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
    return [decision_to_json(row, names, until) for row in rows if until is None or row["created_at"] < until]


@route("POST", "/limbs/<limb_id>/decisions", DECIDERS, body=DecisionSchema, done=201)
def decide(limb_id: str) -> Response:
    """Record what was decided, why, and how the assessment stood."""
    person_id = seen_limb(limb_id)["person_id"]
    given = checked_body()
    now = settings().now()
    visit = visits.checked(given.pop("visit", None), now.date())
    if given.pop("visit_booked", False) and not visit:
        visits.needed(clinic_db(), "visit_booked", person_id, now.date())
    if given.get("planned_on") and given["planned_on"] < given["on"]:
        words = "A recast can't be planned for a day before it was decided."
        raise Denied(422, "invalid", words, fields={"planned_on": [words]})
    _, found = assessed(limb_id, None)
    with write(clinic_db()) as db:
        decision_id = decisions.add(db, limb_id, given, assessment_to_json(found), who().id, now)
        if visit:
            visits.book(db, person_id, visit, who().id, now)
        assessments.mark_stale(db, [limb_id], now)
        audit.record(db, now, f"staff:{who().id}", "decision.add", f"limb:{limb_id}", decision_id)
    return answer({"id": decision_id}, 201)


@route("DELETE", "/decisions/<decision_id>", DECIDERS)
def take_back(decision_id: str) -> Response:
    """Take a decision back; it stays in the record as taken back."""
    decision = decisions.one(clinic_db(), decision_id)
    if decision is None:
        raise not_found()
    now = settings().now()
    with write(clinic_db()) as db:
        decisions.take_back(db, decision_id, now)
        assessments.mark_stale(db, [decision["limb_id"]], now)
        audit.record(db, now, f"staff:{who().id}", "decision.take-back", f"limb:{decision['limb_id']}", decision_id)
    return answer({"id": decision_id, "taken_back": True})
