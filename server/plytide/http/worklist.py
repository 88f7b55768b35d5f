"""Who needs what today and why."""

from __future__ import annotations

from datetime import UTC, date, datetime
from time import monotonic, sleep

from flask import Response, request
from sqlite_utils import Database

from plytide.auth import room
from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import Denied
from plytide.auth.guards import STAFF
from plytide.engine import rules
from plytide.http.asked import Asked, asked_choice, asked_in_body, asked_limit
from plytide.http.audit import record_read
from plytide.http.body import answer
from plytide.http.language import said_row
from plytide.http.route import PAGE, TEXT, Routes, one_of
from plytide.model import LEVELS, STATES
from plytide.storage import agreement as agreements
from plytide.storage import assessment, clinics, set_aside, worklist
from plytide.wire.worklist import SHOWS, WorklistSearchSchema
from plytide.wire.zone import zone_named
from plytide.work import background, reassess, signal_life

route = Routes("worklist", "/api/clinic", called="clinic")


FEW = 4  # limbs whose news is waited for: read in some 0.1 s; judgement
WAIT = 2.0  # seconds, at most; judgement
LOOK_EVERY = 0.01


def age(born_on: str | None, today: date) -> int | None:
    if not born_on:
        return None
    born = date.fromisoformat(born_on)
    return today.year - born.year - ((today.month, today.day) < (born.month, born.day))


def day_there(now: datetime, zone: str | None) -> date:
    """The day on the clinic's wall; that of UTC for one that has not said its zone."""
    return now.astimezone(zone_named(zone) or UTC).date()


@route(
    "GET",
    "/worklist",
    STAFF,
    query={
        "state": one_of(STATES),
        "level": one_of(LEVELS),
        "clinician": TEXT,
        "q": TEXT,
        "show": one_of(SHOWS),
        **PAGE,
    },
)
def worklist_() -> Response:
    """Who needs what today and why, most urgent first."""
    return worklist_page(request.args)


@route("POST", "/worklist/search", STAFF, body=WorklistSearchSchema, cost="heavy")
def search_worklist() -> Response:
    """The worklist, with what is asked for in the body instead of in the address."""
    return worklist_page(asked_in_body())


def _read_news(db: Database, now: datetime) -> None:
    """The background is asked to read what came last, and a few limbs' news is waited for, so that who has just written
    finds it. More, as in a busy hour, is not: each row says of when it is. A danger is on the list without that.
    """
    if not settings().sweep_seconds:  # nobody reads behind this server
        reassess.go(db, now, days_too=False)
        return
    until = monotonic() + WAIT
    waiting = assessment.count_waiting(db, now, by=now)
    if waiting and background.reading.ask(clinics.clinic_row(db)["id"]) and waiting <= FEW:
        while monotonic() < until and assessment.count_waiting(db, now, by=now):
            sleep(LOOK_EVERY)


def worklist_page(asked: Asked) -> Response:
    db, now = clinic_db(), settings().now()
    today = day_there(now, clinics.clinic_row(db)["settings"].get("zone"))
    _read_news(db, now)
    after = asked.get("next") or None
    try:
        rows, onward = worklist.page(
            db,
            today.isoformat(),
            worklist.Wanted(
                state=asked_choice("state", STATES, asked),
                level=asked_choice("level", LEVELS, asked),
                clinician_id=asked.get("clinician") or None,
                search=asked.get("q") or None,
                show=asked_choice("show", SHOWS, asked),
            ),
            limit=asked_limit(asked),
            after=after,
        )
    except (ValueError, TypeError, RecursionError):
        words = "This page mark is not one of ours."
        raise Denied(422, "invalid", words, fields={"next": [words]}) from None
    for row in rows:
        row["person"]["age"] = age(row["person"]["born_on"], today)
        last = row["last_checkin"]
        row["silent_days"] = max((today - date.fromisoformat(last)).days, 0) if last else None
        row.pop("sort_since")
        row["signals"] = signal_life.in_order(row["signals"])
    record_read("worklist.read", f"{len(rows)} limbs")
    return answer(
        {
            "as_of": today.isoformat(),
            "limbs": [said_row(row) for row in rows],
            "next": onward,
            "counts": worklist.counts(db),
            "waiting": assessment.count_waiting(db, now),  # limbs whose news is not read yet
            "rules_agreement": rules.standing(agreements.newest_mark(db)),
            "failing": set_aside.count(db) + len(room.clinic_warnings()),
        }
    )
