"""Clocks that make rows by themselves: each begins with something entered here and is answered by a visit.

They are the clinic's diary, not the limb's state: nothing here reads a check-in. The engine's own clock is that of a
diagnostic socket. The days are judgement; the months between visits are the clinic's, and without them there is none.
"""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlite_utils import Database

from plytide import model
from plytide.engine.sentences import sentence, signal
from plytide.storage import clinics, part, signals
from plytide.storage import intervention as interventions
from plytide.storage import limb as limbs
from plytide.storage import pad as pads
from plytide.storage import person as people
from plytide.storage import socket as sockets
from plytide.storage import visit as visits

RECHECK_DAYS = 14  # after a pad, a relief or a changed trim line; judgement
STALE_DAYS = 60  # what was due longer ago is no news: the clinic may have kept its diary elsewhere; judgement
PART_AHEAD_DAYS = 30  # a part comes up this long before its date; judgement
ADULT = 18
#: What is done to a socket and wants a second look, by the words of the form and by older codes.
REFITTED = ("trim", "relief", "pad", "reline")

PAD_IN = "A pad was put in"

RECHECK, RECALL, WEAR_IN, CHILD, PART = KINDS = ("recheck", "recall", "wear-in", "child-recall", "part-date")
WORDS = {
    "recheck": "{what} on {on:full}: look again after {after} days (judgement).",
    "recheck.pad": "A pad was put in on {on:full}: look again after {after} days (judgement).",
    "wear-in": "The wear-in of the socket of {fitted:full} ended on {ended:full}.",
    "clock.no-visit": "No visit since is entered.",
    "recall": (
        "The clinic sees everybody every {months} months; the last visit or fitting was on {last:full}, and none is "
        "booked."
    ),
    "recall.monthly": (
        "The clinic sees everybody every month; the last visit or fitting was on {last:full}, and none is booked."
    ),
    "child-recall": (
        "A growing child is seen every {months} months; the last visit or fitting was on {last:full}, and none is "
        "booked."
    ),
    "child-recall.monthly": (
        "A growing child is seen every month; the last visit or fitting was on {last:full}, and none is booked."
    ),
    "part-date.ended": "{what}: the date entered for it ended on {on:full}.",
    "part-date.ends": "{what}: the date entered for it ends on {on:full}.",
}


@dataclass(frozen=True, slots=True)
class Diary:
    """What is entered of a limb and its person."""

    visits: Sequence[date] = ()  # those that stand, kept or to come
    changed: Sequence[tuple[date, str]] = ()  # (day, what): pads, reliefs, trim lines
    fitted: date | None = None  # the socket worn
    wear_in_ends: date | None = None
    born: date | None = None
    parts: Sequence[tuple[date, str]] = ()
    recall_months: int | None = None
    child_recall_months: int | None = None


def months_on(day: date, months: int) -> date:
    """The same day some months on; the last of that month where it has no such day."""
    year, month = divmod(day.month - 1 + months, 12)
    year, month = day.year + year, month + 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def is_child(born: date | None, today: date) -> bool:
    return born is not None and months_on(born, 12 * ADULT) > today


def rows(diary: Diary, today: date) -> list[model.Signal]:
    """What is due by today and not answered by a visit, each with the day it was due as `since`."""
    found = [*_after_changes(diary, today), *_recalls(diary, today)]
    for ends, what in diary.parts:
        due = ends - timedelta(days=PART_AHEAD_DAYS)
        if due <= today:
            told = sentence("part-date.ended" if ends < today else "part-date.ends", what=what, on=ends)
            found.append(signal(WORDS, PART, "note", due, [told]))
    return found


def _after_changes(diary: Diary, today: date) -> list[model.Signal]:
    found = []

    def due(kind: str, begun: date, on: date, told: model.Sentence) -> None:
        answered = any(begun < one for one in diary.visits)
        if on <= today <= on + timedelta(days=STALE_DAYS) and not answered:
            found.append(signal(WORDS, kind, "note", on, [told, sentence("clock.no-visit")]))

    if diary.changed:
        begun, what = max(diary.changed)
        on = begun + timedelta(days=RECHECK_DAYS)
        if what == PAD_IN:
            told = sentence("recheck.pad", on=begun, after=RECHECK_DAYS)
        else:
            told = sentence("recheck", what=what, on=begun, after=RECHECK_DAYS)
        due(RECHECK, begun, on, told)
    if diary.fitted and diary.wear_in_ends:
        told = sentence("wear-in", fitted=diary.fitted, ended=diary.wear_in_ends)
        due(WEAR_IN, diary.fitted, diary.wear_in_ends, told)
    return found


def _recalls(diary: Diary, today: date) -> list[model.Signal]:
    """One recall by the shorter of the intervals that hold for this person; a visit to come answers it."""
    if any(one >= today for one in diary.visits):
        return []
    past = [one for one in (*diary.visits, diary.fitted) if one is not None and one <= today]
    if not past:
        return []
    last = max(past)
    child = diary.child_recall_months if is_child(diary.born, today) else None
    months = min((one for one in (child, diary.recall_months) if one), default=None)
    if months is None or months_on(last, months) > today:
        return []
    kind = CHILD if child == months else RECALL
    code = kind if months > 1 else f"{kind}.monthly"
    return [signal(WORDS, kind, "note", months_on(last, months), [sentence(code, months=months, last=last)])]


def due(db: Database, limb_id: str, today: date) -> list[model.Signal]:
    """The rows of one limb by what is entered. Reads only."""
    limb = limbs.one(db, limb_id)
    person = people.one(db, limb["person_id"]) if limb else None
    if limb is None or person is None:
        return []
    own = clinics.clinic_row(db)["settings"]
    worn = next((one for one in reversed(sockets.of_limb(db, limb_id)) if not one["retired_on"]), None)
    fitted = date.fromisoformat(worn["fitted_on"]) if worn else None
    schedule = (worn or {}).get("wear_schedule") or []
    last_day = max((one["day"] for one in schedule), default=None)
    changed = [(date.fromisoformat(one["fitted_on"]), PAD_IN) for one in pads.of_limb(db, limb_id)]
    changed += [
        (date.fromisoformat(one["done_on"]), one["kind"])
        for one in interventions.of_limb(db, limb_id)
        if any(word in one["kind"].lower() for word in REFITTED)
    ]
    diary = Diary(
        visits=[date.fromisoformat(one) for one in visits.booked(db, limb["person_id"])],
        changed=changed,
        fitted=fitted,
        wear_in_ends=fitted + timedelta(days=last_day - 1) if fitted and last_day else None,
        born=date.fromisoformat(person["born_on"]) if person["born_on"] else None,
        parts=[(date.fromisoformat(one["ends_on"]), one["what"]) for one in part.of_limb(db, limb_id)],
        recall_months=own.get("recall_months"),
        child_recall_months=own.get("child_recall_months"),
    )
    return rows(diary, today)


def settle(db: Database, limb_id: str, now: datetime) -> None:
    """A clock that was answered closes itself, and says so. Only inside a write transaction."""
    for one in signals.unclosed(db, [limb_id])[limb_id]:
        if one["kind"] in KINDS and not one["holds"]:
            before = {"status": one["status"], "snoozed_until": one["snoozed_until"]}
            outcome = "Answered by what was entered since"
            signals.event(db, one["id"], now, "close", before=before, outcome=outcome)
            signals.set_status(db, one["id"], status="closed", snoozed_until=None)
