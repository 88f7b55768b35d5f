"""A visit is booked, moved, called off, kept or missed; and what stands in its way is said first."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date, datetime, timedelta
from typing import Any

from sqlite_utils import Database

from plytide.storage import assessment as assessments
from plytide.storage import audit, clinics, signals, staff
from plytide.storage import limb as limbs
from plytide.storage import visit as visits
from plytide.wire.visit import USUAL_MINUTES, day_words, length, skipped, wall
from plytide.work.refusal import Missing, Refusal, Taken

FIRST = "Enter the visit first."
TOO_EARLY = "A visit is booked for today or later."
NOT_YET = "This visit is still to come."
CLOCKS = "The clocks go forward that night: this time does not exist."
OVER = "This was called off. Put it back first."

#: Wire names of what staff enter → columns; the others are the same.
COLUMNS = {"on": "visit_on", "time": "visit_time"}

Row = dict[str, Any]


def needed(db: Database, field: str, person_id: str, today: date) -> None:
    """Nobody can say that a visit is booked while none is entered. Raises Refusal."""
    if not visits.next_of(db, [person_id], today.isoformat()):
        raise Refusal(field, FIRST, FIRST)


def checked(given: Row | None, today: date) -> Row | None:
    """A visit to book, not before today. Raises Refusal."""
    if given and given["on"] < today.isoformat():
        raise Refusal("visit.on", TOO_EARLY, TOO_EARLY)
    return given


def book(db: Database, person_id: str, given: Row, staff_id: str, now: datetime) -> str:
    """Keep a visit; its id. Only inside a write transaction, which is what lets one of two win.

    Raises Refusal, Missing, and Taken where something stands in its way that was not shown before.
    """
    values = columns(given)
    row = {**dict.fromkeys(visits.COLUMNS), **values, "person_id": person_id, "cancelled": 0}
    _check(db, row, now.date())
    _ask(db, row, given.get("anyway", ()))
    visit_id = visits.add(db, values | {"person_id": person_id}, staff_id, now)
    _tell(db, person_id, "visit.add", visit_id, staff_id, now)
    return visit_id


def change(db: Database, visit_id: str, given: Row, staff_id: str, now: datetime) -> None:
    """Move a visit, call it off, put it back, say what came of it. As `book`."""
    before = visits.one(db, visit_id)
    if before is None:
        raise Missing(visit_id)
    values = {name: value for name, value in columns(given).items() if value != before[name]}
    if not values:
        return
    row = {**before, **values}
    _check(db, row, now.date())
    if before["cancelled"] and row["cancelled"]:
        raise Refusal("cancelled", OVER, OVER)
    moved = {"visit_on", "visit_time", "minutes", "chair", "staff_id", "cancelled"} & values.keys()
    if moved and not row["cancelled"]:
        _ask(db, row, given.get("anyway", ()))
    visits.change(db, before, values, staff_id, now)
    _tell(db, before["person_id"], "visit.change", visit_id, staff_id, now, ",".join(sorted(values)))


def columns(given: Mapping[str, Any]) -> Row:
    """Wire names to columns."""
    named = {COLUMNS.get(name, name): value for name, value in given.items() if name != "anyway"}
    return {name: int(value) if isinstance(value, bool) else value for name, value in named.items()}


def _tell(
    db: Database, person_id: str, deed: str, visit_id: str, staff_id: str, now: datetime, detail: str = ""
) -> None:
    assessments.mark_stale(db, [limb["id"] for limb in limbs.of_person(db, person_id)], now)
    audit.record(db, now, f"staff:{staff_id}", deed, visit_id, detail)


def _check(db: Database, row: Row, today: date) -> None:
    """What no "anyway" makes right. Raises Refusal, by the field's name on the wire."""
    own = clinics.clinic_row(db)["settings"]
    if row["visit_time"] and own.get("zone") and skipped(row["visit_on"], row["visit_time"], own["zone"]):
        raise Refusal("time", CLOCKS)
    if row["staff_id"] and staff.one(db, row["staff_id"]) is None:
        raise Refusal("staff_id", "There is no such member of staff.")
    if row["chair"] and own.get("chairs") and row["chair"] not in own["chairs"]:
        raise Refusal("chair", f"The clinic has these: {', '.join(own['chairs'])}.")
    if row["outcome"] and row["visit_on"] > (today + timedelta(days=1)).isoformat():
        raise Refusal("outcome", NOT_YET)
    if row["limb_id"] and (limbs.one(db, row["limb_id"]) or {}).get("person_id") != row["person_id"]:
        raise Refusal("limb_id", "This is another person's.")
    signal = signals.one(db, row["signal_id"]) if row["signal_id"] else None
    limb = limbs.one(db, signal["limb_id"]) if signal else None
    if row["signal_id"] and (limb is None or limb["person_id"] != row["person_id"]):
        raise Refusal("signal_id", "This is another person's.")


