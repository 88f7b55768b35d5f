"""What phones went by, and the clinic's numbers, before they changed ↔ rows. Only added to (`rows.change`)."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

from sqlite_utils import Database

from plytide import model

REDNESS, LEAST, MOST = 20.0, 10.0, 30.0  # minutes: the limit of a clinic that entered none, and what one may be

Row = dict[str, Any]


def keep_settings(db: Database, before: Row, now: str) -> None:
    """The clinic's settings as they were. Only inside a write transaction."""
    db.conn.execute("INSERT INTO settings_before (settings, until) VALUES (?, ?)", (json.dumps(before), now))


def settings_at(db: Database, now: Row, until: str | None) -> Row:
    """The clinic's settings at an instant; those of `now` where they have not changed since. Reads only."""
    row = db.conn.execute(
        "SELECT settings FROM settings_before WHERE until > ? ORDER BY n LIMIT 1", (until or "9",)
    ).fetchone()
    return json.loads(row[0]) if row else now


def past(db: Database, person: Row, settings: Row, until: str | None = None) -> tuple[model.Profile, ...]:
    """What phones went by before now, or before an instant: each stretch without a change, oldest first. Reads only."""
    people = db.conn.execute(
        "SELECT until, tags, born_on FROM profile_before WHERE person_id = ? ORDER BY n", (person["id"],)
    ).fetchall()
    clinics = db.conn.execute("SELECT until, settings FROM settings_before ORDER BY n").fetchall()
    if not people and not clinics:
        return ()
    facts = [(tuple(json.loads(tags)), born_on) for _, tags, born_on in people]
    facts.append((tuple(person["tags"]), person["born_on"]))
    limits = [_limit(each) for each in (*(json.loads(kept) for _, kept in clinics), settings)]
    turns, found = [[row[0] for row in rows] for rows in (people, clinics)], []
    for end in sorted({*turns[0], *turns[1]}):
        if until is not None and end > until:
            break
        # At its own end a stretch is over, so what held is what ends at or after it.
        of_person, of_clinic = (len([each for each in ends if each < end]) for ends in turns)
        tags, born_on = facts[of_person]
        born = date.fromisoformat(born_on) if born_on else None
        found.append(model.Profile(end, tags, born, limits[of_clinic]))
    return _joined(found)


def _limit(settings: Row) -> float:
    """Minutes: a limit as any version kept it: outside of today's range its end, what is no number as the default."""
    kept = (settings.get("thresholds") or {}).get("redness_minutes")
    if isinstance(kept, bool) or not isinstance(kept, int | float) or kept != kept:
        return REDNESS
    return float(min(max(kept, LEAST), MOST))


def _joined(found: list[model.Profile]) -> tuple[model.Profile, ...]:
    """Without the turns at which nothing changed that is read here: settings hold more than the limit."""
    kept: list[model.Profile] = []
    for one in found:
        if kept and (kept[-1].tags, kept[-1].born_on, kept[-1].redness_minutes) == (
            one.tags, one.born_on, one.redness_minutes,
        ):  # fmt: skip
            kept.pop()
        kept.append(one)
    return tuple(kept)
