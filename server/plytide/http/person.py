"""People: found by name, read, entered, changed."""

from __future__ import annotations

from typing import Any

from flask import Response, request

from plytide.auth.call import clinic_db
from plytide.auth.denied import seen
from plytide.auth.guards import STAFF
from plytide.http.asked import Asked, asked_in_body, asked_limit
from plytide.http.audit import record_read
from plytide.http.body import answer
from plytide.http.entry import add, change
from plytide.http.route import PAGE, TEXT, Routes
from plytide.storage import clinics, contact, staff
from plytide.storage import device as devices
from plytide.storage import limb as limbs
from plytide.storage import person as people
from plytide.storage import socket as sockets
from plytide.storage import visit as visits
from plytide.storage.rows import Row
from plytide.wire import nouns
from plytide.wire import visit as visit_wire
from plytide.wire.person import PeopleSearchSchema, PersonSchema
from plytide.work import message

route = Routes("person", "/api/clinic", called="entry")


def seen_person(person_id: str) -> Row:
    """A person of the caller's own clinic. Raises 404."""
    return seen(people.one(clinic_db(), person_id))


def limb_ids_of(person_id: str) -> list[str]:
    return [limb["id"] for limb in limbs.of_person(clinic_db(), person_id)]


def person_to_json(person: Row) -> dict[str, Any]:
    db = clinic_db()
    owned = [(limb, sockets.of_limb(db, limb["id"])) for limb in limbs.of_person(db, person["id"])]
    own = {"clinician_id": person["clinician_id"], "own_log": bool(person["own_log"])}
    contacts = {name: person[name] for name in nouns.CONTACTS}
    return nouns.nested_person(person, owned) | own | contacts | nouns.reach(person)


def visits_of(person_id: str, until: str | None = None) -> list[dict[str, Any]]:
    """A person's visits by date, those called off too; with `until` as they stood then."""
    zone = clinics.clinic_row(clinic_db())["settings"].get("zone")
    return [visit_wire.to_staff_json(row, zone) for row in visits.of_person(clinic_db(), person_id, until)]


def contacts_of(person_id: str, until: str | None = None) -> list[dict[str, Any]]:
    """The calls with a person, newest first; `until` as in a replay."""
    names = staff.names(clinic_db())
    rows = contact.of_person(clinic_db(), person_id, until)
    return [row | {"by": names.get(row["by_staff"], row["by_staff"])} for row in rows]


@route("GET", "/people", STAFF, query={"q": TEXT, **PAGE})
def list_people() -> Response:
    return people_page(request.args)


@route("POST", "/people/search", STAFF, body=PeopleSearchSchema, cost="heavy")
def search_people() -> Response:
    """People by name, with the name in the body instead of in the address."""
    return people_page(asked_in_body())


def people_page(asked: Asked) -> Response:
    limit = asked_limit(asked)
    rows = people.by_name(clinic_db(), search=asked.get("q", ""), after=asked.get("next", ""), limit=limit + 1)
    onward = f"{rows[limit - 1]['name']}\x1f{rows[limit - 1]['id']}" if len(rows) > limit else None
    record_read("people.read", f"{len(rows[:limit])} people")
    return answer({"people": [person_to_json(row) for row in rows[:limit]], "next": onward})


@route("POST", "/people", STAFF, body=PersonSchema, done=201)
def add_person() -> Response:
    return add("person")


@route("GET", "/people/<person_id>", STAFF)
def get_person(person_id: str) -> Response:
    person = seen_person(person_id)
    record_read("person.read", f"person:{person_id}")
    return answer(
        person_to_json(person)
        | {
            "visits": visits_of(person_id),
            "contacts": contacts_of(person_id),
            "messages": message.for_staff(clinic_db(), person_id),
            "devices": devices.of_person(clinic_db(), person_id),
        }
    )


@route("PATCH", "/people/<person_id>", STAFF, body=PersonSchema)
def change_person(person_id: str) -> Response:
    person = seen_person(person_id)
    return change("person", person, limb_ids_of(person_id))
