"""A place of skin at the clinic: sizes, that it healed, that it is open again. What was found is in the check-ins."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage import audit, healing, staff
from plytide.storage import checkin as checkins
from plytide.wire.checkin import noun
from plytide.work.refusal import Missing, Refusal

Row = dict[str, Any]


def add(db: Database, limb_id: str, given: Mapping[str, Any], staff_id: str, now: datetime) -> str:
    """Keep what was written of a place. Only inside a write transaction. Raises Refusal by field."""
    values = {name: given.get(name) for name in ("place", "what", "length_mm", "width_mm")}
    values |= {"done_on": given["on"], "note": (given.get("note") or "").strip() or None, "limb_id": limb_id}
    if given["on"] > now.date().isoformat():
        raise Refusal("on", "This day has not come yet.")
    found = _found(db, limb_id, str(given["place"]))
    if not found:
        raise Refusal("place", "Nothing was found here.")
    if given["what"] == "healed" and given["on"] < found[0]:
        raise Refusal("on", "It was first found after this day.")
    if given["what"] == "open" and not _healed(db, limb_id, str(given["place"])):
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


def _found(db: Database, limb_id: str, place: str) -> list[str]:
    """The days on which an entry named this place, oldest first."""
    entries = (noun(row.seq, row.id, row.limb_id, row.body, row.received_at) for row in checkins.of_limb(db, limb_id))
    return sorted(one.date.isoformat() for one in entries if any(found.place == place for found in one.skin))


def _healed(db: Database, limb_id: str, place: str) -> bool:
    said = [one["what"] for one in healing.of_limb(db, limb_id) if one["place"] == place and one["what"] != "size"]
    return bool(said) and said[-1] == "healed"
