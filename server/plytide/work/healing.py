"""A place of skin at the clinic: sizes, that it healed, that it is open again. What was found is in the check-ins."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.engine.series import replaced
from plytide.storage import audit, healing, staff
from plytide.storage import checkin as checkins
from plytide.storage import limb as limbs
from plytide.wire.checkin import noun, out
from plytide.work.refusal import Missing, Refusal

Row = dict[str, Any]


def add(db: Database, limb_id: str, given: Mapping[str, Any], staff_id: str, now: datetime) -> str:
    """Keep what was written of a place. Only inside a write transaction. Raises Refusal by field."""
    values = {name: given.get(name) for name in ("place", "what", "length_mm", "width_mm")}
    values |= {"done_on": given["on"], "note": (given.get("note") or "").strip() or None, "limb_id": limb_id}
    if given["on"] > now.date().isoformat():
        raise Refusal("on", "This day has not come yet.")
    amputated_on = (limbs.one(db, limb_id) or {}).get("amputated_on")
    if amputated_on and given["on"] < amputated_on:
        raise Refusal("on", "This day is before the amputation.")
    found, there = _days(db, limb_id, str(given["place"]))
    if not found:
        raise Refusal("place", "Nothing was found here.")
    if given["on"] < found[0]:
        raise Refusal("on", "It was first found after this day.")
    closed = _closed(db, limb_id, str(given["place"]), there)
    if given["what"] == "healed" and any(not _between(there, given["on"], day) for day in closed):
        raise Refusal("place", "It healed already. Say first that it is open again.")
    if given["what"] == "open" and (not closed or there[-1] > closed[-1]):
        raise Refusal("place", "It is open already.")
    row_id = healing.add(db, values, staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", f"healing.{given['what']}", f"limb:{limb_id}", row_id)
    return row_id


def take_out(db: Database, healing_id: str, staff_id: str, now: datetime) -> str:
    """A record was a mistake: it stays, and stands no more. Only inside a write transaction. Raises Missing."""
    row = healing.one(db, healing_id)
    if row is None:
        raise Missing(healing_id)
    values = {"limb_id": row["limb_id"], "place": row["place"], "what": "void", "of": healing_id}
    healing.add(db, values | {"done_on": now.date().isoformat()}, staff_id, now)
    audit.record(db, now, f"staff:{staff_id}", "healing.void", f"limb:{row['limb_id']}", healing_id)
    return str(row["limb_id"])


def for_staff(db: Database, limb_id: str, until: str | None = None) -> list[Row]:
    """What stands of a limb's places, oldest first, each with who wrote it. Reads only."""
    names = staff.names(db)
    return [
        {name: one[name] for name in ("id", "place", "what", "length_mm", "width_mm", "note")}
        | {"on": one["done_on"], "at": one["created_at"], "by": names.get(one["by_staff"], one["by_staff"])}
        for one in healing.of_limb(db, limb_id, until)
    ]


def _days(db: Database, limb_id: str, place: str) -> tuple[list[str], list[str]]:
    """The days on which an entry that counts found something at this place; and those, and on which it was there."""
    rows = {row.id: row for row in checkins.of_limb(db, limb_id)}
    entries = [noun(row.seq, row.id, row.limb_id, row.body, row.received_at) for row in rows.values()]
    gone = replaced(entries)
    counted = [out(row.id, row.limb_id, row.body) for row in rows.values() if row.id not in gone]
    counted = [one for one in counted if not one["withdrawn"]]
    found = {one["date"] for one in counted if any(each["place"] == place for each in one["skin"])}
    said = {
        one["date"]
        for one in counted
        if any(each["place"] == place and each["course"] != "gone" for each in one["healing"])
    }
    return sorted(found), sorted(found | said)


def _between(days: list[str], one: str, other: str) -> bool:
    """Whether a day lies after the earlier of two and up to the later."""
    return any(min(one, other) < day <= max(one, other) for day in days)


def _closed(db: Database, limb_id: str, place: str, there: list[str]) -> list[str]:
    """The days on which it healed, as they stand: "open" takes back each since it was there last. As the page reads."""
    standing: list[str] = []
    for one in healing.of_limb(db, limb_id):
        if one["place"] == place and one["what"] == "healed":
            standing.append(one["done_on"])
        elif one["place"] == place and one["what"] == "open" and standing:
            standing = [day for day in standing if _between(there, day, max(standing))]
    return sorted(standing)
