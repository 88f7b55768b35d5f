"""Visits → an iCalendar file (RFC 5545) for the clinic's own calendar.

A visit that was called off stays in it as CANCELLED, with a higher SEQUENCE than before: a calendar that has read it
takes it out. Times are in UTC where the clinic has said its zone, else "floating": what the clock on the wall shows.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from typing import Any

from plytide.wire.visit import instants, wall

Row = dict[str, Any]
MOST_BYTES = 75  # of a line; what is longer goes on after a blank (RFC 5545, 3.1)
ESCAPED = str.maketrans({"\\": "\\\\", ";": "\\;", ",": "\\,", "\n": "\\n", "\r": None})


def feed(rows: Iterable[Row], *, calendar: str, shows: str, zone: str | None, refresh_minutes: int = 60) -> str:
    """One calendar. `shows`: "times" says nothing of anybody, "initials" those of the name, "names" also what for."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//Plytide//Visits 1//EN",
        "CALSCALE:GREGORIAN",
        "METHOD:PUBLISH",
        f"X-WR-CALNAME:{calendar.translate(ESCAPED)}",
        f"REFRESH-INTERVAL;VALUE=DURATION:PT{refresh_minutes}M",
    ]
    for row in rows:
        lines += event(row, shows, zone)
    return "".join(f"{folded(line)}\r\n" for line in [*lines, "END:VCALENDAR"])


def event(row: Row, shows: str, zone: str | None) -> list[str]:
    made = row["changed_at"] or row["created_at"]
    lines = [
        "BEGIN:VEVENT",
        f"UID:visit-{row['id']}@plytide.invalid",
        f"DTSTAMP:{_instant(datetime.fromisoformat(made))}",
        f"SEQUENCE:{row['sequence']}",
        *_when(row, zone),
        f"SUMMARY:{summary(row, shows).translate(ESCAPED)}",
        f"STATUS:{'CANCELLED' if row['cancelled'] or row['outcome'] == 'missed' else 'CONFIRMED'}",
        "CLASS:PRIVATE",
    ]
    if row["chair"]:
        lines.append(f"LOCATION:{row['chair'].translate(ESCAPED)}")
    return [*lines, "END:VEVENT"]


def summary(row: Row, shows: str) -> str:
    if shows == "times":
        return "Visit"
    if shows == "initials":
        return f"Visit {initials(row['name'])}"
    return f"{row['name']}: {row['what']}" if row["what"] else row["name"]


def initials(name: str) -> str:
    return "".join(f"{part[0]}." for part in name.split())


def _when(row: Row, zone: str | None) -> list[str]:
    span = instants(row, zone)
    if span:
        return [f"DTSTART:{_instant(span[0])}", f"DTEND:{_instant(span[1])}"]
    local = wall(row)
    if local:
        return [f"DTSTART:{local[0]:%Y%m%dT%H%M%S}", f"DTEND:{local[1]:%Y%m%dT%H%M%S}"]
    day = date.fromisoformat(row["visit_on"])
    return [f"DTSTART;VALUE=DATE:{day:%Y%m%d}", f"DTEND;VALUE=DATE:{day + timedelta(days=1):%Y%m%d}"]


def _instant(at: datetime) -> str:
    return f"{(at if at.tzinfo else at.replace(tzinfo=UTC)).astimezone(UTC):%Y%m%dT%H%M%SZ}"


def folded(line: str) -> str:
    """No line longer than 75 bytes, and none cut inside a letter."""
    pieces, room = [""], MOST_BYTES
    for letter in line:
        if len((pieces[-1] + letter).encode()) > room:
            pieces.append("")
            room = MOST_BYTES - 1
        pieces[-1] += letter
    return "\r\n ".join(pieces)
