"""The calendar of visits: who comes when, why, how long, in which chair."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import Denied, not_found
from plytide.auth.guards import STAFF
from plytide.auth.session import who
from plytide.http.asked import asked_day
from plytide.http.audit import record_read
from plytide.http.body import answer
from plytide.http.person import seen_person
from plytide.http.route import DAY, Routes, checked_body
from plytide.storage import clinics, staff
from plytide.storage import visit as visits
from plytide.storage.sqlite import write
from plytide.wire import visit as visit_wire
from plytide.work import visit

route = Routes("visit", "/api/clinic", called="entry")

MOST_DAYS = 62
WEEK = 7


def _asked_span() -> tuple[date, date]:
    """The days asked for; a week from today where nothing is said. Raises Denied 422."""
    first = asked_day("from") or settings().now().date()
    last = asked_day("to") or first + timedelta(days=WEEK - 1)
    if not first <= last <= first + timedelta(days=MOST_DAYS):
        words = f"At most {MOST_DAYS} days after the first one."
        raise Denied(422, "invalid", words, fields={"to": [words]})
    return first, last


@route("GET", "/visits", STAFF, query={"from": DAY, "to": DAY})
def calendar() -> Response:
    """Everybody's visits on some days, with the clinic's chairs and hours."""
    first, last = _asked_span()
    own = clinics.clinic_row(clinic_db())["settings"]
    found = visits.between(clinic_db(), first.isoformat(), last.isoformat())
    record_read("calendar.read", f"{len(found)} visits")
    return answer(
        {
            "from": first.isoformat(),
            "to": last.isoformat(),
            "today": settings().now().date().isoformat(),
            "usual_minutes": visit_wire.USUAL_MINUTES,
            "chairs": own.get("chairs", []),
            "hours": own.get("hours", []),
            "closed_on": [day for day in own.get("closed_on", []) if first.isoformat() <= day <= last.isoformat()],
            "visits": [visit_wire.to_staff_json(row, own.get("zone")) for row in found],
        }
    )


@route("POST", "/people/<person_id>/visits", STAFF, body=visit_wire.VisitSchema, done=201)
def add_visit(person_id: str) -> Response:
    """Book a visit. What stands in its way is said first (409 `taken`), and booked all the same when told so."""
    given = checked_body()
    seen_person(person_id)
    with write(clinic_db()) as db:
        visit_id = visit.book(db, person_id, given, who().id, settings().now())
    return answer({"id": visit_id}, 201)


@route("PATCH", "/visits/<visit_id>", STAFF, body=visit_wire.VisitSchema)
def change_visit(visit_id: str) -> Response:
    """Move a visit, call it off or put it back, say that it was kept or missed."""
    given = checked_body()
    with write(clinic_db()) as db:
        visit.change(db, visit_id, given, who().id, settings().now())
    return answer({"id": visit_id})


@route("GET", "/visits/<visit_id>", STAFF)
def get_visit(visit_id: str) -> Response:
    """One visit, with all that was changed about it."""
    row = visits.one(clinic_db(), visit_id)
    if row is None:
        raise not_found()
    zone = clinics.clinic_row(clinic_db())["settings"].get("zone")
    record_read("visit.read", f"visit:{visit_id}")
    return answer(visit_wire.to_staff_json(row, zone) | {"changes": _named(visits.changes_of(clinic_db(), visit_id))})


def _named(changes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    names = staff.names(clinic_db())
    return [one | {"by": names.get(one["by"], one["by"])} for one in changes]
