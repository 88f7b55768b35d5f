"""When the phone says that the clinic is open: every quarter of an hour around each change of clocks, held against a
walk through the clinic's own calendar by another library."""

from __future__ import annotations

import json
import subprocess
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from tests.node import node

WEB = Path(__file__).resolve().parents[2] / "web"
WEEK = [{"days": [1, 2, 3, 4, 5], "from": "08:00", "to": "12:00"}, {"days": [1, 2, 4], "from": "13:30", "to": "17:00"}]
NIGHTS = [
    {"days": [1, 2, 3, 4, 5, 6, 7], "from": "01:30", "to": "03:30"}
]  # across the hour that is skipped or twice there
CLOSED = ["2026-03-30", "2026-10-26", "2026-11-02", "2026-03-09"]
#: Zone → a day on which its clocks change.
CHANGES = {
    "Europe/Berlin": ("2026-03-29", "2026-10-25"),
    "America/New_York": ("2026-03-08", "2026-11-01"),
    "Australia/Lord_Howe": ("2026-04-05", "2026-10-04"),  # by half an hour
    "Asia/Kathmandu": ("2026-03-29", "2026-10-25"),  # never, and 5:45 from UTC
}


def cases() -> list[tuple[dict[str, Any], datetime]]:
    found = []
    for zone, days in CHANGES.items():
        for day in days:
            start = datetime.fromisoformat(day).replace(tzinfo=UTC) - timedelta(days=1)
            for hours in (WEEK, NIGHTS):
                contact = {"hours": hours, "zone": zone, "closed_on": CLOSED}
                found += [(contact, start + timedelta(minutes=15 * n)) for n in range(4 * 24 * 4)]
    return found


def by_the_calendar(contact: dict[str, Any], at: datetime) -> list[str | None]:
    """[state, the day and time at which it opens next], by the wall clock of the zone."""
    clock = at.astimezone(ZoneInfo(contact["zone"]))

    def spans(day: Any) -> list[tuple[time, time]]:
        if day.isoformat() in contact["closed_on"]:
            return []
        return [
            (time.fromisoformat(one["from"]), time.fromisoformat(one["to"]))
            for one in contact["hours"]
            if day.isoweekday() in one["days"]
        ]

    now = clock.time().replace(tzinfo=None)
    if any(begin <= now < end for begin, end in spans(clock.date())):
        return ["open", None]
    for ahead in range(15):
        day = clock.date() + timedelta(days=ahead)
        begins = sorted(begin for begin, _ in spans(day) if ahead or begin > now)
        if begins:
            return ["closed", f"{day} {begins[0]:%H:%M}"]
    return ["closed", None]


def test_the_clinics_hours_hold_across_changes_of_clocks_and_closed_days() -> None:
    script = (
        "import { readFileSync } from 'node:fs';"
        f"import {{ openingAt }} from '{(WEB / 'phone' / 'contact.js').as_uri()}';"
        "const cases = JSON.parse(readFileSync(0));"
        "console.log(JSON.stringify(cases.map(([contact, at]) => { const one = openingAt(contact, new Date(at));"
        " return [one.state, one.opens ? `${one.opens.date} ${one.opens.time}` : null]; })));"
    )
    asked = cases()
    done = subprocess.run(
        [node(), "--input-type=module", "-e", script],
        input=json.dumps([(contact, at.isoformat()) for contact, at in asked]),
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    wrong = [
        (contact["zone"], at.isoformat(), said, true)
        for (contact, at), said in zip(asked, json.loads(done.stdout), strict=True)
        if said != (true := by_the_calendar(contact, at))
    ]
    assert not wrong, f"{len(wrong)} of {len(asked)}, the first: {wrong[0]}"
