"""What the clinic enters: people, limbs, sockets, pads, measurements, visits, notes, phones."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import segno
from flask import Blueprint, Response, request

from plytide import access
from plytide.access import Denied, clinic_db, not_found, settings, who
from plytide.routes.body import answer, json_object
from plytide.routes.clinic import Asked, asked_in_body, asked_limit, record_read, seen_limb
from plytide.store import assessments, audit, devices, people, staff
from plytide.store.ids import new_code
from plytide.store.sqlite import write
from plytide.wire import nouns
from plytide.wire.clinic import (
    EnrolmentSchema,
    InterventionSchema,
    LimbSchema,
    MeasurementSchema,
    NoteSchema,
    PadSchema,
    PeopleSearchSchema,
    PersonSchema,
    SocketSchema,
    SuspensionSchema,
    VisitSchema,
    read,
)
from plytide.wire.fields import Strict

bp = Blueprint("entry", __name__, url_prefix="/api/clinic")


def refuse(field: str, words: str) -> Denied:
    return Denied(422, "invalid", "Some fields are not right.", fields={field: [words]})


def seen_person(person_id: str) -> people.Row:
    """A person of the caller's own clinic. Raises 404."""
    person = people.person(clinic_db(), person_id)
    if person is None:
        raise not_found()
    return person


def seen_socket(socket_id: str) -> people.Row:
    socket = people.socket(clinic_db(), socket_id)
    if socket is None:
        raise not_found()
    return socket


def add(table: str, schema: Strict, news_for: str | None = None, **owner: str) -> Response:
    """Check the body, keep one row, say its id. The limb it is news for is assessed again."""
    values = {**owner, **column_names(table, read(schema, json_object()))}
    check(table, values)
    now = settings().now()
    with write(clinic_db()) as db:
        row_id = people.add(db, table, values, now)
        if news_for or table == "limb":
            assessments.mark_stale(db, [news_for or row_id], now)
        audit.record(db, now, f"staff:{who().id}", f"{table}.add", row_id)
    return answer({"id": row_id}, 201)


def change(table: str, schema: Strict, row: people.Row, limb_ids: list[str]) -> Response:
    """Check the fields given, change them, keep the rest."""
    values = column_names(table, read(schema, json_object(), partial=True))
    check(table, {**row, **values})
    now = settings().now()
    with write(clinic_db()) as db:
        people.change(db, table, row["id"], values)
        assessments.mark_stale(db, limb_ids, now)
        audit.record(db, now, f"staff:{who().id}", f"{table}.change", row["id"], ",".join(sorted(values)))
    return answer({"id": row["id"]})


ON = {"pad": "fitted_on", "measurement": "measured_on", "intervention": "done_on", "visit": "visit_on"}


def column_names(table: str, values: dict[str, Any]) -> dict[str, Any]:
    """Wire names to columns: `on` is the table's own date, `time` the visit's."""
    renamed = {"on": ON.get(table, "on"), "time": "visit_time"}
    return {
        renamed.get(name, name): int(value) if isinstance(value, bool) else value for name, value in values.items()
    }


def check(table: str, values: dict[str, Any]) -> None:
    """What one field alone can't tell: dates in order, ids that exist."""
    today = (settings().now() + timedelta(days=1)).date().isoformat()
    for field in ("born_on", "amputated_on", "measured_on", "done_on"):
        if values.get(field) and values[field] > today:
            raise refuse("on" if field in ON.values() else field, "This day has not come yet.")
    if table == "person" and values.get("clinician_id") and staff.one(clinic_db(), values["clinician_id"]) is None:
        raise refuse("clinician_id", "There is no such member of staff.")
    if table == "socket":
        if values.get("retired_on") and values["retired_on"] < values["fitted_on"]:
            raise refuse("retired_on", "A socket can't be retired before it was fitted.")
        limb = seen_limb(values["limb_id"])
        if limb["amputated_on"] and values["fitted_on"] < limb["amputated_on"]:
            raise refuse("fitted_on", "This day is before the amputation.")
    if table == "pad" and values["fitted_on"] < seen_socket(values["socket_id"])["fitted_on"]:
        raise refuse("on", "This day is before the socket was fitted.")
    if table == "measurement":
        heights = [level["from_end_mm"] for level in values["levels"]]
        if not heights:
            raise refuse("levels", "At least one level is needed.")
        if len(set(heights)) < len(heights):
            raise refuse("levels", "Two levels are at the same distance from the end.")


