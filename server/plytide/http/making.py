"""A socket being made: begun, answered step by step, finished, taken out and put back; the clinic's lists of steps."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from flask import Response
from sqlite_utils import Database

from plytide import model
from plytide.auth.call import clinic_db, settings
from plytide.auth.guards import DECIDERS, STAFF
from plytide.auth.session import who
from plytide.engine.remake import clock_of
from plytide.export.making import line
from plytide.http.audit import record_read
from plytide.http.body import answer
from plytide.http.entry import meanwhile
from plytide.http.limb import seen_limb
from plytide.http.plan import clock
from plytide.http.route import Routes, checked_body
from plytide.storage import clinics
from plytide.storage import history as histories
from plytide.storage import limb as limbs
from plytide.storage import person as people
from plytide.storage import socket as sockets
from plytide.storage.sqlite import write
from plytide.wire import nouns
from plytide.wire.making import (
    BeginSchema,
    FinishSchema,
    ListSchema,
    MakingRestoreSchema,
    MakingVoidSchema,
    PlanSchema,
    StepSchema,
    TakeSchema,
)
from plytide.work import making as work
from plytide.work import making_list, making_state, reassess

route = Routes("making", "/api/clinic")

Deed = Callable[[Database, str, dict[str, Any], str, datetime], Any]


@route("GET", "/making-lists", STAFF)
def list_lists() -> Response:
    """The clinic's steps for each kind of socket, with every version."""
    return answer({"lists": [making_list.list_of(clinic_db(), made) for made in model.MADE]})


@route("PUT", "/making-lists/<made>", DECIDERS, body=ListSchema)
def change_list(made: str) -> Response:
    """The clinic's own steps from now on; `steps` null puts ours back. What was begun before shows its own list."""
    given = checked_body()
    with write(clinic_db()) as db:
        if "was" in given and made in model.MADE:
            meanwhile({"was": making_list.list_of(db, made)["n"]}, {"was": None}, given)
        making_list.keep_list(db, made, given, who().id, settings().now())
    return answer(making_list.list_of(clinic_db(), made))


@route("POST", "/limbs/<limb_id>/makings", STAFF, body=BeginSchema, done=(200, 201))
def begin(limb_id: str) -> Response:
    seen_limb(limb_id)
    given = checked_body()
    with write(clinic_db()) as db:
        new = work.begin(db, limb_id, given, who().id, settings().now())
    return answer(whole(given["id"]), 201 if new else 200)


@route("GET", "/limbs/<limb_id>/makings", STAFF)
def list_makings(limb_id: str) -> Response:
    """The sockets made for a limb, newest first, in short."""
    seen_limb(limb_id)
    record_read("making.read", f"limb:{limb_id}")
    return answer({"makings": [in_short(one) for one in making_state.of_limb(clinic_db(), limb_id)]})


def in_short(state: dict[str, Any]) -> dict[str, Any]:
    open_ones = sum(one["state"] == "open" for one in state["steps"])
    short = {name: state[name] for name in ("id", "limb_id", "made", "begun_on", "plan", "finished", "voided")}
    return short | {"open": open_ones, "steps": len(state["steps"]), "words": line(state)}


def whole(making_id: str) -> dict[str, Any]:
    """All a page needs, whichever screen it is taken up on."""
    db, now = clinic_db(), settings().now()
    state = making_state.state_of(db, making_state.seen(db, making_id))
    against = making_state.against_of(db, state, now) if not (state["finished"] or state["voided"]) else []
    limb = seen_limb(state["limb_id"])
    person = people.one(db, limb["person_id"]) or {}
    beside = []
    for other in limbs.of_person(db, limb["person_id"]):
        if other["id"] != limb["id"]:
            beside += [
                {"limb_id": other["id"], "side": other["side"], "level": other["level"], **in_short(one)}
                for one in making_state.of_limb(db, other["id"])
                if not one["voided"] and (not one["finished"] or one["begun_on"] == state["begun_on"])
            ]
    open_now = {(one["code"], one["text"]) for one in making_state.unanswered(state, against)}
    made = {
        "against": [one | {"answered": (one["code"], one["text"]) not in open_now} for one in against],
        "person": {"id": person.get("id"), "name": person.get("name")},
        "limb": nouns.limb(limb),
        "beside": beside,
        "remake": None,
        "socket": None,
    }
    if state["finished"] and not state["voided"]:
        history = histories.history(db, limb["id"])
        thresholds = reassess.thresholds_of(clinics.clinic_row(db)["settings"])
        socket = sockets.one(db, state["finished"]["socket_id"])
        made["socket"] = nouns.socket(socket) if socket else None
        made["remake"] = clock(clock_of(history, now.date(), thresholds), now.date()) if history else None
    return state | made


@route("GET", "/makings/<making_id>", STAFF)
def get_making(making_id: str) -> Response:
    found = whole(making_id)
    record_read("making.read", f"limb:{found['limb_id']}")
    return answer(found)


def done(making_id: str, deed: Deed) -> Response:
    """One deed, kept, and the whole as it stands then."""
    making_state.seen(clinic_db(), making_id)
    with write(clinic_db()) as db:
        deed(db, making_id, checked_body(), who().id, settings().now())
    return answer(whole(making_id))


@route("POST", "/makings/<making_id>/plan", STAFF, body=PlanSchema)
def change_plan(making_id: str) -> Response:
    """What it is for and how it will be held on."""
    return done(making_id, work.plan)


@route("POST", "/makings/<making_id>/steps", STAFF, body=StepSchema)
def answer_step(making_id: str) -> Response:
    """One step answered. What stands against the socket stops at the first one past “before” (409)."""
    return done(making_id, work.answer)


@route("POST", "/makings/<making_id>/finish", STAFF, body=FinishSchema)
def finish(making_id: str) -> Response:
    """The socket is entered; steps left open are named first (409 `left-open`)."""
    return done(making_id, work.finish)


@route("POST", "/makings/<making_id>/void", STAFF, body=MakingVoidSchema)
def void(making_id: str) -> Response:
    """A mistake: its socket is worn no more, and what it took goes back on the shelf."""
    return done(making_id, work.void)


@route("POST", "/makings/<voided_making_id>/restore", STAFF, body=MakingRestoreSchema)
def restore(voided_making_id: str) -> Response:
    """It was none: all as it was, and its pieces are taken again."""
    return done(voided_making_id, work.restore)


@route("POST", "/makings/<making_id>/items", STAFF, body=TakeSchema)
def take(making_id: str) -> Response:
    """Pieces from stock for this socket."""
    return done(making_id, work.take)


@route("POST", "/stock-uses/<use_id>/give-back", STAFF)
def give_back(use_id: str) -> Response:
    """What a socket took goes back on the shelf."""
    with write(clinic_db()) as db:
        making_id = work.give_back(db, use_id, who().id, settings().now())
    return answer(whole(making_id))
