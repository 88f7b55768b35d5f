"""A visit: what staff enter, when it is by the clock, and what is said of it."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

from plytide.wire.fields import Choice, Clock, Day, Flag, Name, Several, Strict, Text, Whole
from plytide.wire.zone import zone_named

Row = dict[str, Any]

USUAL_MINUTES = 30  # of a visit that says no length; judgement
OUTCOMES = ("done", "missed")


class BookedVisitSchema(Strict):
    """A visit booked along with another step."""

    on = Day(required=True)
    time = Clock(allow_none=True)
    what = Text(most=200, allow_none=True)
    minutes = Whole(5, 480, allow_none=True)
    chair = Text(most=40, allow_none=True)
    staff_id = Name(allow_none=True)
    # What stands against it and was shown: each by the key it was shown with.
    anyway = Several(Text(most=120), most=100)


class VisitSchema(BookedVisitSchema):
    limb_id = Name(allow_none=True)
    signal_id = Name(allow_none=True)
    cancelled = Flag()
    outcome = Choice(OUTCOMES, allow_none=True)


def length(row: Row) -> timedelta:
    return timedelta(minutes=row["minutes"] or USUAL_MINUTES)


def wall(row: Row) -> tuple[datetime, datetime] | None:
    """Begin and end as the clock on the clinic's wall shows them; None for a visit without a time."""
    if not row["visit_time"]:
        return None
    begin = datetime.fromisoformat(f"{row['visit_on']}T{row['visit_time']}")
    return begin, begin + length(row)


def instants(row: Row, zone: str | None) -> tuple[datetime, datetime] | None:
    """Begin and end in UTC, where the clinic has said its time zone and the visit has a time."""
    local, there = wall(row), zone_named(zone)
    if local is None or there is None:
        return None
    begin = local[0].replace(tzinfo=there).astimezone(UTC)
    return begin, begin + length(row)


def skipped(on: str, time: str, zone: str) -> bool:
    """Whether the clocks go forward over this time."""
    there, wall_time = zone_named(zone), datetime.fromisoformat(f"{on}T{time}")
    if there is None:
        return False
    return wall_time.replace(tzinfo=there).astimezone(UTC).astimezone(there).replace(tzinfo=None) != wall_time


def to_json(row: Row, zone: str | None = None) -> Row:
    """A visit as phones and clinic read it."""
    span = instants(row, zone)
    return {
        "id": row["id"],
        "person_id": row["person_id"],
        "on": row["visit_on"],
        "time": row["visit_time"],
        "what": row["what"],
        "cancelled": bool(row["cancelled"]),
        "minutes": row["minutes"],
        "outcome": row["outcome"],
        "sequence": row["sequence"],
        "begins": span[0].isoformat() if span else None,
        "ends": span[1].isoformat() if span else None,
    }


def to_staff_json(row: Row, zone: str | None = None) -> Row:
    """The same with what is the clinic's own: chair, who, whose."""
    names = ("chair", "staff_id", "limb_id", "signal_id", "created_at", "changed_at")
    return (
        to_json(row, zone)
        | {name: row[name] for name in names}
        | {"person": {"id": row["person_id"], "name": row["name"]}}
    )


def day_words(on: str) -> str:
    day = date.fromisoformat(on)
    return f"{day:%A} {day.day} {day:%B}"