def said_person(person: people.Row) -> dict[str, Any]:
    db = clinic_db()
    limbs = [(limb, people.sockets_of(db, limb["id"])) for limb in people.limbs_of(db, person["id"])]
    return nouns.nested_person(person, limbs) | {"clinician_id": person["clinician_id"], "own_log": bool(person["own_log"])}


@bp.get("/people")
@access.clinic()
def list_people() -> Response:
    return people_page(request.args)


@bp.post("/people/search")
@access.clinic()
def search_people() -> Response:
    """People by name, with the name in the body instead of in the address."""
    return people_page(asked_in_body(PeopleSearchSchema()))


def people_page(said: Asked) -> Response:
    limit = asked_limit(said)
    rows = people.people(clinic_db(), search=said.get("q", ""), after=said.get("next", ""), limit=limit + 1)
    onward = f"{rows[limit - 1]['name']}\x1f{rows[limit - 1]['id']}" if len(rows) > limit else None
    record_read("people.read", f"{len(rows[:limit])} people")
    return answer({"people": [said_person(row) for row in rows[:limit]], "next": onward})


@bp.post("/people")
@access.clinic()
def add_person() -> Response:
    return add("person", PersonSchema())


@bp.get("/people/<person_id>")
@access.clinic()
def get_person(person_id: str) -> Response:
    person = seen_person(person_id)
    record_read("person.read", f"person:{person_id}")
    visits = [nouns.visit(row) for row in people.visits_of(clinic_db(), person_id)]
    return answer(said_person(person) | {"visits": visits, "devices": devices.of_person(clinic_db(), person_id)})


@bp.patch("/people/<person_id>")
@access.clinic()
def change_person(person_id: str) -> Response:
    person = seen_person(person_id)
    limbs = [limb["id"] for limb in people.limbs_of(clinic_db(), person_id)]
    return change("person", PersonSchema(), person, limbs)


@bp.post("/people/<person_id>/limbs")
@access.clinic()
def add_limb(person_id: str) -> Response:
    seen_person(person_id)
    return add("limb", LimbSchema(), person_id=person_id)


@bp.patch("/limbs/<limb_id>")
@access.clinic()
def change_limb(limb_id: str) -> Response:
    return change("limb", LimbSchema(), seen_limb(limb_id), [limb_id])


@bp.post("/limbs/<limb_id>/sockets")
@access.clinic()
def add_socket(limb_id: str) -> Response:
    seen_limb(limb_id)
    return _add_for_limb("socket", SocketSchema(), limb_id)


def _add_for_limb(table: str, schema: Strict, limb_id: str, **owner: str) -> Response:
    return add(table, schema, limb_id, **{"limb_id": limb_id, **owner})


@bp.patch("/sockets/<socket_id>")
@access.clinic()
def change_socket(socket_id: str) -> Response:
    socket = seen_socket(socket_id)
    return change("socket", SocketSchema(), socket, [socket["limb_id"]])