def _ask(db: Database, row: Row, anyway: Collection[str]) -> None:
    """Raises Taken with what stands in the way and was not shown yet."""
    found = in_the_way(db, row)
    if {one["key"] for one in found} - set(anyway):
        raise Taken(found)


def in_the_way(db: Database, row: Row) -> list[dict[str, str]]:
    """Other visits, a closed day, closed hours: each with a key to say "anyway" by."""
    own = clinics.clinic_row(db)["settings"]
    return _closed(row, own) + _overlapping(db, row, own)


def _closed(row: Row, own: Row) -> list[dict[str, str]]:
    on, span = row["visit_on"], wall(row)
    if on in own.get("closed_on", ()):
        return [{"code": "closed", "key": f"closed:{on}", "text": f"The clinic is closed on {day_words(on)}."}]
    hours = own.get("hours") or []
    if not hours or span is None:
        return []
    today = [one for one in hours if date.fromisoformat(on).isoweekday() in one["days"]]
    ends = span[1].isoformat()[11:16] if span[1].date() == span[0].date() else "24:00"
    if any(one["from"] <= row["visit_time"] and ends <= one["to"] for one in today):
        return []
    words = "is closed on that day of the week" if not today else "is closed for some of that time"
    return [{"code": "hours", "key": f"hours:{on}T{row['visit_time']}", "text": f"The clinic {words}, by its hours."}]


def _overlapping(db: Database, row: Row, own: Row) -> list[dict[str, str]]:
    span = wall(row)
    if span is None:
        return []
    near = [(span[0] + timedelta(days=days)).date().isoformat() for days in (-1, 2)]
    meeting = [
        other
        for other in visits.between(db, *near)
        if other["id"] != row["id"] and not other["cancelled"] and other["outcome"] is None
        and (theirs := wall(other)) and theirs[0] < span[1] and span[0] < theirs[1]
    ]  # fmt: skip
    found = []
    for other in meeting:
        code, words = "", ""
        if other["person_id"] == row["person_id"]:
            code, words = "person", "has another visit then"
        elif row["chair"] and other["chair"] == row["chair"]:
            code, words = "chair", f"is booked for {row['chair']} then"
        elif row["staff_id"] and other["staff_id"] == row["staff_id"]:
            code, words = "staff", "is booked with the same member of staff then"
        if code:
            found.append(_met(code, words, other))
    chairs = len(own.get("chairs") or ()) or 1  # a clinic that has named none has one
    if not found and _most_at_once(meeting, span) >= chairs:
        found = [_met("full", "is booked then", other) for other in meeting]
    return found


def _met(code: str, words: str, other: Row) -> dict[str, str]:
    at = f"{other['visit_time']}, {other['minutes'] or USUAL_MINUTES} minutes"
    # A visit that was moved since is another one: its time is part of the key.
    key = f"{code}:{other['id']}:{other['sequence']}"
    return {"code": code, "key": key, "text": f"{other['name']} {words} ({at}).", "visit_id": other["id"]}


def _most_at_once(meeting: list[Row], span: tuple[datetime, datetime]) -> int:
    """How many of these go on together at any moment of the span."""
    spans = [found for other in meeting if (found := wall(other))]
    starts = [span[0], *(begin for begin, _ in spans if span[0] <= begin < span[1])]
    return max((sum(begin <= at < end for begin, end in spans) for at in starts), default=0)


def booked_in(db: Database, monday: date, own: Row) -> Row:
    """How much of a week is booked, against what the clinic's chairs give by its hours; None where it said no hours."""
    days = [monday + timedelta(days=n) for n in range(7)]
    rows = visits.between(db, days[0].isoformat(), days[-1].isoformat())
    stand = [row for row in rows if not row["cancelled"] and row["outcome"] != "missed"]
    return {
        "visits": len(stand),
        "minutes": sum(int(length(row).total_seconds()) // 60 for row in stand if row["visit_time"]),
        "chair_minutes": chair_minutes(days, own),
    }


def chair_minutes(days: Collection[date], own: Row) -> int | None:
    """Minutes in which a chair could be sat in, all chairs together; one chair where the clinic has named none."""
    hours = own.get("hours") or []
    if not hours:
        return None
    open_days = [day for day in days if day.isoformat() not in own.get("closed_on", ())]
    spans = [(one["from"], one["to"]) for day in open_days for one in hours if day.isoweekday() in one["days"]]
    return sum(_minutes(to) - _minutes(begin) for begin, to in spans) * (len(own.get("chairs") or ()) or 1)


def _minutes(time: str) -> int:
    return int(time[:2]) * 60 + int(time[3:])
