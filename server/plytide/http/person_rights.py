"""A person's rights: everything that is held of them, and to be erased."""

from __future__ import annotations

import orjson
from flask import Response

from plytide.auth.call import clinic_db, registry, settings
from plytide.auth.denied import Denied
from plytide.auth.guards import DECIDERS, MANAGER, STAFF
from plytide.auth.session import own, who
from plytide.export import person_export
from plytide.http.audit import record_read
from plytide.http.body import answer
from plytide.http.entry import refuse
from plytide.http.person import seen_person
from plytide.http.records import as_file
from plytide.http.route import HTML, Routes, checked_body
from plytide.storage import agreement as agreements
from plytide.storage import audit, clinics, person_rows, staff
from plytide.storage.files import erasures
from plytide.storage.sqlite import write
from plytide.wire.person_rights import ConfirmSchema, ErasureSchema

route = Routes("person_rights", "/api/clinic", called="rights", room="none")


def everything(person_id: str) -> person_export.Export:
    seen_person(person_id)
    record_read("person.export", f"person:{person_id}")
    return person_export.gather(
        clinics.clinic_row(clinic_db())["name"],
        person_rows.rows_of(clinic_db(), person_id),
        audit.page(clinic_db(), subject=person_id, limit=10_000),
        staff.names(clinic_db()),
        settings().now(),
        agreements.all_of(clinic_db()),
    )


@route("GET", "/people/<person_id>/export.json", DECIDERS, cost="heavy")
def as_json(person_id: str) -> Response:
    """All that is held of a person, photos and who looked included, for a machine."""
    return as_file(orjson.dumps(everything(person_id), option=orjson.OPT_INDENT_2), "application/json", "person.json")


@route("GET", "/people/<person_id>/export.html", DECIDERS, cost="heavy", gives=HTML)
def as_page(person_id: str) -> Response:
    """The same to read: one page that needs nothing else."""
    return as_file(person_export.page(everything(person_id)).encode(), "text/html; charset=utf-8", "person.html")


@route("GET", "/people/<person_id>/erasure", STAFF)
def erasure(person_id: str) -> Response:
    """Whether somebody has asked for this person to be erased."""
    seen_person(person_id)
    return answer({"asked": person_rows.asked(clinic_db(), person_id)})


@route("POST", "/people/<person_id>/erasure", DECIDERS, body=ErasureSchema, done=201)
def ask(person_id: str) -> Response:
    """Ask for a person to be erased. Somebody else, a manager, does it."""
    seen_person(person_id)
    given = checked_body()
    now = settings().now()
    with write(clinic_db()) as db:
        person_rows.ask(db, person_id, given.get("reason"), who().id, now.isoformat())
        audit.record(db, now, f"staff:{who().id}", "erasure.ask", f"person:{person_id}")
    return answer({"asked": person_rows.asked(clinic_db(), person_id)}, 201)


@route("DELETE", "/people/<person_id>/erasure", DECIDERS)
def take_back(person_id: str) -> Response:
    """Nobody is erased after all."""
    seen_person(person_id)
    person_rows.take_back(clinic_db(), person_id)
    record_read("erasure.take-back", f"person:{person_id}")
    return answer({"asked": None})


@route("POST", "/people/<person_id>/erasure/confirm", MANAGER, body=ConfirmSchema)
def confirm(person_id: str) -> Response:
    """Erase a person for good, after typing their name; asked for by somebody else, where there is somebody else."""
    person = seen_person(person_id)
    given = checked_body()
    asked = person_rows.asked(clinic_db(), person_id)
    if asked is None:
        raise Denied(409, "not-asked", "Nobody has asked for this person to be erased.")
    if asked["asked_by"] == who().id and len(staff.everyone(clinic_db())) > 1:
        raise Denied(409, "same-person", "Somebody else than the one who asked must do this.")
    if given["name"].strip() != person["name"].strip():
        raise refuse("name", "This is not the person's name.")
    rows = erasures.erase(settings().data_dir, registry(), own()[0], person_id, f"staff:{who().id}", settings().now())
    return answer({"erased": person_id, "rows": rows})
