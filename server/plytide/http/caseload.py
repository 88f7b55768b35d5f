"""A clinic's caseload: a file sent in parts, looked at, brought a portion at a time, taken back, codes as letters."""

from __future__ import annotations

import base64
import binascii
from datetime import timedelta
from typing import Any

import segno
from flask import Response, request

from plytide.auth import room
from plytide.auth.call import clinic_db, registry, settings
from plytide.auth.guards import DECIDERS
from plytide.auth.session import who
from plytide.http.asked import asked_limit
from plytide.http.audit import record_read
from plytide.http.body import answer
from plytide.http.entry import refuse
from plytide.http.route import PAGE, Routes, checked_body
from plytide.storage import audit, caseload, staff
from plytide.storage.ids import new_code
from plytide.storage.sqlite import write
from plytide.wire.caseload import (
    CaseloadBeginSchema,
    CaseloadChoicesSchema,
    CaseloadLettersSchema,
    CaseloadPartSchema,
    CaseloadStepSchema,
    CaseloadUndoSchema,
)
from plytide.work import caseload as work
from plytide.work import caseload_taken_back

route = Routes("caseload", "/api/clinic")

LETTERS = 20  # a call: each draws a code
LETTER_DAYS = 14  # a letter travels, then waits for somebody to help; the code works once all the same: judgement


@route("GET", "/caseloads", DECIDERS)
def list_caseloads() -> Response:
    names = staff.names(clinic_db())
    rows = [work.progress(clinic_db(), row) for row in caseload.recent(clinic_db())]
    record_read("caseload.read", f"{len(rows)} imports")
    return answer({"caseloads": [row | {"by": names.get(row["by_staff"], "")} for row in rows]})


@route("POST", "/caseloads", DECIDERS, body=CaseloadBeginSchema, done=201, room="much")
def begin_caseload() -> Response:
    given, now = checked_body(), settings().now()
    room.for_clinic()
    with write(clinic_db()) as db:
        caseload_id = caseload.begin(db, given["name"], given["kind"], given["size"], who().id, now)
        audit.record(db, now, f"staff:{who().id}", "caseload.begin", f"caseload:{caseload_id}")
    return answer({"id": caseload_id}, 201)


@route("PUT", "/caseloads/<caseload_id>/parts/<part>", DECIDERS, body=CaseloadPartSchema, room="much")
def put_part(caseload_id: str, part: str) -> Response:
    row = work.seen(clinic_db(), caseload_id)
    if not part.isascii() or not part.isdigit() or len(part) > 3:
        raise refuse("part", "This must be a whole number.")
    try:
        body = base64.b64decode(checked_body()["content"], validate=True)
    except (binascii.Error, ValueError):
        raise refuse("content", "This must be the file's bytes in base64.") from None
    work.take_part(clinic_db(), row, int(part), body)
    with write(clinic_db()) as db:
        audit.record(db, settings().now(), f"staff:{who().id}", "caseload.part", f"caseload:{caseload_id}", part)
    return answer({"id": caseload_id})


@route("GET", "/caseloads/<caseload_id>", DECIDERS)
def get_caseload(caseload_id: str) -> Response:
    """How far it is; before it is brought, what the file holds and what has to be said about it."""
    row = work.seen(clinic_db(), caseload_id)
    record_read("caseload.read", f"caseload:{caseload_id}")
    found: dict[str, Any] = work.progress(clinic_db(), row) | {"choices": row["choices"]}
    if row["brought_at"] is None:
        found["file"] = work.look(clinic_db(), row)
    return answer(found)


@route("PUT", "/caseloads/<caseload_id>/choices", DECIDERS, body=CaseloadChoicesSchema)
def put_choices(caseload_id: str) -> Response:
    row = work.seen(clinic_db(), caseload_id)
    work.choose(clinic_db(), row, checked_body(), who().id, settings().now())
    return answer({"id": caseload_id})


@route("GET", "/caseloads/<caseload_id>/rows", DECIDERS, query=PAGE, cost="heavy")
def dry_run(caseload_id: str) -> Response:
    """What each row would make, and what is wrong with it. Nothing is written."""
    row = work.seen(clinic_db(), caseload_id)
    limit, start = asked_limit(), request.args.get("next", "0")
    if not start.isascii() or not start.isdigit() or len(start) > 6:
        raise refuse("next", "This must be a whole number.")
    planned = work.rehearse(clinic_db(), row, settings().now())
    record_read("caseload.read", f"caseload:{caseload_id}")
    steps = [step.kind for one in planned for step in one.steps if step.made]
    wrong = [one for one in planned if one.faults]
    page = planned[int(start) : int(start) + limit]
    return answer(
        {
            "rows": [work.to_json(one) for one in page],
            "next": str(int(start) + limit) if int(start) + limit < len(planned) else None,
            "total": len(planned),
            "would_make": {kind: steps.count(kind) for kind in dict.fromkeys(steps)},
            "nothing_new": sum(not one.faults and not any(step.made for step in one.steps) for one in planned),
            "wrong": len(wrong),
            "wrong_rows": [work.to_json(one) for one in wrong[: work.MOST_FAULTS]],
        }
    )


@route("POST", "/caseloads/<caseload_id>/bring", DECIDERS, body=CaseloadStepSchema, cost="heavy")
def bring(caseload_id: str) -> Response:
    """The next portion after `done_to`; called again until `brought_at` is said."""
    row = work.seen(clinic_db(), caseload_id)
    return answer(work.bring(clinic_db(), row, checked_body()["done_to"], who().id, settings().now()))


@route("POST", "/caseloads/<caseload_id>/undo", DECIDERS, body=CaseloadUndoSchema, cost="heavy")
def undo(caseload_id: str) -> Response:
    """Take back a portion; called again with `after` until `next` is null. Says who was kept and why."""
    row = work.seen(clinic_db(), caseload_id)
    done = caseload_taken_back.undo(clinic_db(), row, checked_body().get("after") or "", who().id, settings().now())
    registry().drop_codes(who().session.clinic_id, done.pop("enrolments"))
    return answer(done)


@route("POST", "/caseloads/<caseload_id>/letters", DECIDERS, body=CaseloadLettersSchema, done=201, cost="heavy")
def letters(caseload_id: str) -> Response:
    """A code for the phone of each of the next people who have none, to be printed as letters."""
    row, given, now = work.seen(clinic_db(), caseload_id), checked_body(), settings().now()
    made, onward = work.codes(clinic_db(), row, given.get("after") or 0, given["role"], who().id, now, LETTERS)
    expires_at = now + timedelta(days=LETTER_DAYS)
    found = []
    for person_id, name, enrolment_id in made:
        code = new_code()
        registry().add_code(code, who().session.clinic_id, enrolment_id, expires_at)
        url = f"{settings().public_url or request.host_url.rstrip('/')}/phone/#enrol={code}"
        svg = segno.make(url, error="m").svg_inline(scale=5, border=4, omitsize=True, svgclass="qr", lineclass=None)
        found.append({"person_id": person_id, "name": name, "code": code, "url": url, "qr_svg": svg})
    return answer({"letters": found, "expires_at": expires_at.isoformat(), "next": onward}, 201)