@bp.post("/sockets/<socket_id>/suspensions")
@access.clinic()
def add_suspension(socket_id: str) -> Response:
    """Another suspension on the same socket; the earlier one stays in its history."""
    socket = seen_socket(socket_id)
    given = read(SuspensionSchema(), json_object())
    if given["on"] < socket["fitted_on"]:
        raise refuse("on", "This day is before the socket was fitted.")
    now = settings().now()
    values = {"socket_id": socket_id, "changed_on": given["on"], "suspension": given["suspension"]}
    with write(clinic_db()) as db:
        row_id = people.add(db, "suspension", values | {"by_staff": who().id}, now)
        people.change(db, "socket", socket_id, {"suspension": given["suspension"]})
        assessments.mark_stale(db, [socket["limb_id"]], now)
        audit.record(db, now, f"staff:{who().id}", "suspension.add", f"socket:{socket_id}")
    return answer({"id": row_id}, 201)


@bp.post("/sockets/<socket_id>/pads")
@access.clinic()
def add_pad(socket_id: str) -> Response:
    socket = seen_socket(socket_id)
    return add("pad", PadSchema(), socket["limb_id"], socket_id=socket_id)


@bp.post("/limbs/<limb_id>/measurements")
@access.clinic()
def add_measurement(limb_id: str) -> Response:
    seen_limb(limb_id)
    return _add_for_limb("measurement", MeasurementSchema(), limb_id)


@bp.post("/limbs/<limb_id>/interventions")
@access.clinic()
def add_intervention(limb_id: str) -> Response:
    seen_limb(limb_id)
    return _add_for_limb("intervention", InterventionSchema(), limb_id, by_staff=who().id)


@bp.post("/limbs/<limb_id>/notes")
@access.clinic()
def add_note(limb_id: str) -> Response:
    seen_limb(limb_id)
    return _add_for_limb("note", NoteSchema(), limb_id, by_staff=who().id)


@bp.post("/people/<person_id>/visits")
@access.clinic()
def add_visit(person_id: str) -> Response:
    seen_person(person_id)
    return add("visit", VisitSchema(), person_id=person_id)


@bp.patch("/visits/<visit_id>")
@access.clinic()
def change_visit(visit_id: str) -> Response:
    visit = people.visit(clinic_db(), visit_id)
    if visit is None:
        raise not_found()
    return change("visit", VisitSchema(), visit, [])


@bp.post("/people/<person_id>/enrolment-codes")
@access.clinic()
def add_code(person_id: str) -> Response:
    """A one-time code that enrols one phone for this person, and for any others named."""
    given = read(EnrolmentSchema(), json_object())
    person_ids = list(dict.fromkeys([person_id, *(given.get("person_ids") or [])]))
    for each in person_ids:
        seen_person(each)
    now = settings().now()
    expires_at = now + timedelta(seconds=settings().enrolment_seconds)
    code = new_code()
    with write(clinic_db()) as db:
        enrolment_id = devices.add_enrolment(db, given["role"], person_ids, who().id, now)
        audit.record(db, now, f"staff:{who().id}", "enrolment.add", ",".join(person_ids))
    access.registry().add_code(code, who().session.clinic_id, enrolment_id, expires_at)
    # The code sits behind the '#': browsers do not send that part, so no log can hold it.
    url = f"{settings().public_url or request.host_url.rstrip('/')}/phone/#enrol={code}"
    picture = segno.make(url, error="m").svg_inline(scale=5, border=4, omitsize=True, svgclass="qr", lineclass=None)
    return answer({"code": code, "expires_at": expires_at.isoformat(), "url": url, "qr_svg": picture}, 201)


@bp.get("/people/<person_id>/devices")
@access.clinic()
def list_devices(person_id: str) -> Response:
    seen_person(person_id)
    return answer({"devices": devices.of_person(clinic_db(), person_id)})


@bp.delete("/devices/<device_id>")
@access.clinic()
def revoke_device(device_id: str) -> Response:
    """The phone's token stops working at once."""
    now = settings().now()
    with write(clinic_db()) as db:
        if not devices.revoke(db, device_id, now):
            raise not_found()
        audit.record(db, now, f"staff:{who().id}", "device.revoke", f"device:{device_id}")
    access.registry().drop_tokens(who().session.clinic_id, device_id)
    return answer({"id": device_id, "revoked": True})
